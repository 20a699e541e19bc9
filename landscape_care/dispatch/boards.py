"""The month board: a depot's month by day and crew, what it costs, and what was done on days gone by."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Count, Q

from landscape_care.care.models import CareTask, TaskState
from landscape_care.dispatch import queries
from landscape_care.dispatch.models import Crew, CrewRoute, MonthPlan, Stop, Unserved
from landscape_care.properties.models import Depot
from landscape_care.visits.queries import with_tasks

MOST_IN_DETAIL = 600
"""Visits that a board lists one by one; above, cells are counted and one week, or one day, is listed."""

CellKey = tuple[int, date]


@dataclass(frozen=True)
class Cell:
    """One crew on one day of the board; `stops` are listed where the board goes into detail."""

    crew: Crew
    day: date
    works: bool
    stops: tuple[Stop, ...] = ()
    count: int = 0
    service_minutes: int = 0
    drive_minutes: float = 0.0
    overtime_minutes: int = 0


@dataclass(frozen=True)
class DoneAt:
    """Care that was done at a property on a day outside the visits of the board."""

    name: str
    code: str
    tasks: int


@dataclass(frozen=True)
class Board:
    """A depot's month: a row for each day, a column for each crew, and what is not served.

    `listed` are the days whose visits are listed one by one; None means all.
    """

    depot: Depot
    month: date
    plan: MonthPlan | None
    published: MonthPlan | None
    crews: tuple[Crew, ...]
    rows: tuple[tuple[date, tuple[Cell, ...]], ...]
    unserved: tuple[Unserved, ...]
    listed: tuple[date, date] | None = None
    done: Mapping[date, tuple[DoneAt, ...]] = field(default_factory=dict)

    @property
    def weeks(self) -> tuple[date, ...]:
        """The first day of the month and each Monday after it."""
        return tuple(day for day, _ in self.rows if day.day == 1 or day.weekday() == 0)


def board(
    depot: Depot,
    month: date,
    *,
    plan: MonthPlan | None = None,
    week: date | None = None,
    today: date | None = None,
) -> Board:
    """The month board of the given plan, or of the newest that is proposed or published."""
    shown = plan or queries.shown_plan(depot, month)
    days = queries.month_days(month)
    sums = _sums_of(shown)
    listed = _listed(sums, days, week or today)
    stops = _stops_of(shown, listed)
    # A crew that has left is still named where it has stops.
    crews = tuple(
        Crew.objects.select_related("depot").filter(
            Q(active=True) | Q(pk__in={crew for crew, _ in sums}), depot=depot
        )
    )
    return Board(
        depot,
        days[0],
        shown,
        queries.published_plan(depot, month),
        crews,
        rows=tuple(_rows(crews, days, sums, stops)),
        unserved=tuple(shown.unserved.select_related("visit__property")) if shown else (),
        listed=listed,
        done=_done_before(depot, days, shown, today),
    )


@dataclass
class _Sum:
    count: int = 0
    service_minutes: int = 0
    drive_minutes: float = 0.0
    overtime_minutes: int = 0


def _sums_of(plan: MonthPlan | None) -> dict[CellKey, _Sum]:
    """What each crew's day adds up to, without reading the visits."""
    sums: dict[CellKey, _Sum] = defaultdict(_Sum)
    if plan is None:
        return sums
    for crew, day, arrives, leaves, drive in plan.stops.values_list(
        "crew_id", "day", "arrives_at", "leaves_at", "drive_minutes"
    ):
        one = sums[crew, day]
        one.count += 1
        one.service_minutes += queries.minute(leaves) - queries.minute(arrives)
        one.drive_minutes += drive
    for route in CrewRoute.objects.filter(plan=plan):
        if (route.crew_id, route.day) in sums:
            sums[route.crew_id, route.day].drive_minutes += route.return_minutes
            sums[route.crew_id, route.day].overtime_minutes = route.overtime_minutes
    return sums


def _listed(
    sums: Mapping[CellKey, _Sum], days: Sequence[date], near: date | None
) -> tuple[date, date] | None:
    """The days to list one by one: all of a small month, a week of a large one, one day of a huge one."""
    day = min(max(near or days[0], days[0]), days[-1])
    monday = day - timedelta(day.weekday())
    week = max(monday, days[0]), min(monday + timedelta(6), days[-1])
    if _count(sums, days[0], days[-1]) <= MOST_IN_DETAIL:
        return None
    return week if _count(sums, *week) <= MOST_IN_DETAIL else (day, day)


def _count(sums: Mapping[CellKey, _Sum], first: date, last: date) -> int:
    return sum(one.count for (_, day), one in sums.items() if first <= day <= last)


def _stops_of(plan: MonthPlan | None, listed: tuple[date, date] | None) -> Mapping[CellKey, list[Stop]]:
    by_cell: dict[CellKey, list[Stop]] = defaultdict(list)
    if plan is None:
        return by_cell
    rows = plan.stops.select_related("visit__property", "crew")
    if listed:
        rows = rows.filter(day__range=listed)
    rows = rows.prefetch_related(with_tasks("visit__visit_tasks"))
    for stop in rows.order_by("day", "crew_id", "position"):
        by_cell[stop.crew_id, stop.day].append(stop)
    return by_cell


def _rows(
    crews: tuple[Crew, ...],
    days: Sequence[date],
    sums: Mapping[CellKey, _Sum],
    stops: Mapping[CellKey, list[Stop]],
) -> Iterator[tuple[date, tuple[Cell, ...]]]:
    working = {shift.uid: shift.days for shift in queries.crew_shifts(crews, days)}
    for day in days:
        yield (
            day,
            tuple(
                Cell(
                    crew,
                    day,
                    works=crew.active and day in working[crew.pk],
                    stops=tuple(stops.get((crew.pk, day), ())),
                    **vars(sums.get((crew.pk, day), _Sum())),
                )
                for crew in crews
            ),
        )


def _done_before(
    depot: Depot, days: Sequence[date], plan: MonthPlan | None, today: date | None
) -> dict[date, tuple[DoneAt, ...]]:
    """Care done on days gone by that no stop of the board stands for."""
    last = min(days[-1], (today or days[0]) - timedelta(1))
    if last < days[0]:
        return {}
    rows = CareTask.objects.filter(
        property__depot=depot, state=TaskState.DONE, settled_on__range=(days[0], last)
    )
    if plan is not None:
        rows = rows.exclude(visit_task__visit__in=plan.stops.filter(day__lt=today).values("visit"))
    counted = rows.values("settled_on", "property__name", "property__code").annotate(tasks=Count("pk"))
    return _by_day(counted.order_by("settled_on", "property__code"))


def _by_day(counted: Iterable[Mapping[str, object]]) -> dict[date, tuple[DoneAt, ...]]:
    found: dict[date, tuple[DoneAt, ...]] = {}
    for row in counted:
        day: date = row["settled_on"]  # type: ignore[assignment]
        one = DoneAt(str(row["property__name"]), str(row["property__code"]), int(str(row["tasks"])))
        found[day] = (*found.get(day, ()), one)
    return found
