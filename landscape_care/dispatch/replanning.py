"""Changing a plan as little as an event asks for.

What the event touches is freed, and so is everything that the problem no longer allows where it is.
The rest keeps crew, day and order. Freed visits go back where driving and the prices of moving
(`routing.Prices`) are least; where no shift has room, one visit that is not fixed gives way to it
and is put elsewhere itself. At last a freed visit may be put again with all others in their places,
as long as that makes the plan cheaper.

Nothing here draws lots: the same problem, plan and freed visits give the same answer.
"""

from collections.abc import Collection, Iterator
from dataclasses import replace
from datetime import date
from typing import NamedTuple

from landscape_care.dispatch.routing import (
    Order,
    Reason,
    RouteAnswer,
    RouteProblem,
    RouteVisit,
    answer,
    cheapest_place,
    insert,
    is_another_hour,
    timetable,
)

ROUNDS = 2  # of putting the freed visits again; a third has found nothing in trials
MOST_TO_GIVE_WAY = 200  # places tried for one visit before it is called unserved

CrewDay = tuple[int, date]


def replan(problem: RouteProblem, plan: Order, freed: Collection[int]) -> RouteAnswer:
    """Answer a problem with a plan in which, beside the freed visits, only what must gives way.

    `plan` is the order of visits by crew and day, `freed` the numbers of the visits that are hit;
    visits of the problem that the plan does not hold are new and are placed too.
    """
    order = _what_stays(problem, plan, freed)
    placed = {uid for uids in order.values() for uid in uids}
    waiting = [visit for visit in problem.visits if visit.uid not in placed]
    for visit in sorted(waiting, key=lambda visit: _urgency(problem, visit)):
        if not insert(problem, order, visit):
            _make_room(problem, order, visit)
    for _ in range(ROUNDS):
        moved = [_put_again(problem, order, visit) for visit in waiting]
        if not any(moved):
            break
    return answer(problem, order)


def with_grace(problem: RouteProblem, freed: Collection[int]) -> RouteProblem:
    """The problem in which freed visits may come after their window too, as soon as they can."""
    hit = set(freed)
    visits = tuple(
        replace(visit, days=visit.days | visit.grace_days, late=True) if visit.uid in hit else visit
        for visit in problem.visits
    )
    return replace(problem, visits=visits)


def order_of(found: RouteAnswer) -> Order:
    """The order of visits by crew and day of an answer."""
    return {(one.crew_uid, one.day): [stop.visit_uid for stop in one.stops] for one in found.routes}


def _what_stays(problem: RouteProblem, plan: Order, freed: Collection[int]) -> Order:
    """The plan without the visits that are freed or may no longer be where they are."""
    order: Order = {}
    for key, uids in plan.items():
        if key[0] in problem.crew_by_uid:
            known = [problem.visit(uid) for uid in uids if uid in problem.place_by_uid and uid not in freed]
            order[key] = [visit.uid for visit in known if key in problem.possible(visit)]
            _thin_out(problem, key, order[key])
    return order


def _thin_out(problem: RouteProblem, key: CrewDay, uids: list[int]) -> None:
    """Take off a route, cheapest to move first, what its hours no longer allow."""
    while uids and timetable(problem, problem.shift(*key), [problem.visit(uid) for uid in uids]) is None:
        loose = [uid for uid in uids if problem.visit(uid).held_to is None] or uids
        # Told last of all; among equals the one that comes last in the day.
        uids.remove(min(reversed(loose), key=lambda uid: problem.visit(uid).told is not None))


def _urgency(problem: RouteProblem, visit: RouteVisit) -> tuple[bool, bool, int, int, int]:
    """Fixed first, then late, then what has fewest places to go, then the longest work."""
    choices = len(problem.possible(visit))
    return visit.held_to is None, not visit.late, choices, -visit.person_minutes, visit.uid


# --- Giving way -----------------------------------------------------------------------------------


def _make_room(problem: RouteProblem, order: Order, visit: RouteVisit) -> bool:
    """Put a visit where one other gives way and finds a place of its own; False when none does."""
    for key, other in _ways(problem, order, visit):
        trial = {one: list(uids) for one, uids in order.items()}
        trial[key].remove(other.uid)
        place = cheapest_place(problem, trial, visit, [key])
        if place is None:
            continue
        trial[key].insert(place.position, visit.uid)
        if insert(problem, trial, other):
            order.update(trial)
            return True
    return False


def _ways(problem: RouteProblem, order: Order, visit: RouteVisit) -> list[tuple[CrewDay, RouteVisit]]:
    """Who could give way on which route, the least price of moving first."""
    ways = [
        (key, problem.visit(uid))
        for key in problem.possible(visit)
        for uid in order.get(key, ())
        if problem.visit(uid).held_to is None
    ]
    ways.sort(key=lambda way: (_least_price_elsewhere(problem, *way), way[0], way[1].uid))
    return ways[:MOST_TO_GIVE_WAY]


def _least_price_elsewhere(problem: RouteProblem, key: CrewDay, other: RouteVisit) -> float:
    here = problem.price(other, key)
    prices = (problem.price(other, there) - here for there in problem.possible(other) if there != key)
    return min(prices, default=float("inf"))


def _put_again(problem: RouteProblem, order: Order, visit: RouteVisit) -> bool:
    """Take a freed visit out and put it back where it is cheapest now; True when it moved."""
    here = next((key for key, uids in order.items() if visit.uid in uids), None)
    if here is None:
        return insert(problem, order, visit)
    before = order[here].index(visit.uid)
    order[here].remove(visit.uid)
    insert(problem, order, visit)
    return order[here][before : before + 1] != [visit.uid]


# --- What changed ---------------------------------------------------------------------------------


class Change(NamedTuple):
    """A visit that is somewhere else than in the plan before; None stands for nowhere."""

    visit_uid: int
    was: CrewDay | None
    now: CrewDay | None
    why: Reason


HIT = Reason("It was hit", "Le afectó")
GAVE_WAY = Reason("It makes room for a visit that was hit", "Deja lugar a una visita afectada")
CAME_IN = Reason("It was not in the plan before", "No estaba en el plan anterior")
ANOTHER_HOUR = Reason(
    "It keeps its day and crew but comes at another hour", "Conserva día y cuadrilla pero llega a otra hora"
)


def changes(
    problem: RouteProblem, plan: Order, freed: Collection[int], found: RouteAnswer
) -> tuple[Change, ...]:
    """What is elsewhere or at another hour than people know, each with the reason, by number of the visit."""
    was = {uid: key for key, uids in plan.items() for uid in uids}
    now = {uid: key for key, uids in order_of(found).items() for uid in uids}
    hit = {*freed, *was} - {uid for uids in _what_stays(problem, plan, freed).values() for uid in uids}
    moved = [
        Change(uid, was.get(uid), now.get(uid), _why(uid, uid in was, uid in hit, found))
        for uid in problem.place_by_uid
        if was.get(uid) != now.get(uid)
    ]
    later = [
        Change(uid, was[uid], now[uid], ANOTHER_HOUR)
        for uid in _at_another_hour(problem, found)
        if uid in was and was[uid] == now[uid]
    ]
    return tuple(sorted((*moved, *later), key=lambda change: change.visit_uid))


def _why(uid: int, was_there: bool, was_hit: bool, found: RouteAnswer) -> Reason:
    if uid in found.unserved:
        return found.unserved[uid]
    if not was_there:
        return CAME_IN
    return HIT if was_hit else GAVE_WAY


def _at_another_hour(problem: RouteProblem, found: RouteAnswer) -> Iterator[int]:
    for one in found.routes:
        for stop in one.stops:
            if is_another_hour(problem, problem.visit(stop.visit_uid), stop.arrives_minute):
                yield stop.visit_uid
