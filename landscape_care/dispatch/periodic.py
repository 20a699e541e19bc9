"""The door to the compiled search over days: problem and answer in plain values over places, days and slots.

A slot is one crew or vehicle on one day. A visit has patterns: sets of days, of which exactly one
set is served, one slot on each of its days; a visit wanted once has one pattern for each allowed
day. Which slot may serve a visit and what that costs beside the driving (another crew, another day
than people were told, waiting) stands in `price`, `math.inf` where it may not. Leaving a visit out
costs its prize. Minutes count from the start of a day.

Iterations decide when the search ends, and the seconds are a ceiling: as long as the clock is not
the first to run out, the same problem, seed and iterations give the same plan on any machine.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from math import inf, isfinite
from time import monotonic
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from landscape_care.dispatch import kernel

ITERATIONS_BETWEEN_LOOKS = 1000
NEIGHBOURS = 100  # of each visit, from which strings are taken
MOST_DAYS = 62  # patterns are bits of a whole number
HOT_SHARE, COLD_SHARE = 1.0, 0.01  # first and last temperature as shares of the mean cost of a stop
ROUND_ITERATIONS = 5_000  # for each stop of a plan: enough to cool once
MOST_ROUNDS = 4
LAST_ROUND_FROM = 0.4  # of the way from hot to cold: the last round stays near the best plan
TOLERANCE = 1e-6

Order = tuple[tuple[int, ...], ...]
"""For each slot the numbers of its visits, in order."""


@dataclass(frozen=True, slots=True)
class Slot:
    """A crew or vehicle on one day: where it starts and ends, when, for how long, and what it carries."""

    day: int
    starts_at: int = 0
    ends_at: int = 0
    leaves_minute: float = 0.0
    returns_minute: float = inf
    longest_minutes: float = inf
    room: tuple[float, ...] = ()
    kind: int = 0  # number of the work time in PeriodVisit.work_minutes
    used_price: float = 0.0
    paid_until_minute: float = inf
    overtime_price: float = 0.0  # a minute

    def __post_init__(self) -> None:
        """Refuse a day that bits cannot hold and hours out of order."""
        if not 0 <= self.day < MOST_DAYS:
            raise ValueError(f"slot: day {self.day}, wanted 0 to {MOST_DAYS - 1}")
        if not self.leaves_minute <= self.returns_minute:
            raise ValueError(
                f"slot: leaves at minute {self.leaves_minute} and returns at {self.returns_minute},"
                " wanted in that order"
            )
        if min((self.longest_minutes, self.used_price, self.overtime_price, *self.room)) < 0:
            raise ValueError("slot: longest_minutes, prices and room, wanted 0 or more")


@dataclass(frozen=True, slots=True)
class PeriodVisit:
    """Work at a place, on the days of one of its patterns."""

    place: int
    patterns: tuple[tuple[int, ...], ...]
    work_minutes: tuple[float, ...] = (0.0,)  # for each kind of slot
    opens_minute: float = 0.0
    latest_minute: tuple[float, ...] = (inf,)  # latest start of the work, for each kind of slot
    load: tuple[float, ...] = ()
    prize: float = inf  # infinite: it has to be served

    def __post_init__(self) -> None:
        """Refuse a visit without days, days out of range and work that takes negative time."""
        days = {day for pattern in self.patterns for day in pattern}
        if not self.patterns or not all(self.patterns):
            raise ValueError(f"visit at place {self.place}: patterns {self.patterns}, wanted days in each")
        if not all(0 <= day < MOST_DAYS for day in days):
            raise ValueError(f"visit at place {self.place}: days {sorted(days)}, wanted 0 to {MOST_DAYS - 1}")
        if min((*self.work_minutes, *self.load, self.prize)) < 0:
            raise ValueError(f"visit at place {self.place}: work, load and prize, wanted 0 or more")
        if len(self.work_minutes) != len(self.latest_minute):
            raise ValueError(f"visit at place {self.place}: work and latest start, wanted one for each kind")


@dataclass(frozen=True, eq=False)
class PeriodProblem:
    """Places, visits and slots of a period; slots stand in the order of their days."""

    drive_cost: NDArray[np.float64]
    drive_minutes: NDArray[np.float64]
    visits: tuple[PeriodVisit, ...]
    slots: tuple[Slot, ...]
    price: NDArray[np.float64] | None = None  # a row for each visit, a column for each slot

    def __post_init__(self) -> None:
        """Refuse tables of another size, places that no table knows and slots out of order."""
        size = len(self.drive_cost)
        if self.drive_cost.shape != (size, size) or self.drive_minutes.shape != (size, size):
            raise ValueError("drive_cost and drive_minutes, wanted square and of one size")
        if not (np.isfinite(self.drive_cost).all() and np.isfinite(self.drive_minutes).all()):
            raise ValueError("drive_cost or drive_minutes holds no number, wanted one for each pair")
        places = {v.place for v in self.visits} | {p for s in self.slots for p in (s.starts_at, s.ends_at)}
        if not all(0 <= place < size for place in places):
            raise ValueError(f"places {sorted(places)}, wanted 0 to {size - 1}")
        if [slot.day for slot in self.slots] != sorted(slot.day for slot in self.slots):
            raise ValueError("slots are out of order, wanted by day")
        self._refuse_other_sizes()

    def _refuse_other_sizes(self) -> None:
        kinds = {len(visit.work_minutes) for visit in self.visits}
        if len(kinds) > 1 or (kinds and max((s.kind for s in self.slots), default=0) >= min(kinds)):
            raise ValueError("work_minutes, wanted one for each kind of slot")
        loads = {len(v.load) for v in self.visits} | {len(s.room) for s in self.slots}
        if len(loads) > 1:
            raise ValueError(f"load and room have {sorted(loads)} numbers, wanted the same everywhere")
        if self.price is not None and self.price.shape != (len(self.visits), len(self.slots)):
            raise ValueError(f"price has shape {self.price.shape}, wanted visits by slots")

    @cached_property
    def prices(self) -> NDArray[np.float64]:
        """What serving a visit by a slot costs beside the driving; infinite where it may not be."""
        if self.price is None:
            return np.zeros((len(self.visits), len(self.slots)))
        return self.price

    @property
    def days(self) -> int:
        """How many days the period has."""
        named = [slot.day for slot in self.slots] + [d for v in self.visits for p in v.patterns for d in p]
        return max(named, default=-1) + 1


class Progress(NamedTuple):
    """How far the search is and what the best plan so far costs and leaves out."""

    share: float
    cost: float
    left_out: int


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to search and how: iterations decide, seconds of a clock are a ceiling."""

    iterations: int = 1_000_000
    seconds: float = inf
    seed: int = 1
    clock: Callable[[], float] = monotonic
    watch: Callable[[Progress], bool] | None = None  # False stops the search and keeps the best
    settings: kernel.Settings = field(default=kernel.Settings(10.0, 10.0, 0.005, 0.5, 0.2))
    heat: tuple[float, float] = (HOT_SHARE, COLD_SHARE)

    def __post_init__(self) -> None:
        """Refuse an effort without an end."""
        if self.iterations < 0 or not self.seconds > 0:
            raise ValueError(f"iterations {self.iterations}, seconds {self.seconds}, wanted 0 or more")


@dataclass(frozen=True, slots=True)
class PeriodAnswer:
    """Orders of all slots, the pattern of each visit (None: left out), and what it took."""

    order: Order
    patterns: tuple[int | None, ...]
    cost: float
    iterations: int
    by_iterations: bool  # False: the clock ended the search, and another run may differ


def solve(problem: PeriodProblem, effort: Effort, start: Order | None = None) -> PeriodAnswer:
    """Search for the cheapest plan, from a given one or from nothing."""
    if not problem.visits or not problem.slots:
        return PeriodAnswer(((),) * len(problem.slots), (None,) * len(problem.visits), 0.0, 0, True)
    found = _search(problem, effort.seed, _sound(problem, start or ()))
    kernel.begin(found, 0.0)
    cooling = _cooling(found, effort)
    begun, done, by_iterations = effort.clock(), 0, True
    while done < effort.iterations:
        spent = (effort.clock() - begun) / effort.seconds
        share = max(done / effort.iterations, spent)
        by_iterations = done == 0 or (by_iterations and share > spent)
        if spent >= 1 or not _goes_on(effort, found, share):
            by_iterations = False
            break
        count = min(ITERATIONS_BETWEEN_LOOKS, effort.iterations - done)
        kernel.search(found, effort.settings, count, cooling.heat(found, share), 1.0)
        done += count
    return _answer(problem, found.best, done, by_iterations)


def _goes_on(effort: Effort, found: kernel.Search, share: float) -> bool:
    if effort.watch is None:
        return True
    left_out = int((found.best.chosen < 0).sum())
    return effort.watch(Progress(share, float(found.best.cost.sum()), left_out))


@dataclass(slots=True)
class _Cooling:
    """The temperature over a search: rounds from hot to cold, and a last one from the best plan.

    Where vehicles are tight a plan cools into one of many valleys and stays in it; several rounds
    see several of them.
    """

    first: float
    last: float
    rounds: int
    number: int = 0

    def heat(self, found: kernel.Search, share: float) -> float:
        """Temperature at a share of the search; the last round begins by going back to the best plan."""
        number = min(int(share * self.rounds), self.rounds - 1)
        inside = share * self.rounds - number
        if number == self.rounds - 1 > 0:
            if self.number != number:
                _go_back(found)
            inside = LAST_ROUND_FROM + (1 - LAST_ROUND_FROM) * inside
        self.number = number
        return float(self.first * (self.last / self.first) ** inside)


def _cooling(found: kernel.Search, effort: Effort) -> _Cooling:
    """Temperatures by the mean cost of a stop in the first plan, rounds by the iterations for each stop."""
    stops = max(1, int(found.best.length.sum()))
    mean = max(float(found.best.cost.sum()) / stops, 1e-6)
    found.notes.size[3] = max(1, int(found.best.length.max(initial=0)))  # a string may take a whole route
    rounds = min(max(effort.iterations // (ROUND_ITERATIONS * stops), 1), MOST_ROUNDS)
    return _Cooling(mean * effort.heat[0], mean * effort.heat[1], rounds)


def _go_back(found: kernel.Search) -> None:
    """Go on from the best plan."""
    for name in ("stops", "length", "chosen"):
        getattr(found.work, name)[:] = getattr(found.best, name)
    found.clock.where[:] = kernel.ABSENT
    found.notes.size[2] += 1
    found.clock.stamp[:] = found.notes.size[2]
    kernel.begin(found, 0.0)


def _answer(problem: PeriodProblem, best: kernel.Plan, done: int, by_iterations: bool) -> PeriodAnswer:
    order = tuple(
        tuple(int(i) for i in best.stops[r, 1 : best.length[r] + 1]) for r in range(len(problem.slots))
    )
    patterns = tuple(None if number < 0 else int(number) for number in best.chosen)
    return PeriodAnswer(order, patterns, float(best.cost.sum()), done, by_iterations)


# --- Is a plan true? --------------------------------------------------------------------------------


def faults(problem: PeriodProblem, order: Order) -> Iterator[str]:
    """Every rule that an order of visits breaks, in words."""
    days: dict[int, list[int]] = {}
    for number, stops in enumerate(order):
        yield from (f"slot {number}: {fault}" for fault in slot_faults(problem, number, stops))
        for visit in stops:
            days.setdefault(visit, []).append(problem.slots[number].day)
    for visit, served in sorted(days.items()):
        if sorted(served) not in [sorted(pattern) for pattern in problem.visits[visit].patterns]:
            yield f"visit {visit}: days {sorted(served)} are none of its patterns"


def slot_faults(problem: PeriodProblem, number: int, stops: Sequence[int]) -> Iterator[str]:
    """Every rule that one route breaks: who may serve what, load, hours."""
    slot = problem.slots[number]
    yield from (f"visit {i} may not be served" for i in stops if not isfinite(problem.prices[i, number]))
    for load, room in enumerate(slot.room):
        if sum(problem.visits[i].load[load] for i in stops) > room + TOLERANCE:
            yield f"load {load} is above {room}"
    if stops:
        yield from _clock_faults(problem, slot, stops)


def _clock_faults(problem: PeriodProblem, slot: Slot, stops: Sequence[int]) -> Iterator[str]:
    visits = [problem.visits[i] for i in stops]
    places = [slot.starts_at, *(visit.place for visit in visits), slot.ends_at]
    drives = [float(problem.drive_minutes[a, b]) for a, b in pairwise(places)]
    begins, clock = [], slot.leaves_minute
    for visit, drive in zip(visits, drives, strict=False):
        clock = max(clock + drive, visit.opens_minute)
        begins.append(clock)
        if clock > visit.latest_minute[slot.kind] + TOLERANCE:
            yield f"work at place {visit.place} begins at {clock:g}, too late"
        clock += visit.work_minutes[slot.kind]
    returns = clock + drives[-1]
    if returns > slot.returns_minute + TOLERANCE:
        yield f"returns at {returns:g}, later than {slot.returns_minute:g}"
    leaves = _latest_departure(slot, visits, drives, returns)
    if returns - leaves > slot.longest_minutes + TOLERANCE:
        yield f"takes {returns - leaves:g} minutes, more than {slot.longest_minutes:g}"


def _latest_departure(
    slot: Slot, visits: Sequence[PeriodVisit], drives: Sequence[float], returns: float
) -> float:
    """Latest moment to leave that still brings the route back at a given moment."""
    clock = returns - drives[-1]
    for visit, drive in zip(reversed(visits), reversed(drives[:-1]), strict=True):
        clock = min(clock - visit.work_minutes[slot.kind], visit.latest_minute[slot.kind]) - drive
    return min(max(clock, slot.leaves_minute), slot.returns_minute)


def _sound(problem: PeriodProblem, start: Order) -> Order:
    """The given plan without what breaks a rule: the search begins from something that can be driven."""
    order = [list(stops) for stops in start] + [[] for _ in problem.slots[len(start) :]]
    for number, stops in enumerate(order):
        while stops and any(slot_faults(problem, number, stops)):
            stops.pop()
    days: dict[int, list[int]] = {}
    for number, stops in enumerate(order):
        for visit in stops:
            days.setdefault(visit, []).append(problem.slots[number].day)
    whole = {visit for visit, served in days.items() if _pattern(problem, visit, served) is not None}
    return tuple(tuple(visit for visit in stops if visit in whole) for stops in order)


def _pattern(problem: PeriodProblem, visit: int, served: Sequence[int]) -> int | None:
    """Number of the pattern that a visit is served on."""
    patterns = [sorted(pattern) for pattern in problem.visits[visit].patterns]
    return patterns.index(sorted(served)) if sorted(served) in patterns else None


# --- Arrays -------------------------------------------------------------------------------------------


def _search(problem: PeriodProblem, seed: int, start: Order) -> kernel.Search:
    """Everything that the compiled search works on."""
    tables = _tables(problem)
    visits, slots, days = len(problem.visits), len(problem.slots), len(tables.day_from) - 1
    width = _most_stops(tables) + 2
    work = _plan(visits, slots, width)
    served: dict[int, list[int]] = {}
    for number, stops in enumerate(start):
        work.stops[number, 1 : len(stops) + 1] = stops
        work.length[number] = len(stops)
        for visit in stops:
            served.setdefault(visit, []).append(problem.slots[number].day)
    for visit, its_days in served.items():
        pattern = _pattern(problem, visit, its_days)
        work.chosen[visit] = kernel.ABSENT if pattern is None else pattern
    return kernel.Search(
        tables, work, _plan(visits, slots, width), _plan(visits, slots, width),
        _clock(tables, width), _notes(visits, slots, days, seed),
    )  # fmt: skip


def _most_stops(tables: kernel.Tables) -> int:
    """No route holds more stops than the lightest or the shortest visits that fit a slot."""
    most = len(tables.place)
    for sizes, rooms in ((tables.load.T, tables.room.T), (tables.work.T, [tables.longest])):
        for size, room in zip(sizes, rooms, strict=False):
            fits = np.cumsum(np.sort(size)) <= max(room, default=0.0) + TOLERANCE
            most = min(most, int(fits.sum()))
    return most


def _plan(visits: int, slots: int, width: int) -> kernel.Plan:
    return kernel.Plan(
        stops=np.zeros((slots, width), np.int32), length=np.zeros(slots, np.int32), cost=np.zeros(slots),
        chosen=np.full(visits, kernel.ABSENT, np.int32), total=np.zeros(1),
    )  # fmt: skip


def _clock(tables: kernel.Tables, width: int) -> kernel.Clock:
    visits, slots, days = len(tables.place), len(tables.day), len(tables.day_from) - 1
    return kernel.Clock(
        at=np.zeros((slots, width), np.int32), carried=np.zeros((slots, tables.load.shape[1])),
        minutes=np.zeros(slots), head=np.zeros((slots, width, 3)), tail=np.zeros((slots, width, 3)),
        where=np.full((visits, days), kernel.ABSENT, np.int32), cheapest=np.zeros((visits, slots)),
        position=np.zeros((visits, slots), np.int32), asked=np.full((visits, slots), -1),
        stamp=np.zeros(slots, np.int64), stop=np.zeros(3),
    )  # fmt: skip


def _notes(visits: int, slots: int, days: int, seed: int) -> kernel.Notes:
    state = np.random.SeedSequence(seed).generate_state(1, np.uint64) | np.uint64(1)
    return kernel.Notes(
        out=np.zeros(visits, np.int32), rank=np.zeros(visits), gone=np.zeros(visits, np.int32),
        dirty=np.zeros(slots, np.int32), touched=np.zeros(slots, np.int32), struck=np.zeros(slots, np.int32),
        size=np.zeros(4, np.int64), slot=np.full(days, kernel.ABSENT, np.int32),
        spot=np.zeros(days, np.int32), fee=np.full(days, kernel.NEVER), random=state,
    )  # fmt: skip


def _tables(problem: PeriodProblem) -> kernel.Tables:
    visits, slots = problem.visits, problem.slots
    place = np.array([visit.place for visit in visits], np.int32)
    patterns = [[sum(1 << day for day in set(pattern)) for pattern in visit.patterns] for visit in visits]
    day = np.array([slot.day for slot in slots], np.int32)
    latest = _grid([visit.latest_minute for visit in visits])
    prize = _bounded([visit.prize for visit in visits], _dear(problem))
    return kernel.Tables(
        drive=np.ascontiguousarray(problem.drive_cost, np.float64),
        minutes=np.ascontiguousarray(problem.drive_minutes, np.float64),
        place=place,
        load=_grid([visit.load or (0.0,) for visit in visits]),
        opens=np.array([visit.opens_minute for visit in visits], np.float64),
        latest=latest,
        work=_grid([visit.work_minutes for visit in visits]),
        prize=prize,
        price=_bounded(problem.prices, kernel.NEVER),
        pattern_from=np.cumsum([0, *(len(own) for own in patterns)]),
        pattern=np.array([bits for own in patterns for bits in own], np.int64),
        days=np.array([np.bitwise_or.reduce(own) for own in patterns], np.int64),
        near=_near(problem, place),
        day_from=np.searchsorted(day, np.arange(problem.days + 1)).astype(np.int64),
        day=day,
        starts_at=np.array([slot.starts_at for slot in slots], np.int32),
        ends_at=np.array([slot.ends_at for slot in slots], np.int32),
        leaves=np.array([slot.leaves_minute for slot in slots], np.float64),
        returns=_bounded([slot.returns_minute for slot in slots], kernel.NEVER),
        longest=_bounded([slot.longest_minutes for slot in slots], kernel.NEVER),
        room=_bounded([slot.room or (inf,) for slot in slots], kernel.NEVER).reshape(len(slots), -1),
        kind=np.array([slot.kind for slot in slots], np.int32),
        twin=_twins(problem),
        used_price=np.array([slot.used_price for slot in slots], np.float64),
        paid_until=_bounded([slot.paid_until_minute for slot in slots], kernel.NEVER),
        overtime_price=np.array([slot.overtime_price for slot in slots], np.float64),
        timed=np.array([_is_timed(problem)], np.int64),
    )


def _grid(rows: Sequence[Sequence[float]]) -> NDArray[np.float64]:
    return np.minimum(np.array(rows, np.float64).reshape(len(rows), -1), kernel.NEVER)


def _bounded(values: Sequence[object] | NDArray[np.float64], bound: float) -> NDArray[np.float64]:
    """Floats in which nothing is infinite: infinity times nothing is no number."""
    bounded: NDArray[np.float64] = np.minimum(np.array(values, np.float64), bound)
    return bounded


def _dear(problem: PeriodProblem) -> float:
    """More than any detour for one visit, so that what can be served is served."""
    finite = problem.prices[np.isfinite(problem.prices)]
    drive = float(problem.drive_cost.max(initial=0.0))
    used = max((slot.used_price for slot in problem.slots), default=0.0)
    return (6.0 * drive + float(np.abs(finite).max(initial=0.0)) + used + 1.0) * max(1, problem.days)


def _near(problem: PeriodProblem, place: NDArray[np.int32]) -> NDArray[np.int32]:
    """For each visit the others by the cost of driving there and back, itself first."""
    both = (problem.drive_cost + problem.drive_cost.T)[np.ix_(place, place)]
    np.fill_diagonal(both, -1.0)
    near = np.argsort(both, axis=1, kind="stable")[:, :NEIGHBOURS].astype(np.int32)
    return np.ascontiguousarray(near)


def _twins(problem: PeriodProblem) -> NDArray[np.int32]:
    """Equal numbers for slots that are alike, so that only one empty one of them is asked."""
    seen: dict[tuple[Slot, bytes], int] = {}
    prices = problem.prices
    keys = [(slot, prices[:, r].tobytes()) for r, slot in enumerate(problem.slots)]
    return np.array([seen.setdefault(key, len(seen)) for key in keys], np.int32)


def _is_timed(problem: PeriodProblem) -> bool:
    """Whether anything but the length of a route depends on the clock."""
    visits = any(v.opens_minute > 0 or min(v.latest_minute) < inf for v in problem.visits)
    return visits or any(s.returns_minute < inf or s.paid_until_minute < inf for s in problem.slots)
