"""Writes of the visits room: what is in a visit, when it is, and what was really done."""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from typing import IO, Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils import timezone

from landscape_care.care import actions as care
from landscape_care.care import background as care_background
from landscape_care.care.measures import check_reading
from landscape_care.care.models import CareTask
from landscape_care.care.urgent_calls import UrgentWork, ask_urgent, drop_urgent_tasks
from landscape_care.people.actions import record
from landscape_care.people.models import Language, Role, User
from landscape_care.properties import actions as properties
from landscape_care.properties.models import InstalledThing, Photo, Property
from landscape_care.trades.limits import Problem, Refused
from landscape_care.visits import queries
from landscape_care.visits.bundling import Bundle, bundle
from landscape_care.visits.joining import Joined, join
from landscape_care.visits.models import (
    BundlingRun,
    Completion,
    DayRequest,
    Outcome,
    TimeMark,
    TimeSort,
    Visit,
    VisitState,
    VisitTask,
)

HORIZON_DAYS = 123  # this month and the three that follow
ANSWER_DAYS = 2  # how long a visit that is over waits for a crew without signal
NOT_REPORTED = "Nobody reported this visit as done"
NOTHING_LEFT = "Nothing is left to do on this visit"


class BodyDiffers(Exception):  # noqa: N818 - it reads as a sentence
    """A completion came again under the same id with another body."""


class VisitWithdrawn(Exception):  # noqa: N818 - it reads as a sentence
    """The visit was withdrawn; `reason` says why."""

    def __init__(self, visit: Visit) -> None:
        self.reason = visit.withdrawn_reason
        super().__init__(f"This visit was withdrawn: {self.reason}")


@dataclass(frozen=True, slots=True)
class BundleReport:
    """How many visits a bundling added, changed and withdrew, and how many tasks told visits took up."""

    added: int = 0
    changed: int = 0
    withdrawn: int = 0
    joined: int = 0


# --- Bundling ---------------------------------------------------------------------------------------


@transaction.atomic
def bundle_property(property_id: int, *, today: date, through: date | None = None) -> BundleReport:
    """Bring the visits of a property in line with its open care tasks; twice changes nothing more."""
    row = Property.objects.select_for_update().get(pk=property_id)
    started = timezone.now()
    last = through or today + timedelta(HORIZON_DAYS)
    _close_told(row, today)
    tasks = queries.tasks_to_bundle(row, last)
    visits, existing = queries.existing_visits(row)
    work = {task.key: task for task in queries.as_open_tasks(tasks.values())}
    wanted = bundle(work.values(), queries.terms_of(row), existing=existing, today=today)
    joined = join(wanted, work, queries.told_visits(visits.values()), today=today)
    report = replace(_apply(row, joined.left, visits, tasks), joined=_take_up(joined, visits, tasks))
    BundlingRun.objects.update_or_create(
        property=row, defaults={"at": started, "on_day": today, "through": last}
    )
    return report


def _close_told(row: Property, today: date) -> None:
    """End published visits that are over or empty, so that open work is free for the next visit."""
    over = queries.told_in_the_past(row, today - timedelta(ANSWER_DAYS))
    for visit, reason in [(v, NOT_REPORTED) for v in over] + [
        (v, NOTHING_LEFT) for v in queries.told_without_work(row)
    ]:
        if queries.was_worked_on(visit):
            _become_done(visit)
        else:
            _withdraw(visit, reason, by=None)


def _apply(
    row: Property, wanted: Sequence[Bundle], visits: Mapping[str, Visit], tasks: Mapping[str, CareTask]
) -> BundleReport:
    slots = {one.slot for one in wanted}
    planned = [v for v in visits.values() if v.state == VisitState.PLANNED and not v.urgent]
    gone = [visit for visit in planned if visit.slot not in slots]
    _release(gone)
    for visit in gone:
        _withdraw(visit, NOTHING_LEFT, by=None)
    changed = [one for one in wanted if one.slot in visits and _fill(visits[one.slot], one)]
    added = [one for one in wanted if one.slot not in visits]
    new = Visit.objects.bulk_create(_new_visit(row, one) for one in added)
    _link({**visits, **{visit.slot: visit for visit in new}}, wanted, tasks)
    return BundleReport(len(added), len(changed), len(gone))


def _take_up(joined: Joined, visits: Mapping[str, Visit], tasks: Mapping[str, CareTask]) -> int:
    """Put work onto told visits: what people read of them changes, day and hour stay."""
    for slot, keys in joined.onto.items():
        visit, more = visits[slot], [tasks[key] for key in keys]
        VisitTask.objects.bulk_create(VisitTask(task=task, visit=visit) for task in more)
        visit.skills = sorted({*visit.skills, *(task.skill for task in more)})
        _save_told(visit)
        record("join told visit", _name(visit), day=str(visit.day), tasks=sorted(keys))
    return sum(len(keys) for keys in joined.onto.values())


def _new_visit(row: Property, one: Bundle) -> Visit:
    agreement = getattr(row, "agreement", None)
    weekdays = agreement.weekdays if agreement else queries.DEFAULT_WEEKDAYS
    visit = Visit(property=row, slot=one.slot, weekdays=weekdays, changed_at=timezone.now())
    for name, value in _columns(one).items():
        setattr(visit, name, value)
    return visit


def _columns(one: Bundle) -> dict[str, Any]:
    return {
        "opens_on": one.opens_on,
        "closes_on": one.closes_on,
        "minutes": one.minutes,
        "people": one.people,
        "skills": list(one.skills),
        "notes": _notes(one),
    }


def _notes(one: Bundle) -> list[list[str]]:
    notes = []
    if one.off_window:
        count, day = len(one.off_window), one.opens_on
        en = f"{count} of these tasks have no allowed weekday inside their window; the nearest is {day}."
        es = (
            f"{count} de estas tareas no tienen un día permitido dentro de su plazo; el más cercano es {day}."
        )
        notes.append([en, es])
    if one.beside is not None:
        told, reason = one.beside
        en, es = _NO_HELP[reason]
        en = f"A visit is told for {told}; this one comes on top because {en}."
        es = f"Ya hay una visita avisada para el {told}; esta se añade porque {es}."
        notes.append([en, es])
    return notes


_NO_HELP = {
    "days": ("that day is outside the window of its work", "ese día queda fuera del plazo de su trabajo"),
    "series": ("the same care is on that visit", "ese mismo cuidado ya está en esa visita"),
    "skill": ("that crew does not do its work", "esa cuadrilla no hace su trabajo"),
    "people": (
        "its work takes more people than that crew has",
        "su trabajo pide más personas que esa cuadrilla",
    ),
    "minutes": ("no time is left on that visit", "en esa visita no queda tiempo"),
}


def _fill(visit: Visit, one: Bundle) -> bool:
    """Write what differs from the bundle; False when nothing did."""
    agreement = getattr(visit.property, "agreement", None)
    new = _columns(one) | {"weekdays": agreement.weekdays if agreement else queries.DEFAULT_WEEKDAYS}
    if visit.state == VisitState.WITHDRAWN:
        new |= {"state": VisitState.PLANNED, "withdrawn_reason": ""}
    changed = [name for name, value in new.items() if getattr(visit, name) != value]
    for name in changed:
        setattr(visit, name, new[name])
    if changed:
        visit.changed_at = timezone.now()
        visit.save(update_fields=[*changed, "changed_at"])
    return bool(changed)


def _link(visits: Mapping[str, Visit], wanted: Iterable[Bundle], tasks: Mapping[str, CareTask]) -> None:
    """Put each task in its visit; what is elsewhere goes out first: one task, one visit."""
    should = {tasks[key].pk: visits[one.slot].pk for one in wanted for key in one.task_keys}
    open_ones = (visit for visit in visits.values() if visit.state == VisitState.PLANNED)
    planned = [visit.pk for visit in open_ones if not visit.urgent]
    there = dict(VisitTask.objects.filter(visit__in=planned).values_list("task_id", "visit_id"))
    wrong = [task for task, visit in there.items() if should.get(task) != visit]
    VisitTask.objects.filter(task__in=wrong, visit__in=planned).delete()
    VisitTask.objects.bulk_create(
        VisitTask(task_id=task, visit_id=visit) for task, visit in should.items() if there.get(task) != visit
    )


def _release(visits: Iterable[Visit]) -> None:
    VisitTask.objects.filter(visit__in=[visit.pk for visit in visits]).delete()


# --- Urgent calls -------------------------------------------------------------------------------------


@transaction.atomic
def add_urgent(place: Property, words: str, *, work: UrgentWork, today: date, by: User | None) -> Visit:
    """Make a visit of its own for an urgent call; bundling leaves it as it is."""
    _allow_office(by)
    task = ask_urgent(place, words, work=work, today=today, by=by)
    visit = Visit.objects.create(
        property=place,
        slot=f"urgent-{task.occurrence}",
        opens_on=work.first_day,
        closes_on=work.last_day,
        weekdays="1234567",
        minutes=work.minutes,
        people=work.people,
        skills=[work.skill],
        urgent=True,
        changed_at=timezone.now(),
    )
    VisitTask.objects.create(visit=visit, task=task)
    record("add urgent visit", _name(visit), by=by, words=words)
    return visit


@transaction.atomic
def drop_urgent(visit: Visit, reason: str, *, by: User | None) -> Visit:
    """Give up an urgent call that nobody was told of: its visit and its care task go."""
    row = withdraw(visit, reason, by=by)
    drop_urgent_tasks(row.property, row.slot.removeprefix("urgent-"), reason=reason, by=by)
    return row


# --- Telling people -----------------------------------------------------------------------------------


@transaction.atomic
def announce(
    visit: Visit, *, day: date, arrives_at: time, leaves_at: time, crew_name: str, by: User | None
) -> Visit:
    """Tell people when a visit is, or that it moved; saying the same again changes nothing."""
    _allow_office(by)
    row = _locked(visit)
    if row.state == VisitState.WITHDRAWN:
        raise VisitWithdrawn(row)
    if row.state == VisitState.DONE:
        raise Refused([Problem("visit", str(row), "a visit that is not done yet")])
    told = {"day": day, "arrives_at": arrives_at, "leaves_at": leaves_at, "crew_name": crew_name}
    if row.state == VisitState.PUBLISHED and all(getattr(row, name) == value for name, value in told.items()):
        return row
    if row.announced and row.day not in (None, day):
        row.moved_from = row.day
    for name, value in told.items():
        setattr(row, name, value)
    row.state, row.announced = VisitState.PUBLISHED, True
    _save_told(row)
    record(
        "announce visit",
        _name(row),
        by=by,
        day=str(day),
        crew=crew_name,
        moved_from=str(row.moved_from or ""),
    )
    return row


@transaction.atomic
def withdraw(visit: Visit, reason: str, *, by: User | None) -> Visit:
    """Take back a visit; its open tasks are free for another one."""
    _allow_office(by)
    if not reason.strip():
        raise Refused([Problem("reason", reason, "why the visit is withdrawn")])
    row = _locked(visit)
    if row.state == VisitState.DONE:
        raise Refused([Problem("visit", str(row), "a visit that is not done yet")])
    return row if row.state == VisitState.WITHDRAWN else _withdraw(row, reason, by=by)


def _withdraw(row: Visit, reason: str, *, by: User | None) -> Visit:
    _release([row])
    row.state, row.withdrawn_reason = VisitState.WITHDRAWN, reason[:200]
    _save_told(row)
    BundlingRun.objects.filter(property_id=row.property_id).update(on_day=date(2000, 1, 1))
    record("withdraw visit", _name(row), by=by, reason=reason)
    return row


def _become_done(row: Visit) -> None:
    """A visit on which nothing more happens; tasks nobody settled are free for another one."""
    VisitTask.objects.filter(visit=row, task__state="open").delete()
    row.state = VisitState.DONE
    _save_told(row)


def _save_told(row: Visit) -> None:
    row.revision += 1
    row.changed_at = timezone.now()
    row.save()


def _locked(visit: Visit) -> Visit:
    """The visit as it is now, with its property locked against planning and other crews."""
    Property.objects.select_for_update().get(pk=visit.property_id)
    return Visit.objects.select_related("property").get(pk=visit.pk)


def _name(row: Visit) -> str:
    return f"{row.property.code} {row.slot}"


# --- What was really done -----------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Report:
    """What a crew says of one care task."""

    visit: Visit
    task: CareTask
    outcome: str
    done_on: date
    reason: str = ""
    note: str = ""
    readings: Sequence[Mapping[str, Any]] = ()
    settings_left: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def digest(self) -> str:
        """The same for the same words."""
        words = {
            "visit": self.visit.pk,
            "task": self.task.pk,
            "outcome": self.outcome,
            "done_on": self.done_on.isoformat(),
            "reason": self.reason,
            "note": self.note,
            "readings": [dict(reading) for reading in self.readings],
            "settings_left": {tag: dict(values) for tag, values in self.settings_left.items()},
        }
        return hashlib.sha256(json.dumps(words, sort_keys=True, default=str).encode()).hexdigest()

    def problems(self) -> list[Problem]:
        """What is wrong with it, apart from what other rooms will say."""
        found = []
        if self.outcome not in Outcome.values:
            found.append(Problem("outcome", self.outcome, "one of " + ", ".join(Outcome.values)))
        if self.outcome == Outcome.SKIPPED and not self.reason.strip():
            found.append(Problem("reason", self.reason, "why it could not be done"))
        if self.outcome == Outcome.FOLLOW_UP and not self.note.strip():
            found.append(Problem("note", self.note, "what is to follow"))
        if len(self.reason) > 200:
            found.append(Problem("reason", self.reason, "at most 200 characters; the note holds more"))
        for reading in self.readings:
            found += _reading_problems(reading)
        return found


def _reading_problems(reading: Mapping[str, Any]) -> Iterable[Problem]:
    quantity, value = str(reading.get("quantity")), reading.get("value")
    if isinstance(value, bool) or not isinstance(value, int | float):
        yield Problem("readings.value", value, "a number")
        return
    try:
        check_reading(quantity, float(value), str(reading.get("unit")))
    except Refused as wrong:
        yield from (Problem(f"readings.{quantity}", value, problem.wanted) for problem in wrong.problems)


@transaction.atomic
def complete(  # noqa: PLR0913 - a crew's sheet has these lines
    completion_id: UUID,
    *,
    visit: Visit,
    task: CareTask,
    outcome: str,
    reason: str = "",
    note: str = "",
    readings: Sequence[Mapping[str, Any]] = (),
    settings_left: Mapping[str, Mapping[str, Any]] | None = None,
    done_on: date,
    by: User | None,
) -> Completion:
    """Note what was done for one care task; the same id and words again give the same answer."""
    report = Report(
        visit=visit,
        task=task,
        outcome=outcome,
        done_on=done_on,
        reason=reason,
        note=note,
        readings=readings,
        settings_left=settings_left or {},
    )
    _allow_crew(by, visit)
    row = _locked(visit)
    before = Completion.objects.filter(pk=completion_id).first()
    if before is not None:
        return _same_again(before, report)
    if row.state == VisitState.WITHDRAWN:
        raise VisitWithdrawn(row)
    _refuse(report)
    completion = _keep(completion_id, report, by)
    _tell_other_rooms(report, by)
    _finish(row, report)
    record("complete task", f"{_name(row)} {task.key}", by=by, outcome=outcome, reason=reason)
    # That the plan is due stands in the property's row already; the call only makes it come sooner.
    care_background.plan_one.delay_on_commit(row.property_id)  # type: ignore[attr-defined]
    return completion


@transaction.atomic
def complete_over(
    completion_id: UUID, *, seen: datetime, visit: Visit, task: CareTask, **said: Any
) -> Completion:
    """Note what was done in place of what somebody else noted, if that still is what the crew has `seen`."""
    _allow_crew(said.get("by"), visit)
    _locked(visit)
    if not Completion.objects.filter(pk=completion_id).exists():
        care.put_aside(task, seen=seen, by=said.get("by"))
    return complete(completion_id, visit=visit, task=task, **said)


@transaction.atomic
def mark_time(mark_id: UUID, visit: Visit, sort: str, *, at: datetime, by: User | None) -> TimeMark:
    """Note that a crew began or ended its work; the same id again gives the same answer."""
    _allow_crew(by, visit)
    if sort not in TimeSort.values:
        raise Refused([Problem("sort", sort, "one of " + ", ".join(TimeSort.values))])
    row, new = TimeMark.objects.get_or_create(
        pk=mark_id, defaults={"visit": visit, "sort": sort, "at": at, "by": by}
    )
    if (row.visit_id, row.sort) != (visit.pk, sort):
        raise BodyDiffers(f"Mark {mark_id} was sent before for something else; use a new id.")
    if new:
        record(f"work {sort}", _name(visit), by=by, at=at.isoformat())
    return row


@transaction.atomic
def keep_photo(completion: Completion, file: IO[bytes], *, by: User | None) -> Photo:
    """Keep a picture of what was done: on the completion, on the thing and on the property."""
    _allow_crew(by, completion.visit)
    task = completion.task
    caption = task.title_es if by is not None and by.language == Language.SPANISH else task.title
    photo = properties.add_photo(completion.visit.property, file, thing=task.thing, caption=caption, by=by)
    completion.photos.add(photo)
    return photo


def _same_again(before: Completion, report: Report) -> Completion:
    if before.body_digest != report.digest():
        raise BodyDiffers(f"Completion {before.pk} was sent before with other words; use a new id.")
    return before


def _refuse(report: Report) -> None:
    problems = report.problems()
    if not VisitTask.objects.filter(visit=report.visit, task=report.task).exists():
        problems.append(Problem("task", report.task.pk, "a care task of this visit"))
    if problems:
        raise Refused(problems)


def _keep(completion_id: UUID, report: Report, by: User | None) -> Completion:
    return Completion.objects.create(
        id=completion_id,
        visit=report.visit,
        task=report.task,
        outcome=report.outcome,
        reason=report.reason,
        note=report.note,
        readings=[dict(reading) for reading in report.readings],
        settings_left={tag: dict(values) for tag, values in report.settings_left.items()},
        done_on=report.done_on,
        by=by,
        body_digest=report.digest(),
    )


def _tell_other_rooms(report: Report, by: User | None) -> None:
    """Pass on what other rooms keep: the end of the task, follow-up, readings, settings."""
    outcome = "skipped" if report.outcome == Outcome.SKIPPED else "done"
    care.settle(report.task, outcome, on=report.done_on, by=by, reason=report.reason)
    if report.outcome == Outcome.FOLLOW_UP:
        care.ask_follow_up(report.task, report.note, on=report.done_on, by=by)
    for reading in report.readings:
        thing = _thing_of(report, reading)
        care.take_reading(
            thing, reading["quantity"], float(reading["value"]), reading["unit"], on=report.done_on, by=by
        )
    if report.settings_left:
        properties.leave_settings_by_tag(report.visit.property, report.settings_left, by=by)


def _thing_of(report: Report, reading: Mapping[str, Any]) -> InstalledThing:
    """The thing that was measured: named by its tag, or the thing of the task."""
    tag = reading.get("tag")
    things = report.visit.property.things
    thing = things.filter(tag=tag).first() if tag else report.task.thing
    if thing is None:
        raise Refused([Problem("readings.tag", tag, "the tag of an installed thing of this property")])
    return thing


def _finish(row: Visit, report: Report) -> None:
    """Close the visit when nothing is left to do on it."""
    if row.state != VisitState.DONE and not queries.open_tasks_of(row).exists():
        # Who came sooner than told was there on that day; calendars then say so.
        row.day = min(row.day or report.done_on, report.done_on)
        _become_done(row)


# --- Who may ------------------------------------------------------------------------------------------


def _allow_office(by: User | None) -> None:
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office and dispatchers change visits.")


def _allow_crew(by: User | None, visit: Visit) -> None:
    if by is None or by.in_office():
        return
    if by.role != Role.CREW or not queries.visible_visits(by).filter(pk=visit.pk).exists():
        raise PermissionDenied("Only the office and the crew of this visit note what was done.")


# --- What owners ask for ------------------------------------------------------------------------------


@transaction.atomic
def ask_another_day(visit: Visit, words: str, *, today: date) -> DayRequest:
    """Put an owner's wish for another day before the office; asking again replaces the words."""
    row = _locked(visit)
    if row.state != VisitState.PUBLISHED or row.day is None or row.day < today:
        raise Refused([Problem("visit", str(row), "a visit that is still to come")])
    if len(words) > 300:
        raise Refused([Problem("words", words, "at most 300 characters")])
    wish, new = DayRequest.objects.update_or_create(
        visit=row, settled_at=None, defaults={"day": row.day, "words": words.strip()}
    )
    if new:
        record("ask another day", _name(row), by=None, day=str(row.day))
    return wish


@transaction.atomic
def settle_day_request(wish: DayRequest, answer: str, *, by: User | None) -> bool:
    """Take a wish off the list with a word on what became of it; False when somebody else did."""
    _allow_office(by)
    if len(answer) > 200:
        raise Refused([Problem("answer", answer, "at most 200 characters")])
    rows = DayRequest.objects.filter(pk=wish.pk, settled_at=None)
    if not rows.update(settled_at=timezone.now(), settled_by=by, answer=answer.strip()):
        return False
    record("settle day request", _name(wish.visit), by=by, day=str(wish.day), answer=answer.strip())
    return True
