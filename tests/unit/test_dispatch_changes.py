"""What differs between what people know and a plan, and what an event strikes: plain values."""

from dataclasses import replace
from datetime import date, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.dispatch import hits
from landscape_care.dispatch.changes import Change, Reasons, Sort, Spot, changes, counts
from landscape_care.dispatch.hits import Hit
from landscape_care.dispatch.refusals import Words, both, day_words, misfit, skill_words
from landscape_care.dispatch.replanning import order_of, replan
from landscape_care.dispatch.routing import Told, faults
from landscape_care.dispatch.solver import solve
from tests.unit.dispatch_months import FIRST, month

MONDAY = date(2026, 11, 30)
HERE = Spot(MONDAY, "North", time(8), time(9))
RAIN, NO_ROOM, WAY = Words("Rain", "Lluvia"), Words("No room", "Sin lugar"), Words("Way", "Lugar")
HOUR, NEW = Words("Hour", "Hora"), Words("New", "Nueva")
REASONS = Reasons(hit={1: RAIN}, unserved={1: NO_ROOM, 2: NO_ROOM}, gave_way=WAY, other_hour=HOUR, new=NEW)


@pytest.mark.parametrize(
    ("was", "now", "sort"),
    [
        (HERE, None, Sort.TAKEN_BACK),
        (None, HERE, Sort.NEW),
        (HERE, replace(HERE, day=MONDAY + timedelta(1), crew="South"), Sort.OTHER_DAY),
        (HERE, replace(HERE, crew="South", arrives_at=time(8, 30)), Sort.OTHER_CREW),
        (HERE, replace(HERE, arrives_at=time(8, 30)), Sort.OTHER_HOUR),
    ],
)
def test_a_change_is_named_by_the_gravest_of_what_moved(
    was: Spot | None, now: Spot | None, sort: Sort
) -> None:
    assert Change(1, was, now, RAIN).sort == sort


def test_each_visit_that_differs_is_told_with_its_own_reason() -> None:
    later, south = replace(HERE, arrives_at=time(8, 30)), replace(HERE, crew="South")
    before = {1: HERE, 2: HERE, 3: HERE, 4: HERE, 5: HERE}
    after = {3: south, 4: later, 5: HERE, 6: HERE}
    found = changes(before, after, REASONS)
    why = {change.visit_id: change.why.en for change in found}
    assert why == {1: "Rain. No room", 2: "No room", 3: "Way", 4: "Hour", 6: "New"}
    assert [change.sort for change in found] == sorted(
        (change.sort for change in found), key=list(Sort).index
    )
    assert counts(found) == {"taken_back": 2, "other_day": 0, "other_crew": 1, "other_hour": 1, "new": 1}


def test_a_change_from_nowhere_to_nowhere_is_refused() -> None:
    with pytest.raises(ValueError, match="both None"):
        Change(1, None, None, RAIN)


spots = st.builds(
    Spot,
    st.dates(MONDAY, MONDAY + timedelta(3)),
    st.sampled_from(("North", "South")),
    st.sampled_from((time(8), time(9))),
    st.just(time(12)),
)
plans = st.dictionaries(st.integers(1, 8), spots)


@given(plans, plans)
def test_changes_are_exactly_what_differs_and_none_for_the_same_plan(
    before: dict[int, Spot], after: dict[int, Spot]
) -> None:
    found = {change.visit_id for change in changes(before, after, REASONS)}
    assert found == {uid for uid in before.keys() | after.keys() if before.get(uid) != after.get(uid)}
    assert changes(before, before, REASONS) == ()


# --- What an event strikes --------------------------------------------------------------------------


def test_rain_takes_the_day_of_all_crews_and_leaves_every_other_day() -> None:
    problem = month(40, seed=3, days=10)
    found = solve(problem, seconds=1)
    order = order_of(found)
    day = max({one.day for one in found.routes}, key=lambda day: sum(key[1] == day for key in order))
    hit = Hit(frozenset({day}), crews=frozenset(crew.uid for crew in problem.crews))
    told = {
        stop.visit_uid: Told(one.crew_uid, one.day, stop.arrives_minute)
        for one in found.routes
        for stop in one.stops
    }
    left = hits.struck(hits.loosened(problem, told, ()), hit)
    freed = hits.are_hit(order, hit)
    assert freed == {uid for key, uids in order.items() if key[1] == day for uid in uids}
    answer = replan(left, order, freed)
    assert list(faults(left, answer)) == []
    assert all(one.day != day for one in answer.routes)
    stays = {uid: key for key, uids in order.items() for uid in uids if uid not in freed}
    now = {uid: key for key, uids in order_of(answer).items() for uid in uids}
    moved = [uid for uid, key in stays.items() if now.get(uid) != key]
    assert len(moved) <= 0.05 * len(stays)


def test_other_hours_strike_the_crew_and_a_closed_garden_its_visits() -> None:
    problem = month(12, seed=1, days=5)
    crew = problem.crews[0].uid
    heat = hits.struck(problem, Hit(frozenset({FIRST}), crews=frozenset({crew}), hours=(360, 720)))
    assert (heat.shift(crew, FIRST).opens_minute, heat.shift(crew, FIRST).closes_minute) == (360, 720)
    next_day = FIRST + timedelta(1)
    assert heat.shift(crew, next_day).opens_minute == problem.shift(crew, next_day).opens_minute
    visit = next(one for one in problem.visits if FIRST in one.days)
    closed = hits.struck(problem, Hit(frozenset({FIRST}), visits=frozenset({visit.uid})))
    assert closed.visit(visit.uid).days == visit.days - {FIRST}
    assert closed.visit(visit.uid).closed_days == {FIRST}


def test_what_is_held_where_nobody_can_be_is_let_go() -> None:
    problem = month(5, seed=1, days=5)
    crew, one = problem.crews[0].uid, problem.visits[0]
    held = replace(problem, visits=(replace(one, held_to=(crew, FIRST)), *problem.visits[1:]))
    left = hits.struck(held, Hit(frozenset({FIRST}), crews=frozenset({crew})))
    assert left.visit(one.uid).held_to is None


@pytest.mark.parametrize(
    "values", [{"days": frozenset()}, {"crews": frozenset()}, {"hours": (700, 300)}, {"hours": (0, 1500)}]
)
def test_an_event_that_strikes_nothing_is_refused(values: dict[str, object]) -> None:
    usual: dict[str, object] = {"days": frozenset({FIRST}), "crews": frozenset({1})}
    with pytest.raises(ValueError, match="wanted"):
        Hit(**usual | values)  # type: ignore[arg-type]


# --- Words ------------------------------------------------------------------------------------------


def test_a_refusal_says_the_same_in_both_languages() -> None:
    wanted = both(
        "a crew with {s} on {d}",
        "una cuadrilla con {s} el {d}",
        s=skill_words(["mason"]),
        d=day_words(MONDAY),
    )
    one = misfit("crew", "north", wanted)
    assert one.wanted == "a crew with mason on Mon Nov 30"
    assert one.wanted_es == "una cuadrilla con albañilería el lun 30 nov"
