"""Plans of a month as they are asked for, worked out, stopped and thrown away."""

import logging
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, time, timedelta
from functools import partial
from time import monotonic
from typing import Any, NamedTuple

from celery import current_app
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Max, Q
from django.utils import timezone
from kombu.exceptions import OperationalError

from landscape_care.dispatch import queries, routing, solver
from landscape_care.dispatch.models import CrewRoute, MonthPlan, PlanState, Stop, Unserved
from landscape_care.dispatch.refusals import STATE_WORDS, PlanNotReady, both, misfit
from landscape_care.dispatch.routing import Route, RouteAnswer, RouteProblem
from landscape_care.people.actions import record
from landscape_care.people.models import User
from landscape_care.properties.models import Depot
from landscape_care.trades.limits import Refused

log = logging.getLogger(__name__)

SEED = 1
LONGEST_SECONDS = 180  # below the time limit of background calls
CLAIM_ENDS_AFTER = timedelta(minutes=10)  # longer than any silence of a solver: whoever held it is gone
BETWEEN_SIGNS_S = 1.0  # how often a solver writes how far it is and looks whether it shall end


def allow_office(by: User | None) -> None:
    """Let the office, dispatchers and the house itself go on."""
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office and dispatchers plan routes.")


def lock(depot_id: int) -> Depot:
    """One dispatcher at a time changes the plans of a depot."""
    return Depot.objects.select_for_update().get(pk=depot_id)


def plan_name(plan: MonthPlan) -> str:
    """How the audit log names a plan."""
    return f"{plan.depot.code} {plan.month:%Y-%m} no. {plan.number}"


def not_ready(plan: MonthPlan, english: str, spanish: str) -> PlanNotReady:
    """The refusal that names a plan and where it stands."""
    name, state = plan_name(plan), STATE_WORDS[plan.state]
    return PlanNotReady(both(english, spanish, plan=name, state=state))


# --- Asking ---------------------------------------------------------------------------------------------


@transaction.atomic
def propose(depot: Depot, month: date, *, by: User | None, today: date, seconds: int = 20) -> MonthPlan:
    """Ask for a plan of a month; it waits as a row until somebody solves it."""
    allow_office(by)
    first = month.replace(day=1)
    problems = []
    if queries.month_days(first)[-1] < today:
        late = both("{now} or later", "{now} o posterior", now=f"{today:%Y-%m}")
        problems.append(misfit("month", f"{first:%Y-%m}", late))
    if not 1 <= seconds <= LONGEST_SECONDS:
        span = both("1 to {most} seconds", "de 1 a {most} segundos", most=LONGEST_SECONDS)
        problems.append(misfit("seconds", seconds, span))
    if problems:
        raise Refused(problems)
    plan = new_plan(depot, first, by=by, seconds=seconds)
    record("propose month", plan_name(plan), by=by, seconds=seconds)
    return plan


def new_plan(depot: Depot, first: date, *, by: User | None, seconds: int) -> MonthPlan:
    """A further plan of a month that waits to be solved; call it inside the transaction that asks for it."""
    lock(depot.pk)
    number = MonthPlan.objects.filter(depot=depot, month=first).aggregate(last=Max("number"))["last"] or 0
    plan = MonthPlan.objects.create(
        depot=depot, month=first, number=number + 1, seconds_allowed=seconds, asked_by=by
    )
    transaction.on_commit(partial(_solve_soon, plan.pk))
    return plan


def solve_again(plan: MonthPlan) -> None:
    """Let a proposal wait again, without its answer; call it inside a transaction."""
    for rows in (plan.stops, plan.unserved, plan.crew_routes):
        rows.all().delete()
    MonthPlan.objects.filter(pk=plan.pk).update(
        state=PlanState.WAITING, solved_at=None, summary={}, progress={}, stop_wanted=False, failure=""
    )
    transaction.on_commit(partial(_solve_soon, plan.pk))


def _solve_soon(plan_id: int) -> None:
    try:
        current_app.send_task("landscape_care.dispatch.background.solve_one", (plan_id,))
    except OperationalError:
        log.warning("The broker is away; the sweep will solve plan %s later.", plan_id)


@transaction.atomic
def stop_solving(plan_id: int, *, by: User | None) -> MonthPlan:
    """End the work on a plan: the best found so far is kept; one that nobody began is withdrawn."""
    allow_office(by)
    waiting = MonthPlan.objects.filter(pk=plan_id, state=PlanState.WAITING)
    if not waiting.update(state=PlanState.WITHDRAWN, withdrawn_at=timezone.now()):
        MonthPlan.objects.filter(pk=plan_id, state=PlanState.SOLVING).update(stop_wanted=True)
    plan = MonthPlan.objects.select_related("depot").get(pk=plan_id)
    record("stop solving", plan_name(plan), by=by, state=plan.state)
    return plan


@transaction.atomic
def withdraw_proposal(plan_id: int, *, by: User | None) -> MonthPlan:
    """Throw a proposal away; nobody was told of it, and its visits stay what they are."""
    allow_office(by)
    plan = MonthPlan.objects.select_related("depot").get(pk=plan_id)
    lock(plan.depot_id)
    mine = MonthPlan.objects.filter(pk=plan_id, state__in=(PlanState.PROPOSED, PlanState.FAILED))
    if not mine.update(state=PlanState.WITHDRAWN, withdrawn_at=timezone.now()):
        plan.refresh_from_db()
        raise not_ready(
            plan,
            "Plan {plan} is {state}, and only a proposal can be thrown away.",
            "El plan {plan} está {state}; solo se puede descartar una propuesta.",
        )
    plan.refresh_from_db()
    record("withdraw proposal", plan_name(plan), by=by)
    return plan


# --- Solving --------------------------------------------------------------------------------------------


class Work(NamedTuple):
    """A problem with its answer."""

    problem: RouteProblem
    answer: RouteAnswer


HowToWork = Callable[[MonthPlan, date, "Signs"], Work]
Rest = Callable[[MonthPlan, date], None]


def work_on_month(plan: MonthPlan, today: date, signs: "Signs") -> Work:
    """The whole month as it is best."""
    problem = queries.route_problem(plan, today)
    return Work(problem, solver.solve(problem, seconds=plan.seconds_allowed, seed=SEED, watch=signs))


def solve_with(how: HowToWork, plan_id: int, *, today: date, rest: Rest | None = None) -> MonthPlan:
    """Solve a waiting plan; a plan that somebody else has taken is left to them."""
    now = timezone.now()
    waiting = MonthPlan.objects.filter(pk=plan_id, state=PlanState.WAITING)
    mine = waiting.update(state=PlanState.SOLVING, claimed_at=now, heard_at=now)
    plan = MonthPlan.objects.select_related("depot").get(pk=plan_id)
    if not mine:
        return plan
    try:
        signs = Signs(plan_id, claimed_at=now)
        work = how(plan, today, signs)
        with transaction.atomic():
            if keep_plan(plan, work, today=today, ended_early=signs.ended) and rest is not None:
                rest(plan, today)
    except Exception as failure:
        log.exception("Plan %s could not be solved", plan_id)
        note_failure(plan, failure)
    plan.refresh_from_db()
    return plan


class Signs:
    """A solver's signs of life in the row of its plan; answers whether it may go on."""

    def __init__(self, plan_id: int, *, claimed_at: datetime) -> None:
        self._mine = MonthPlan.objects.filter(pk=plan_id, state=PlanState.SOLVING, claimed_at=claimed_at)
        self._next, self.ended = 0.0, False

    def __call__(self, progress: solver.Progress) -> bool:
        """Write the progress once a second, and look whether somebody wants the best so far."""
        if monotonic() >= self._next and not self.ended:
            self._next = monotonic() + BETWEEN_SIGNS_S
            self._mine.update(heard_at=timezone.now(), progress=_in_row(progress))
            # Whoever lost the claim works for nobody any more.
            self.ended = not self._mine.filter(stop_wanted=False).exists()
        return not self.ended


def _in_row(progress: solver.Progress) -> dict[str, float]:
    return {
        "share": round(progress.share, 3),
        "placed": progress.placed,
        "driving_minutes": round(progress.drive_minutes, 1),
    }


def note_failure(plan: MonthPlan, failure: Exception) -> None:
    """Keep why a plan could not be solved, unless the claim has passed to somebody else."""
    _claimed(plan).update(state=PlanState.FAILED, failure=f"{type(failure).__name__}: {failure}"[:300])


def free_abandoned(now: datetime) -> int:
    """Let plans wait again whose solver has gone away."""
    silent = Q(heard_at__lt=now - CLAIM_ENDS_AFTER) | Q(heard_at=None, claimed_at__lt=now - CLAIM_ENDS_AFTER)
    return MonthPlan.objects.filter(silent, state=PlanState.SOLVING).update(state=PlanState.WAITING)


def _claimed(plan: MonthPlan) -> Any:
    return MonthPlan.objects.filter(pk=plan.pk, state=PlanState.SOLVING, claimed_at=plan.claimed_at)


def keep_plan(plan: MonthPlan, work: Work, *, today: date, ended_early: bool) -> bool:
    """Write the answer, unless the claim has passed to somebody else; call it inside a transaction."""
    problem, found = work
    if broken := list(routing.faults(problem, found)):
        # A plan that breaks a promise is not shown to anybody.
        raise AssertionError("; ".join(broken[:3]))
    summary: dict[str, float | int] = summary_of(problem, found)
    if ended_early:
        summary["ended_early"] = 1
    proposed = {"state": PlanState.PROPOSED, "solved_at": timezone.now(), "summary": summary}
    if not _claimed(plan).update(**proposed):
        return False
    held = {visit for visit, stop in queries.held_stops(plan).items() if stop.held}
    _copy_past(plan, today)
    Stop.objects.bulk_create(stop for one in found.routes for stop in _stops(plan, one, held))
    CrewRoute.objects.bulk_create(CrewRoute(plan=plan, **frame_of(one)) for one in found.routes)
    Unserved.objects.bulk_create(
        Unserved(plan=plan, visit_id=uid, reason=why.en[:200], reason_es=why.es[:200])
        for uid, why in found.unserved.items()
    )
    return True


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
        "asked_pairs": problem.travel.asked_pairs,
        "estimated_pairs": problem.travel.estimated_pairs,
    }


def _copy_past(plan: MonthPlan, today: date) -> None:
    """Take what is history of the month into the new plan as it is."""
    before = queries.past_stops(plan, today)
    frames = CrewRoute.objects.filter(plan=queries.held_last(plan), day__lt=today)
    Stop.objects.bulk_create(copies(before, plan))
    CrewRoute.objects.bulk_create(copies(frames, plan))


def copies(rows: Iterable[Any], plan: MonthPlan) -> Iterable[Any]:
    """Rows of another plan as new ones of this plan."""
    for row in rows:
        row.pk, row.plan, row._state.adding = None, plan, True
        yield row


def _stops(plan: MonthPlan, one: Route, held: set[int]) -> Iterable[Stop]:
    for position, timed in enumerate(one.stops, start=1):
        yield Stop(
            plan=plan,
            visit_id=timed.visit_uid,
            crew_id=one.crew_uid,
            day=one.day,
            position=position,
            held=timed.visit_uid in held,
            **times_of(timed),
        )


def times_of(timed: routing.TimedStop) -> dict[str, float | time]:
    """The clock of a stop, as its row keeps it."""
    return {
        "drive_minutes": timed.drive_minutes,
        "drive_miles": timed.drive_miles,
        "arrives_at": queries.clock(timed.arrives_minute),
        "leaves_at": queries.clock(timed.leaves_minute),
    }


def frame_of(one: Route) -> Mapping[str, Any]:
    """What frames the stops of a route, as its row keeps it."""
    return {
        "crew_id": one.crew_uid,
        "day": one.day,
        "starts_at": queries.clock(one.starts_minute),
        "ends_at": queries.clock(one.ends_minute),
        "return_minutes": one.return_minutes,
        "return_miles": one.return_miles,
        "overtime_minutes": one.overtime_minutes,
    }
