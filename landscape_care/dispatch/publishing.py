"""Making a plan the one that holds, or taking it back: first what it tells whom, then all of it at once."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from landscape_care.dispatch import letters, queries
from landscape_care.dispatch.changes import Change, Reasons, Sort, Spot, changes
from landscape_care.dispatch.models import MonthPlan, PlanState, Stop
from landscape_care.dispatch.months import allow_office, lock, not_ready, plan_name
from landscape_care.dispatch.refusals import PlanNotReady, SeenOtherwise, Words, both, day_words, misfit
from landscape_care.people.actions import record
from landscape_care.people.models import User
from landscape_care.trades.limits import Refused
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Visit, VisitState

NOT_IN_PLAN = Words(
    "The new plan of the month has no room for this visit",
    "El nuevo plan del mes no tiene lugar para esta visita",
)
PLANNED_AGAIN = Words("The month was planned again", "El mes se planeó de nuevo")
FIRST_TOLD = Words("Told for the first time", "Se avisa por primera vez")


# --- What publishing would do -------------------------------------------------------------------------


@dataclass(frozen=True)
class Effects:
    """What publishing a plan tells: each visit that changes, and how many stay as people know them."""

    plan: MonthPlan
    changes: tuple[Change, ...]
    unchanged: int
    visits: Mapping[int, Visit]
    refusal: PlanNotReady | None
    seen: str

    @property
    def of_clients(self) -> tuple[Change, ...]:
        """What owners read of: another crew at the same hour is no news to them."""
        return tuple(one for one in self.changes if one.sort != Sort.OTHER_CREW or _other_hours(one))

    @property
    def crews(self) -> tuple[str, ...]:
        """Names of the crews whose days change."""
        return tuple(sorted({name for one in self.changes for name in one.crews}))

    @property
    def urgent(self) -> frozenset[int]:
        """Visits of urgent calls: of these even the first day is news."""
        return frozenset(uid for uid, visit in self.visits.items() if visit.urgent)


def _other_hours(change: Change) -> bool:
    was, now = change.was, change.now
    return bool(was and now and (was.arrives_at, was.leaves_at) != (now.arrives_at, now.leaves_at))


def effects(plan: MonthPlan, today: date, *, reasons: Reasons | None = None) -> Effects:
    """What publishing a plan would tell whom and take back."""
    stops = list(_stops_ahead(plan, today))
    told = _told(plan, today)
    after = {stop.visit_id: stop_spot(stop) for stop in stops if stop.visit.state != VisitState.DONE}
    history = set(plan.stops.filter(day__lt=today).values_list("visit_id", flat=True)) - after.keys()
    before = {v.pk: spot for v in told if v.pk not in history and (spot := told_spot(v))}
    known = {visit.pk: visit for visit in (*told, *(stop.visit for stop in stops))}
    found = changes(before, after, reasons or _usual_reasons(plan))
    same = sum(before.get(uid) == spot for uid, spot in after.items())
    return Effects(plan, found, same, known, _stale(plan, stops, today), seen_of(plan, stops, told))


def _usual_reasons(plan: MonthPlan) -> Reasons:
    return Reasons(
        hit={},
        unserved={row.visit_id: Words(row.reason, row.reason_es) for row in plan.unserved.all()},
        gave_way=PLANNED_AGAIN,
        other_hour=PLANNED_AGAIN,
        new=FIRST_TOLD,
    )


def _stops_ahead(plan: MonthPlan, today: date) -> QuerySet[Stop]:
    rows = plan.stops.filter(day__gte=today).select_related("crew", "visit__property__client")
    return rows.order_by("day", "arrives_at", "pk")


def _told(plan: MonthPlan, today: date) -> list[Visit]:
    """Visits that people know of in what is left of the month."""
    days = queries.month_days(plan.month)
    rows = Visit.objects.filter(
        property__depot=plan.depot, state=VisitState.PUBLISHED, day__range=(max(days[0], today), days[-1])
    )
    elsewhere = Visit.objects.filter(
        property__depot=plan.depot, state=VisitState.PUBLISHED, stops__in=plan.stops.filter(day__gte=today)
    )
    return list((rows | elsewhere).select_related("property__client").distinct().order_by("pk"))


def told_spot(visit: Visit) -> Spot | None:
    """Where people know a visit to be."""
    if visit.day is None or visit.arrives_at is None or visit.leaves_at is None:
        return None
    return Spot(visit.day, visit.crew_name, visit.arrives_at, visit.leaves_at)


def stop_spot(stop: Stop) -> Spot:
    """Where a plan has a visit."""
    return Spot(stop.day, stop.crew.name, stop.arrives_at, stop.leaves_at)


def seen_of(plan: MonthPlan, stops: Iterable[Stop], told: Iterable[Visit]) -> str:
    """A mark of everything that the effects of a plan follow from; another one when any of it changed."""
    parts = [f"{plan.pk} {plan.state}"]
    parts += sorted(
        f"{s.visit_id} {s.crew_id} {s.day} {s.arrives_at} {s.version} {s.visit.state}" for s in stops
    )
    parts += sorted(f"{v.pk} {v.revision} {v.state}" for v in told)
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _stale(plan: MonthPlan, stops: Sequence[Stop], today: date) -> PlanNotReady | None:
    """Why a plan cannot be published as it stands."""
    if plan.state != PlanState.PROPOSED:
        return not_ready(
            plan,
            "Plan {plan} is {state}, and only a proposed one can be published.",
            "El plan {plan} está {state}; solo se puede publicar uno propuesto.",
        )
    missed = plan.stops.filter(day__lt=today, visit__state=VisitState.PLANNED)
    gone = [stop for stop in stops if stop.visit.state == VisitState.WITHDRAWN]
    for stop in [*missed.select_related("visit__property"), *gone]:
        return PlanNotReady(
            both(
                "The visit {visit} on {day} has changed or passed since the plan was made;"
                " propose the month again.",
                "La visita {visit} del {day} cambió o pasó desde que se hizo el plan;"
                " proponga el mes de nuevo.",
                visit=str(stop.visit),
                day=day_words(stop.day),
            )
        )
    return None


# --- Publishing ---------------------------------------------------------------------------------------


@transaction.atomic
def publish(plan_id: int, *, by: User | None, today: date, seen: str | None = None) -> MonthPlan:
    """Make a proposed plan the one that holds, and tell people; all of it or nothing.

    With `seen`, the mark of the effects that somebody looked at, it is refused when they have changed.
    """
    plan = _locked(plan_id, by)
    if plan.state == PlanState.PUBLISHED:
        return plan
    return make_hold(plan, effects(plan, today), by=by, today=today, seen=seen)


def _locked(plan_id: int, by: User | None) -> MonthPlan:
    allow_office(by)
    plan = MonthPlan.objects.select_related("depot").get(pk=plan_id)
    lock(plan.depot_id)
    plan.refresh_from_db()
    return plan


def make_hold(
    plan: MonthPlan, found: Effects, *, by: User | None, today: date, seen: str | None
) -> MonthPlan:
    """Publish a plan with the effects that were found under the lock; call it inside a transaction."""
    if found.refusal:
        raise found.refusal
    if seen is not None and seen != found.seen:
        raise SeenOtherwise(
            Words(
                "Something changed since you looked; look at it again before you confirm.",
                "Algo cambió desde que lo miró; mírelo de nuevo antes de confirmar.",
            )
        )
    others = MonthPlan.objects.filter(depot=plan.depot, month=plan.month, state=PlanState.PUBLISHED)
    others.update(state=PlanState.SUPERSEDED)
    plan.state, plan.published_at = PlanState.PUBLISHED, timezone.now()
    plan.save(update_fields=["state", "published_at"])
    for stop in _stops_ahead(plan, today):
        announce(stop, by=by)
    for change in found.changes:
        if change.sort == Sort.TAKEN_BACK:
            visits.withdraw(found.visits[change.visit_id], change.why.en, by=by)
    letters.write(news_of(found), found.visits, about=f"plan {plan.pk}")
    record("publish month", plan_name(plan), by=by, **plan.summary)
    return plan


def news_of(found: Effects) -> Sequence[Change]:
    """What letters tell: changes of what people know. Of new visits calendars tell, and urgent calls."""
    return [one for one in found.changes if one.was is not None or one.visit_id in found.urgent]


def announce(stop: Stop, *, by: User | None) -> None:
    """Tell people of a stop what it says now; nothing of visits that are over."""
    if stop.visit.state in (VisitState.DONE, VisitState.WITHDRAWN):
        return
    visits.announce(
        stop.visit,
        day=stop.day,
        arrives_at=stop.arrives_at,
        leaves_at=stop.leaves_at,
        crew_name=stop.crew.name,
        by=by,
    )


# --- Taking back --------------------------------------------------------------------------------------


def told_ahead(plan: MonthPlan, today: date) -> list[Visit]:
    """Visits of a month that people expect from today on."""
    return [visit for visit in _told(plan, today) if visit.day and visit.day >= today]


@transaction.atomic
def withdraw_month(plan_id: int, reason: str, *, by: User | None, today: date) -> MonthPlan:
    """Take back a published month: every visit still to come is withdrawn with the reason, or none."""
    plan = _locked(plan_id, by)
    if not reason.strip() or len(reason) > 200:
        wanted = both(
            "why the month is taken back, at most 200 characters",
            "por qué se retira el mes, con 200 caracteres como máximo",
        )
        raise Refused([misfit("reason", reason, wanted)])
    if plan.state != PlanState.PUBLISHED:
        raise not_ready(
            plan,
            "Plan {plan} is {state}, and only a published one can be taken back.",
            "El plan {plan} está {state}; solo se puede retirar uno publicado.",
        )
    told = told_ahead(plan, today)
    why = Words(reason.strip(), reason.strip())
    taken = tuple(Change(v.pk, spot, None, why) for v in told if (spot := told_spot(v)))
    for visit in told:
        visits.withdraw(visit, reason, by=by)
    plan.state, plan.withdrawn_at, plan.withdrawn_reason = PlanState.WITHDRAWN, timezone.now(), reason.strip()
    plan.save(update_fields=["state", "withdrawn_at", "withdrawn_reason"])
    letters.write(taken, {visit.pk: visit for visit in told}, about=f"withdrawal {plan.pk}")
    record("withdraw month", plan_name(plan), by=by, reason=reason, visits=len(told))
    return plan
