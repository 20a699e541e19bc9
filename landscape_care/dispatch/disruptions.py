"""What goes against a published month: asked, worked out, looked at, then confirmed at once or dropped.

The answer is a further plan of the month that changes as little as it can. Until it is confirmed
nobody is told and nothing holds; it is confirmed only while everything it was worked out from still
stands, and otherwise it is worked out and shown again.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, time, timedelta

from django.db import transaction
from django.utils import timezone

from landscape_care.care.urgent_calls import UrgentWork
from landscape_care.dispatch import hits, months, queries
from landscape_care.dispatch.changes import Reasons
from landscape_care.dispatch.hits import Hit
from landscape_care.dispatch.models import (
    Closure,
    Crew,
    CrewDayOff,
    CrewHours,
    Disruption,
    DisruptionKind,
    MonthPlan,
    PlanState,
    Stop,
    Unserved,
)
from landscape_care.dispatch.months import Work, allow_office, lock, not_ready, plan_name
from landscape_care.dispatch.publishing import Effects, effects, make_hold
from landscape_care.dispatch.refusals import SeenOtherwise, Words, both, day_words, misfit
from landscape_care.dispatch.replanning import replan, with_grace
from landscape_care.dispatch.routing import Order, RouteProblem, Told
from landscape_care.people.actions import record
from landscape_care.people.models import User
from landscape_care.properties.models import Depot, Property
from landscape_care.trades.limits import Problem, Refused
from landscape_care.visits import actions as visits
from landscape_care.visits.models import VisitState

SECONDS = 10
OF_CREWS = (
    DisruptionKind.RAIN,
    DisruptionKind.HEAT,
    DisruptionKind.CREW_AWAY,
    DisruptionKind.VEHICLE_DOWN,
)
OF_ALL_CREWS = (DisruptionKind.RAIN, DisruptionKind.HEAT)


# --- Asking -------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Ask:
    """What happened: of which kind, on which days, whom it hits."""

    kind: str
    first_day: date
    last_day: date
    crews: tuple[Crew, ...] = ()
    place: Property | None = None
    opens_at: time | None = None
    closes_at: time | None = None
    work: UrgentWork | None = None
    words: str = ""


@transaction.atomic
def disrupt(depot: Depot, ask: Ask, *, by: User | None, today: date) -> Disruption:
    """Ask what a disruption changes; the answer is worked out in the background."""
    allow_office(by)
    lock(depot.pk)
    base = queries.published_plan(depot, ask.first_day)
    problems = list(_problems(depot, base, ask, today))
    if problems or base is None:
        raise Refused(problems)
    visit = None
    if ask.kind == DisruptionKind.URGENT_CALL and ask.place and ask.work:
        visit = visits.add_urgent(ask.place, ask.words, work=ask.work, today=today, by=by)
    row = Disruption.objects.create(
        kind=ask.kind,
        first_day=ask.first_day,
        last_day=ask.last_day,
        property=ask.place,
        opens_at=ask.opens_at,
        closes_at=ask.closes_at,
        words=ask.words.strip(),
        visit=visit,
        base=base,
        plan=months.new_plan(depot, base.month, by=by, seconds=SECONDS),
        asked_by=by,
    )
    row.crews.set(_crews_hit(depot, ask))
    record("ask disruption", _name(row), by=by, kind=ask.kind, days=f"{ask.first_day} {ask.last_day}")
    return row


def _crews_hit(depot: Depot, ask: Ask) -> Sequence[Crew]:
    if ask.kind not in OF_CREWS:
        return ()
    return ask.crews or tuple(depot.crews.filter(active=True)) if ask.kind in OF_ALL_CREWS else ask.crews


def _problems(depot: Depot, base: MonthPlan | None, ask: Ask, today: date) -> Iterable[Problem]:
    if ask.kind not in DisruptionKind.values:
        kinds = ", ".join(DisruptionKind.values)
        yield misfit("kind", ask.kind, both("one of {kinds}", "uno de {kinds}", kinds=kinds))
    if ask.first_day < today:
        ahead = both("{today} or later", "{today} o después", today=day_words(today))
        yield misfit("first_day", ask.first_day, ahead)
    elif base is None:
        published = both(
            "a day of a published month; {month} is not published",
            "un día de un mes publicado; {month} no está publicado",
            month=f"{ask.first_day:%Y-%m}",
        )
        yield misfit("first_day", ask.first_day, published)
    if ask.last_day < ask.first_day or (ask.last_day.year, ask.last_day.month) != (
        ask.first_day.year,
        ask.first_day.month,
    ):
        within = Words(
            "a day of the same month, not before the first", "un día del mismo mes, no anterior al primero"
        )
        yield misfit("last_day", ask.last_day, within)
    yield from _further_problems(depot, ask)


def _further_problems(depot: Depot, ask: Ask) -> Iterable[Problem]:
    if any(crew.depot_id != depot.pk for crew in ask.crews):
        own = both("crews of {depot}", "cuadrillas de {depot}", depot=depot.name)
        yield misfit("crews", ", ".join(crew.code for crew in ask.crews), own)
    elif ask.kind in OF_CREWS and ask.kind not in OF_ALL_CREWS and not ask.crews:
        yield misfit("crews", "", Words("the crew that it hits", "la cuadrilla afectada"))
    if ask.kind == DisruptionKind.HEAT and not (
        ask.opens_at and ask.closes_at and ask.opens_at < ask.closes_at <= time(23, 29)
    ):
        hours = Words(
            "when crews start, and a later time when they are back",
            "a qué hora salen y, después, a cuál vuelven",
        )
        yield misfit("closes_at", ask.closes_at, hours)
    if ask.kind in (DisruptionKind.PROPERTY_CLOSED, DisruptionKind.URGENT_CALL) and (
        ask.place is None or ask.place.depot_id != depot.pk
    ):
        own = both("a property of {depot}", "una propiedad de {depot}", depot=depot.name)
        yield misfit("property", ask.place.code if ask.place else "", own)
    if ask.kind == DisruptionKind.URGENT_CALL and not ask.words.strip():
        yield misfit("words", ask.words, Words("what is urgent", "qué es lo urgente"))
    if ask.kind == DisruptionKind.URGENT_CALL and ask.work is None:
        yield misfit("minutes", None, Words("how long the work takes", "cuánto tarda el trabajo"))
    if len(ask.words) > 200:
        yield misfit("words", ask.words, Words("at most 200 characters", "200 caracteres como máximo"))


def _name(row: Disruption) -> str:
    return f"disruption {row.pk}, {plan_name(row.plan)}"


# --- Working out --------------------------------------------------------------------------------------


def hit_of(row: Disruption, stops: Iterable[Stop] = ()) -> Hit | None:
    """A disruption as plain values; an urgent call takes nothing away."""
    days = frozenset(row.first_day + timedelta(n) for n in range((row.last_day - row.first_day).days + 1))
    if row.kind in OF_CREWS:
        hours = None
        if row.opens_at and row.closes_at and row.kind == DisruptionKind.HEAT:
            hours = (queries.minute(row.opens_at), queries.minute(row.closes_at))
        return Hit(days, crews=frozenset(row.crews.values_list("pk", flat=True)), hours=hours)
    there = frozenset(stop.visit_id for stop in stops if stop.visit.property_id == row.property_id)
    if row.kind == DisruptionKind.PROPERTY_CLOSED and there:
        return Hit(days, visits=there)
    return None


def work_out(plan: MonthPlan, today: date) -> Work:
    """The month as the disruption leaves it, and the plan that changes least."""
    row = plan.disruption
    row.base = queries.published_plan(plan.depot, plan.month) or row.base
    row.seen = mark_of(row.base, today)
    row.save(update_fields=["base", "seen"])
    stops = list(_stops(row.base, today))
    hit = hit_of(row, stops)
    # What is done on a day that a crew leaves off stays done; it needs no route any more.
    order = _order(stop for stop in stops if not (_is_done(stop) and _is_off(stop, hit)))
    problem = _problem(plan, row, stops, order, today)
    if hit is None:
        return Work(problem, replan(problem, order, frozenset()))
    struck = hits.struck(problem, hit)
    freed = hits.are_hit(order, hit) - {stop.visit_id for stop in stops if _is_done(stop)}
    struck = with_grace(struck, freed)
    return Work(struck, replan(struck, order, freed))


def _problem(
    plan: MonthPlan, row: Disruption, stops: Iterable[Stop], order: Order, today: date
) -> RouteProblem:
    """The problem of the month without visits that are not of the plan: those wait for a proposal."""
    problem = queries.route_problem(plan, today)
    wanted = {uid for uids in order.values() for uid in uids} | {row.visit_id}
    chosen = [visit for visit in problem.visits if visit.uid in wanted]
    places = tuple(problem.place_by_uid[visit.uid] for visit in chosen)
    problem = replace(problem, visits=tuple(chosen), places=places)
    fixed = [stop.visit_id for stop in stops if stop.held or _is_done(stop)]
    return hits.loosened(problem, {stop.visit_id: _told(stop) for stop in stops}, fixed)


def _stops(base: MonthPlan, today: date) -> Iterable[Stop]:
    rows = base.stops.filter(day__gte=today).exclude(visit__state=VisitState.WITHDRAWN)
    return rows.select_related("visit", "crew").order_by("day", "crew_id", "position")


def _order(stops: Iterable[Stop]) -> Order:
    order: Order = {}
    for stop in stops:
        order.setdefault((stop.crew_id, stop.day), []).append(stop.visit_id)
    return order


def _is_done(stop: Stop) -> bool:
    return stop.visit.state == VisitState.DONE


def _is_off(stop: Stop, hit: Hit | None) -> bool:
    """Whether the crew does not work any more on the day of a stop."""
    return hit is not None and hit.hours is None and stop.crew_id in hit.crews and stop.day in hit.days


def _told(stop: Stop) -> Told:
    return Told(stop.crew_id, stop.day, queries.minute(stop.arrives_at))


def keep_rest(plan: MonthPlan, today: date) -> None:
    """Take over what the answer leaves as it was: work done today, and what was unserved before."""
    row = plan.disruption
    hit = hit_of(row)
    taken = set(plan.stops.values_list("visit_id", flat=True))
    taken |= set(plan.unserved.values_list("visit_id", flat=True))
    done = (stop for stop in _stops(row.base, today) if _is_done(stop) and _is_off(stop, hit))
    over = [stop for stop in done if stop.visit_id not in taken]
    Stop.objects.bulk_create(months.copies(over, plan))
    before = row.base.unserved.filter(visit__state=VisitState.PLANNED).exclude(visit__in=taken)
    Unserved.objects.bulk_create(months.copies(before, plan))


def mark_of(base: MonthPlan, today: date) -> str:
    """A mark of all that an answer follows from; another one when any of it changed."""
    parts = [f"{base.pk} {base.state}"]
    parts += [
        f"{s.pk} {s.crew_id} {s.day} {s.arrives_at} {s.held} {s.version} {s.visit.state} {s.visit.revision}"
        for s in base.stops.filter(day__gte=today).select_related("visit").order_by("pk")
    ]
    crews = Crew.objects.filter(depot=base.depot_id).order_by("pk")
    names = ("pk", "active", "people", "skills", "shift_opens", "shift_closes", "break_minutes", "weekdays")
    parts += [str(values) for values in crews.values_list(*names)]
    for rows in (
        CrewDayOff.objects.filter(crew__in=crews),
        CrewHours.objects.filter(crew__in=crews),
        Closure.objects,
    ):
        parts += [str(number) for number in rows.order_by("pk").values_list("pk", flat=True)]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


# --- Looking ------------------------------------------------------------------------------------------

HIT_WORDS = {
    DisruptionKind.RAIN: ("Rain on {days}", "Lluvia el {days}"),
    DisruptionKind.HEAT: ("Other hours in the heat on {days}", "Otro horario por el calor el {days}"),
    DisruptionKind.CREW_AWAY: ("The crew is away on {days}", "La cuadrilla no está el {days}"),
    DisruptionKind.VEHICLE_DOWN: (
        "The crew has no vehicle on {days}",
        "La cuadrilla no tiene vehículo el {days}",
    ),
    DisruptionKind.PROPERTY_CLOSED: (
        "The property is closed on {days}",
        "La propiedad está cerrada el {days}",
    ),
    DisruptionKind.URGENT_CALL: ("Urgent call", "Llamada urgente"),
}
GAVE_WAY = Words("It makes way for visits that were hit", "Deja lugar a visitas afectadas")
OTHER_HOUR = Words("The route of the day changed", "Cambió la ruta del día")


def hit_words(row: Disruption) -> Words:
    """What happened, in a few words."""
    days = day_words(row.first_day)
    if row.last_day != row.first_day:
        last = day_words(row.last_day)
        days = Words(f"{days.en} to {last.en}", f"{days.es} al {last.es}")
    return both(*HIT_WORDS[DisruptionKind(row.kind)], days=days)


def shown_effects(row: Disruption, today: date) -> Effects:
    """What confirming a disruption would tell whom, with the reason of each change."""
    stops = list(_stops(row.base, today))
    hit = hit_of(row, stops)
    said = hit_words(row)
    struck = dict.fromkeys(hits.are_hit(_order(stops), hit), said) if hit else {}
    reasons = Reasons(
        hit=struck | ({row.visit_id: said} if row.visit_id else {}),
        unserved={one.visit_id: Words(one.reason, one.reason_es) for one in row.plan.unserved.all()},
        gave_way=GAVE_WAY,
        other_hour=OTHER_HOUR,
        new=said,
    )
    return effects(row.plan, today, reasons=reasons)


# --- Confirming ---------------------------------------------------------------------------------------


def confirm(number: int, *, seen: str, by: User | None, today: date) -> Disruption:
    """Make the answer hold and tell people, in one transaction, if all is still as it was looked at.

    Where something changed meanwhile the answer is worked out again, and nobody is told anything.
    """
    if not _confirmed(number, seen=seen, by=by, today=today):
        raise SeenOtherwise(
            Words(
                "Something changed since this was worked out. It is worked out again; look at it anew.",
                "Algo cambió desde que se calculó. Se calcula de nuevo; mírelo otra vez.",
            )
        )
    return Disruption.objects.select_related("plan__depot", "base").get(pk=number)


@transaction.atomic
def _confirmed(number: int, *, seen: str, by: User | None, today: date) -> bool:
    allow_office(by)
    row = _locked(number)
    if row.plan.state == PlanState.PUBLISHED:
        return True
    if row.plan.state != PlanState.PROPOSED:
        raise not_ready(
            row.plan,
            "Plan {plan} is {state}, and only a proposed one can be confirmed.",
            "El plan {plan} está {state}; solo se puede confirmar uno propuesto.",
        )
    if mark_of(row.base, today) != row.seen or row.base.state != PlanState.PUBLISHED:
        months.solve_again(row.plan)
        return False
    _keep_facts(row)
    make_hold(row.plan, shown_effects(row, today), by=by, today=today, seen=seen)
    Disruption.objects.filter(pk=number).update(confirmed_by=by, confirmed_at=timezone.now())
    record("confirm disruption", _name(row), by=by, kind=row.kind)
    return True


def _locked(number: int) -> Disruption:
    depot_id = Disruption.objects.values_list("plan__depot_id", flat=True).get(pk=number)
    lock(depot_id)
    rows = Disruption.objects.select_related("plan__depot", "base__depot", "property", "visit__property")
    return rows.get(pk=number)


def _keep_facts(row: Disruption) -> None:
    """Remember what happened, so that no later plan puts work there again."""
    days = [row.first_day + timedelta(n) for n in range((row.last_day - row.first_day).days + 1)]
    reason = hit_words(row).en[:120]
    if row.kind == DisruptionKind.PROPERTY_CLOSED and row.property:
        Closure.objects.create(
            property=row.property, first_day=row.first_day, last_day=row.last_day, reason=reason
        )
    for crew in row.crews.all():
        for day in days:
            if row.kind == DisruptionKind.HEAT:
                hours = {"opens_at": row.opens_at, "closes_at": row.closes_at, "reason": reason}
                CrewHours.objects.update_or_create(crew=crew, day=day, defaults=hours)
            else:
                CrewDayOff.objects.get_or_create(crew=crew, day=day, defaults={"reason": reason})


@transaction.atomic
def drop(number: int, *, by: User | None) -> Disruption:
    """Leave the month as it is; an urgent call that nobody was told of goes too."""
    allow_office(by)
    row = _locked(number)
    states = (PlanState.WAITING, PlanState.SOLVING, PlanState.PROPOSED, PlanState.FAILED)
    mine = MonthPlan.objects.filter(pk=row.plan_id, state__in=states)
    if not mine.update(state=PlanState.WITHDRAWN, withdrawn_at=timezone.now(), stop_wanted=True):
        raise not_ready(
            row.plan,
            "Plan {plan} is {state}; there is nothing left to drop.",
            "El plan {plan} está {state}; no queda nada que descartar.",
        )
    if row.visit and not row.visit.announced:
        visits.drop_urgent(row.visit, "The urgent call was dropped", by=by)
    record("drop disruption", _name(row), by=by)
    return Disruption.objects.select_related("plan__depot", "base").get(pk=number)
