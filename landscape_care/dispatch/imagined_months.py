"""Months as routing problems without a plan: all open care, bundled anew in memory; nothing is written.

The months as they are and the months of a what-if are made here the same way, so that they compare.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from random import Random

from landscape_care.care.generation import Wanted
from landscape_care.care.models import CareTask, TaskState
from landscape_care.care.other_cadence import wanted_under
from landscape_care.care.queries import every_rule
from landscape_care.dispatch import queries, roads
from landscape_care.dispatch.models import Crew, PreferredCrew
from landscape_care.dispatch.routing import CrewShift, RouteProblem, RouteVisit
from landscape_care.dispatch.travel import Place
from landscape_care.dispatch.what_if_changes import Changes, NamedShift, crews_with
from landscape_care.properties.models import Depot, Property
from landscape_care.visits import queries as visits
from landscape_care.visits.bundling import Bundle, OpenTask, Team, Terms, allowed_days, bundle
from landscape_care.visits.materials import Load, load_of

SEED = 1
A_DAY = timedelta(1)


@dataclass(frozen=True)
class Garden:
    """A garden with its care in visits: where it is, when it may be entered, what each task needs."""

    row: Property
    place: Place
    terms: Terms
    bundles: tuple[Bundle, ...]
    minutes: Mapping[str, int]
    loads: Mapping[str, Load]
    late: frozenset[str]


@dataclass(frozen=True)
class Year:
    """The gardens and crews of a depot from today on, as they are or after changes."""

    depot: Depot
    today: date
    changes: Changes | None
    gardens: tuple[Garden, ...]
    crews: tuple[Crew, ...]


def year_of(depot: Depot, changes: Changes | None, *, today: date, through: date) -> Year:
    """Read and bundle all care of a depot that opens until a day."""
    crews = tuple(Crew.objects.select_related("depot").filter(depot=depot, active=True).order_by("code"))
    teams = tuple(_teams(_shifts(crews, changes, [today + A_DAY * n for n in range(7)])))
    care = _open_care(depot, changes, today=today, through=through)
    gardens = [_garden(row, work, teams, _cadence(row, changes), today) for row, work in care]
    with_care = [garden for garden in gardens if garden.bundles]
    return Year(depot, today, changes, (*gardens, *_copies(with_care, changes)), crews)


def month_problem(year: Year, month: date) -> RouteProblem:
    """One month of a year as a routing problem; a visit belongs to the month of its first possible day."""
    days = [day for day in queries.month_days(month) if day >= year.today]
    inside = set(days)
    closed, kept = queries.closed_days(inside), frozenset(queries.holidays(year.depot, inside))
    preferred = dict(PreferredCrew.objects.filter(property__depot=year.depot).values_list("property", "crew"))
    rows: list[RouteVisit] = []
    places: list[int] = []
    for number, garden in enumerate(year.gardens):
        shut = closed.get(garden.row.pk, frozenset()) | kept
        for one in _of_month(garden, month, year.today):
            visit = queries.without(_visit(garden, one, len(rows), inside, year.today), shut)
            rows.append(replace(visit, preferred_crew=preferred.get(garden.row.pk)))
            places.append(number + 1)
    depot = Place(year.depot.latitude_deg, year.depot.longitude_deg)
    travel = roads.travel([depot, *(garden.place for garden in year.gardens)])
    return RouteProblem(_shifts(year.crews, year.changes, days), tuple(rows), travel, places=tuple(places))


def _shifts(crews: Sequence[Crew], changes: Changes | None, days: Sequence[date]) -> tuple[CrewShift, ...]:
    shifts = queries.crew_shifts(crews, days)
    return crews_with(
        changes, [NamedShift(crew.code, shift) for crew, shift in zip(crews, shifts, strict=True)]
    )


def _teams(shifts: Sequence[CrewShift]) -> Iterator[Team]:
    for shift in shifts:
        longest = shift.shift_minutes - shift.break_minutes - visits.DRIVE_ALLOWANCE_MINUTES
        if longest > 0:
            yield Team(shift.skills, shift.people, longest_minutes=shift.people * longest)


# --- Care -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Work:
    """Open tasks of one property as plain values, with their loads."""

    tasks: tuple[OpenTask, ...]
    loads: Mapping[str, Load]


def _open_care(
    depot: Depot, changes: Changes | None, *, today: date, through: date
) -> Iterator[tuple[Property, _Work]]:
    rows = list(Property.objects.filter(depot=depot).select_related("agreement", "depot").order_by("pk"))
    moved = [row for row in rows if changes and _agreed(row) == changes.cadence_from != ""]
    stored = _stored(rows, through)
    if changes is not None and moved:
        by_rule = set(every_rule())
        for row, wanted in wanted_under(moved, changes.cadence_to, today=today, through=through):
            # Calls and follow-ups that somebody asked for follow no cadence.
            asked = _as_work([task for task in stored.get(row.pk, ()) if task.rule not in by_rule])
            made = [want for want in wanted if want.window.opens <= through]
            loads = {want.key: load_of([queries.needs_of(want.rule, want.details)]) for want in made}
            yield row, _Work((*map(_as_task, made), *asked.tasks), {**loads, **asked.loads})
    for row in rows:
        if row not in moved:
            yield row, _as_work(stored.get(row.pk, ()))


def _as_task(want: Wanted) -> OpenTask:
    return OpenTask(
        want.key,
        want.series,
        want.window.opens,
        want.window.due,
        want.window.closes,
        minutes=want.minutes,
        people=want.people,
        skill=want.skill,
    )


def _stored(rows: Sequence[Property], through: date) -> dict[int, list[CareTask]]:
    found: dict[int, list[CareTask]] = {}
    tasks = CareTask.objects.filter(property__in=rows, state=TaskState.OPEN, opens_on__lte=through)
    for task in tasks.order_by("key"):
        found.setdefault(task.property_id, []).append(task)
    return found


def _as_work(tasks: Sequence[CareTask]) -> _Work:
    loads = {task.key: load_of([queries.needs_of(task.rule, task.details)]) for task in tasks}
    return _Work(tuple(visits.as_open_tasks(tasks)), loads)


def _agreed(row: Property) -> str:
    agreement = getattr(row, "agreement", None)
    return agreement.cadence if agreement else ""


def _cadence(row: Property, changes: Changes | None) -> str:
    agreed = _agreed(row) or visits.DEFAULT_CADENCE
    return changes.cadence_to if changes and changes.cadence_from == _agreed(row) != "" else agreed


def _garden(row: Property, work: _Work, teams: tuple[Team, ...], cadence: str, today: date) -> Garden:
    agreement = getattr(row, "agreement", None)
    weekdays = agreement.weekdays if agreement else visits.DEFAULT_WEEKDAYS
    other = agreement is not None and cadence != agreement.cadence
    terms = Terms(
        cadence=cadence,
        weekdays=frozenset(int(digit) - 1 for digit in weekdays),
        teams=teams,
        # Spacing belongs to the cadence it was agreed with.
        least_days=None if other or agreement is None else agreement.least_days,
        most_days=None if other or agreement is None else agreement.most_days,
    )
    return Garden(
        row,
        Place(row.latitude_deg, row.longitude_deg),
        terms,
        tuple(bundle(work.tasks, terms, today=today)),
        minutes={task.key: task.minutes for task in work.tasks},
        loads=work.loads,
        late=frozenset(task.key for task in work.tasks if task.closes_on < today),
    )


def _copies(gardens: Sequence[Garden], changes: Changes | None) -> Iterator[Garden]:
    """More gardens like those there are, taken evenly, each halfway between its pattern and another."""
    count = changes.gardens_added if changes else 0
    draw = Random(SEED)  # noqa: S311 - places of invented gardens
    for number in range(count if gardens else 0):
        pattern = gardens[number * len(gardens) // count % len(gardens)]
        yield replace(pattern, place=_halfway(pattern.place, draw.choice(gardens).place))


def _halfway(a: Place, b: Place) -> Place:
    return Place((a.latitude_deg + b.latitude_deg) / 2, (a.longitude_deg + b.longitude_deg) / 2)


# --- Visits ---------------------------------------------------------------------------------------------


def _of_month(garden: Garden, month: date, today: date) -> Iterator[Bundle]:
    for one in garden.bundles:
        first = next(allowed_days(max(one.opens_on, today), one.closes_on, garden.terms.weekdays), None)
        first = first or max(one.opens_on, today)
        if (first.year, first.month) == (month.year, month.month):
            yield one


def _visit(garden: Garden, one: Bundle, uid: int, inside: set[date], today: date) -> RouteVisit:
    loads = [garden.loads[key] for key in one.task_keys]
    days = allowed_days(max(one.opens_on, today), one.closes_on, garden.terms.weekdays)
    return RouteVisit(
        uid=uid,
        days=frozenset(inside.intersection(days)),
        opens_minute=queries.minute(garden.row.access_opens),
        closes_minute=queries.minute(garden.row.access_closes),
        person_minutes=max(1, one.minutes),
        longest_task_minutes=max((garden.minutes[key] for key in one.task_keys), default=0),
        people=one.people,
        skills=frozenset(one.skills),
        late=any(key in garden.late for key in one.task_keys),
        load_lb=sum(load.lb for load in loads),
        load_yd3=sum(load.yd3 for load in loads),
    )
