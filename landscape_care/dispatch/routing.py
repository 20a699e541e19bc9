"""The problem of a month and its answer, in plain values, and the clock of one route.

Minutes are counted from midnight where they name a moment. A crew leaves the depot, drives,
waits where it may not yet enter, works, takes its break and comes back. The first places of the
travel tables are the depots, then come those of the visits. A drive of infinite minutes is a road
that does not exist.

What must hold is never priced: skills, people, loads, days, hours, shifts and what is held. What is
wished for has a price in minutes of driving (`Prices`), so that a plan weighs it against the road.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import pairwise
from math import ceil, inf, isfinite
from typing import NamedTuple

import numpy as np

from landscape_care.dispatch.travel import Travel

OVERTIME_MINUTES = 30  # what a plan may add to a shift at most; company practice
CALM_MINUTES = 15  # of driving a day, that an order which people know may cost more; company practice
BREAK_AFTER_MINUTES = 300  # a break is due on days longer than five hours; common practice, law varies


@dataclass(frozen=True, slots=True)
class Prices:
    """What each wish is worth, in minutes of driving; company practice.

    `day`, `crew` and `hour` are paid when a visit that people were told moves, the last one when it
    arrives over `hour_after_minutes` from the hour they know.
    """

    day: float = 240
    crew: float = 40
    hour: float = 15
    hour_after_minutes: int = 60
    stranger: float = 10  # another crew than the one the property prefers
    overtime: float = 1  # for each minute, beside the driving in it
    delay: float = 30  # for each day that late work waits longer

    def __post_init__(self) -> None:
        """Refuse a price below nothing and one that no plan could pay."""
        for name in ("day", "crew", "hour", "stranger", "overtime", "delay", "hour_after_minutes"):
            if not 0 <= getattr(self, name) <= 10_000:
                raise ValueError(f"price {name} {getattr(self, name)}, wanted 0 to 10,000 minutes")


@dataclass(frozen=True, slots=True)
class CrewShift:
    """A crew with its people, skills, shift and working days.

    `other_hours` are the shifts of days that have their own, such as an earlier one in the heat;
    `payload_lb` and `bed_yd3` are what its vehicle carries, None where nobody has weighed it.
    """

    uid: int
    people: int
    skills: frozenset[str]
    opens_minute: int
    closes_minute: int
    break_minutes: int
    days: frozenset[date]
    depot: int = 0
    payload_lb: float | None = None
    bed_yd3: float | None = None
    other_hours: Mapping[date, tuple[int, int]] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        """Refuse a crew of nobody and a shift that ends before it begins."""
        if self.people < 1:
            raise ValueError(f"crew {self.uid}: people {self.people}, wanted 1 or more")
        if not 0 <= self.opens_minute < self.closes_minute <= 1440:
            raise ValueError(
                f"crew {self.uid}: shift from minute {self.opens_minute} to {self.closes_minute},"
                " wanted 0 to 1440 in that order"
            )
        if not 0 <= self.break_minutes < self.shift_minutes:
            raise ValueError(
                f"crew {self.uid}: break_minutes {self.break_minutes}, wanted less than the shift"
            )
        for name in ("payload_lb", "bed_yd3"):
            if (room := getattr(self, name)) is not None and not 0 < room < inf:
                raise ValueError(f"crew {self.uid}: {name} {room}, wanted more than 0, or None")

    def on(self, day: date) -> "CrewShift":
        """The crew with the hours it has on a day."""
        if day not in self.other_hours:
            return self
        opens, closes = self.other_hours[day]
        rest = min(self.break_minutes, max(0, closes - opens - 1))
        return replace(self, opens_minute=opens, closes_minute=closes, break_minutes=rest, other_hours={})

    def carries(self, visits: Iterable["RouteVisit"]) -> bool:
        """Whether the vehicle takes the load of these visits at once."""
        loads = [(visit.load_lb, visit.load_yd3) for visit in visits if visit.load_lb or visit.load_yd3]
        return (self.payload_lb is None or sum(lb for lb, _ in loads) <= self.payload_lb + 1e-9) and (
            self.bed_yd3 is None or sum(yd3 for _, yd3 in loads) <= self.bed_yd3 + 1e-9
        )

    @property
    def shift_minutes(self) -> int:
        """Minutes from the start to the end of the shift, break included."""
        return self.closes_minute - self.opens_minute


class Told(NamedTuple):
    """What people know of a visit: the crew, the day and the minute of arrival."""

    crew_uid: int
    day: date
    arrives_minute: int


@dataclass(frozen=True, slots=True)
class RouteVisit:
    """A visit to be placed: allowed days, access hours, work, and the crew and day it is held to.

    `closed_days` are days that would be allowed if the garden were not closed on them; `grace_days`
    come after the window and are used only for what an event drove off its day.
    """

    uid: int
    days: frozenset[date]
    opens_minute: int
    closes_minute: int
    person_minutes: int
    longest_task_minutes: int
    people: int
    skills: frozenset[str]
    late: bool = False
    held_to: tuple[int, date] | None = None  # crew and day
    told: Told | None = None
    preferred_crew: int | None = None
    load_lb: float = 0.0
    load_yd3: float = 0.0
    closed_days: frozenset[date] = frozenset()
    grace_days: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        """Refuse access hours out of order and work that takes no time."""
        if not 0 <= self.opens_minute < self.closes_minute <= 1440:
            raise ValueError(
                f"visit {self.uid}: access from minute {self.opens_minute} to {self.closes_minute},"
                " wanted 0 to 1440 in that order"
            )
        if self.person_minutes < 1 or self.people < 1:
            raise ValueError(
                f"visit {self.uid}: person_minutes {self.person_minutes} and people {self.people},"
                " wanted 1 or more of each"
            )
        for name in ("load_lb", "load_yd3"):
            if not 0 <= getattr(self, name) < inf:
                raise ValueError(f"visit {self.uid}: {name} {getattr(self, name)}, wanted 0 or more")

    def service_minutes(self, crew_people: int) -> int:
        """Minutes on site: people share the work, but the longest care task takes its own time."""
        return max(self.longest_task_minutes, ceil(self.person_minutes / crew_people))


@dataclass(frozen=True)
class RouteProblem:
    """Everything that decides a month: crews of one or several depots, visits, roads and prices.

    `places` names the place of each visit in the travel tables; empty, each visit has its own, in order.
    """

    crews: tuple[CrewShift, ...]
    visits: tuple[RouteVisit, ...]
    travel: Travel
    told: Mapping[tuple[int, date], tuple[int, ...]] = field(default_factory=dict)  # orders people know
    depots: int = 1
    prices: Prices = field(default_factory=Prices)
    places: tuple[int, ...] = ()
    crew_by_uid: Mapping[int, CrewShift] = field(init=False)
    place_by_uid: Mapping[int, int] = field(init=False)
    visit_by_uid: Mapping[int, RouteVisit] = field(init=False)
    _possible: dict[int, list[tuple[int, date]]] = field(init=False, default_factory=dict)
    _shifts: dict[tuple[int, date], CrewShift] = field(init=False, default_factory=dict)
    _legs: dict[int, list[tuple[float, float]]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse repeated numbers, a crew of no depot and travel tables of the wrong size."""
        places = self.places or tuple(range(self.depots, self.depots + len(self.visits)))
        pairs = zip(self.visits, places, strict=False)
        object.__setattr__(self, "crew_by_uid", {crew.uid: crew for crew in self.crews})
        object.__setattr__(self, "visit_by_uid", {visit.uid: visit for visit in self.visits})
        object.__setattr__(self, "place_by_uid", {visit.uid: place for visit, place in pairs})
        if len(self.crew_by_uid) != len(self.crews) or len(self.visit_by_uid) != len(self.visits):
            raise ValueError("crews or visits repeat a uid, wanted each once")
        known = len(self.travel.minutes)
        if len(places) != len(self.visits) or known <= max(places, default=0) or known < self.depots:
            raise ValueError(
                f"travel knows {known} places and {len(places)} are named for {len(self.visits)} visits,"
                " wanted each depot and each visit"
            )
        if self.visits and min(places) < self.depots:
            raise ValueError(f"places {min(places)}, wanted {self.depots} or more: those before are depots")
        for crew in self.crews:
            if not 0 <= crew.depot < self.depots:
                raise ValueError(
                    f"crew {crew.uid}: depot {crew.depot}, wanted 0 to {self.depots - 1}: a place of a depot"
                )

    def visit(self, uid: int) -> RouteVisit:
        """The visit with a number."""
        return self.visit_by_uid[uid]

    def crew_days(self) -> list[tuple[int, date]]:
        """Every crew and day on which it works, in order."""
        return sorted((crew.uid, day) for crew in self.crews for day in crew.days)

    def shift(self, crew_uid: int, day: date) -> CrewShift:
        """A crew with the hours of a day."""
        if (crew_uid, day) not in self._shifts:
            self._shifts[crew_uid, day] = self.crew_by_uid[crew_uid].on(day)
        return self._shifts[crew_uid, day]

    def leg(self, start: int, end: int) -> tuple[float, float]:
        """Minutes and miles from place to place, to the hundredth."""
        if start not in self._legs:
            tables = (self.travel.minutes[start], self.travel.miles[start])
            minutes, miles = (np.round(table, 2).tolist() for table in tables)
            self._legs[start] = list(zip(minutes, miles, strict=True))
        return self._legs[start][end]

    def possible(self, visit: RouteVisit) -> list[tuple[int, date]]:
        """Crews and days that could serve a visit if nothing else were to be done."""
        if visit.uid not in self._possible:
            self._possible[visit.uid] = sorted(self._crew_days_for(visit))
        return self._possible[visit.uid]

    def _crew_days_for(self, visit: RouteVisit) -> Iterator[tuple[int, date]]:
        if visit.held_to is not None:
            if visit.held_to[0] in self.crew_by_uid:
                yield visit.held_to
            return
        for crew in self.crews:
            if self.is_able(crew, visit):
                yield from self._days_with_room(crew, visit)

    def _days_with_room(self, crew: CrewShift, visit: RouteVisit) -> Iterator[tuple[int, date]]:
        fits: dict[tuple[int, int], bool] = {}
        for day in crew.days & visit.days:
            shift = self.shift(crew.uid, day)
            hours = (shift.opens_minute, shift.closes_minute)
            if hours not in fits:
                fits[hours] = self.fits(shift, visit)
            if fits[hours]:
                yield crew.uid, day

    def is_able(self, crew: CrewShift, visit: RouteVisit) -> bool:
        """Whether a crew has the skills, the people and the vehicle for a visit."""
        return visit.skills <= crew.skills and visit.people <= crew.people and crew.carries([visit])

    def fits(self, shift: CrewShift, visit: RouteVisit) -> bool:
        """Whether the visit alone, with the drives, fits the shift and the access hours."""
        return timetable(self, shift, (visit,)) is not None

    def price(self, visit: RouteVisit, key: tuple[int, date]) -> float:
        """What it costs beside the road, in minutes of driving, to serve a visit with a crew on a day."""
        crew, day = key
        price = 0.0
        if visit.told is not None:
            price += self.prices.day * (day != visit.told.day) + self.prices.crew * (
                crew != visit.told.crew_uid
            )
        if visit.preferred_crew is not None and crew != visit.preferred_crew:
            price += self.prices.stranger
        if visit.late and visit.days:
            price += self.prices.delay * max(0, (day - min(visit.days)).days)
        return price


class TimedStop(NamedTuple):
    """A visit with its clock: driving from the place before, arrival and end of work."""

    visit_uid: int
    drive_minutes: float
    drive_miles: float
    arrives_minute: int
    leaves_minute: int


@dataclass(frozen=True, slots=True)
class Route:
    """One crew on one day, from the depot and back."""

    crew_uid: int
    day: date
    stops: tuple[TimedStop, ...]
    starts_minute: int
    ends_minute: int
    return_minutes: float
    return_miles: float
    overtime_minutes: int

    @property
    def drive_minutes(self) -> float:
        """Driving of the whole day, the way back included."""
        return sum(stop.drive_minutes for stop in self.stops) + self.return_minutes

    @property
    def drive_miles(self) -> float:
        """Miles of the whole day, the way back included."""
        return sum(stop.drive_miles for stop in self.stops) + self.return_miles

    @property
    def service_minutes(self) -> int:
        """Minutes on site, all stops together."""
        return sum(stop.leaves_minute - stop.arrives_minute for stop in self.stops)


class Reason(NamedTuple):
    """Why a visit is not served, in both languages."""

    en: str
    es: str


@dataclass(frozen=True, slots=True)
class RouteAnswer:
    """The routes of a month, and why each visit that is on none of them is not."""

    routes: tuple[Route, ...]
    unserved: Mapping[int, Reason]

    @property
    def drive_minutes(self) -> float:
        """Driving of all routes."""
        return sum(route.drive_minutes for route in self.routes)

    @property
    def drive_miles(self) -> float:
        """Miles of all routes."""
        return sum(route.drive_miles for route in self.routes)

    @property
    def service_minutes(self) -> int:
        """Minutes on site of all routes."""
        return sum(route.service_minutes for route in self.routes)

    @property
    def overtime_minutes(self) -> int:
        """Overtime of all routes."""
        return sum(route.overtime_minutes for route in self.routes)


def cost(problem: RouteProblem, found: RouteAnswer) -> float:
    """Minutes of driving with everything that is priced beside it; what is not served is not in it."""
    total = found.drive_minutes + problem.prices.overtime * found.overtime_minutes
    for one in found.routes:
        for stop in one.stops:
            visit = problem.visit(stop.visit_uid)
            total += problem.price(visit, (one.crew_uid, one.day))
            total += problem.prices.hour * is_another_hour(problem, visit, stop.arrives_minute)
    return total


def is_another_hour(problem: RouteProblem, visit: RouteVisit, arrives_minute: int) -> bool:
    """Whether a visit that people were told arrives well before or after the minute they know."""
    told = visit.told
    return told is not None and abs(arrives_minute - told.arrives_minute) > problem.prices.hour_after_minutes


# --- The clock of one route -----------------------------------------------------------------------


class _Run(NamedTuple):
    stops: list[TimedStop]
    starts: int
    ends: int
    break_starts: int | None


def timetable(problem: RouteProblem, crew: CrewShift, visits: Sequence[RouteVisit]) -> _Run | None:
    """Clock of a route in a given order, or None when an hour, the end of the shift or a load is missed.

    On days longer than five hours the break is put between two stops, as near to the middle
    of the shift as the access hours allow.
    """
    if not crew.carries(visits):
        return None
    plain = _run(problem, crew, visits, None)
    if crew.break_minutes == 0 or (plain is not None and plain.ends - plain.starts <= BREAK_AFTER_MINUTES):
        return plain
    if plain is None:
        return None
    middle = crew.opens_minute + crew.shift_minutes // 2
    runs = (_run(problem, crew, visits, before) for before in range(len(visits) + 1))
    possible = [run for run in runs if run is not None and run.break_starts is not None]
    return min(possible, key=lambda run: (abs((run.break_starts or 0) - middle), run.ends), default=None)


def _run(
    problem: RouteProblem, crew: CrewShift, visits: Sequence[RouteVisit], rest: int | None
) -> _Run | None:
    """Clock of a route with the break taken before stop number `rest` (its length: before the way back)."""
    places = [crew.depot, *(problem.place_by_uid[visit.uid] for visit in visits), crew.depot]
    legs = [problem.leg(start, end) for start, end in pairwise(places)]
    if any(minutes == inf for minutes, _ in legs):
        return None
    clock = starts = _start(problem, crew, visits)
    break_starts: int | None = None
    stops: list[TimedStop] = []
    for number, visit in enumerate(visits):
        if number == rest:
            break_starts, clock = clock, clock + crew.break_minutes
        minutes, miles = legs[number]
        arrives = max(clock + ceil(minutes), visit.opens_minute)
        clock = arrives + visit.service_minutes(crew.people)
        if clock > visit.closes_minute:
            return None
        stops.append(TimedStop(visit.uid, minutes, miles, arrives, clock))
    if rest == len(visits):
        break_starts, clock = clock, clock + crew.break_minutes
    ends = clock + ceil(legs[-1][0])
    return _Run(stops, starts, ends, break_starts) if ends <= crew.closes_minute + OVERTIME_MINUTES else None


def _start(problem: RouteProblem, crew: CrewShift, visits: Sequence[RouteVisit]) -> int:
    """Leave when the shift opens, or just in time for a first stop that opens later."""
    if not visits:
        return crew.opens_minute
    drive = ceil(problem.leg(crew.depot, problem.place_by_uid[visits[0].uid])[0])
    return max(crew.opens_minute, visits[0].opens_minute - drive)


def route(problem: RouteProblem, crew_uid: int, day: date, uids: Iterable[int]) -> Route | None:
    """The route of a crew on a day in a given order, or None when it cannot be driven."""
    crew = problem.shift(crew_uid, day)
    visits = [problem.visit(uid) for uid in uids]
    run = timetable(problem, crew, visits)
    if run is None:
        return None
    last = problem.place_by_uid[visits[-1].uid] if visits else crew.depot
    minutes, miles = problem.leg(last, crew.depot)
    overtime = max(0, run.ends - crew.closes_minute)
    return Route(crew_uid, day, tuple(run.stops), run.starts, run.ends, minutes, miles, overtime)


# --- Filling routes ---------------------------------------------------------------------------------

Order = dict[tuple[int, date], list[int]]


def answer(problem: RouteProblem, order: Order) -> RouteAnswer:
    """Turn orders of visits into routes with clocks; what no clock allows goes elsewhere or is explained."""
    kept = {key: list(uids) for key, uids in order.items()}
    for key, uids in kept.items():
        _shed(problem, problem.shift(*key), uids)
    served = {uid for uids in kept.values() for uid in uids}
    for visit in sorted(problem.visits, key=lambda visit: (visit.held_to is None, not visit.late, visit.uid)):
        if visit.uid not in served:
            insert(problem, kept, visit)
    routes = (route(problem, crew, day, uids) for (crew, day), uids in sorted(kept.items()) if uids)
    found = tuple(one for one in routes if one is not None)
    served = {stop.visit_uid for one in found for stop in one.stops}
    unserved = {visit.uid: reason(problem, visit) for visit in problem.visits if visit.uid not in served}
    return RouteAnswer(found, unserved)


def _shed(problem: RouteProblem, crew: CrewShift, uids: list[int]) -> None:
    """Take the last visit that is not held off a route until the clock allows what is left."""
    while uids and timetable(problem, crew, [problem.visit(uid) for uid in uids]) is None:
        loose = [uid for uid in uids if problem.visit(uid).held_to is None]
        uids.remove(loose[-1] if loose else uids[-1])


class Insertion(NamedTuple):
    """Where a visit may go, and what that costs: driving, and what is priced beside it."""

    minutes: float
    key: tuple[int, date]
    position: int


def insert(problem: RouteProblem, order: Order, visit: RouteVisit) -> bool:
    """Put a visit where it adds least driving and price; False when no crew and day has room."""
    place = cheapest_place(problem, order, visit, problem.possible(visit))
    if place is None:
        return False
    order.setdefault(place.key, []).insert(place.position, visit.uid)
    return True


def cheapest_place(
    problem: RouteProblem, order: Order, visit: RouteVisit, keys: Iterable[tuple[int, date]]
) -> Insertion | None:
    """The cheapest place for a visit among some crew days, or None when none has room.

    Places are tried by what they cost at least; only the clock tells who would come at another hour.
    """
    best: Insertion | None = None
    wrong_hours: dict[tuple[int, date], float] = {}
    least = (place for key in keys for place in _places_on(problem, order, key, visit))
    for place in sorted(least):
        if best is not None and place.minutes >= best.minutes:
            break
        uids = order.get(place.key, [])
        trial = [*uids[: place.position], visit.uid, *uids[place.position :]]
        hours = _hours_price(problem, place.key, trial)
        if hours is None:
            continue
        if hours and place.key not in wrong_hours:
            wrong_hours[place.key] = _hours_price(problem, place.key, uids) or 0
        minutes = place.minutes + max(0, hours - wrong_hours.get(place.key, 0))
        if best is None or minutes < best.minutes:
            best = place._replace(minutes=minutes)
    return best


def _places_on(
    problem: RouteProblem, order: Order, key: tuple[int, date], visit: RouteVisit
) -> Iterator[Insertion]:
    """Every place of a route with the least it costs, if the shift and the vehicle have room at all."""
    uids, shift = order.get(key, []), problem.shift(*key)
    visits = [problem.visit(uid) for uid in uids]
    if not shift.carries([*visits, visit]):
        return
    places = [shift.depot, *(problem.place_by_uid[uid] for uid in uids), shift.depot]
    legs = [problem.leg(start, end)[0] for start, end in pairwise(places)]
    work = sum(one.service_minutes(shift.people) for one in (*visits, visit))
    room = shift.shift_minutes + OVERTIME_MINUTES - work - sum(legs)
    here, price = problem.place_by_uid[visit.uid], problem.price(visit, key)
    for at, leg in enumerate(legs):
        added = problem.leg(places[at], here)[0] + problem.leg(here, places[at + 1])[0] - leg
        if added <= room:
            yield Insertion(round(added + price, 6), key, at)


def _hours_price(problem: RouteProblem, key: tuple[int, date], uids: Sequence[int]) -> float | None:
    """What it costs that visits of a route come at another hour than told; None when it cannot be driven."""
    run = timetable(problem, problem.shift(*key), [problem.visit(uid) for uid in uids])
    if run is None:
        return None
    moved = (is_another_hour(problem, problem.visit(s.visit_uid), s.arrives_minute) for s in run.stops)
    return problem.prices.hour * sum(moved)


def keep_told(problem: RouteProblem, order: Order) -> Order:
    """Let routes keep the order that people know where that costs little driving.

    What is new on a route is put between; nobody is told a new hour to save a minute.
    """
    return {key: _calm(problem, key, uids) for key, uids in order.items()}


def _calm(problem: RouteProblem, key: tuple[int, date], uids: list[int]) -> list[int]:
    known: Order = {key: [uid for uid in problem.told.get(key, ()) if uid in uids]}
    for uid in uids if known[key] else ():
        if uid not in known[key]:
            place = cheapest_place(problem, known, problem.visit(uid), [key])
            if place is None:
                return uids
            known[key].insert(place.position, uid)
    calm, best = route(problem, *key, known[key]), route(problem, *key, uids)
    if not known[key] or calm is None:
        return uids
    return known[key] if best is None or calm.drive_minutes <= best.drive_minutes + CALM_MINUTES else uids


def nearest_neighbour(problem: RouteProblem) -> RouteAnswer:
    """What a careful person does by hand: the first possible day, then always the nearest next stop.

    It is the yardstick that a plan has to beat, and never the plan.
    """
    order: Order = {}
    waiting = {visit.uid: visit for visit in problem.visits}
    for day in sorted({day for crew in problem.crews for day in crew.days}):
        for crew in problem.crews:
            if day in crew.days:
                order[crew.uid, day] = nearest_route(problem, (crew.uid, day), waiting)
                waiting = {uid: one for uid, one in waiting.items() if uid not in order[crew.uid, day]}
    served = {uid for uids in order.values() for uid in uids}
    routes = [route(problem, crew, day, uids) for (crew, day), uids in sorted(order.items()) if uids]
    left = {visit.uid: reason(problem, visit) for visit in problem.visits if visit.uid not in served}
    return RouteAnswer(tuple(one for one in routes if one is not None), left)


def nearest_route(
    problem: RouteProblem,
    key: tuple[int, date],
    waiting: Mapping[int, RouteVisit],
    begun: Sequence[int] = (),
) -> list[int]:
    """Go on from the stops begun with, always to the nearest waiting visit that the day has room for."""
    uids, shift = list(begun), problem.shift(*key)
    mine = {uid: visit for uid, visit in waiting.items() if key in problem.possible(visit)}
    while True:
        here = problem.place_by_uid[uids[-1]] if uids else shift.depot
        near = sorted((problem.leg(here, problem.place_by_uid[uid])[0], uid) for uid in mine)
        for _, uid in near:
            if timetable(problem, shift, [problem.visit(one) for one in (*uids, uid)]) is not None:
                uids.append(uid)
                del mine[uid]
                break
        else:
            return uids


# --- Words ----------------------------------------------------------------------------------------


def reason(problem: RouteProblem, visit: RouteVisit) -> Reason:
    """Say why a visit is on no route."""
    return next(_reasons(problem, visit))


def _reasons(problem: RouteProblem, visit: RouteVisit) -> Iterator[Reason]:
    able = [crew for crew in problem.crews if visit.skills <= crew.skills and visit.people <= crew.people]
    if not able:
        yield _nobody(problem, visit)
    if visit.held_to is not None:
        yield _held_in_vain(problem, visit, visit.held_to)
    if not visit.days:
        yield _no_day(visit)
    working = [crew for crew in able if crew.days & visit.days]
    if not working:
        yield Reason(
            "No crew that could do it works on an allowed day",
            "Ninguna cuadrilla que podría hacerlo trabaja en un día permitido",
        )
    if not any(crew.carries([visit]) for crew in working):
        yield Reason(
            f"Its load of {_load(visit, 'and')} is more than a vehicle of these crews carries",
            f"Su carga de {_load(visit, 'y')} es más de lo que lleva un vehículo de estas cuadrillas",
        )
    if not problem.possible(visit):
        yield _no_hour(problem, visit, working)
    yield Reason(
        "The shifts of its allowed days are full", "Las jornadas de sus días permitidos están llenas"
    )


def _nobody(problem: RouteProblem, visit: RouteVisit) -> Reason:
    if not any(crew.days for crew in problem.crews):
        return Reason(
            "No crew of the depot works in these days", "Ninguna cuadrilla de la base trabaja en estos días"
        )
    if any(visit.skills <= crew.skills for crew in problem.crews):
        return Reason(
            f"No crew with these skills has {visit.people} people",
            f"Ninguna cuadrilla con estas capacidades tiene {visit.people} personas",
        )
    missing = ", ".join(skill.replace("_", " ") for skill in sorted(visit.skills))
    return Reason(f"No crew has all skills: {missing}", f"Ninguna cuadrilla reúne: {missing}")


def _held_in_vain(problem: RouteProblem, visit: RouteVisit, held_to: tuple[int, date]) -> Reason:
    crew, day = held_to
    if crew not in problem.crew_by_uid:
        return Reason(
            "It is held to a crew that does not drive here any more",
            "Está fijada a una cuadrilla que ya no trabaja aquí",
        )
    if not problem.fits(problem.shift(crew, day), visit):
        return Reason(
            f"It is held to a crew that cannot do it within its hours on {day}",
            f"Está fijada a una cuadrilla que no puede hacerla en su horario del {day}",
        )
    return Reason(
        f"It is held to {day} with others, and one crew cannot do all that is held there",
        f"Está fijada al {day} con otras, y una cuadrilla no puede hacer todo lo fijado allí",
    )


def _no_day(visit: RouteVisit) -> Reason:
    if visit.closed_days:
        return Reason(
            "The property is closed or has a holiday on every allowed day",
            "La propiedad está cerrada o es feriado en cada día permitido",
        )
    return Reason(
        "No allowed weekday is left inside the window", "No queda un día permitido dentro del plazo"
    )


def _no_hour(problem: RouteProblem, visit: RouteVisit, working: Sequence[CrewShift]) -> Reason:
    """Nobody can do it: too far away, or longer than the hours there are."""
    near = RouteProblem((), (visit,), Travel(np.zeros((2, 2)), np.zeros((2, 2))))
    shifts = [
        problem.shift(crew.uid, day)
        for crew in working
        if crew.carries([visit])
        for day in crew.days & visit.days
    ]
    if not any(near.fits(replace(shift, depot=0), visit) for shift in shifts):
        return Reason(
            "The access hours or the shift are shorter than the work",
            "El horario de acceso o la jornada son más cortos que el trabajo",
        )
    place = problem.place_by_uid[visit.uid]
    drive = min(float(problem.travel.minutes[shift.depot, place]) for shift in shifts)
    if not isfinite(drive):
        return Reason("No road leads there from the depot", "Ningún camino lleva allí desde la base")
    return Reason(
        f"Out of reach: {drive:,.0f} minutes from the depot leave no time for the work",
        f"Fuera de alcance: {drive:,.0f} minutos desde la base no dejan tiempo para el trabajo",
    )


def _load(visit: RouteVisit, joined_by: str) -> str:
    parts = [f"{visit.load_lb:,.0f} lb"] * (visit.load_lb > 0) + [f"{visit.load_yd3:,.1f} yd³"] * (
        visit.load_yd3 > 0
    )
    return f" {joined_by} ".join(parts)


# --- Is an answer true? ---------------------------------------------------------------------------


def faults(problem: RouteProblem, found: RouteAnswer) -> Iterator[str]:
    """Every promise that an answer breaks, in words; nothing when it keeps them all."""
    served = [stop.visit_uid for one in found.routes for stop in one.stops]
    yield from (f"visit {uid} is served twice" for uid in sorted({u for u in served if served.count(u) > 1}))
    missing = set(problem.place_by_uid) - set(served) - set(found.unserved)
    yield from (f"visit {uid} is neither served nor explained" for uid in sorted(missing))
    yield from (
        f"visit {uid} is both served and explained" for uid in sorted(set(served) & set(found.unserved))
    )
    for one in found.routes:
        yield from _route_faults(problem, one)


def _route_faults(problem: RouteProblem, one: Route) -> Iterator[str]:
    crew = problem.shift(one.crew_uid, one.day)
    where = f"crew {crew.uid} on {one.day}"
    if not crew.carries(problem.visit(stop.visit_uid) for stop in one.stops):
        yield f"{where} loads more than its vehicle carries"
    if one.starts_minute < crew.opens_minute or one.ends_minute > crew.closes_minute + OVERTIME_MINUTES:
        yield f"{where} works from minute {one.starts_minute} to {one.ends_minute}"
    clock, place = one.starts_minute, crew.depot
    for stop in one.stops:
        visit = problem.visit(stop.visit_uid)
        yield from (
            f"{where}, visit {visit.uid}: {fault}" for fault in _stop_faults(crew, one.day, visit, stop)
        )
        next_place = problem.place_by_uid[visit.uid]
        if stop.arrives_minute < clock + problem.travel.minutes[place, next_place] - 0.01:
            yield f"{where}, visit {visit.uid}: arrives at minute {stop.arrives_minute} before it can"
        clock, place = stop.leaves_minute, next_place
    if one.ends_minute < clock + problem.travel.minutes[place, crew.depot] - 0.01:
        yield f"{where} is back at minute {one.ends_minute} before it can"
    length = one.ends_minute - one.starts_minute
    idle = length - one.service_minutes - one.drive_minutes
    if length > BREAK_AFTER_MINUTES + crew.break_minutes and idle < crew.break_minutes:
        yield f"{where} has no room for the break"


def _stop_faults(crew: CrewShift, day: date, visit: RouteVisit, stop: TimedStop) -> Iterator[str]:
    if visit.held_to is not None:
        if visit.held_to != (crew.uid, day):
            yield "held to another crew or day"
    elif day not in visit.days or day not in crew.days:
        yield "on a day that is not allowed"
    elif not visit.skills <= crew.skills or visit.people > crew.people:
        yield "a crew without the skills or people"
    if stop.arrives_minute < visit.opens_minute or stop.leaves_minute > visit.closes_minute:
        yield "outside the access hours"
    if stop.leaves_minute - stop.arrives_minute != visit.service_minutes(crew.people):
        yield "not the minutes that the work needs"
