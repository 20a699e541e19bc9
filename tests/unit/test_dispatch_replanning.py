"""Changing a plan as little as an event asks for."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from landscape_care.dispatch import replanning, routing, territories
from landscape_care.dispatch.replanning import changes, order_of, replan, with_grace
from landscape_care.dispatch.routing import Order, RouteProblem, Told, answer, faults
from landscape_care.dispatch.travel import Travel
from tests.unit.dispatch_months import month
from tests.unit.test_dispatch_routing import MONDAY, crew, problem, visit

TUESDAY, WEDNESDAY = MONDAY + timedelta(1), MONDAY + timedelta(2)
WEEK = frozenset({MONDAY, TUESDAY, WEDNESDAY})


def told(uid: int, **changes: object) -> routing.RouteVisit:
    return visit(uid, **{"told": Told(1, MONDAY, 8 * 60), "days": WEEK, **changes})


def test_only_what_is_hit_moves() -> None:
    crews = (crew(days=frozenset({TUESDAY, WEDNESDAY})),)
    whole = problem(told(1), told(2, told=Told(1, TUESDAY, 480)), crews=crews)
    plan: Order = {(1, MONDAY): [1], (1, TUESDAY): [2]}
    after = replan(whole, plan, {1})
    (change,) = changes(whole, plan, {1}, after)
    # On Tuesday one of the two would come well after eight.
    assert (change.visit_uid, change.was, change.now) == (1, (1, MONDAY), (1, WEDNESDAY))
    assert change.why == replanning.HIT


def test_a_visit_gives_way_only_where_nothing_else_has_room() -> None:
    crews = (crew(days=frozenset({TUESDAY, WEDNESDAY})),)
    # Tuesday is full; what is hit may be on Tuesday only, and what is there may go to Wednesday.
    hit = told(1, days=frozenset({MONDAY, TUESDAY}), person_minutes=700)
    there = told(2, told=Told(1, TUESDAY, 480), person_minutes=700)
    whole = problem(hit, there, crews=crews)
    plan: Order = {(1, MONDAY): [1], (1, TUESDAY): [2]}
    after = replan(whole, plan, {1})
    assert order_of(after) == {(1, TUESDAY): [1], (1, WEDNESDAY): [2]}
    whys = {change.visit_uid: change.why for change in changes(whole, plan, {1}, after)}
    assert whys == {1: replanning.HIT, 2: replanning.GAVE_WAY}


def test_what_is_fixed_never_gives_way() -> None:
    crews = (crew(days=frozenset({TUESDAY, WEDNESDAY})),)
    hit = told(1, days=frozenset({MONDAY, TUESDAY}), person_minutes=700)
    there = told(2, person_minutes=700, held_to=(1, TUESDAY))
    whole = problem(hit, there, crews=crews)
    after = replan(whole, {(1, MONDAY): [1], (1, TUESDAY): [2]}, {1})
    assert order_of(after) == {(1, TUESDAY): [2]}
    assert "full" in after.unserved[1].en


def test_what_is_hit_may_come_in_the_week_after_its_window() -> None:
    crews = (crew(days=frozenset({WEDNESDAY})),)
    whole = problem(told(1, days=frozenset({MONDAY}), grace_days=frozenset({WEDNESDAY})), crews=crews)
    assert replan(whole, {(1, MONDAY): [1]}, {1}).unserved
    assert order_of(replan(with_grace(whole, {1}), {(1, MONDAY): [1]}, {1})) == {(1, WEDNESDAY): [1]}


def test_an_urgent_visit_does_not_push_others_to_another_hour_where_there_is_a_choice() -> None:
    crews = (crew(days=frozenset({MONDAY})), crew(uid=2, days=frozenset({MONDAY})))
    known = [
        told(uid, told=Told(1, MONDAY, 480 + 70 * (uid - 1)), days=frozenset({MONDAY})) for uid in (1, 2, 3)
    ]
    urgent = visit(4)
    whole = problem(*known, urgent, crews=crews)
    after = replan(whole, {(1, MONDAY): [1, 2, 3]}, ())
    assert [change.visit_uid for change in changes(whole, {(1, MONDAY): [1, 2, 3]}, (), after)] == [4]


def test_a_plan_that_nothing_hits_stays_as_it_is() -> None:
    some = month(40, seed=4)
    before = answer(some, {})
    assert order_of(replan(some, order_of(before), ())) == order_of(before)


@given(st.integers(0, 10_000), st.integers(1, 25), st.data())
@settings(max_examples=40)
def test_every_new_plan_is_true_and_what_is_fixed_stays(seed: int, visits: int, data: st.DataObject) -> None:
    some = month(visits, seed=seed, days=6)
    before = answer(some, {})
    plan = order_of(before)
    days = sorted({day for _, day in plan})
    away = data.draw(st.sampled_from(days)) if days else MONDAY
    held = {uid: key for key, uids in plan.items() for uid in uids if key[1] != away and uid % 5 == 0}
    struck = replace(
        some,
        crews=tuple(replace(one, days=one.days - {away}) for one in some.crews),
        visits=tuple(replace(one, held_to=held.get(one.uid)) for one in some.visits),
    )
    freed = {uid for key, uids in plan.items() if key[1] == away for uid in uids}
    after = replan(struck, plan, freed)
    assert list(faults(struck, after)) == []
    where = {uid: key for key, uids in order_of(after).items() for uid in uids}
    assert all(where[uid] == key for uid, key in held.items())
    told_of = changes(struck, plan, freed, after)
    now = {change.visit_uid: change.now for change in told_of}
    was = {uid: key for key, uids in plan.items() for uid in uids}
    assert all(now.get(uid, was.get(uid)) == where.get(uid) for uid in struck.place_by_uid)


# --- Territories --------------------------------------------------------------------------------------


def two_towns(visits: int) -> RouteProblem:
    """Two depots far apart, eleven crews at each, and gardens around both."""
    chance = np.random.default_rng(3)
    around = chance.uniform(-10, 10, (visits, 2)) + np.where(np.arange(visits)[:, None] % 2, 200.0, 0.0)
    points = np.vstack([[0, 0], [200, 200], around])
    minutes = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    crews = tuple(crew(uid=uid, depot=uid % 2) for uid in range(1, 21))
    rows = tuple(visit(uid, person_minutes=60) for uid in range(1, visits + 1))
    return RouteProblem(crews, rows, Travel(minutes, minutes), depots=2)


def test_a_large_month_is_split_without_losing_or_sharing_anything() -> None:
    whole = two_towns(1200)
    parts = territories.split(whole)
    assert len(parts) == 2
    uids = [one.uid for part in parts for one in part.visits]
    assert sorted(uids) == sorted(whole.place_by_uid)
    crews = [one.uid for part in parts for one in part.crews]
    assert sorted(crews) == sorted(whole.crew_by_uid)
    for part in parts:
        assert {one.uid % 2 for one in part.crews} != {0, 1}
        near = [part.travel.minutes[part.crews[0].depot, part.place_by_uid[one.uid]] for one in part.visits]
        assert max(near) < 20


def test_what_is_held_goes_with_its_crew_and_a_rare_skill_with_who_has_it() -> None:
    whole = two_towns(1200)
    artist = replace(whole.crews[0], skills=frozenset({"gardener", "arborist"}))
    rows = list(whole.visits)
    rows[1] = replace(rows[1], held_to=(2, MONDAY))
    rows[2] = replace(rows[2], skills=frozenset({"arborist"}))
    parts = territories.split(replace(whole, crews=(artist, *whole.crews[1:]), visits=tuple(rows)))
    for part in parts:
        crews = {one.uid for one in part.crews}
        assert (2 in {one.uid for one in part.visits}) == (2 in crews)
        assert (3 in {one.uid for one in part.visits}) == (1 in crews)


def test_a_small_month_stays_whole() -> None:
    assert (
        territories.split(month(50, seed=1)) == (month(50, seed=1),)
        or len(territories.split(month(50, seed=1))) == 1
    )
