"""The one door to whoever plans a month: the compiled search over days, and the routing engine within a day.

A large month is first split by territory (`territories`). The search (`month_search`) chooses day, crew
and order of all visits of a part at once; then the routing engine tries to shorten each day by itself,
and what it finds counts only where the day is cheaper by the product's own reckoning. Beside the engine
alone, with copies of a visit for its days, this drove about a seventh less (DEVELOPERS has the figures).

Iterations, not seconds, decide when to stop; the seconds are a ceiling, so that the same problem
and seed give the same plan on a slower machine too, as long as the ceiling is not reached.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from math import ceil
from time import monotonic

import numpy as np
import pyvrp
from numpy.typing import NDArray
from pyvrp.stop import MaxIterations, MaxRuntime, MultipleCriteria

from landscape_care.dispatch import month_search, periodic
from landscape_care.dispatch.routing import (
    BREAK_AFTER_MINUTES,
    OVERTIME_MINUTES,
    CrewShift,
    Order,
    RouteAnswer,
    RouteProblem,
    RouteVisit,
    answer,
    cost,
    keep_told,
)
from landscape_care.dispatch.territories import split

FAR_MINUTES = 20 * 1440  # no shift is so long: it forbids a drive
UNIT = 60  # driving costs are seconds, so that rounding to whole minutes hides no detour
UNLIMITED_LOAD = 10**9
YARD_UNITS = 100  # loads are whole numbers for the engine: pounds and hundredths of a cubic yard
SEARCH_SHARE = 0.9  # of the time; the rest is for the days one by one
# Of the budget; a common machine does three times as many, so that its clock is not what ends a plan.
STOPS_SEARCHED_PER_SECOND, MOST_ITERATIONS_PER_SECOND = 2_500_000, 6_000
ENGINE_STOPS_PER_SECOND = 8_000
SECONDS_BETWEEN_LOOKS = 0.5

CrewDay = tuple[int, date]


@dataclass(frozen=True, slots=True)
class Progress:
    """How far solving is: the share that is done, and what is placed with which driving so far."""

    share: float
    placed: int
    drive_minutes: float


Watch = Callable[[Progress], bool]
"""Told of progress now and then; answers whether to go on. False keeps the best found so far."""


def solve(
    problem: RouteProblem, *, seconds: float, seed: int = 1, watch: Watch | None = None, workers: int = 2
) -> RouteAnswer:
    """Plan all visits of a problem within so many seconds; same problem and seed, same plan."""
    if seconds <= 0:
        raise ValueError(f"seconds {seconds}, wanted more than 0")
    parts = split(problem)
    if len(parts) == 1:
        order = _solve_part(problem, seconds, seed, watch or _go_on)
    else:
        order = _beside_each_other(
            parts, seconds / ceil(len(parts) / workers), seed, watch or _go_on, workers
        )
    return answer(problem, keep_told(problem, order))


def _go_on(_: Progress) -> bool:
    return True


def _solve_part(problem: RouteProblem, seconds: float, seed: int, watch: Watch) -> Order:
    """Orders of stops for all crews and days of one part."""
    ends = monotonic() + seconds
    rate = min(MOST_ITERATIONS_PER_SECOND, STOPS_SEARCHED_PER_SECOND / max(1, len(problem.visits)))
    watching = _Watching(len(problem.visits), watch)
    effort = periodic.Effort(
        iterations=max(500, int(seconds * SEARCH_SHARE * rate)),
        seconds=seconds * SEARCH_SHARE,
        seed=seed,
        watch=watching,
    )
    order = month_search.search(problem, effort)
    days = sorted({day for _, day in order})
    for number, day in enumerate(days):
        share = SEARCH_SHARE + (1 - SEARCH_SHARE) * number / len(days)
        if not watching.goes_on(replace(watching.seen, share=share)):
            break
        part_seconds = (ends - monotonic()) / (len(days) - number)
        budget = seconds * (1 - SEARCH_SHARE) / len(days)
        _shorten(problem, order, day, _Turn(budget, max(0.01, part_seconds), seed))
    return order


class _Watching:
    """What the search reports, in the words of whoever watches; once ended it stays ended."""

    def __init__(self, visits: int, watch: Watch) -> None:
        self._visits, self._watch, self._ended = visits, watch, False
        self.seen = Progress(0, 0, 0)

    def __call__(self, progress: periodic.Progress) -> bool:
        placed = self._visits - progress.left_out
        driving = max(0.0, progress.cost - progress.left_out * month_search.SERVED_PRIZE)
        return self.goes_on(Progress(progress.share * SEARCH_SHARE, placed, driving))

    def goes_on(self, progress: Progress) -> bool:
        """Tell how far it is, and whether to go on."""
        self.seen = progress
        self._ended = self._ended or not self._watch(progress)
        return not self._ended


# --- Parts beside each other ----------------------------------------------------------------------------


class _Desk:
    """Where parts in threads of their own leave their progress; the watcher is asked in one thread only."""

    def __init__(self, parts: int) -> None:
        self.seen = [Progress(0, 0, 0)] * parts
        self.open = True

    def watch(self, part: int) -> Watch:
        """The watcher of one part."""

        def note(progress: Progress) -> bool:
            self.seen[part] = progress
            return self.open

        return note

    def sum(self) -> Progress:
        """Progress of all parts together."""
        share = sum(seen.share for seen in self.seen) / len(self.seen)
        return Progress(
            share, sum(seen.placed for seen in self.seen), sum(seen.drive_minutes for seen in self.seen)
        )


def _beside_each_other(
    parts: Sequence[RouteProblem], seconds: float, seed: int, watch: Watch, workers: int
) -> Order:
    desk = _Desk(len(parts))
    month_search.make_ready()
    with ThreadPoolExecutor(workers) as pool:
        orders = [
            pool.submit(_solve_part, part, seconds, seed, desk.watch(number))
            for number, part in enumerate(parts)
        ]
        waiting: set[Future[Order]] = set(orders)
        while waiting:
            waiting = wait(waiting, timeout=SECONDS_BETWEEN_LOOKS).not_done
            desk.open = desk.open and watch(desk.sum())
    return {key: uids for order in orders for key, uids in order.result().items()}


def drive_minutes(problem: RouteProblem, order: Order) -> float:
    """Driving of all orders, the ways from and to the depot included."""
    total = 0.0
    for (crew, _), uids in order.items():
        depot = problem.crew_by_uid[crew].depot
        tour = [depot, *(problem.place_by_uid[uid] for uid in uids), depot] if uids else []
        total += sum(problem.leg(here, there)[0] for here, there in pairwise(tour))
    return total


# --- One day by the engine ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Turn:
    """How long the engine may take for a day: so much of the budget, and never past a ceiling."""

    budget_seconds: float
    ceiling_seconds: float
    seed: int

    def stop(self, visits: int) -> MultipleCriteria:
        iterations = max(20, int(self.budget_seconds * ENGINE_STOPS_PER_SECOND / max(1, visits)))
        return MultipleCriteria([MaxIterations(iterations), MaxRuntime(self.ceiling_seconds)])


def _shorten(problem: RouteProblem, order: Order, day: date, turn: _Turn) -> None:
    """Let the engine shorten the routes of a day; they change only where the day gets cheaper."""
    here = {key: uids for key, uids in order.items() if key[1] == day}
    only = _only(problem, here, day)
    keys = sorted((crew.uid, day) for crew in only.crews)
    table = _table(only, keys)
    start = pyvrp.Solution(
        table, [_route(table, only, keys, key, uids) for key, uids in here.items() if uids]
    )
    if not start.is_feasible():
        return  # what the engine does not understand stays as it is
    stop = turn.stop(len(only.visits))
    best = pyvrp.solve(
        table, stop, seed=turn.seed, collect_stats=False, display=False, initial_solution=start
    ).best
    found: Order = {keys[route.vehicle_type()]: _uids(only, route) for route in best.routes()}
    before, after = answer(only, here), answer(only, found)
    if not after.unserved and cost(only, after) < cost(only, before) - 0.01:
        for key in here:
            del order[key]
        order |= found


def _only(problem: RouteProblem, here: Order, day: date) -> RouteProblem:
    """The problem of one day with the visits that stand on it."""
    visits = tuple(problem.visit(uid) for uids in here.values() for uid in uids)
    crews = {crew for crew, _ in here} | {crew.uid for crew in problem.crews if day in crew.days}
    return replace(
        problem,
        crews=tuple(replace(problem.crew_by_uid[uid], days=frozenset({day})) for uid in sorted(crews)),
        visits=visits,
        places=tuple(problem.place_by_uid[visit.uid] for visit in visits),
        told={},
    )


def _route(
    table: pyvrp.ProblemData,
    problem: RouteProblem,
    keys: Sequence[CrewDay],
    key: CrewDay,
    uids: Sequence[int],
) -> pyvrp.Route:
    numbers = {visit.uid: number for number, visit in enumerate(problem.visits)}
    steps = [pyvrp.Activity(pyvrp.ActivityType.CLIENT, numbers[uid]) for uid in uids]
    return pyvrp.Route(table, steps, keys.index(key))


def _uids(problem: RouteProblem, route: pyvrp.Route) -> list[int]:
    return [problem.visits[step.idx].uid for step in route.schedule() if step.is_client()]


def _table(problem: RouteProblem, keys: Sequence[CrewDay]) -> pyvrp.ProblemData:
    places = [*range(problem.depots), *(problem.place_by_uid[visit.uid] for visit in problem.visits)]
    # A road that does not exist is one that no shift is long enough for.
    drives = np.minimum(problem.travel.minutes[np.ix_(places, places)], FAR_MINUTES)
    able = [{crew for crew, _ in problem.possible(visit)} for visit in problem.visits]
    return pyvrp.ProblemData(
        locations=[pyvrp.Location(0, 0) for _ in places],
        clients=[_client(problem, number, visit) for number, visit in enumerate(problem.visits)],
        depots=[pyvrp.Depot(number) for number in range(problem.depots)],
        vehicle_types=[_vehicle(problem, key, number) for number, key in enumerate(keys)],
        distance_matrices=[_costs(problem, key, able, drives) for key in keys],  # type: ignore[misc]
        duration_matrices=[_durations(problem, key, able, drives) for key in keys],  # type: ignore[misc]
    )


def _client(problem: RouteProblem, number: int, visit: RouteVisit) -> pyvrp.Client:
    # The slowest crew that can do it decides the last start, so that any of them leaves in time.
    crews = [problem.crew_by_uid[crew] for crew, _ in problem.possible(visit)]
    longest = max((visit.service_minutes(crew.people) for crew in crews), default=0)
    return pyvrp.Client(
        number + problem.depots,
        tw_early=visit.opens_minute,
        tw_late=max(visit.opens_minute, visit.closes_minute - longest),
        delivery=[ceil(visit.load_lb), ceil(visit.load_yd3 * YARD_UNITS)],
    )


def _vehicle(problem: RouteProblem, key: CrewDay, profile: int) -> pyvrp.VehicleType:
    crew = problem.shift(*key)
    rest = crew.break_minutes if crew.shift_minutes > BREAK_AFTER_MINUTES else 0
    return pyvrp.VehicleType(
        1,
        capacity=_room(crew),
        start_depot=crew.depot,
        end_depot=crew.depot,
        tw_early=crew.opens_minute,
        tw_late=crew.closes_minute + OVERTIME_MINUTES - rest,
        shift_duration=crew.shift_minutes - rest,
        max_overtime=OVERTIME_MINUTES,
        unit_overtime_cost=round(problem.prices.overtime * UNIT),
        unit_distance_cost=1,
        profile=profile,
    )


def _room(crew: CrewShift) -> list[int]:
    """Whole units that a vehicle carries; what nobody has measured has no limit."""
    pounds, yards = crew.payload_lb, crew.bed_yd3
    return [
        UNLIMITED_LOAD if pounds is None else int(pounds),
        UNLIMITED_LOAD if yards is None else int(yards * YARD_UNITS),
    ]


Table = NDArray[np.int64]


def _costs(
    problem: RouteProblem, key: CrewDay, able: Sequence[set[int]], drives: NDArray[np.float64]
) -> Table:
    wishes = [0.0] * problem.depots + [problem.price(visit, key) for visit in problem.visits]
    priced = drives + np.array(wishes)[None, :]
    return _without_strangers(problem, key, able, np.rint(priced * UNIT).astype(np.int64))


def _durations(
    problem: RouteProblem, key: CrewDay, able: Sequence[set[int]], drives: NDArray[np.float64]
) -> Table:
    people = problem.crew_by_uid[key[0]].people
    work = [0] * problem.depots + [visit.service_minutes(people) for visit in problem.visits]
    on_site = np.array(work, dtype=np.int64)[:, None]
    return _without_strangers(problem, key, able, np.ceil(np.round(drives, 2)).astype(np.int64) + on_site)


def _without_strangers(problem: RouteProblem, key: CrewDay, able: Sequence[set[int]], table: Table) -> Table:
    """Put the visits that a crew may not serve out of its reach."""
    for number, crews in enumerate(able, start=problem.depots):
        if key[0] not in crews:
            table[number, :] = table[:, number] = FAR_MINUTES * UNIT
    np.fill_diagonal(table, 0)
    return table
