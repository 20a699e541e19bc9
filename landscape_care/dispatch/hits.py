"""What an event takes away from a month: days of crews, hours of crews, days of a garden.

Pure: it turns the problem of a month into the one that is left, and says which visits are hit.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from landscape_care.dispatch.routing import CrewShift, Order, RouteProblem, RouteVisit, Told


@dataclass(frozen=True, slots=True)
class Hit:
    """An event: on which days which crews stay away, have other hours, or which visits may not be.

    With `hours`, minutes from midnight, the crews work between them; without, not at all.
    """

    days: frozenset[date]
    crews: frozenset[int] = frozenset()
    visits: frozenset[int] = frozenset()
    hours: tuple[int, int] | None = None

    def __post_init__(self) -> None:
        """Refuse an event that hits nothing and hours out of order."""
        if not self.days or not (self.crews or self.visits):
            raise ValueError(f"days {sorted(self.days)}: wanted a day and a crew or visit that is hit")
        if self.hours is not None and not 0 <= self.hours[0] < self.hours[1] <= 1440:
            raise ValueError(f"hours {self.hours}, wanted two minutes of a day in order")


def struck(problem: RouteProblem, hit: Hit) -> RouteProblem:
    """The problem that an event leaves."""
    return replace(
        problem,
        crews=tuple(_struck_crew(crew, hit) for crew in problem.crews),
        visits=tuple(_struck_visit(visit, hit) for visit in problem.visits),
    )


def _struck_crew(crew: CrewShift, hit: Hit) -> CrewShift:
    if crew.uid not in hit.crews:
        return crew
    if hit.hours is None:
        return replace(crew, days=crew.days - hit.days)
    return replace(crew, other_hours={**crew.other_hours, **dict.fromkeys(hit.days, hit.hours)})


def _struck_visit(visit: RouteVisit, hit: Hit) -> RouteVisit:
    if visit.uid in hit.visits:
        closed = visit.closed_days | (visit.days & hit.days)
        visit = replace(visit, days=visit.days - hit.days, closed_days=closed)
    at = visit.held_to
    crew_gone = at is not None and at[0] in hit.crews and at[1] in hit.days
    garden_closed = at is not None and visit.uid in hit.visits and at[1] in hit.days
    # What somebody held cannot be kept where nobody can be.
    return replace(visit, held_to=None) if crew_gone or garden_closed else visit


def are_hit(order: Order, hit: Hit) -> frozenset[int]:
    """Visits that stand where the event strikes; in other hours these are all of the crew's day."""
    return frozenset(
        uid
        for (crew, day), uids in order.items()
        for uid in uids
        if day in hit.days and (crew in hit.crews or uid in hit.visits)
    )


def loosened(problem: RouteProblem, told: Mapping[int, Told], fixed: Iterable[int]) -> RouteProblem:
    """The problem in which told visits may move at a price, but for those that are fixed."""
    stay = set(fixed)
    visits = (
        replace(visit, held_to=visit.held_to if visit.uid in stay else None, told=told.get(visit.uid))
        for visit in problem.visits
    )
    return replace(problem, visits=tuple(visits))
