"""Reads of the visits room."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from django.contrib.auth.models import AnonymousUser
from django.db.models import Count, Exists, F, OuterRef, Prefetch, Q, QuerySet, Sum

from landscape_care.almanac.dates import zone
from landscape_care.care.models import SETTLED, CareTask, TaskState
from landscape_care.people.models import Role, User
from landscape_care.people.queries import is_office
from landscape_care.properties.models import Photo, Property
from landscape_care.properties.queries import sees_all
from landscape_care.visits.bundling import Existing, OpenTask, Team, Terms
from landscape_care.visits.joining import ToldVisit
from landscape_care.visits.models import (
    Completion,
    DayRequest,
    TimeMark,
    TimeSort,
    Visit,
    VisitState,
    VisitTask,
)
from landscape_care.visits.site_time import Moment, TimeOnSite, time_on_site

DRIVE_ALLOWANCE_MINUTES = 60  # of a shift, when the longest visit is measured; company practice
TOLD = (VisitState.PUBLISHED, VisitState.DONE)
DEFAULT_CADENCE = "monthly"
DEFAULT_WEEKDAYS = "12345"


def visible_visits(user: User | AnonymousUser) -> QuerySet[Visit]:
    """The visits somebody may see: all for the office, for a crew those on its published routes."""
    rows = Visit.objects.select_related("property", "property__client", "property__depot")
    if not isinstance(user, User) or not user.is_active:
        return rows.none()
    if user.in_office():
        return rows
    if user.role != Role.CREW:
        return rows.none()
    # A visit that was withdrawn stays visible to who was to do it, so that they can read why.
    mine = Q(stops__crew__members=user, stops__plan__published_at__isnull=False)
    return rows.filter(mine).distinct()


def visible_completions(user: User | AnonymousUser) -> QuerySet[Completion]:
    """The completions somebody may see: those of the visits they may see."""
    rows = Completion.objects.select_related("visit", "task", "by").prefetch_related("photos")
    return rows.filter(visit__in=visible_visits(user))


def completed_on(number: UUID) -> date | None:
    """The day that a completion names, if there is one under this number."""
    return Completion.objects.filter(pk=number).values_list("done_on", flat=True).first()


def site_times(visits: Iterable[Visit]) -> dict[int, tuple[TimeOnSite, ...]]:
    """When crews were really on site, by visit."""
    moments: dict[int, list[Moment]] = {}
    for mark in TimeMark.objects.filter(visit__in=[visit.pk for visit in visits]):
        moments.setdefault(mark.visit_id, []).append(Moment(mark.at, mark.sort == TimeSort.STARTED))
    return {visit: time_on_site(each) for visit, each in moments.items()}


def visible_photos(user: User | AnonymousUser) -> QuerySet[Photo]:
    """The pictures somebody may see: all for the office; for a crew its own, and those of its gardens."""
    rows = Photo.objects.select_related("property", "thing")
    if is_office(user):
        return rows
    if not isinstance(user, User) or user.role != Role.CREW:
        return rows.none()
    return rows.filter(Q(property__in=visible_visits(user).order_by().values("property")) | Q(by=user))


def photos_of_care(places: Iterable[Property], since: date) -> QuerySet[Photo]:
    """The pictures that crews took with care they did in some gardens since a day, newest first."""
    done = Completion.objects.filter(outcome="done", done_on__gte=since, visit__property__in=list(places))
    rows = Photo.objects.filter(property__in=list(places), completions__in=done).distinct()
    return rows.select_related("thing").order_by("-taken_at")


def with_tasks(path: str = "visit_tasks") -> "Prefetch[str]":
    """Fetch the tasks of many visits in one further query; `path` leads to the links."""
    # A join, because a list of thousands of tasks is too long an expression for SQLite.
    return Prefetch(path, queryset=VisitTask.objects.select_related("task__thing"))


def open_tasks_of(visit: Visit) -> QuerySet[CareTask]:
    """What is still to be done on a visit."""
    return tasks_of(visit).filter(state=TaskState.OPEN)


def tasks_of(visit: Visit) -> QuerySet[CareTask]:
    """All care tasks of a visit, settled ones included."""
    return CareTask.objects.filter(visit_task__visit=visit).select_related("thing").order_by("stem", "id")


# --- What bundling reads --------------------------------------------------------------------------


def bundling_due(today: date, *, horizon: date) -> QuerySet[Property]:
    """Properties whose tasks changed since they were last bundled, or were not bundled today."""
    changed = CareTask.objects.filter(
        property=OuterRef("pk"), changed_at__gt=OuterRef("bundling_run__at"), opens_on__lte=horizon
    )
    waits = Q(bundling_run=None) | Q(bundling_run__on_day__lt=today) | Exists(changed)
    return Property.objects.filter(waits).order_by("pk")


def properties_waiting(now: datetime, *, horizon_days: int) -> Iterator[int]:
    """Numbers of the properties to bundle at a moment, each on the day it has there."""
    for name in Property.objects.order_by().values_list("time_zone", flat=True).distinct():
        today = now.astimezone(zone(name)).date()
        due = bundling_due(today, horizon=today + timedelta(horizon_days)).filter(time_zone=name)
        yield from due.values_list("pk", flat=True)


def terms_of(row: Property) -> Terms:
    """What the agreement of a property and the crews of its depot allow."""
    agreement = getattr(row, "agreement", None)
    weekdays = agreement.weekdays if agreement else DEFAULT_WEEKDAYS
    access = _minute(row.access_closes) - _minute(row.access_opens)
    teams = tuple(
        Team(frozenset(crew.skills), crew.people, longest_minutes=longest)
        for crew in row.depot.crews.filter(active=True).order_by("code")
        if (longest := crew.people * min(_shift_minutes(crew) - DRIVE_ALLOWANCE_MINUTES, access)) > 0
    )
    return Terms(
        cadence=agreement.cadence if agreement else DEFAULT_CADENCE,
        weekdays=frozenset(int(digit) - 1 for digit in weekdays),
        teams=teams,
        least_days=agreement.least_days if agreement else None,
        most_days=agreement.most_days if agreement else None,
    )


def _shift_minutes(crew: Any) -> int:
    return _minute(crew.shift_closes) - _minute(crew.shift_opens) - int(crew.break_minutes)


def _minute(clock: time) -> int:
    return clock.hour * 60 + clock.minute


def tasks_to_bundle(row: Property, through: date) -> dict[str, CareTask]:
    """Open tasks of a property that open until a day, by key."""
    tasks = CareTask.objects.filter(property=row, state=TaskState.OPEN, opens_on__lte=through).order_by("key")
    return {task.key: task for task in tasks}


def as_open_tasks(tasks: Iterable[CareTask]) -> list[OpenTask]:
    """Care tasks as the plain values that bundling takes."""
    return [
        OpenTask(
            t.key,
            t.series,
            t.opens_on,
            t.due_on,
            t.closes_on,
            minutes=t.minutes,
            people=t.people,
            skill=t.skill,
        )
        for t in tasks
    ]


def existing_visits(row: Property) -> tuple[dict[str, Visit], list[Existing]]:
    """Visits whose slots are in use, by slot and as plain values.

    Told and withdrawn visits keep their name for good; a withdrawn one that nobody heard of
    gives it back, and the row is used again.
    """
    visits = {
        visit.slot: visit for visit in Visit.objects.filter(property=row).prefetch_related(with_tasks())
    }
    plain = [
        Existing(
            slot=visit.slot,
            task_keys=frozenset(link.task.key for link in visit.visit_tasks.all()),
            fixed=visit.urgent
            or visit.state in TOLD
            or (visit.state == VisitState.WITHDRAWN and visit.announced),
            closes_on=visit.closes_on,
            day=visit.day if visit.state in TOLD else None,
        )
        for visit in visits.values()
    ]
    return visits, plain


def told_visits(visits: Iterable[Visit]) -> list[ToldVisit]:
    """The published visits of some, as what further work is held against; crew and tasks as they are now."""
    published = [visit for visit in visits if visit.state == VisitState.PUBLISHED]
    crews = _crews_of(published) if published else {}
    return [_told_visit(visit, *crews.get(visit.pk, (visit.people, visit.skills))) for visit in published]


def _crews_of(visits: Iterable[Visit]) -> dict[int, tuple[int, list[str]]]:
    rows = Visit.objects.filter(
        pk__in=[visit.pk for visit in visits], stops__plan__published_at__isnull=False
    )
    found = rows.order_by("stops__plan__published_at")
    names = ("pk", "stops__crew__people", "stops__crew__skills")
    return {pk: (people, skills) for pk, people, skills in found.values_list(*names)}


def _told_visit(visit: Visit, people: int, skills: Iterable[str]) -> ToldVisit:
    tasks = [link.task for link in visit.visit_tasks.all() if link.task.state == TaskState.OPEN]
    arrives_at, leaves_at = visit.arrives_at or time(0), visit.leaves_at or time(0)
    return ToldVisit(
        slot=visit.slot,
        day=visit.day or date.min,
        stay_minutes=_minute(leaves_at) - _minute(arrives_at),
        people=people,
        skills=frozenset(skills),
        minutes=sum(task.minutes * task.people for task in tasks),
        series=frozenset(task.series for task in tasks),
    )


def told_in_the_past(row: Property, before: date) -> QuerySet[Visit]:
    """Published visits whose day has gone by without a word of their end."""
    return Visit.objects.filter(property=row, state=VisitState.PUBLISHED, day__lt=before)


def told_without_work(row: Property) -> QuerySet[Visit]:
    """Published visits on which no task is open any more."""
    still_open = CareTask.objects.filter(visit_task__visit=OuterRef("pk"), state=TaskState.OPEN)
    return Visit.objects.filter(~Exists(still_open), property=row, state=VisitState.PUBLISHED)


def was_worked_on(visit: Visit) -> bool:
    """Whether a crew reported anything of a visit, or a task of it was done.

    What the office alone takes off the list brought nobody to the garden.
    """
    done = CareTask.objects.filter(visit_task__visit=visit, state=TaskState.DONE)
    return done.exists() or Completion.objects.filter(visit=visit).exists()


def skipped_since(user: User | AnonymousUser, first: date) -> QuerySet[Completion]:
    """What crews could not do since a day, newest first, with the reason they gave."""
    rows = visible_completions(user).filter(outcome="skipped", done_on__gte=first)
    return rows.select_related("visit__property").order_by("-done_on", F("recorded_at").desc())


def told_by_day(user: User | AnonymousUser, first: date, before: date) -> dict[date, int]:
    """How many visits people were told for each day that has some."""
    rows = visible_visits(user).filter(state__in=TOLD, day__gte=first, day__lt=before)
    counted = rows.order_by("day").values_list("day").annotate(count=Count("pk"))
    return {day: count for day, count in counted if day is not None}


@dataclass(frozen=True)
class MonthFigures:
    """What a month holds for the office: visits told and done, their hours, care done and left undone."""

    told: int
    done: int
    hours: float
    tasks_done: int
    tasks_skipped: int


def figures_of_month(user: User | AnonymousUser, day: date) -> MonthFigures:
    """The figures of the month of a day."""
    first = day.replace(day=1)
    before = (first + timedelta(31)).replace(day=1)
    rows = visible_visits(user).filter(state__in=TOLD, day__gte=first, day__lt=before).order_by()
    visits = rows.aggregate(
        told=Count("pk"), done=Count("pk", filter=Q(state=VisitState.DONE)), minutes=Sum("minutes")
    )
    settled = CareTask.objects.filter(state__in=SETTLED, settled_on__gte=first, settled_on__lt=before)
    care = (settled if sees_all(user) else settled.none()).aggregate(
        done=Count("pk", filter=Q(state=TaskState.DONE)),
        skipped=Count("pk", filter=Q(state=TaskState.SKIPPED)),
    )
    hours = (visits["minutes"] or 0) / 60
    return MonthFigures(visits["told"], visits["done"], hours, care["done"], care["skipped"])


def open_day_requests(user: User | AnonymousUser) -> QuerySet[DayRequest]:
    """Wishes for another day that wait for the office; a visit that was moved since has its answer."""
    rows = DayRequest.objects.filter(
        visit__in=visible_visits(user),
        settled_at=None,
        visit__state=VisitState.PUBLISHED,
        visit__day=F("day"),
    )
    return rows.select_related("visit__property__depot")


def open_day_request(visit: Visit) -> DayRequest | None:
    """The wish for another day of a visit that nobody has answered yet."""
    return DayRequest.objects.filter(visit=visit, settled_at=None, visit__day=F("day")).first()
