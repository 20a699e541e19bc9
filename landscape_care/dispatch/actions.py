"""Writes of the dispatch room: crews, the plans of a month, and changes by hand."""

import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any

from celery import current_app
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import F, Max
from django.utils import timezone
from kombu.exceptions import OperationalError

from landscape_care.dispatch import queries, routing, solver
from landscape_care.dispatch.models import Crew, CrewDayOff, MonthPlan, PlanState, Stop, Unserved
from landscape_care.dispatch.records import CrewRecord
from landscape_care.dispatch.routing import Route, RouteAnswer, RouteProblem
from landscape_care.people.actions import record
from landscape_care.people.models import AuditEntry, User
from landscape_care.properties.building import build
from landscape_care.properties.models import Depot
from landscape_care.trades.limits import Problem, Refused, limits_of
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Visit, VisitState
from landscape_care.visits.queries import with_tasks

log = logging.getLogger(__name__)

SEED = 1
LONGEST_SECONDS = 120
CLAIM_ENDS_AFTER = timedelta(minutes=10)  # longer than any solving may take: whoever held it is gone
NOT_IN_PLAN = "The new plan of the month has no room for this visit"


class StopChanged(Exception):  # noqa: N818 - it reads as a sentence
    """Somebody else changed a stop in the meantime; `entry` of the audit log says who and when."""

    def __init__(self, stop: Stop, entry: AuditEntry | None) -> None:
        self.stop, self.entry = stop, entry
        who = entry.by.get_username() if entry and entry.by else "the system"
        when = f" at {entry.at:%Y-%m-%d %H:%M} UTC" if entry else ""
        super().__init__(f"This stop was changed by {who}{when}; look at it again before you change it.")


class PlanNotReady(Exception):  # noqa: N818 - it reads as a sentence
    """The plan cannot be published or changed as it stands; the message says why."""


# --- Crews ------------------------------------------------------------------------------------------


@transaction.atomic
def add_crew(values: Mapping[str, Any], *, members: Iterable[User] = (), by: User | None) -> Crew:
    """Add a crew; `values` are the fields of a `CrewRecord`, the depot by its code."""
    _allow_office(by)
    given = build(CrewRecord, values)
    columns = asdict(given) | {"skills": given.skill_list(), "depot": _depot_named(given.depot)}
    if Crew.objects.filter(code=given.code).exists():
        raise Refused([Problem("code", given.code, "another one: this is in use already")])
    crew = Crew.objects.create(**columns)
    crew.members.set(members)
    record("add crew", crew.code, by=by, people=crew.people, skills=crew.skills)
    return crew


@transaction.atomic
def change_crew(crew: Crew, values: Mapping[str, Any], *, by: User | None) -> Crew:
    """Change people, skills, shift or the working days of a crew."""
    _allow_office(by)
    row = Crew.objects.select_for_update().get(pk=crew.pk)
    old = {name: getattr(row, name) for name in limits_of(CrewRecord)}
    old |= {"depot": row.depot.code, "skills": ",".join(row.skills)}
    given = build(CrewRecord, old | dict(values))
    new = asdict(given) | {"skills": given.skill_list(), "depot": _depot_named(given.depot)}
    changed = [name for name, value in new.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, new[name])
    row.save(update_fields=changed)
    record("change crew", row.code, by=by, fields=changed)
    return row


def _depot_named(code: str) -> Depot:
    depot = Depot.objects.filter(code=code).first()
    if depot is None:
        raise Refused([Problem("depot", code, "the code of a depot")])
    return depot


@transaction.atomic
def set_members(crew: Crew, members: Iterable[User], *, by: User | None) -> Crew:
    """Say who drives with a crew."""
    _allow_office(by)
    people = list(members)
    crew.members.set(people)
    record("set crew members", crew.code, by=by, members=[person.get_username() for person in people])
    return crew


@transaction.atomic
def give_day_off(crew: Crew, day: date, reason: str = "", *, by: User | None) -> CrewDayOff:
    """Note that a crew does not work on a day; its told visits move when the month is planned again."""
    _allow_office(by)
    off, added = CrewDayOff.objects.get_or_create(crew=crew, day=day, defaults={"reason": reason[:120]})
    if added:
        record("give day off", crew.code, by=by, day=str(day), reason=reason)
    return off


# --- Proposing a month --------------------------------------------------------------------------------


@transaction.atomic
def propose(depot: Depot, month: date, *, by: User | None, today: date, seconds: int = 20) -> MonthPlan:
    """Ask for a plan of a month; it waits as a row until somebody solves it."""
    _allow_office(by)
    first = month.replace(day=1)
    problems = []
    if queries.month_days(first)[-1] < today:
        problems.append(Problem("month", f"{first:%Y-%m}", f"{today:%Y-%m} or later"))
    if not 1 <= seconds <= LONGEST_SECONDS:
        problems.append(Problem("seconds", seconds, f"1 to {LONGEST_SECONDS} seconds"))
    if problems:
        raise Refused(problems)
    _lock(depot.pk)
    number = MonthPlan.objects.filter(depot=depot, month=first).aggregate(last=Max("number"))["last"] or 0
    plan = MonthPlan.objects.create(
        depot=depot, month=first, number=number + 1, seconds_allowed=seconds, asked_by=by
    )
    record("propose month", _plan_name(plan), by=by, seconds=seconds)
    transaction.on_commit(partial(_solve_soon, plan.pk))
    return plan


def _solve_soon(plan_id: int) -> None:
    try:
        current_app.send_task("landscape_care.dispatch.background.solve_one", (plan_id,))
    except OperationalError:
        log.warning("The broker is away; the sweep will solve plan %s later.", plan_id)


def solve_plan(plan_id: int, *, today: date) -> MonthPlan:
    """Solve a waiting plan; a plan that somebody else has taken is left to them."""
    now = timezone.now()
    waiting = MonthPlan.objects.filter(pk=plan_id, state=PlanState.WAITING)
    mine = waiting.update(state=PlanState.SOLVING, claimed_at=now)
    plan = MonthPlan.objects.select_related("depot").get(pk=plan_id)
    if not mine:
        return plan
    try:
        problem = queries.route_problem(plan, today)
        found = solver.solve(problem, seconds=plan.seconds_allowed, seed=SEED)
        if broken := list(routing.faults(problem, found)):
            # A plan that breaks a promise is not shown to anybody.
            raise AssertionError("; ".join(broken[:3]))
        _keep_plan(plan, problem, found, today=today, claimed_at=now)
    except Exception as failure:
        log.exception("Plan %s could not be solved", plan_id)
        _claimed(plan, now).update(
            state=PlanState.FAILED, failure=f"{type(failure).__name__}: {failure}"[:300]
        )
    plan.refresh_from_db()
    return plan


def free_abandoned(now: datetime) -> int:
    """Let plans wait again whose solver has gone away."""
    lost = MonthPlan.objects.filter(state=PlanState.SOLVING, claimed_at__lt=now - CLAIM_ENDS_AFTER)
    return lost.update(state=PlanState.WAITING)


def _claimed(plan: MonthPlan, claimed_at: datetime) -> Any:
    return MonthPlan.objects.filter(pk=plan.pk, state=PlanState.SOLVING, claimed_at=claimed_at)


@transaction.atomic
def _keep_plan(
    plan: MonthPlan, problem: RouteProblem, found: RouteAnswer, *, today: date, claimed_at: datetime
) -> None:
    """Write the answer, unless the claim has passed to somebody else."""
    summary = summary_of(problem, found)
    proposed = {"state": PlanState.PROPOSED, "solved_at": timezone.now(), "summary": summary}
    if not _claimed(plan, claimed_at).update(**proposed):
        return
    held = {visit for visit, stop in queries.held_stops(plan).items() if stop.held}
    Stop.objects.bulk_create(_past_copies(plan, today))
    Stop.objects.bulk_create(stop for one in found.routes for stop in _stops(plan, one, held))
    Unserved.objects.bulk_create(
        Unserved(plan=plan, visit_id=uid, reason=why.en[:200], reason_es=why.es[:200])
        for uid, why in found.unserved.items()
    )


def summary_of(problem: RouteProblem, found: RouteAnswer) -> dict[str, float | int]:
    """The figures of a plan: what the month costs in driving, work and overtime."""
    return {
        "visits": sum(len(one.stops) for one in found.routes),
        "unserved": len(found.unserved),
        "crew_days": len(found.routes),
        "crew_days_available": len(problem.crew_days()),
        "driving_minutes": round(found.drive_minutes, 1),
        "driving_miles": round(found.drive_miles, 1),
        "service_minutes": found.service_minutes,
        "overtime_minutes": found.overtime_minutes,
    }


def _past_copies(plan: MonthPlan, today: date) -> Iterable[Stop]:
    for stop in queries.past_stops(plan, today):
        stop.pk, stop.plan, stop._state.adding = None, plan, True
        yield stop


def _stops(plan: MonthPlan, one: Route, held: set[int]) -> Iterable[Stop]:
    for position, timed in enumerate(one.stops, start=1):
        yield Stop(
            plan=plan,
            visit_id=timed.visit_uid,
            crew_id=one.crew_uid,
            day=one.day,
            position=position,
            held=timed.visit_uid in held,
            **_times(timed),
        )


def _times(timed: routing.TimedStop) -> dict[str, Any]:
    return {
        "drive_minutes": timed.drive_minutes,
        "drive_miles": timed.drive_miles,
        "arrives_at": queries.clock(timed.arrives_minute),
        "leaves_at": queries.clock(timed.leaves_minute),
    }


# --- Publishing ---------------------------------------------------------------------------------------


@transaction.atomic
def publish(plan_id: int, *, by: User | None, today: date) -> MonthPlan:
    """Make a proposed plan the one that holds, and tell people; all of it or nothing."""
    _allow_office(by)
    plan = MonthPlan.objects.select_related("depot").get(pk=plan_id)
    _lock(plan.depot_id)
    plan.refresh_from_db()
    if plan.state == PlanState.PUBLISHED:
        return plan
    stops = list(plan.stops.filter(day__gte=today).select_related("visit__property", "crew"))
    _refuse_stale(plan, stops, today)
    MonthPlan.objects.filter(depot=plan.depot, month=plan.month, state=PlanState.PUBLISHED).update(
        state=PlanState.SUPERSEDED
    )
    plan.state, plan.published_at = PlanState.PUBLISHED, timezone.now()
    plan.save(update_fields=["state", "published_at"])
    for stop in stops:
        _announce(stop, by=by)
    _withdraw_left_out(plan, today, by=by)
    record("publish month", _plan_name(plan), by=by, **plan.summary)
    return plan


def _refuse_stale(plan: MonthPlan, stops: Sequence[Stop], today: date) -> None:
    if plan.state != PlanState.PROPOSED:
        raise PlanNotReady(
            f"Plan {_plan_name(plan)} is {plan.state}, and only a proposed one can be published."
        )
    missed = plan.stops.filter(day__lt=today, visit__state=VisitState.PLANNED)
    gone = [stop for stop in stops if stop.visit.state == VisitState.WITHDRAWN]
    for stop in [*missed.select_related("visit__property"), *gone]:
        raise PlanNotReady(
            f"The visit {stop.visit} on {stop.day} has changed or passed since the plan was made;"
            " propose the month again."
        )


def _announce(stop: Stop, *, by: User | None) -> None:
    if stop.visit.state == VisitState.DONE:
        return
    visits.announce(
        stop.visit,
        day=stop.day,
        arrives_at=stop.arrives_at,
        leaves_at=stop.leaves_at,
        crew_name=stop.crew.name,
        by=by,
    )


def _withdraw_left_out(plan: MonthPlan, today: date, *, by: User | None) -> None:
    """Take back visits that people were told for this month and that the new plan does not hold."""
    days = queries.month_days(plan.month)
    told = Visit.objects.filter(
        property__depot=plan.depot, state=VisitState.PUBLISHED, day__range=(max(days[0], today), days[-1])
    ).select_related("property")
    reasons = dict(plan.unserved.values_list("visit_id", "reason"))
    for visit in told.exclude(stops__plan=plan):
        visits.withdraw(visit, reasons.get(visit.pk, NOT_IN_PLAN), by=by)


# --- Changes by hand ----------------------------------------------------------------------------------


@transaction.atomic
def move_stop(stop_id: int, *, day: date, crew: Crew, version: int, by: User | None, today: date) -> Stop:
    """Put a stop on another day or crew where it adds least driving; both routes get new times."""
    _allow_office(by)
    stop = _changeable(stop_id, version)
    _refuse_move(stop, day, crew, today)
    here, there = (stop.crew_id, stop.day), (crew.pk, day)
    order = _order_of(stop.plan, {here, there})
    problem = _small_problem(stop, order, (crew, day), today)
    order[here].remove(stop.visit_id)
    if not routing.insert(problem, order, problem.visit(stop.visit_id)):
        why = "a day and crew with room in the shift and the access hours"
        raise Refused([Problem("day", day, why)])
    _rewrite(stop, problem, order, by=by)
    record(
        "move stop",
        queries.stop_subject(stop),
        by=by,
        day=str(day),
        crew=crew.code,
        was=f"{here[1]} {here[0]}",
    )
    stop.refresh_from_db()
    return stop


def _changeable(stop_id: int, version: int) -> Stop:
    """The stop, with its depot locked, if it is still as the person saw it."""
    depot_id = Stop.objects.values_list("plan__depot_id", flat=True).get(pk=stop_id)
    _lock(depot_id)
    stop = Stop.objects.select_related("plan__depot", "visit__property", "crew").get(pk=stop_id)
    if stop.version != version:
        raise StopChanged(stop, queries.last_change(stop))
    if stop.plan.state not in queries.SHOWN:
        raise PlanNotReady(
            f"Plan {_plan_name(stop.plan)} is {stop.plan.state}; change the one that holds now."
        )
    return stop


def _refuse_move(stop: Stop, day: date, crew: Crew, today: date) -> None:
    visit, problems = stop.visit, []
    if stop.day < today or visit.state in (VisitState.DONE, VisitState.WITHDRAWN):
        raise Refused([Problem("stop", str(stop), "a stop that is still to come")])
    if day < today or (day.year, day.month) != (stop.plan.month.year, stop.plan.month.month):
        problems.append(Problem("day", day, f"a day of {stop.plan.month:%Y-%m} from {today} on"))
    elif day not in queries.allowed_days(visit, today):
        wanted = f"an allowed weekday from {visit.opens_on} to {visit.closes_on}"
        problems.append(Problem("day", day, wanted))
    if crew.depot_id != stop.plan.depot_id or not crew.active:
        problems.append(Problem("crew", crew.code, f"an active crew of {stop.plan.depot}"))
    elif missing := set(visit.skills) - set(crew.skills):
        problems.append(Problem("crew", crew.code, "a crew with " + ", ".join(sorted(missing))))
    elif crew.people < visit.people:
        problems.append(Problem("crew", crew.code, f"a crew of {visit.people} people or more"))
    elif not queries.crew_shifts([crew], [day])[0].days:
        problems.append(Problem("crew", crew.code, f"a crew that works on {day}"))
    if problems:
        raise Refused(problems)


def _order_of(plan: MonthPlan, keys: Iterable[tuple[int, date]]) -> routing.Order:
    """The visits of some crew days in order; nobody drives to one that was withdrawn."""
    order: routing.Order = {key: [] for key in keys}
    stops = plan.stops.exclude(visit__state=VisitState.WITHDRAWN).order_by("position")
    for crew_id, day, visit_id in stops.values_list("crew_id", "day", "visit_id"):
        if (crew_id, day) in order:
            order[crew_id, day].append(visit_id)
    return order


def _small_problem(stop: Stop, order: routing.Order, there: tuple[Crew, date], today: date) -> RouteProblem:
    """The two routes alone; all their stops are held, the one that moves to its new place."""
    crew, target_day = there
    uids = {uid for route in order.values() for uid in route}
    rows = list(Visit.objects.filter(pk__in=uids).select_related("property").prefetch_related(with_tasks()))
    held = {uid: key for key, route in order.items() for uid in route} | {
        stop.visit_id: (crew.pk, target_day)
    }
    days = sorted({day for _, day in order})
    shifts = queries.crew_shifts({stop.crew, crew}, days)
    return queries.problem_of(stop.plan.depot, shifts, rows, days=days, today=today, held=held)


def _rewrite(stop: Stop, problem: RouteProblem, order: routing.Order, *, by: User | None) -> None:
    """Write the new times of the routes, and tell people when the plan is published."""
    rows = {row.visit_id: row for row in stop.plan.stops.filter(visit__in=problem.place_by_uid)}
    for (crew_id, day), uids in order.items():
        found = routing.route(problem, crew_id, day, uids)
        if found is None:
            raise Refused([Problem("day", day, "a day whose other stops keep their hours")])
        for position, timed in enumerate(found.stops, start=1):
            row = rows[timed.visit_uid]
            row.crew_id, row.day, row.position = crew_id, day, position
            for name, value in _times(timed).items():
                setattr(row, name, value)
            if row.pk == stop.pk:
                row.held, row.version = True, row.version + 1
            row.save()
    if stop.plan.state == PlanState.PUBLISHED:
        changed = stop.plan.stops.filter(pk__in=[row.pk for row in rows.values()])
        for row in changed.select_related("visit__property", "crew"):
            _announce(row, by=by)


def hold_stop(stop_id: int, *, version: int, by: User | None) -> Stop:
    """Keep day and crew of a stop when the month is planned again."""
    return _set_held(stop_id, held=True, version=version, by=by)


def release_stop(stop_id: int, *, version: int, by: User | None) -> Stop:
    """Let the next plan choose day and crew of a stop; what people were told still holds."""
    return _set_held(stop_id, held=False, version=version, by=by)


@transaction.atomic
def _set_held(stop_id: int, *, held: bool, version: int, by: User | None) -> Stop:
    _allow_office(by)
    stop = _changeable(stop_id, version)
    if stop.held != held:
        Stop.objects.filter(pk=stop_id).update(held=held, version=F("version") + 1)
        record("hold stop" if held else "release stop", queries.stop_subject(stop), by=by)
        stop.refresh_from_db()
    return stop


# --- Who may ------------------------------------------------------------------------------------------


def _allow_office(by: User | None) -> None:
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office and dispatchers plan routes.")


def _lock(depot_id: int) -> Depot:
    """One dispatcher at a time changes the plans of a depot."""
    return Depot.objects.select_for_update().get(pk=depot_id)


def _plan_name(plan: MonthPlan) -> str:
    return f"{plan.depot.code} {plan.month:%Y-%m} no. {plan.number}"
