"""A month as the compiled search over days sees it: crew days as slots, wishes as prices.

The search knows no break. Where a shift is long enough for one, its minutes are taken off the end of
the shift, and off the last start of work after the middle of the shift. Roads are rounded up to whole
minutes, as on the clock of a route, so that what the search calls possible can be driven.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from math import inf

import numpy as np
from numpy.typing import NDArray

from landscape_care.dispatch import periodic
from landscape_care.dispatch.periodic import Effort, PeriodProblem, PeriodVisit, Slot
from landscape_care.dispatch.routing import (
    BREAK_AFTER_MINUTES,
    OVERTIME_MINUTES,
    CrewShift,
    Order,
    RouteProblem,
    RouteVisit,
)

NO_ROAD_MINUTES = 1e5  # longer than any shift
# Worth more than any detour, and than moving what people were told for it; fixed ones come first.
SERVED_PRIZE, HELD_PRIZE = 3_000.0, 30_000.0

CrewDay = tuple[int, date]
Kind = tuple[int, int, int, int]  # people, opens, closes, break


@cache
def make_ready() -> None:
    """Have the search compiled, so that no month waits for it inside its own seconds."""
    still = np.zeros((1, 1))
    one = PeriodProblem(
        still, still, (PeriodVisit(0, ((0,),), load=(0.0, 0.0)),), (Slot(0, room=(inf, inf)),)
    )
    periodic.solve(one, Effort(iterations=1))


def search(problem: RouteProblem, effort: Effort) -> Order:
    """Orders of stops for all crew days that have any."""
    keys = sorted({*problem.crew_days(), *_held(problem)}, key=lambda key: (key[1], key[0]))
    visits = [visit for visit in problem.visits if problem.possible(visit)]
    if not keys or not visits:
        return {}
    make_ready()
    period = _period(problem, keys, visits)
    found = periodic.solve(period, effort)
    orders = zip(keys, found.order, strict=True)
    return {key: [visits[number].uid for number in stops] for key, stops in orders if stops}


def _held(problem: RouteProblem) -> list[CrewDay]:
    return [visit.held_to for visit in problem.visits if visit.held_to and problem.possible(visit)]


def _period(problem: RouteProblem, keys: Sequence[CrewDay], visits: Sequence[RouteVisit]) -> PeriodProblem:
    days = {day: number for number, day in enumerate(sorted({day for _, day in keys}))}
    kinds: dict[Kind, int] = {}
    slots = [_slot(problem, key, days[key[1]], kinds) for key in keys]
    minutes = np.minimum(problem.travel.minutes, NO_ROAD_MINUTES)
    return PeriodProblem(
        drive_cost=np.round(minutes, 2).astype(np.float64),
        drive_minutes=np.ceil(np.round(minutes, 2)).astype(np.float64),
        visits=tuple(_visit(problem, visit, days, kinds) for visit in visits),
        slots=tuple(slots),
        price=_prices(problem, keys, visits),
    )


def _slot(problem: RouteProblem, key: CrewDay, day: int, kinds: dict[Kind, int]) -> Slot:
    shift = problem.shift(*key)
    rest = _rest(shift)
    kind = (shift.people, shift.opens_minute, shift.closes_minute, rest)
    return Slot(
        day=day,
        starts_at=shift.depot,
        ends_at=shift.depot,
        leaves_minute=shift.opens_minute,
        returns_minute=shift.closes_minute + OVERTIME_MINUTES - rest,
        room=(_room(shift.payload_lb), _room(shift.bed_yd3)),
        kind=kinds.setdefault(kind, len(kinds)),
        paid_until_minute=shift.closes_minute - rest,
        overtime_price=problem.prices.overtime,
    )


def _rest(shift: CrewShift) -> int:
    return shift.break_minutes if shift.shift_minutes > BREAK_AFTER_MINUTES else 0


def _room(room: float | None) -> float:
    return inf if room is None else room


def _visit(
    problem: RouteProblem, visit: RouteVisit, days: Mapping[date, int], kinds: Mapping[Kind, int]
) -> PeriodVisit:
    own = sorted({days[day] for _, day in problem.possible(visit)})
    work = [visit.service_minutes(people) for people, *_ in kinds]
    return PeriodVisit(
        place=problem.place_by_uid[visit.uid],
        patterns=tuple((day,) for day in own),
        work_minutes=tuple(float(minutes) for minutes in work),
        opens_minute=visit.opens_minute,
        latest_minute=tuple(_latest(visit, minutes, kind) for minutes, kind in zip(work, kinds, strict=True)),
        load=(visit.load_lb, visit.load_yd3),
        prize=HELD_PRIZE if visit.held_to else SERVED_PRIZE,
    )


def _latest(visit: RouteVisit, minutes: int, kind: Kind) -> float:
    """Last start of the work, early enough for the break before it where it begins after the middle."""
    _, opens, closes, rest = kind
    latest = visit.closes_minute - minutes
    return float(max(latest - rest, min(latest, (opens + closes) // 2)))


def _prices(
    problem: RouteProblem, keys: Sequence[CrewDay], visits: Sequence[RouteVisit]
) -> NDArray[np.float64]:
    column = {key: number for number, key in enumerate(keys)}
    prices = np.full((len(visits), len(keys)), inf)
    for row, visit in enumerate(visits):
        for key in problem.possible(visit):
            prices[row, column[key]] = problem.price(visit, key)
    return prices
