"""The clock of a route, the words for what is not served, and promises that every plan keeps."""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landscape_care.dispatch import routing, solver
from landscape_care.dispatch.routing import (
    CrewShift,
    Order,
    Prices,
    Route,
    RouteAnswer,
    RouteProblem,
    RouteVisit,
    TimedStop,
    Told,
    answer,
    faults,
    nearest_neighbour,
)
from landscape_care.dispatch.travel import Travel
from tests.unit import dispatch_months
from tests.unit.dispatch_months import FIRST, month

GARDENER = frozenset({"gardener"})
MONDAY = FIRST


def crew(**changes: object) -> CrewShift:
    usual = CrewShift(1, 2, GARDENER, 7 * 60, 15 * 60 + 30, 30, frozenset({MONDAY, MONDAY + timedelta(1)}))
    return replace(usual, **changes)  # type: ignore[arg-type]


def visit(uid: int, **changes: object) -> RouteVisit:
    usual = RouteVisit(uid, frozenset({MONDAY}), 8 * 60, 16 * 60, 120, 30, 1, GARDENER)
    return replace(usual, **changes)  # type: ignore[arg-type]


def problem(*visits: RouteVisit, crews: tuple[CrewShift, ...] = (crew(),), apart: float = 10) -> RouteProblem:
    size = len(visits) + 1
    minutes = np.full((size, size), float(apart))
    np.fill_diagonal(minutes, 0)
    return RouteProblem(crews, visits, Travel(minutes, minutes / 2))


def only_route(found: RouteAnswer) -> Route:
    (one,) = found.routes
    return one


def test_people_share_the_work_but_the_longest_task_takes_its_own_time() -> None:
    assert visit(1, person_minutes=125).service_minutes(2) == 63
    assert visit(1, person_minutes=125, longest_task_minutes=90).service_minutes(3) == 90


def test_a_crew_waits_at_the_depot_until_the_garden_opens() -> None:
    one = only_route(answer(problem(visit(1)), {(1, MONDAY): [1]}))
    assert one.starts_minute == 7 * 60 + 50
    assert one.stops[0] == TimedStop(1, 10, 5, 8 * 60, 9 * 60)
    assert one.ends_minute == 9 * 60 + 10
    assert one.drive_minutes == 20


def test_a_long_day_has_its_break_near_the_middle_of_the_shift() -> None:
    visits = [visit(number, person_minutes=180) for number in range(1, 5)]
    one = only_route(answer(problem(*visits), {(1, MONDAY): [1, 2, 3, 4]}))
    gaps = [
        after.arrives_minute - before.leaves_minute
        for before, after in zip(one.stops, one.stops[1:], strict=False)
    ]
    # The shift's middle is 11:15; the second stop ends at 11:10.
    assert gaps == [10, 40, 10]


def test_a_short_day_has_no_break() -> None:
    one = only_route(answer(problem(visit(1), visit(2)), {(1, MONDAY): [1, 2]}))
    assert one.stops[1].arrives_minute - one.stops[0].leaves_minute == 10


def test_what_does_not_fit_goes_to_another_day_before_it_is_given_up() -> None:
    both = frozenset({MONDAY, MONDAY + timedelta(1)})
    visits = [visit(number, person_minutes=600, days=both) for number in (1, 2)]
    found = answer(problem(*visits), {(1, MONDAY): [1, 2]})
    assert not found.unserved
    assert [one.day for one in found.routes] == [MONDAY, MONDAY + timedelta(1)]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"skills": frozenset({"mason"})}, "No crew has all skills: mason"),
        ({"people": 3}, "No crew with these skills has 3 people"),
        ({"days": frozenset()}, "No allowed weekday is left"),
        ({"days": frozenset({MONDAY + timedelta(2)})}, "works on an allowed day"),
        ({"closes_minute": 8 * 60 + 30}, "shorter than the work"),
        ({"days": frozenset(), "closed_days": frozenset({MONDAY})}, "closed or has a holiday on every"),
        ({"load_lb": 2500.0}, "load of 2,500 lb is more than a vehicle"),
        ({"load_yd3": 4.5}, "load of 4.5 yd³ is more than a vehicle"),
        ({"held_to": (9, MONDAY)}, "held to a crew that does not drive here"),
        (
            {"held_to": (1, MONDAY), "closes_minute": 8 * 60 + 30},
            "cannot do it within its hours on 2027-03-01",
        ),
    ],
)
def test_a_visit_nobody_can_do_is_explained_in_both_languages(asked: dict[str, object], words: str) -> None:
    with_vehicle = (crew(payload_lb=2000.0, bed_yd3=3.0),)
    found = solver.solve(problem(visit(1, **asked), crews=with_vehicle), seconds=0.2)
    assert words in found.unserved[1].en
    assert found.unserved[1].es not in ("", found.unserved[1].en)
    assert not found.routes
    # The reason is the only one: without what was asked the visit is served.
    assert not solver.solve(problem(visit(1), crews=with_vehicle), seconds=0.2).unserved


@pytest.mark.parametrize(
    ("apart", "words"),
    [(np.inf, "No road leads there"), (6000.0, "Out of reach: 6,000 minutes"), (230.0, "Out of reach")],
)
def test_a_garden_in_the_sea_is_out_of_reach(apart: float, words: str) -> None:
    far = problem(visit(1), visit(2), apart=10)
    minutes = far.travel.minutes.copy()
    minutes[2, :2] = minutes[:2, 2] = apart
    found = solver.solve(replace(far, travel=Travel(minutes, far.travel.miles)), seconds=0.3)
    assert [stop.visit_uid for stop in only_route(found).stops] == [1]
    assert words in found.unserved[2].en


def test_two_gardens_without_a_road_between_them_are_not_driven_one_after_the_other() -> None:
    both = frozenset({MONDAY, MONDAY + timedelta(1)})
    whole = problem(visit(1, days=both), visit(2, days=both))
    minutes = whole.travel.minutes.copy()
    minutes[1, 2] = minutes[2, 1] = np.inf
    found = solver.solve(replace(whole, travel=Travel(minutes, whole.travel.miles)), seconds=0.3)
    assert not found.unserved
    assert [len(one.stops) for one in found.routes] == [1, 1]


def test_without_crews_that_work_the_reason_is_not_their_skills() -> None:
    for crews in ((), (crew(days=frozenset()),)):
        found = solver.solve(problem(visit(1), crews=crews), seconds=0.2)
        assert "No crew" in found.unserved[1].en
        assert "skills" not in found.unserved[1].en


def test_two_fixed_visits_that_clash_are_not_both_dropped() -> None:
    fixed = [visit(uid, person_minutes=800, held_to=(1, MONDAY)) for uid in (1, 2)]
    found = solver.solve(problem(*fixed), seconds=0.3)
    assert len(only_route(found).stops) == 1
    (why,) = found.unserved.values()
    assert "held to 2027-03-01 with others" in why.en


def test_a_vehicle_carries_no_more_than_it_may() -> None:
    both = frozenset({MONDAY, MONDAY + timedelta(1)})
    heavy = [visit(uid, load_lb=600.0, person_minutes=30, days=both) for uid in (1, 2, 3, 4)]
    found = solver.solve(problem(*heavy, crews=(crew(payload_lb=1300.0),)), seconds=0.3)
    assert not found.unserved
    assert [len(one.stops) for one in found.routes] == [2, 2]


def test_on_a_hot_day_the_shift_has_its_own_hours() -> None:
    hot = crew(other_hours={MONDAY: (5 * 60, 13 * 60)})
    early = visit(1, opens_minute=5 * 60, closes_minute=7 * 60)
    found = solver.solve(problem(early, crews=(hot,)), seconds=0.2)
    assert only_route(found).starts_minute == 5 * 60
    afternoon = visit(1, opens_minute=13 * 60)
    assert (
        "shorter than the work" in solver.solve(problem(afternoon, crews=(hot,)), seconds=0.2).unserved[1].en
    )


def test_each_crew_starts_and_ends_at_its_own_depot() -> None:
    minutes = np.array([[0, 90, 5, 85], [90, 0, 85, 5], [5, 85, 0, 80], [85, 5, 80, 0]], dtype=float)
    crews = (crew(), crew(uid=2, depot=1))
    two = RouteProblem(crews, (visit(1), visit(2)), Travel(minutes, minutes), depots=2)
    found = solver.solve(two, seconds=0.3)
    assert {one.crew_uid: [stop.visit_uid for stop in one.stops] for one in found.routes} == {1: [1], 2: [2]}
    assert found.drive_minutes == 20


def test_the_preferred_crew_comes_unless_another_saves_more_driving_than_it_is_worth() -> None:
    crews = (crew(), crew(uid=2))
    rather = visit(1, preferred_crew=2)
    assert only_route(solver.solve(problem(rather, crews=crews), seconds=0.3)).crew_uid == 2
    near = problem(rather, visit(2, held_to=(1, MONDAY)), crews=crews, apart=10)
    minutes = near.travel.minutes.copy()
    minutes[1, 2] = minutes[2, 1] = 1
    found = solver.solve(replace(near, travel=Travel(minutes, minutes)), seconds=0.3)
    assert only_route(found).crew_uid == 1


def test_what_people_were_told_moves_only_for_more_than_its_price() -> None:
    days = frozenset({MONDAY, MONDAY + timedelta(1)})
    told = Told(1, MONDAY + timedelta(1), 8 * 60)
    whole = problem(visit(1, days=days, told=told), visit(2))
    assert {one.day for one in solver.solve(whole, seconds=0.3).routes} == days
    cheap = replace(whole, prices=Prices(day=5, crew=5, hour=0))
    assert only_route(solver.solve(cheap, seconds=0.3)).day == MONDAY


def test_the_cost_of_a_plan_counts_another_day_crew_and_hour() -> None:
    told = Told(2, MONDAY + timedelta(1), 12 * 60)
    crews = (crew(), crew(uid=2))
    both = frozenset({MONDAY, MONDAY + timedelta(1)})
    whole = problem(visit(1, days=both, told=told, preferred_crew=2), crews=crews)
    found = answer(whole, {(1, MONDAY): [1]})
    prices = whole.prices
    assert routing.cost(whole, found) == 20 + prices.day + prices.crew + prices.hour + prices.stranger


def test_work_beyond_all_shifts_is_explained_as_full() -> None:
    visits = [visit(number, person_minutes=800) for number in (1, 2, 3)]
    found = solver.solve(problem(*visits), seconds=0.5)
    assert len(found.unserved) == 2
    assert {why.en for why in found.unserved.values()} == {"The shifts of its allowed days are full"}


def test_a_held_visit_keeps_its_crew_and_day() -> None:
    tuesday = MONDAY + timedelta(1)
    crews = (crew(), crew(uid=2))
    held = visit(1, days=frozenset({MONDAY}), held_to=(2, tuesday))
    found = solver.solve(problem(held, visit(2), crews=crews), seconds=0.5)
    assert [(one.crew_uid, one.day) for one in found.routes if one.stops[0].visit_uid == 1] == [(2, tuesday)]


def test_late_work_is_done_on_the_first_day_that_has_room() -> None:
    days = frozenset(dispatch_months.workdays(5))
    found = solver.solve(problem(visit(1, days=days, late=True), crews=(crew(days=days),)), seconds=0.5)
    assert only_route(found).day == MONDAY


def test_the_engine_finds_the_shortest_order_that_trying_all_finds() -> None:
    chance = np.random.default_rng(5)
    points = chance.uniform(0, 30, (7, 2))
    minutes = np.sqrt(((points[:, None] - points[None]) ** 2).sum(-1))
    visits = tuple(visit(number, person_minutes=20, longest_task_minutes=10) for number in range(1, 7))
    small = RouteProblem(
        (crew(opens_minute=6 * 60, closes_minute=20 * 60),), visits, Travel(minutes, minutes)
    )
    lengths = [_length(minutes, (0, *order, 0)) for order in permutations(range(1, 7))]
    found = solver.solve(small, seconds=2)
    assert not found.unserved
    # Driving is kept to a hundredth of a minute on each of the seven legs.
    assert found.drive_minutes == pytest.approx(min(lengths), abs=0.07)


def _length(minutes: "np.typing.NDArray[np.float64]", places: tuple[int, ...]) -> float:
    return float(sum(minutes[a, b] for a, b in pairwise(places)))


def test_the_same_problem_and_seed_give_the_same_plan() -> None:
    first = solver.solve(month(40, seed=3), seconds=4, seed=7)
    assert solver.solve(month(40, seed=3), seconds=4, seed=7) == first


@given(st.integers(0, 10_000), st.integers(1, 40))
@settings(max_examples=25)
def test_every_plan_keeps_shifts_skills_windows_and_access_hours(seed: int, visits: int) -> None:
    some = month(visits, seed=seed, days=8)
    assert list(faults(some, solver.solve(some, seconds=0.4))) == []
    assert list(faults(some, nearest_neighbour(some))) == []


@given(st.integers(0, 10_000), st.data())
@settings(max_examples=40)
def test_any_order_becomes_a_true_plan(seed: int, data: st.DataObject) -> None:
    some = month(12, seed=seed, days=4)
    order: Order = {}
    for one in some.visits:
        if possible := some.possible(one):
            order.setdefault(data.draw(st.sampled_from(possible)), []).append(one.uid)
    assert list(faults(some, answer(some, order))) == []


def test_a_plan_drives_less_than_the_nearest_next_stop_on_the_first_possible_day() -> None:
    some = month(80, seed=11)
    planned, by_hand = solver.solve(some, seconds=5), nearest_neighbour(some)
    assert len(planned.unserved) <= len(by_hand.unserved)
    assert planned.drive_minutes < by_hand.drive_minutes


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda stop: stop._replace(arrives_minute=6 * 60), "before it can"),
        (lambda stop: stop._replace(leaves_minute=17 * 60), "outside the access hours"),
        (lambda stop: stop._replace(leaves_minute=stop.leaves_minute + 1), "minutes that the work needs"),
    ],
)
def test_a_broken_promise_is_found(spoil: object, words: str) -> None:
    whole = problem(visit(1))
    one = only_route(answer(whole, {(1, MONDAY): [1]}))
    spoiled = replace(one, stops=(spoil(one.stops[0]),))  # type: ignore[operator]
    assert any(words in fault for fault in faults(whole, RouteAnswer((spoiled,), {})))


def test_a_wrong_crew_or_day_or_a_visit_forgotten_is_found() -> None:
    whole = problem(visit(1), crews=(crew(), crew(uid=2, skills=frozenset({"mason"}))))
    one = only_route(answer(whole, {(1, MONDAY): [1]}))
    wrong_day = replace(one, day=MONDAY + timedelta(1))
    wrong_crew = replace(one, crew_uid=2)
    assert any("not allowed" in fault for fault in faults(whole, RouteAnswer((wrong_day,), {})))
    assert any("without the skills" in fault for fault in faults(whole, RouteAnswer((wrong_crew,), {})))
    assert list(faults(whole, RouteAnswer((), {}))) == ["visit 1 is neither served nor explained"]
    twice = RouteAnswer((one, one), {1: routing.Reason("", "")})
    assert {"visit 1 is served twice", "visit 1 is both served and explained"} <= set(faults(whole, twice))


@pytest.mark.parametrize(
    "changes",
    [
        {"people": 0},
        {"opens_minute": 1000, "closes_minute": 900},
        {"break_minutes": 600},
        {"closes_minute": 1500},
    ],
)
def test_a_crew_that_cannot_be_is_refused(changes: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="wanted"):
        crew(**changes)


@pytest.mark.parametrize("changes", [{"person_minutes": 0}, {"people": 0}, {"opens_minute": 1000}])
def test_a_visit_that_cannot_be_is_refused(changes: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="wanted"):
        visit(1, **{"closes_minute": 990, **changes})


def test_a_problem_with_repeated_numbers_or_missing_places_is_refused() -> None:
    with pytest.raises(ValueError, match="repeat"):
        problem(visit(1), visit(1))
    with pytest.raises(ValueError, match="places"):
        RouteProblem((crew(),), (visit(1),), Travel(np.zeros((1, 1)), np.zeros((1, 1))))


def test_a_route_keeps_the_order_people_know_when_that_costs_little() -> None:
    minutes = np.array([[0, 10, 12, 14], [10, 0, 9, 9], [12, 9, 0, 3], [14, 9, 3, 0]], dtype=float)
    visits = tuple(visit(number, held_to=(1, MONDAY)) for number in (1, 2, 3))
    known = {(1, MONDAY): (3, 1, 2)}
    small = RouteProblem((crew(),), visits, Travel(minutes, minutes), told=known)
    assert [stop.visit_uid for stop in only_route(solver.solve(small, seconds=0.5)).stops] == [3, 1, 2]
    dear = RouteProblem((crew(),), visits, Travel(minutes * 4, minutes), told=known)
    assert [stop.visit_uid for stop in only_route(solver.solve(dear, seconds=0.5)).stops] != [3, 1, 2]
