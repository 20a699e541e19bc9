"""Reads of the dispatch room: who drives when, what a month's problem is, and what a plan looks like."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db.models import Q, QuerySet

from landscape_care.almanac.climate import Climate
from landscape_care.almanac.dates import zone
from landscape_care.almanac.evapotranspiration import saturation_vapour_pressure_kpa
from landscape_care.almanac.heat_plan import DayHeat, HeatPlan, heat_plan, usual_dew_point_f
from landscape_care.almanac.public_holidays import kept_on
from landscape_care.almanac.sun import sunrise, sunset
from landscape_care.care.catalog import catalog
from landscape_care.care.models import CareTask, TaskState
from landscape_care.dispatch import roads
from landscape_care.dispatch.models import (
    Closure,
    Crew,
    CrewDayOff,
    CrewHours,
    CrewRoute,
    Disruption,
    Letter,
    MonthPlan,
    PlanState,
    PreferredCrew,
    Stop,
    Unserved,
)
from landscape_care.dispatch.routing import CrewShift, RouteProblem, RouteVisit
from landscape_care.dispatch.travel import Place
from landscape_care.people.models import AuditEntry, Role, User
from landscape_care.properties.books import climate_at, climate_book
from landscape_care.properties.models import Depot, Property
from landscape_care.visits.materials import LoadLine, Needs, load_list, load_of
from landscape_care.visits.models import Visit, VisitState
from landscape_care.visits.queries import with_tasks

A_DAY = timedelta(1)
LEAST_LIGHT_S = 3 * 3600
GRACE_DAYS = 7  # after its window, what an event drove off may still be done; as long as late work has
SHOWN = (PlanState.PROPOSED, PlanState.PUBLISHED)


# --- Who sees what ------------------------------------------------------------------------------------


def crews_of(user: User | AnonymousUser) -> QuerySet[Crew]:
    """The crews a person drives with."""
    rows = Crew.objects.select_related("depot").filter(active=True)
    return rows.filter(members=user) if isinstance(user, User) and user.is_active else rows.none()


def visible_crews(user: User | AnonymousUser) -> QuerySet[Crew]:
    """The crews somebody may see: all for the office, their own for crew members."""
    if isinstance(user, User) and user.is_active and user.in_office():
        return Crew.objects.select_related("depot")
    return crews_of(user)


def crews_at(depot: Depot) -> QuerySet[Crew]:
    """The crews that start at a depot."""
    return Crew.objects.filter(depot=depot, active=True).order_by("name")


def preferred_crew(property: Property) -> Crew | None:
    """The crew that a property would rather have."""
    row = PreferredCrew.objects.select_related("crew").filter(property=property).first()
    return row.crew if row else None


def visible_plans(user: User | AnonymousUser) -> QuerySet[MonthPlan]:
    """The plans somebody may see: only the office plans."""
    rows = MonthPlan.objects.select_related("depot", "asked_by")
    return rows if isinstance(user, User) and user.is_active and user.in_office() else rows.none()


def visible_stops(user: User | AnonymousUser) -> QuerySet[Stop]:
    """The stops somebody may see: for a crew the published ones of its own routes."""
    rows = Stop.objects.select_related("plan", "crew", "visit__property__client", "visit__property__depot")
    if not isinstance(user, User) or not user.is_active:
        return rows.none()
    if user.in_office():
        return rows
    if user.role != Role.CREW:
        return rows.none()
    return rows.filter(plan__state=PlanState.PUBLISHED, crew__members=user)


# --- Months -------------------------------------------------------------------------------------------


def month_days(month: date) -> list[date]:
    """All days of the month of a day."""
    first = month.replace(day=1)
    length = ((first + timedelta(31)).replace(day=1) - first).days
    return [first + timedelta(count) for count in range(length)]


def month_before(month: date) -> date:
    """The first day of the month before."""
    return (month.replace(day=1) - A_DAY).replace(day=1)


def allowed_days(visit: Visit, today: date) -> list[date]:
    """Days from today on inside the window of a visit that fall on its allowed weekdays."""
    first, weekdays = max(visit.opens_on, today), {int(digit) for digit in visit.weekdays}
    days = (first + timedelta(count) for count in range((visit.closes_on - first).days + 1))
    return [day for day in days if day.isoweekday() in weekdays]


def published_plan(depot: Depot, month: date) -> MonthPlan | None:
    """The plan that people were told."""
    return MonthPlan.objects.filter(
        depot=depot, month=month.replace(day=1), state=PlanState.PUBLISHED
    ).first()


def latest_plan(depot: Depot, month: date) -> MonthPlan | None:
    """The newest attempt at a month, whatever became of it."""
    rows = MonthPlan.objects.filter(depot=depot, month=month.replace(day=1), disruption=None)
    return rows.order_by("-number").first()


def shown_plan(depot: Depot, month: date) -> MonthPlan | None:
    """The plan to look at: the newest that is proposed or published."""
    rows = MonthPlan.objects.filter(depot=depot, month=month.replace(day=1))
    # The answer to a disruption has a page of its own until it holds.
    proposed = Q(state=PlanState.PROPOSED, disruption=None)
    return rows.filter(proposed | Q(state=PlanState.PUBLISHED)).order_by("-number").first()


def waiting_plans() -> QuerySet[MonthPlan]:
    """Plans that nobody solves yet, oldest first."""
    return MonthPlan.objects.filter(state=PlanState.WAITING).order_by("pk")


def today_at(depot: Depot, now: datetime) -> date:
    """The day it is at a depot."""
    return now.astimezone(zone(depot.time_zone)).date()


def is_closed(property_id: int, day: date) -> bool:
    """Whether nobody may enter a property on a day."""
    rows = Closure.objects.filter(property_id=property_id, first_day__lte=day, last_day__gte=day)
    return rows.exists()


def visible_disruptions(user: User | AnonymousUser) -> QuerySet[Disruption]:
    """What went against published months, for the office."""
    rows = Disruption.objects.select_related("plan__depot", "base", "property", "asked_by", "confirmed_by")
    return rows if isinstance(user, User) and user.is_active and user.in_office() else rows.none()


def open_disruptions(depot: Depot, month: date) -> QuerySet[Disruption]:
    """What went against a month and is neither confirmed nor dropped."""
    states = (PlanState.WAITING, PlanState.SOLVING, PlanState.PROPOSED, PlanState.FAILED)
    rows = Disruption.objects.filter(plan__depot=depot, plan__month=month.replace(day=1))
    return rows.filter(plan__state__in=states).select_related("plan", "property")


def visible_letters(user: User | AnonymousUser) -> QuerySet[Letter]:
    """Letters about changed visits, for the office."""
    rows = Letter.objects.select_related("client", "person")
    return rows if isinstance(user, User) and user.is_active and user.in_office() else rows.none()


def last_change(stop: Stop) -> AuditEntry | None:
    """Who last changed a stop, and when."""
    return AuditEntry.objects.select_related("by").filter(subject=stop_subject(stop)).first()


def stop_subject(stop: Stop) -> str:
    """How the audit log names a stop."""
    return f"stop {stop.pk}"


# --- The problem of a month -----------------------------------------------------------------------------


def month_visits(depot: Depot, month: date, today: date) -> list[Visit]:
    """Visits that this month has to serve: open ones whose first possible day lies in it, and told ones."""
    days = month_days(month)
    rows = (
        Visit.objects.filter(property__depot=depot).select_related("property").prefetch_related(with_tasks())
    )
    told = rows.filter(state=VisitState.PUBLISHED, day__range=(max(days[0], today), days[-1]))
    # What is done today keeps its place on today's route; what was done ahead of its day needs none.
    on_route = Stop.objects.filter(
        plan__depot=depot, plan__month=days[0], plan__state=PlanState.PUBLISHED, day=today
    )
    finished = rows.filter(state=VisitState.DONE, pk__in=on_route.values("visit"))
    planned = rows.filter(
        state=VisitState.PLANNED, opens_on__lte=days[-1], closes_on__gte=min(days[0], today)
    )
    left_over = _left_over(depot, days[0])
    mine = [visit for visit in planned if _belongs(visit, days, today, left_over)]
    return sorted([*told, *finished, *mine], key=lambda visit: visit.pk)


def _left_over(depot: Depot, month: date) -> set[int]:
    """Visits that the published plans of earlier months could not serve."""
    rows = Unserved.objects.filter(plan__depot=depot, plan__state=PlanState.PUBLISHED, plan__month__lt=month)
    return set(rows.values_list("visit_id", flat=True))


def _belongs(visit: Visit, days: Sequence[date], today: date, left_over: set[int]) -> bool:
    possible = allowed_days(visit, today)
    if not possible:
        return days[0] <= today <= days[-1]
    if visit.pk in left_over:
        return any(days[0] <= day <= days[-1] for day in possible)
    return days[0] <= possible[0] <= days[-1]


def held_stops(plan: MonthPlan) -> dict[int, Stop]:
    """Stops that keep day and crew in a new plan: published ones, and those held in the attempt before."""
    earlier = MonthPlan.objects.filter(depot=plan.depot, month=plan.month, number__lt=plan.number)
    proposed = Q(state=PlanState.PROPOSED, disruption=None)
    before = earlier.filter(proposed | Q(state=PlanState.PUBLISHED)).order_by("-number").first()
    published = Q(plan__in=earlier, plan__state=PlanState.PUBLISHED)
    held = Q(plan=before, held=True)
    rows = Stop.objects.filter(published | held).select_related("plan", "visit").order_by("plan__number")
    return {
        stop.visit_id: stop
        for stop in rows
        if stop.held or stop.visit.state in (VisitState.PUBLISHED, VisitState.DONE)
    }


def past_stops(plan: MonthPlan, today: date) -> QuerySet[Stop]:
    """Stops of the month that are history and go into a new plan as they are."""
    return Stop.objects.filter(plan=held_last(plan), day__lt=today)


def held_last(plan: MonthPlan) -> MonthPlan | None:
    """The plan of the same month that holds, or that held until it was taken back."""
    rows = MonthPlan.objects.filter(depot=plan.depot, month=plan.month, published_at__isnull=False)
    rows = rows.filter(state__in=(PlanState.PUBLISHED, PlanState.WITHDRAWN)).exclude(pk=plan.pk)
    return rows.order_by("-published_at").first()


def route_problem(plan: MonthPlan, today: date) -> RouteProblem:
    """The month of a plan as plain values: its crews, visits and driving times."""
    days = [day for day in month_days(plan.month) if day >= today]
    crews = crew_shifts(Crew.objects.select_related("depot").filter(depot=plan.depot, active=True), days)
    working = {(crew.uid, day) for crew in crews for day in crew.days}
    stops = [stop for stop in held_stops(plan).values() if (stop.crew_id, stop.day) in working]
    held = {stop.visit_id: (stop.crew_id, stop.day) for stop in stops}
    visits = month_visits(plan.depot, plan.month, today)
    problem = problem_of(plan.depot, crews, visits, days=days, today=today, held=held)
    return replace(problem, told=_told_orders(stops, set(problem.place_by_uid)))


def _told_orders(stops: Iterable[Stop], visits: set[int]) -> dict[tuple[int, date], tuple[int, ...]]:
    """Orders of published routes, by crew and day."""
    orders: dict[tuple[int, date], tuple[int, ...]] = {}
    for stop in sorted(stops, key=lambda stop: stop.position):
        if stop.plan.state == PlanState.PUBLISHED and stop.visit_id in visits:
            key = (stop.crew_id, stop.day)
            orders[key] = (*orders.get(key, ()), stop.visit_id)
    return orders


def problem_of(
    depot: Depot,
    crews: Sequence[CrewShift],
    visits: Sequence[Visit],
    *,
    days: Iterable[date],
    today: date,
    held: Mapping[int, tuple[int, date]],
) -> RouteProblem:
    """Crews and visits of one depot with the driving times between them."""
    places = [Place(depot.latitude_deg, depot.longitude_deg)]
    places += [Place(v.property.latitude_deg, v.property.longitude_deg) for v in visits]
    inside = set(days)
    closed = closed_days(inside)
    kept = frozenset(holidays(depot, inside))
    preferred = dict(
        PreferredCrew.objects.filter(crew__in=[c.uid for c in crews]).values_list("property", "crew")
    )
    rows = tuple(
        replace(
            without(
                route_visit(visit, inside, today=today, held_to=held.get(visit.pk)),
                closed.get(visit.property_id, frozenset()) | kept,
            ),
            preferred_crew=preferred.get(visit.property_id),
        )
        for visit in visits
    )
    return RouteProblem(tuple(crews), rows, roads.travel(places))


def holidays(depot: Depot, days: Iterable[date]) -> dict[date, str]:
    """The public holidays among some days on which the crews of a depot stay at home."""
    return kept_on(depot.holiday_region, days, depot.holidays_worked.split(","))


def crew_shifts(crews: Iterable[Crew], days: Sequence[date]) -> tuple[CrewShift, ...]:
    """Crews as plain values, with the days among these on which they work."""
    rows = list(crews)
    off = set(CrewDayOff.objects.filter(crew__in=rows, day__in=days).values_list("crew_id", "day"))
    kept = {(crew.pk, day) for crew in rows for day in holidays(crew.depot, days)}
    hours = other_hours(rows, days)
    return tuple(
        CrewShift(
            uid=crew.pk,
            people=crew.people,
            skills=frozenset(crew.skills),
            opens_minute=minute(crew.shift_opens),
            closes_minute=minute(crew.shift_closes),
            break_minutes=crew.break_minutes,
            days=frozenset(
                d for d in days if str(d.isoweekday()) in crew.weekdays and (crew.pk, d) not in off | kept
            ),
            payload_lb=crew.payload_lb,
            bed_yd3=crew.bed_yd3,
            other_hours=earlier_hours(crew, days) | hours.get(crew.pk, {}),
        )
        for crew in rows
    )


def earlier_hours(crew: Crew, days: Iterable[date]) -> dict[date, tuple[int, int]]:
    """Shifts that begin earlier on days of usual heat, as the crew allows it; the same length."""
    if crew.heat_opens is None:
        return {}
    depot, opens = crew.depot, minute(crew.shift_opens)
    try:
        normal = climate_book().nearest(depot.latitude_deg, depot.longitude_deg, None)
    except ValueError:  # no climate is known near it
        return {}
    found: dict[date, tuple[int, int]] = {}
    for day in days:
        plan = _plan_in_heat(depot, day, _usual_f(normal, day), hours=(opens, minute(crew.shift_closes)))
        early = opens - max(minute(plan.start), minute(crew.heat_opens)) if plan else 0
        if early > 0:
            found[day] = (opens - early, minute(crew.shift_closes) - early)
    return found


def other_hours(crews: Iterable[Crew], days: Sequence[date]) -> dict[int, dict[date, tuple[int, int]]]:
    """Hours of single days that somebody set, in minutes from midnight, by crew."""
    found: dict[int, dict[date, tuple[int, int]]] = {}
    for row in CrewHours.objects.filter(crew__in=crews, day__in=days):
        found.setdefault(row.crew_id, {})[row.day] = (minute(row.opens_at), minute(row.closes_at))
    return found


def closed_days(days: set[date]) -> dict[int, frozenset[date]]:
    """Days among these on which nobody may enter, by property."""
    closures = Closure.objects.filter(
        first_day__lte=max(days, default=date.min), last_day__gte=min(days, default=date.max)
    )
    found: dict[int, set[date]] = {}
    for one in closures:
        inside = {day for day in days if one.first_day <= day <= one.last_day}
        found.setdefault(one.property_id, set()).update(inside)
    return {number: frozenset(closed) for number, closed in found.items()}


def route_visit(
    visit: Visit, days: set[date], *, today: date, held_to: tuple[int, date] | None = None
) -> RouteVisit:
    """A visit as a plain value with those of its allowed days that lie among the given ones."""
    tasks = [link.task for link in visit.visit_tasks.all()]
    load = load_of(_needs(task) for task in tasks if task.state == TaskState.OPEN)
    row = visit.property
    return RouteVisit(
        uid=visit.pk,
        days=frozenset(days.intersection(allowed_days(visit, today))),
        opens_minute=minute(row.access_opens),
        closes_minute=minute(row.access_closes),
        person_minutes=max(1, visit.minutes),
        longest_task_minutes=max((task.minutes for task in tasks), default=0),
        people=visit.people,
        skills=frozenset(visit.skills),
        late=any(task.state == TaskState.OPEN and task.closes_on < today for task in tasks),
        held_to=held_to,
        load_lb=load.lb,
        load_yd3=load.yd3,
        grace_days=frozenset(days.intersection(_after_window(visit))),
    )


def _after_window(visit: Visit) -> Iterable[date]:
    """Allowed weekdays of the week after a window, for what an event drives off its day."""
    days = (visit.closes_on + timedelta(count) for count in range(1, GRACE_DAYS + 1))
    return (day for day in days if str(day.isoweekday()) in visit.weekdays)


def without(visit: RouteVisit, closed: frozenset[date]) -> RouteVisit:
    """A visit without the days on which its garden is closed; nothing holds it to one of them."""
    held_to = None if visit.held_to and visit.held_to[1] in closed else visit.held_to
    if held_to == visit.held_to and not (visit.days | visit.grace_days) & closed:
        return visit
    return replace(
        visit,
        days=visit.days - closed,
        closed_days=visit.days & closed,
        grace_days=visit.grace_days - closed,
        held_to=held_to,
    )


def minute(clock: time) -> int:
    """Minutes after midnight."""
    return clock.hour * 60 + clock.minute


def clock(minutes: int) -> time:
    """The clock time so many minutes after midnight."""
    return time(minutes // 60, minutes % 60)


# --- What a crew takes along ------------------------------------------------------------------------------


@dataclass(frozen=True)
class StopSheet:
    """One stop of a day with everything to do there."""

    stop: Stop
    tasks: tuple[CareTask, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class CrewDay:
    """A crew's day, ready to be printed: stops in order, what to load, heat."""

    crew: Crew
    day: date
    stops: tuple[StopSheet, ...]
    load: tuple[LoadLine, ...]
    heat: HeatPlan | None
    heat_basis: tuple[str, str]

    @property
    def service_minutes(self) -> int:
        """Minutes on site."""
        return sum(minute(sheet.stop.leaves_at) - minute(sheet.stop.arrives_at) for sheet in self.stops)

    @property
    def drive_minutes(self) -> float:
        """Minutes driving to the stops, without the way back."""
        return sum(sheet.stop.drive_minutes for sheet in self.stops)


def crew_day(crew: Crew, day: date, *, plan: MonthPlan | None = None) -> CrewDay:
    """The day of a crew from the published plan, or from another plan that is given."""
    rows = _standing_stops(crew, plan).filter(day=day).select_related("visit__property", "crew", "plan")
    rows = rows.prefetch_related(with_tasks("visit__visit_tasks"))
    sheets = tuple(_sheet(stop) for stop in rows.order_by("arrives_at", "position"))
    load = load_list(_needs(task) for sheet in sheets for task in sheet.tasks if task.state == TaskState.OPEN)
    heat, basis = _heat(crew, sheets, day)
    return CrewDay(crew, day, sheets, load, heat, basis)


def crew_language(crew: Crew) -> str | None:
    """The language that most of a crew read; none where nobody has said."""
    counted = Counter(crew.members.values_list("language", flat=True))
    return max(sorted(counted), key=lambda language: counted[language], default=None)


def crew_route(crew: Crew, day: date) -> CrewRoute | None:
    """What frames a crew's published day, with the version that a change of its order has to name."""
    return CrewRoute.objects.filter(crew=crew, day=day, plan__state=PlanState.PUBLISHED).first()


def next_crew_day(crew: Crew, after: date) -> date | None:
    """The first later day for which stops of a crew are published."""
    return _standing_stops(crew).filter(day__gt=after).order_by("day").values_list("day", flat=True).first()


def _standing_stops(crew: Crew, plan: MonthPlan | None = None) -> QuerySet[Stop]:
    rows = Stop.objects.filter(crew=crew).exclude(visit__state=VisitState.WITHDRAWN)
    return rows.filter(plan=plan) if plan else rows.filter(plan__state=PlanState.PUBLISHED)


def _sheet(stop: Stop) -> StopSheet:
    tasks = tuple(
        link.task for link in stop.visit.visit_tasks.all() if link.task.state != TaskState.WITHDRAWN
    )
    cautions = dict.fromkeys(code for task in tasks for code in task.cautions)
    return StopSheet(stop, tasks, tuple(cautions))


def _needs(task: CareTask) -> Needs:
    return needs_of(task.rule, task.details)


def needs_of(rule_key: str, details: Mapping[str, Any]) -> Needs:
    """The materials of a care task, from its rule and what was computed for it."""
    rule = catalog().get(rule_key)
    words = (rule.en.materials, rule.es.materials) if rule else ("", "")
    numbers = {name: n for name, n in details.get("numbers", {}).items() if isinstance(n, int | float)}
    return Needs(numbers, *words)


def _heat(crew: Crew, sheets: Sequence[StopSheet], day: date) -> tuple[HeatPlan | None, tuple[str, str]]:
    if not sheets:
        return None, ("", "")
    normal = climate_at(sheets[0].stop.visit.property.climate)
    high_f, low_f = normal.tmax_f[day.month - 1], normal.tmin_f[day.month - 1]
    dew_f = usual_dew_point_f(normal, day.month)
    humidity = afternoon_humidity_pct(high_f, dew_f)
    basis_en = (
        f"Usual for the month in {normal.name}: high {high_f:.0f} °F, humidity then about {humidity:.0f} %"
        " (estimated from the usual low). Look at today's forecast too."
    )
    basis_es = (
        f"Lo usual del mes en {normal.name}: máxima de {high_f:.0f} °F, humedad a esa hora de cerca de"
        f" {humidity:.0f} % (estimada de la mínima usual). Vea también el pronóstico de hoy."
    )
    hours = other_hours([crew], [day]).get(crew.pk, {}).get(day) or (
        minute(crew.shift_opens),
        minute(crew.shift_closes),
    )
    place = sheets[0].stop.visit.property
    return _plan_in_heat(place, day, (high_f, low_f, dew_f), hours=hours), (basis_en, basis_es)


def _usual_f(normal: Climate, day: date) -> tuple[float, float, float]:
    """Usual high, low and dew point of a day's month, °F."""
    month = day.month - 1
    return normal.tmax_f[month], normal.tmin_f[month], usual_dew_point_f(normal, day.month)


def _plan_in_heat(
    place: Property | Depot, day: date, usual_f: tuple[float, float, float], *, hours: tuple[int, int]
) -> HeatPlan | None:
    """A shift on a day of usual high, low and dew point, °F; none where the sun stays up or down."""
    where = (place.latitude_deg, place.longitude_deg, place.time_zone)
    rises, sets = sunrise(day, *where), sunset(day, *where)
    if rises is None or sets is None or (sets - rises).total_seconds() <= LEAST_LIGHT_S:
        return None
    opens, closes = hours
    heat = DayHeat(*usual_f, sunrise=rises.time(), sunset=sets.time())
    work_hours = min(max((closes - opens) / 60, 1.0), 12.0)
    return heat_plan(heat, work_hours=work_hours, usual_start=min(clock(opens), time(12)))


def afternoon_humidity_pct(high_f: float, dew_f: float) -> float:
    """Relative humidity at the hottest hour, %, with the dew point staying all day (FAO-56, chapter 3)."""
    dew_c, high_c = ((degrees - 32) / 1.8 for degrees in (dew_f, high_f))
    return min(100.0, 100 * saturation_vapour_pressure_kpa(dew_c) / saturation_vapour_pressure_kpa(high_c))
