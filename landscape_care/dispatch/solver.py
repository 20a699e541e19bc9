"""The one door to the routing engine.

A month is solved in two steps. First the visits are spread over the weeks by load and
neighbourhood, and each week is one model of the engine: a vehicle for each crew and day, all on
one clock that counts from the first day, and one copy of a visit for each of its allowed days, of
which at most one is served. Then neighbouring weeks are solved together from the plan so far, so
that a visit whose window spans both can change sides.

Work time depends on the crew, so it lies in the travel table of the crew: leaving a place takes
the work there and the drive. A crew that may not serve a visit has a table in which it lies too
far away. The engine keeps shifts without overtime; some is added afterwards for visits that no plain
shift has room for.

Iterations, not seconds, decide when to stop; the seconds are a ceiling, so that the same problem
and seed give the same plan on a slower machine too, as long as the ceiling is not reached.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from math import ceil
from time import monotonic

import numpy as np
import pyvrp
from numpy.typing import NDArray
from pyvrp.stop import MaxIterations, MaxRuntime, MultipleCriteria

from landscape_care.dispatch.routing import (
    BREAK_AFTER_MINUTES,
    CrewShift,
    Order,
    RouteAnswer,
    RouteProblem,
    RouteVisit,
    answer,
    keep_told,
)

DAY_MINUTES = 1440
FAR_MINUTES = 20 * DAY_MINUTES  # no shift is so long: it forbids a drive
UNIT = 60  # driving costs are seconds, so that rounding to whole minutes hides no detour
SERVED_PRIZE = 2_000_000  # more than any detour: whatever can be served is served
UNLIMITED_LOAD = 10**9
YARD_UNITS = 100  # loads are whole numbers for the engine: pounds and hundredths of a cubic yard
ITERATIONS_PER_SECOND = 350  # of the budget; a common machine does three times as many
ITERATIONS_BETWEEN_LOOKS = 25  # often enough to be stopped within a second or so

CrewDay = tuple[int, date]


@dataclass(frozen=True, slots=True)
class Progress:
    """How far solving is: the share that is done, and what is placed with which driving so far."""

    share: float
    placed: int
    drive_minutes: float


Watch = Callable[[Progress], bool]
"""Told of progress now and then; answers whether to go on. False keeps the best found so far."""


def solve(problem: RouteProblem, *, seconds: float, seed: int = 1, watch: Watch | None = None) -> RouteAnswer:
    """Plan all visits of a problem within so many seconds; same problem and seed, same plan."""
    if seconds <= 0:
        raise ValueError(f"seconds {seconds}, wanted more than 0")
    watching = _Watching(watch, int(seconds * ITERATIONS_PER_SECOND))
    clock = _Clock(
        ends=monotonic() + seconds,
        iterations=int(seconds * ITERATIONS_PER_SECOND),
        seed=seed,
        watching=watching,
    )
    weeks = _weeks(problem)
    share = _spread_over_weeks(problem, weeks)
    order: Order = {}
    for week in weeks:
        order |= _solve_days(problem, share[week], weeks[week], {}, clock.part(0.5 / len(weeks)))
        watching.note(problem, order)
    pairs = [(one, two) for one, two in zip(list(weeks), list(weeks)[1:], strict=False)]
    for one, two in pairs:
        days = weeks[one] + weeks[two]
        here = {key: uids for key, uids in order.items() if key[1] in days}
        there = {uid for key, uids in order.items() if key[1] not in days for uid in uids}
        visits = [visit for visit in problem.visits if visit.uid not in there]
        for key in here:
            del order[key]
        order |= _solve_days(problem, visits, days, here, clock.part(0.5 / len(pairs)))
        watching.note(problem, order)
    return answer(problem, keep_told(problem, order))


class _Watching:
    """Counts iterations for whoever watches, and remembers when they have seen enough."""

    def __init__(self, watch: Watch | None, iterations: int) -> None:
        self._watch, self._iterations, self._done = watch, max(1, iterations), 0
        self._placed, self._drive_minutes, self._ended = 0, 0.0, False

    def note(self, problem: RouteProblem, order: Order) -> None:
        """Remember what is placed so far."""
        if self._watch is not None:
            self._placed = sum(map(len, order.values()))
            self._drive_minutes = drive_minutes(problem, order)

    def __call__(self, best_cost: int) -> bool:
        """Whether the engine is to stop: it asks after each iteration."""
        self._done += 1
        if self._watch is not None and not self._ended and self._done % ITERATIONS_BETWEEN_LOOKS == 0:
            share = min(1.0, self._done / self._iterations)
            self._ended = not self._watch(Progress(share, self._placed, self._drive_minutes))
        return self._ended


@dataclass(frozen=True, slots=True)
class _Clock:
    """How long the engine may run: so many iterations, never past a moment, and while it is let."""

    ends: float
    iterations: int
    seed: int
    watching: _Watching

    def part(self, share: float) -> "_Clock":
        return replace(self, iterations=max(50, int(self.iterations * share)))

    def stop(self) -> MultipleCriteria:
        rest_seconds = max(0.01, self.ends - monotonic())
        return MultipleCriteria([MaxIterations(self.iterations), MaxRuntime(rest_seconds), self.watching])


def drive_minutes(problem: RouteProblem, order: Order) -> float:
    """Driving of all orders, the ways from and to the depot included."""
    total = 0.0
    for (crew, _), uids in order.items():
        depot = problem.crew_by_uid[crew].depot
        tour = [depot, *(problem.place_by_uid[uid] for uid in uids), depot] if uids else []
        total += sum(problem.leg(here, there)[0] for here, there in pairwise(tour))
    return total


# --- Weeks ------------------------------------------------------------------------------------------


def _weeks(problem: RouteProblem) -> dict[date, list[date]]:
    """Working days of all crews and held visits by ISO week, in order."""
    days = {day for _, day in problem.crew_days()} | {v.held_to[1] for v in problem.visits if v.held_to}
    weeks: dict[date, list[date]] = {}
    for day in sorted(days):
        weeks.setdefault(date.fromordinal(day.toordinal() - day.weekday()), []).append(day)
    return weeks


def _spread_over_weeks(
    problem: RouteProblem, weeks: Mapping[date, Sequence[date]]
) -> dict[date, list[RouteVisit]]:
    """Give each visit a week: few choices first, then where there is room and company nearby."""
    share: dict[date, list[RouteVisit]] = {week: [] for week in weeks}
    load = dict.fromkeys(weeks, 0.0)
    room = {week: _room_minutes(problem, days) for week, days in weeks.items()}
    choices = {visit.uid: _weeks_for(problem, visit, weeks) for visit in problem.visits}
    for visit in sorted(
        problem.visits, key=lambda visit: (len(choices[visit.uid]), -visit.person_minutes, visit.uid)
    ):
        if not choices[visit.uid]:
            continue
        costs = {
            week: (load[week] + visit.person_minutes) / room[week] * 60
            + _drive_to_nearest(problem, visit, share[week])
            for week in choices[visit.uid]
        }
        week = min(costs) if visit.late else min(costs, key=lambda week: (costs[week], week))
        share[week].append(visit)
        load[week] += visit.person_minutes
    return share


def _room_minutes(problem: RouteProblem, days: Sequence[date]) -> float:
    shifts = (crew.people * crew.shift_minutes * len(crew.days.intersection(days)) for crew in problem.crews)
    return float(sum(shifts)) or 1.0


def _weeks_for(problem: RouteProblem, visit: RouteVisit, weeks: Mapping[date, Sequence[date]]) -> list[date]:
    days = {day for _, day in problem.possible(visit)}
    return [week for week, its_days in weeks.items() if days.intersection(its_days)]


def _drive_to_nearest(problem: RouteProblem, visit: RouteVisit, others: Iterable[RouteVisit]) -> float:
    """Minutes to the nearest visit of a week, or to the depot."""
    here = problem.place_by_uid[visit.uid]
    places = [*range(problem.depots), *(problem.place_by_uid[other.uid] for other in others)]
    return float(problem.travel.minutes[here, places].min())


# --- One model ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Model:
    """The engine's form of some days, and what its numbers mean."""

    table: pyvrp.ProblemData
    crew_days: list[CrewDay]
    copies: list[tuple[int, date]]


def _solve_days(
    problem: RouteProblem, visits: Iterable[RouteVisit], days: Sequence[date], so_far: Order, clock: _Clock
) -> Order:
    """Order of stops for each crew and day among these days, not worse than the order so far."""
    model = _model(problem, visits, days)
    if model is None:
        return so_far
    start = _solution(model, so_far) if so_far else None
    result = pyvrp.solve(
        model.table, clock.stop(), seed=clock.seed, collect_stats=False, display=False, initial_solution=start
    )
    best = result.best
    if not best.is_feasible():
        return so_far
    return {
        model.crew_days[route.vehicle_type()]: [model.copies[number][0] for number in _clients(route)]
        for route in best.routes()
    }


def _clients(route: pyvrp.Route) -> list[int]:
    return [step.idx for step in route.schedule() if step.is_client()]


def _model(problem: RouteProblem, visits: Iterable[RouteVisit], days: Sequence[date]) -> _Model | None:
    chosen = {visit.uid: sorted(set(_days_for(problem, visit)).intersection(days)) for visit in visits}
    copies = [(uid, day) for uid, its_days in chosen.items() for day in its_days]
    held = {(visit.held_to) for visit in problem.visits if visit.held_to and visit.uid in chosen}
    crew_days = sorted(
        {key for key in problem.crew_days() if key[1] in days} | {key for key in held if key[1] in days}
    )
    if not copies or not crew_days:
        return None
    uids = sorted({uid for uid, _ in copies})
    places = {uid: number + problem.depots for number, uid in enumerate(uids)}
    groups = [[n for n, (uid, _) in enumerate(copies) if uid == one] for one in uids]
    profiles = {crew: number for number, crew in enumerate(sorted({crew for crew, _ in crew_days}))}
    drives = _drives(problem, uids)
    table = pyvrp.ProblemData(
        locations=[pyvrp.Location(0, 0) for _ in range(len(uids) + problem.depots)],
        clients=[_client(problem, copy, days, places) for copy in copies],
        depots=[pyvrp.Depot(number) for number in range(problem.depots)],
        vehicle_types=[_vehicle(problem, key, days, profiles) for key in crew_days],
        distance_matrices=[_costs(problem, crew, uids, drives) for crew in profiles],  # type: ignore[misc]
        duration_matrices=[_durations(problem, crew, uids, drives) for crew in profiles],  # type: ignore[misc]
        groups=[pyvrp.ClientGroup(members, required=False) for members in groups],
    )
    return _Model(table, crew_days, copies)


def _days_for(problem: RouteProblem, visit: RouteVisit) -> Iterable[date]:
    return (day for _, day in problem.possible(visit))


def _client(
    problem: RouteProblem, copy: tuple[int, date], days: Sequence[date], places: Mapping[int, int]
) -> pyvrp.Client:
    uid, day = copy
    visit = problem.visit(uid)
    able = [problem.crew_by_uid[crew] for crew, _ in problem.possible(visit)]
    # The slowest crew that can do it decides the last start, so that any of them leaves in time.
    longest = max(visit.service_minutes(crew.people) for crew in able)
    latest = max(visit.opens_minute, visit.closes_minute - longest)
    start = _day_starts(day, days)
    wish = replace(visit, preferred_crew=None, told=visit.told and visit.told._replace(crew_uid=able[0].uid))
    price = problem.price(wish, (able[0].uid, day))
    return pyvrp.Client(
        places[uid],
        tw_early=start + visit.opens_minute,
        tw_late=start + latest,
        delivery=[ceil(visit.load_lb), ceil(visit.load_yd3 * YARD_UNITS)],
        prize=SERVED_PRIZE * (10 if visit.held_to else 1) - round(price * UNIT),
        required=False,
        group=list(places).index(uid),
    )


def _vehicle(
    problem: RouteProblem, key: CrewDay, days: Sequence[date], profiles: Mapping[int, int]
) -> pyvrp.VehicleType:
    crew = problem.shift(*key)
    start = _day_starts(key[1], days)
    rest = crew.break_minutes if crew.shift_minutes > BREAK_AFTER_MINUTES else 0
    return pyvrp.VehicleType(
        1,
        capacity=_room(crew),
        start_depot=crew.depot,
        end_depot=crew.depot,
        tw_early=start + crew.opens_minute,
        tw_late=start + crew.closes_minute - rest,
        unit_distance_cost=1,
        profile=profiles[crew.uid],
    )


def _room(crew: CrewShift) -> list[int]:
    """Whole units that a vehicle carries; what nobody has measured has no limit."""
    pounds, yards = crew.payload_lb, crew.bed_yd3
    return [
        UNLIMITED_LOAD if pounds is None else int(pounds),
        UNLIMITED_LOAD if yards is None else int(yards * YARD_UNITS),
    ]


def _day_starts(day: date, days: Sequence[date]) -> int:
    return (day - days[0]).days * DAY_MINUTES


Table = NDArray[np.int64]


def _drives(problem: RouteProblem, uids: Sequence[int]) -> NDArray[np.float64]:
    places = [*range(problem.depots), *(problem.place_by_uid[uid] for uid in uids)]
    # A road that does not exist is one that no shift is long enough for.
    drives: NDArray[np.float64] = np.minimum(problem.travel.minutes[np.ix_(places, places)], FAR_MINUTES)
    return drives


def _costs(problem: RouteProblem, crew: int, uids: Sequence[int], drives: NDArray[np.float64]) -> Table:
    wishes = [0.0] * problem.depots + [_price_of_crew(problem, problem.visit(uid), crew) for uid in uids]
    priced = drives + np.array(wishes)[None, :]
    return _without_strangers(problem, crew, uids, np.rint(priced * UNIT).astype(np.int64))


def _price_of_crew(problem: RouteProblem, visit: RouteVisit, crew: int) -> float:
    """What a visit costs with a crew whatever the day; that of the day is in the prize."""
    day = visit.told.day if visit.told else date.min
    return problem.price(replace(visit, late=False), (crew, day))


def _durations(problem: RouteProblem, crew: int, uids: Sequence[int], drives: NDArray[np.float64]) -> Table:
    people = problem.crew_by_uid[crew].people
    work = [0] * problem.depots + [problem.visit(uid).service_minutes(people) for uid in uids]
    on_site = np.array(work, dtype=np.int64)[:, None]
    return _without_strangers(problem, crew, uids, np.ceil(drives).astype(np.int64) + on_site)


def _without_strangers(problem: RouteProblem, crew: int, uids: Sequence[int], table: Table) -> Table:
    """Put the visits that a crew may not serve out of its reach."""
    for number, uid in enumerate(uids, start=problem.depots):
        if all(able != crew for able, _ in problem.possible(problem.visit(uid))):
            table[number, :] = table[:, number] = FAR_MINUTES
    np.fill_diagonal(table, 0)
    return table


def _solution(model: _Model, so_far: Order) -> pyvrp.Solution:
    numbers = {copy: number for number, copy in enumerate(model.copies)}
    routes = [
        pyvrp.Route(
            model.table,
            [pyvrp.Activity(pyvrp.ActivityType.CLIENT, numbers[uid, key[1]]) for uid in uids],
            model.crew_days.index(key),
        )
        for key, uids in so_far.items()
        if uids
    ]
    return pyvrp.Solution(model.table, routes)
