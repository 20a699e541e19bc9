"""Changes by hand: moving a stop with what it costs, holding it, and another order for a crew's day."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from landscape_care.almanac.dates import zone
from landscape_care.dispatch import letters, queries, routing
from landscape_care.dispatch.changes import Change, Reasons, Spot, changes
from landscape_care.dispatch.models import Crew, CrewRoute, MonthPlan, PlanState, Stop
from landscape_care.dispatch.months import allow_office, frame_of, lock, not_ready, times_of
from landscape_care.dispatch.publishing import announce, stop_spot
from landscape_care.dispatch.refusals import (
    StopChanged,
    Words,
    both,
    day_words,
    misfit,
    moment_words,
    skill_words,
)
from landscape_care.dispatch.routing import Order, RouteProblem
from landscape_care.people.actions import record
from landscape_care.people.models import Role, User
from landscape_care.trades.limits import Problem, Refused
from landscape_care.visits.models import Visit, VisitState
from landscape_care.visits.queries import with_tasks

BY_HAND = Words("The office moved it", "La oficina la cambió")
BESIDE = Words("Another visit of the day was moved", "Se cambió otra visita del día")
REORDERED = Words("The order of the day changed", "Cambió el orden del día")

CrewDay = tuple[int, date]


# --- What a move costs --------------------------------------------------------------------------------


class Load(NamedTuple):
    """What some routes cost together."""

    drive_minutes: float
    overtime_minutes: int


@dataclass(frozen=True)
class Move:
    """A stop put on another day or crew, checked and reckoned but not done."""

    stop: Stop
    crew: Crew
    day: date
    before: Load
    after: Load
    problem: RouteProblem
    order: Order
    changes: tuple[Change, ...]
    names: Mapping[int, str]

    @property
    def more_minutes(self) -> float:
        """Driving that the move adds; less than nothing when it saves some."""
        return self.after.drive_minutes - self.before.drive_minutes

    @property
    def spot(self) -> Spot | None:
        """Where the stop would be; None where it stays as it is."""
        own = (change.now for change in self.changes if change.visit_id == self.stop.visit_id)
        return next(own, None)

    @property
    def others(self) -> list[tuple[Change, str]]:
        """Visits that come at another hour because of it, with the names of their gardens."""
        return [(c, self.names[c.visit_id]) for c in self.changes if c.visit_id != self.stop.visit_id]


def weigh_move(stop_id: int, *, day: date, crew: Crew, by: User | None, today: date) -> Move:
    """Say what a move would cost, without doing it; what cannot be is refused as the move itself is."""
    allow_office(by)
    return _move(_stop(stop_id), day, crew, today)


def _stop(stop_id: int) -> Stop:
    rows = Stop.objects.select_related("plan__depot", "visit__property__client", "crew")
    return rows.get(pk=stop_id)


def _move(stop: Stop, day: date, crew: Crew, today: date) -> Move:
    _refuse_replaced(stop.plan)
    _refuse_move(stop, day, crew, today)
    here, there = (stop.crew_id, stop.day), (crew.pk, day)
    rows = _rows(stop.plan, {here, there})
    order = _order(rows, {here, there})
    problem = _problem_of(stop.plan, order, {stop.visit_id: there}, today)
    before = _load(stop.plan, order.keys(), rows.values())
    order[here].remove(stop.visit_id)
    if not routing.insert(problem, order, problem.visit(stop.visit_id)):
        raise Refused([misfit("day", day, ROOM)])
    routes = _routes(problem, order, day)
    after = Load(
        sum(route.drive_minutes for route in routes), sum(route.overtime_minutes for route in routes)
    )
    names = {uid: row.visit.property.name for uid, row in rows.items()}
    return Move(stop, crew, day, before, after, problem, order, _moved(stop, rows, routes), names)


ROOM = Words(
    "a day and crew with room in the shift and the access hours",
    "un día y una cuadrilla con lugar en la jornada y en el horario de acceso",
)
KEEP_HOURS = Words(
    "a day whose other stops keep their hours", "un día cuyas otras visitas conserven su horario"
)


def _rows(plan: MonthPlan, keys: Iterable[CrewDay]) -> dict[int, Stop]:
    """The stops of some crew days by visit, in order; nobody drives to one that was withdrawn."""
    wanted = set(keys)
    stops = plan.stops.exclude(visit__state=VisitState.WITHDRAWN).filter(day__in={day for _, day in wanted})
    rows = stops.select_related("crew", "visit__property__client").order_by("position")
    return {stop.visit_id: stop for stop in rows if (stop.crew_id, stop.day) in wanted}


def _order(rows: Mapping[int, Stop], keys: Iterable[CrewDay]) -> Order:
    order: Order = {key: [] for key in keys}
    for visit_id, stop in rows.items():
        order[stop.crew_id, stop.day].append(visit_id)
    return order


def _problem_of(plan: MonthPlan, order: Order, moved: Mapping[int, CrewDay], today: date) -> RouteProblem:
    """Some routes alone; all their stops are held where they are, or where they are moved to."""
    uids = {uid for route in order.values() for uid in route}
    rows = Visit.objects.filter(pk__in=uids).select_related("property").prefetch_related(with_tasks())
    held = {uid: key for key, route in order.items() for uid in route} | dict(moved)
    days = sorted({day for _, day in order})
    shifts = queries.crew_shifts(
        Crew.objects.select_related("depot").filter(pk__in={crew for crew, _ in order}), days
    )
    return queries.problem_of(plan.depot, shifts, list(rows), days=days, today=today, held=held)


def _load(plan: MonthPlan, keys: Iterable[CrewDay], stops: Iterable[Stop]) -> Load:
    """What routes cost as they stand in the rows."""
    frames = list(_frames(plan, keys))
    driving = sum(stop.drive_minutes for stop in stops) + sum(frame.return_minutes for frame in frames)
    return Load(driving, sum(frame.overtime_minutes for frame in frames))


def _frames(plan: MonthPlan, keys: Iterable[CrewDay]) -> Iterable[CrewRoute]:
    wanted = set(keys)
    rows = plan.crew_routes.filter(day__in={day for _, day in wanted}).select_related("changed_by")
    return (frame for frame in rows if (frame.crew_id, frame.day) in wanted)


def _routes(problem: RouteProblem, order: Order, day: date) -> list[routing.Route]:
    routes = []
    for (crew_id, on), uids in order.items():
        found = routing.route(problem, crew_id, on, uids)
        if found is None:
            raise Refused([misfit("day", day, KEEP_HOURS)])
        routes.append(found)
    return routes


def _moved(stop: Stop, rows: Mapping[int, Stop], routes: Sequence[routing.Route]) -> tuple[Change, ...]:
    reasons = Reasons({stop.visit_id: BY_HAND}, {}, gave_way=BESIDE, other_hour=BESIDE, new=BY_HAND)
    return _changes(rows, routes, reasons)


def _changes(
    rows: Mapping[int, Stop], routes: Sequence[routing.Route], reasons: Reasons
) -> tuple[Change, ...]:
    names = dict(Crew.objects.filter(pk__in={route.crew_uid for route in routes}).values_list("pk", "name"))
    before = {uid: stop_spot(row) for uid, row in rows.items()}
    after = {
        timed.visit_uid: Spot(
            route.day,
            names[route.crew_uid],
            queries.clock(timed.arrives_minute),
            queries.clock(timed.leaves_minute),
        )
        for route in routes
        for timed in route.stops
    }
    return changes(before, after, reasons)


# --- What is refused ----------------------------------------------------------------------------------


def _refuse_replaced(plan: MonthPlan) -> None:
    if plan.state not in queries.SHOWN:
        raise not_ready(
            plan,
            "Plan {plan} is {state}; change the one that holds now.",
            "El plan {plan} está {state}; cambie el que vale ahora.",
        )


def _refuse_move(stop: Stop, day: date, crew: Crew, today: date) -> None:
    visit = stop.visit
    if stop.day < today or visit.state in (VisitState.DONE, VisitState.WITHDRAWN):
        ahead = Words("a stop that is still to come", "una visita que todavía no ha pasado")
        raise Refused([misfit("stop", str(stop), ahead)])
    problems = [*_day_problems(stop, day, today), *_crew_problems(stop, day, crew)]
    if problems:
        raise Refused(problems)


def _day_problems(stop: Stop, day: date, today: date) -> Iterable[Problem]:
    month = stop.plan.month
    if day < today or (day.year, day.month) != (month.year, month.month):
        inside = both(
            "a day of {month} from {today} on",
            "un día de {month} desde el {today}",
            month=f"{month:%Y-%m}",
            today=day_words(max(today, month)),
        )
        yield misfit("day", day, inside)
    elif day not in queries.allowed_days(stop.visit, today):
        window = both(
            "an allowed weekday from {opens} to {closes}",
            "un día permitido del {opens} al {closes}",
            opens=day_words(stop.visit.opens_on),
            closes=day_words(stop.visit.closes_on),
        )
        yield misfit("day", day, window)
    elif queries.is_closed(stop.visit.property_id, day):
        yield misfit(
            "day", day, Words("a day on which the garden is open", "un día en que el jardín esté abierto")
        )


def _crew_problems(stop: Stop, day: date, crew: Crew) -> Iterable[Problem]:
    visit, depot = stop.visit, stop.plan.depot
    if crew.depot_id != depot.pk or not crew.active:
        yield misfit(
            "crew", crew.code, both("an active crew of {d}", "una cuadrilla activa de {d}", d=str(depot))
        )
    elif missing := set(visit.skills) - set(crew.skills):
        able = both("a crew with {skills}", "una cuadrilla con {skills}", skills=skill_words(missing))
        yield misfit("crew", crew.code, able)
    elif crew.people < visit.people:
        enough = both("a crew of {n} people or more", "una cuadrilla de {n} personas o más", n=visit.people)
        yield misfit("crew", crew.code, enough)
    elif not queries.crew_shifts([crew], [day])[0].days:
        works = both("a crew that works on {day}", "una cuadrilla que trabaje el {day}", day=day_words(day))
        yield misfit("crew", crew.code, works)


# --- Moving -------------------------------------------------------------------------------------------


@transaction.atomic
def move_stop(stop_id: int, *, day: date, crew: Crew, version: int, by: User | None, today: date) -> Stop:
    """Put a stop on another day or crew where it adds least driving; both routes get new times."""
    allow_office(by)
    stop = _changeable(stop_id, version)
    move = _move(stop, day, crew, today)
    was = f"{stop.day} {stop.crew_id}"
    _write(stop.plan, move.problem, move.order, by=by)
    Stop.objects.filter(pk=stop.pk).update(held=True, version=F("version") + 1)
    _tell(stop.plan, move.changes, about=f"stop {stop.pk} version {version + 1}", by=by)
    record("move stop", queries.stop_subject(stop), by=by, day=str(day), crew=crew.code, was=was)
    stop.refresh_from_db()
    return stop


def _changeable(stop_id: int, version: int) -> Stop:
    """The stop, with its depot locked, if it is still as the person saw it."""
    lock(Stop.objects.values_list("plan__depot_id", flat=True).get(pk=stop_id))
    stop = _stop(stop_id)
    if stop.version != version:
        raise stop_changed(stop)
    _refuse_replaced(stop.plan)
    return stop


def stop_changed(stop: Stop) -> StopChanged:
    """Who changed a stop, when, and where it is now."""
    entry = queries.last_change(stop)
    who = entry.by.get_username() if entry and entry.by else None
    return StopChanged(
        both(
            "{visit} was changed by {who}{when}; it is on {day} with {crew} now."
            " Look at it again before you change it.",
            "{who} cambió {visit}{when}; ahora está el {day} con {crew}. Mírela de nuevo antes de cambiarla.",
            visit=stop.visit.property.name,
            who=Words(who or "the system", who or "El sistema"),
            when=_at(stop.plan, entry.at if entry else None),
            day=day_words(stop.day),
            crew=stop.crew.name,
        )
    )


def _at(plan: MonthPlan, moment: datetime | None) -> Words:
    if moment is None:
        return Words("", "")
    said = moment_words(timezone.localtime(moment, zone(plan.depot.time_zone)))
    return Words(f" at {said.en}", f" a las {said.es}")


def _write(plan: MonthPlan, problem: RouteProblem, order: Order, *, by: User | None) -> None:
    """Write the new times of some routes."""
    rows = {row.visit_id: row for row in plan.stops.filter(visit__in=problem.place_by_uid)}
    for (crew_id, day), uids in order.items():
        found = routing.route(problem, crew_id, day, uids)
        if found is None:
            raise Refused([misfit("day", day, KEEP_HOURS)])
        for position, timed in enumerate(found.stops, start=1):
            row = rows[timed.visit_uid]
            row.crew_id, row.day, row.position = crew_id, day, position
            for name, value in times_of(timed).items():
                setattr(row, name, value)
            row.save()
        _write_frame(plan, found, by=by)


def _write_frame(plan: MonthPlan, found: routing.Route, *, by: User | None) -> None:
    values = dict(frame_of(found))
    crew_id, day = values.pop("crew_id"), values.pop("day")
    if not found.stops:
        values |= {"return_minutes": 0.0, "return_miles": 0.0, "overtime_minutes": 0}
    values |= {"changed_by": by, "changed_at": timezone.now()}
    frames = CrewRoute.objects.filter(plan=plan, crew_id=crew_id, day=day)
    if not frames.update(**values, version=F("version") + 1):
        CrewRoute.objects.create(plan=plan, crew_id=crew_id, day=day, version=1, **values)


def _tell(plan: MonthPlan, found: Sequence[Change], *, about: str, by: User | None) -> None:
    """Tell people what changed, when the plan is one that they know."""
    if plan.state != PlanState.PUBLISHED:
        return
    rows = plan.stops.filter(visit__in=[change.visit_id for change in found])
    visits = {}
    for row in rows.select_related("visit__property__client", "crew"):
        announce(row, by=by)
        visits[row.visit_id] = row.visit
    letters.write(found, visits, about=about)


# --- Holding ------------------------------------------------------------------------------------------


def hold_stop(stop_id: int, *, version: int, by: User | None) -> Stop:
    """Keep day and crew of a stop when the month is planned again."""
    return _set_held(stop_id, held=True, version=version, by=by)


def release_stop(stop_id: int, *, version: int, by: User | None) -> Stop:
    """Let the next plan choose day and crew of a stop; what people were told still holds."""
    return _set_held(stop_id, held=False, version=version, by=by)


@transaction.atomic
def _set_held(stop_id: int, *, held: bool, version: int, by: User | None) -> Stop:
    allow_office(by)
    stop = _changeable(stop_id, version)
    if stop.held != held:
        Stop.objects.filter(pk=stop_id).update(held=held, version=F("version") + 1)
        record("hold stop" if held else "release stop", queries.stop_subject(stop), by=by)
        stop.refresh_from_db()
    return stop


# --- Another order ------------------------------------------------------------------------------------


@transaction.atomic
def reorder_day(
    crew: Crew, day: date, stop_ids: Sequence[int], *, version: int, by: User | None, today: date
) -> CrewRoute:
    """Drive the stops of a published day in another order; what is done stays first.

    The office may for any day still to come, the crew itself for today.
    """
    lock(crew.depot_id)
    _allow_reorder(crew, day, by, today)
    plan = queries.published_plan(crew.depot, day)
    if plan is None:
        published = Words("a day that is published", "un día que esté publicado")
        raise Refused([misfit("day", day, published)])
    _refuse_reordered(plan, crew, day, version)
    rows = _rows(plan, [(crew.pk, day)])
    uids = _uids_in_order(rows, stop_ids)
    order = {(crew.pk, day): uids}
    problem = _problem_of(plan, order, {}, today)
    if routing.route(problem, crew.pk, day, uids) is None:
        raise Refused([misfit("order", len(uids), IN_HOURS)])
    reasons = Reasons({}, {}, gave_way=REORDERED, other_hour=REORDERED, new=REORDERED)
    found = _changes(rows, _routes(problem, order, day), reasons)
    _write(plan, problem, order, by=by)
    frame = plan.crew_routes.get(crew=crew, day=day)
    _tell(plan, found, about=f"route {frame.pk} version {frame.version}", by=None)
    record("reorder day", f"route {crew.code} {day}", by=by, stops=list(stop_ids))
    return frame


IN_HOURS = Words(
    "an order in which every stop keeps its access hours and the crew is back in time",
    "un orden en que cada visita conserve su horario de acceso y la cuadrilla vuelva a tiempo",
)


def _allow_reorder(crew: Crew, day: date, by: User | None, today: date) -> None:
    if day < today:
        raise Refused([misfit("day", day, both("{t} or later", "{t} o después", t=day_words(today)))])
    if by is None or by.in_office():
        return
    if by.role != Role.CREW or not crew.members.filter(pk=by.pk).exists() or day != today:
        raise PermissionDenied("Only the office and, today, the crew itself change the order of its day.")


def _refuse_reordered(plan: MonthPlan, crew: Crew, day: date, version: int) -> None:
    frame = plan.crew_routes.filter(crew=crew, day=day).select_related("changed_by").first()
    if (frame.version if frame else 0) == version:
        return
    who = frame.changed_by.get_username() if frame and frame.changed_by else None
    raise StopChanged(
        both(
            "The route of {crew} on {day} was changed by {who}{when}. Look at it again before you change it.",
            "{who} cambió la ruta de {crew} del {day}{when}. Mírela de nuevo antes de cambiarla.",
            crew=crew.name,
            day=day_words(day),
            who=Words(who or "the system", who or "El sistema"),
            when=_at(plan, frame.changed_at if frame else None),
        )
    )


def _uids_in_order(rows: Mapping[int, Stop], stop_ids: Sequence[int]) -> list[int]:
    by_id = {row.pk: row for row in rows.values()}
    if sorted(stop_ids) != sorted(by_id):
        all_once = Words("each stop of the day once", "cada visita del día una vez")
        raise Refused([misfit("order", ", ".join(map(str, stop_ids)), all_once)])
    # What is done was driven already.
    done_first = sorted(stop_ids, key=lambda number: by_id[number].visit.state != VisitState.DONE)
    return [by_id[number].visit_id for number in done_first]
