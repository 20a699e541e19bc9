"""Writes of the care room: the one place where care tasks, adjustments and readings change."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from landscape_care.care import other_days, queries, task_rows
from landscape_care.care.catalog import Adjustment, Rule, own_rule, refuse_never_open, with_adjustment
from landscape_care.care.catalog import rule_named as catalog_rule_named
from landscape_care.care.generation import FOLLOW_UP, Wanted
from landscape_care.care.measures import check_reading
from landscape_care.care.models import (
    SETTLED,
    CareTask,
    OwnRule,
    Reading,
    Report,
    ReportKind,
    RuleAdjustment,
    TaskState,
)
from landscape_care.care.past_care import PastCare, as_wanted
from landscape_care.care.reconciliation import Changes
from landscape_care.care.rule_names import unknown_names
from landscape_care.people.actions import record
from landscape_care.people.models import Role, User
from landscape_care.properties.books import climate_book
from landscape_care.properties.models import InstalledThing, Property
from landscape_care.trades.limits import Refused

FOLLOW_UP_DAYS, FOLLOW_UP_MINUTES = 14, 30
_BATCH = 500


@dataclass(frozen=True, slots=True)
class PlanReport:
    """How many tasks a planning added, moved and withdrew."""

    added: int = 0
    moved: int = 0
    withdrawn: int = 0

    @classmethod
    def of(cls, changes: Changes) -> "PlanReport":
        """The count of some changes."""
        return cls(len(changes.add), len(changes.move), len(changes.withdraw))

    def __bool__(self) -> bool:
        return bool(self.added or self.moved or self.withdrawn)


class NotOpen(Exception):  # noqa: N818 - it says what is the case
    """A task that is asked to be settled and is not open any more."""

    def __init__(self, task: CareTask) -> None:
        self.task = task
        super().__init__(f"{task.title} on {task.property} {self.words(task)}")

    @staticmethod
    def words(task: CareTask) -> str:
        """What became of the task."""
        return f"is {task.state}"


class AlreadySettled(NotOpen):
    """A task that was done or skipped before."""

    @staticmethod
    def words(task: CareTask) -> str:
        """When it was settled."""
        return f"was {task.state} on {task.settled_on}"


class TaskWithdrawn(NotOpen):
    """A task that planning has taken back."""


# --- Planning ---


@transaction.atomic
def plan_care(property_id: int, *, today: date, through: date | None = None) -> PlanReport:
    """Make the stored tasks of a property those that should exist; a second run writes nothing."""
    return _plan([_lock(property_id)], today=today, through=through)[property_id]


@transaction.atomic
def plan_together(property_ids: Iterable[int], *, today: date) -> dict[int, PlanReport]:
    """Plan several properties in one transaction, all or none, and say what was written on each.

    A property that somebody else is writing is left out, so that nobody waits for two at once.
    """
    rows = Property.objects.select_for_update(skip_locked=True).filter(pk__in=tuple(property_ids))
    return _plan(list(rows.order_by("pk")), today=today)


def _plan(places: Sequence[Property], *, today: date, through: date | None = None) -> dict[int, PlanReport]:
    last_days = {place.pk: queries.horizon(place, today, through) for place in places}
    changes = dict(zip(places, queries.changes_of(places, today=today, through=last_days), strict=True))
    _write(changes)
    other_days.note(changes)
    reports = {place.pk: PlanReport.of(change) for place, change in changes.items()}
    for place in places:
        if report := reports[place.pk]:
            record("plan care", place.code, **asdict(report))
    _note_planned(places, last_days)
    return reports


def _write(changes: Mapping[Property, Changes]) -> None:
    now = timezone.now()
    task_rows.insert(((place.pk, want) for place, change in changes.items() for want in change.add), now)
    task_rows.move(((have.row, want) for change in changes.values() for have, want in change.move), now)
    gone = [have.row for change in changes.values() for have in change.withdraw]
    for start in range(0, len(gone), _BATCH):
        rows = CareTask.objects.filter(pk__in=gone[start : start + _BATCH])
        rows.update(state=TaskState.WITHDRAWN, revision=F("revision") + 1, changed_at=now)


def _note_planned(places: Iterable[Property], last_days: Mapping[int, date]) -> None:
    for place in places:
        asked, reached = place.plan_wanted_at, last_days[place.pk]
        if asked is None and place.planned_through == reached:
            continue
        row = Property.objects.filter(pk=place.pk)
        row.update(planned_through=reached)
        # A change that arrived after the row was read has set another moment; it is planned next time.
        row.filter(plan_wanted_at=asked).update(plan_wanted_at=None)


# --- Settling ---


@transaction.atomic
def settle(task: CareTask, outcome: str, *, on: date, by: User | None, reason: str = "") -> CareTask:
    """Note that a task was done or skipped on a day; the next of its series is counted from there."""
    _allow_crew(by)
    if outcome not in SETTLED:
        raise ValueError(f"outcome is {outcome!r}: wanted done or skipped")
    if outcome == TaskState.SKIPPED and not reason.strip():
        raise ValueError("reason is empty: a skipped task wants a reason")
    _lock(task.property_id)
    open_row = CareTask.objects.filter(pk=task.pk, state=TaskState.OPEN)
    changed = open_row.update(
        state=outcome, settled_on=on, skip_reason=reason[:200], changed_at=timezone.now()
    )
    task.refresh_from_db()
    if not changed:
        raise TaskWithdrawn(task) if task.state == TaskState.WITHDRAWN else AlreadySettled(task)
    _want_plan(task.property_id)
    record(
        "settle task", task.key, by=by, property=task.property_id, outcome=outcome, on=str(on), reason=reason
    )
    return task


@transaction.atomic
def unsettle(task: CareTask, *, reason: str, by: User | None) -> CareTask:
    """Take back that a task was settled, when the office finds it was not; planning looks at it again."""
    _allow_office(by)
    _want_reason(reason)
    _lock(task.property_id)
    rows = CareTask.objects.filter(pk=task.pk, state__in=SETTLED)
    changed = rows.update(
        state=TaskState.OPEN,
        settled_on=None,
        skip_reason="",
        revision=F("revision") + 1,
        changed_at=timezone.now(),
    )
    task.refresh_from_db()
    if not changed:
        raise ValueError(f"state is {task.state!r}: only a settled task can be taken back")
    _want_plan(task.property_id)
    record("unsettle task", task.key, by=by, property=task.property_id, reason=reason)
    return task


@transaction.atomic
def put_aside(task: CareTask, *, seen: datetime, by: User | None) -> CareTask:
    """Open a settled task for who was there and knows better, if it is still as that person has `seen` it."""
    _allow_crew(by)
    _lock(task.property_id)
    rows = CareTask.objects.filter(pk=task.pk, state__in=SETTLED, changed_at=seen)
    changed = rows.update(
        state=TaskState.OPEN,
        settled_on=None,
        skip_reason="",
        revision=F("revision") + 1,
        changed_at=timezone.now(),
    )
    task.refresh_from_db()
    if changed:
        record("put aside what was settled", task.key, by=by, property=task.property_id)
    elif task.state == TaskState.WITHDRAWN:
        raise TaskWithdrawn(task)
    elif task.state != TaskState.OPEN:
        raise AlreadySettled(task)
    return task


def hold(task: CareTask, *, by: User | None) -> CareTask:
    """Keep the window of an open task as it is, whatever planning finds."""
    return _set_held(task, True, by=by)


def release(task: CareTask, *, by: User | None) -> CareTask:
    """Let planning move a task again."""
    return _set_held(task, False, by=by)


@transaction.atomic
def _set_held(task: CareTask, held: bool, *, by: User | None) -> CareTask:
    _allow_office(by)
    _lock(task.property_id)
    changed = CareTask.objects.filter(pk=task.pk, state=TaskState.OPEN, held=not held).update(held=held)
    task.refresh_from_db()
    if changed:
        _want_plan(task.property_id)
        record("hold task" if held else "release task", task.key, by=by, property=task.property_id)
    elif task.state != TaskState.OPEN:
        raise NotOpen(task)
    return task


@transaction.atomic
def ask_follow_up(task: CareTask, note: str, *, on: date, by: User | None) -> CareTask:
    """Make a task of what a crew found and could not finish; planning leaves it alone."""
    _allow_crew(by)
    if not note.strip():
        raise ValueError("note is empty: say what is left to do")
    _lock(task.property_id)
    series = task.series.removesuffix(FOLLOW_UP) + FOLLOW_UP
    number = CareTask.objects.filter(property=task.property_id, series=series).count() + 1
    follow_up = CareTask.objects.create(
        property_id=task.property_id,
        thing_id=task.thing_id,
        rule=task.rule,
        stem=task.stem,
        series=series,
        occurrence=str(number),
        key=f"{series}:{number}",
        title=_prefixed("Follow-up: ", task.title),
        title_es=_prefixed("Seguimiento: ", task.title_es),
        opens_on=on,
        due_on=on + timedelta(days=FOLLOW_UP_DAYS // 2),
        closes_on=on + timedelta(days=FOLLOW_UP_DAYS),
        minutes=FOLLOW_UP_MINUTES,
        people=task.people,
        skill=task.skill,
        cautions=task.cautions,
        details={"numbers": {}, "lines": {"en": [note], "es": [note]}},
        changed_at=timezone.now(),
    )
    record("ask follow-up", follow_up.key, by=by, property=task.property_id, note=note)
    return follow_up


def _prefixed(prefix: str, title: str) -> str:
    return (prefix + title.removeprefix(prefix))[:160]


# --- Rules and readings ---


@transaction.atomic
def adjust_rule(
    rule_key: str,
    *,
    by: User | None,
    reason: str,
    property: Property | None = None,
    **values: Any,
) -> RuleAdjustment:
    """Set the company's own values for a rule, everywhere or on one property.

    `values` are any of enabled, every_days, offset_days, minutes and fixed (03-01..03-21). The row
    before is ended, not overwritten.
    """
    _allow_office(by)
    _want_reason(reason)
    rule = queries.rule_named(rule_key) or catalog_rule_named(rule_key)
    adjustment = Adjustment(**values)
    if adjustment == Adjustment():
        raise ValueError("values are empty: give enabled, every_days, offset_days, minutes or fixed")
    with_adjustment(rule, adjustment)
    _end_live(rule, property)
    row = RuleAdjustment.objects.create(
        property=property, rule=rule.key, reason=reason[:200], by=by, **values
    )
    _want_plan(property.pk if property else None)
    record(
        "adjust rule", rule.key, by=by, property=property.pk if property else None, reason=reason, **values
    )
    return row


@transaction.atomic
def end_adjustment(adjustment: RuleAdjustment, *, by: User | None) -> RuleAdjustment:
    """Let a rule go back to what holds without this adjustment."""
    _allow_office(by)
    live = RuleAdjustment.objects.filter(pk=adjustment.pk, ended_at=None)
    if live.update(ended_at=timezone.now()):
        _want_plan(adjustment.property_id)
        record("end adjustment", adjustment.rule, by=by, property=adjustment.property_id)
    adjustment.refresh_from_db()
    return adjustment


def _end_live(rule: Rule, property: Property | None) -> None:
    names = (rule.key, *rule.formerly)
    RuleAdjustment.objects.filter(rule__in=names, property=property, ended_at=None).update(
        ended_at=timezone.now()
    )


@transaction.atomic
def set_own_rule(key: str, table: Mapping[str, Any], *, reason: str, by: User | None) -> OwnRule:
    """Give the company a rule of its own, or new values for one; care is planned again everywhere."""
    _allow_office(by)
    _want_reason(reason)
    rule = own_rule(key, table)
    refuse_never_open(rule, climate_book())
    for words in unknown_names({key: rule}):
        raise ValueError(words.partition(": ")[2])
    if rule.computed is not None:
        raise ValueError(f"computed is {rule.computed!r}: an own rule repeats, follows a season or an event")
    row, _ = OwnRule.objects.update_or_create(
        key=key, defaults={"table": dict(table), "by": by, "ended_at": None}
    )
    _want_plan(None)
    record("set own rule", key, by=by, reason=reason, table=dict(table))
    return row


@transaction.atomic
def end_own_rule(row: OwnRule, *, reason: str, by: User | None) -> OwnRule:
    """Ask for no more care by an own rule; what is open of it is withdrawn, what is settled stays."""
    _allow_office(by)
    _want_reason(reason)
    if OwnRule.objects.filter(pk=row.pk, ended_at=None).update(ended_at=timezone.now()):
        _want_plan(None)
        record("end own rule", row.key, by=by, reason=reason)
    row.refresh_from_db()
    return row


@transaction.atomic
def take_reading(
    thing: InstalledThing, quantity: str, value: float, unit: str, *, on: date, by: User | None
) -> Reading:
    """Keep a value that was measured; one over a threshold brings care forward at the next planning."""
    _allow_crew(by)
    check_reading(quantity, value, unit)
    row = Reading.objects.create(thing=thing, quantity=quantity, value=value, unit=unit, taken_on=on, by=by)
    _want_plan(thing.property_id)
    record("take reading", str(thing), by=by, quantity=quantity, value=value, unit=unit, on=str(on))
    return row


@transaction.atomic
def report(
    place: Property,
    kind: str,
    *,
    on: date,
    by: User | None,
    thing: InstalledThing | None = None,
    note: str = "",
) -> Report:
    """Keep what happened on a property; the care that follows from it is planned."""
    _allow_crew(by)
    _check_report(place, kind, on=on, thing=thing, note=note)
    row = Report.objects.create(
        property=place, thing=thing, kind=kind, happened_on=on, note=note.strip()[:400], by=by
    )
    _want_plan(place.pk)
    record("report", place.code, by=by, kind=kind, on=str(on), thing=thing.tag if thing else "", note=note)
    return row


def _check_report(place: Property, kind: str, *, on: date, thing: InstalledThing | None, note: str) -> None:
    if kind not in ReportKind.values:
        raise ValueError(f"kind is {kind!r}: wanted one of {', '.join(ReportKind.values)}")
    if on < place.care_starts_on:
        raise ValueError(f"on is {on}: wanted the day care starts, {place.care_starts_on}, or later")
    if thing is not None and thing.property_id != place.pk:
        raise ValueError(f"thing is {thing.tag}: wanted a thing of {place.code}")
    if kind == ReportKind.OWNER_REQUEST and not note.strip():
        raise ValueError("note is empty: say what the owner asks for")


@transaction.atomic
def withdraw_report(report: Report, *, reason: str, by: User | None) -> Report:
    """Take back a report that was a mistake; open care that followed from it is withdrawn."""
    _allow_office(by)
    _want_reason(reason)
    if Report.objects.filter(pk=report.pk, withdrawn_at=None).update(withdrawn_at=timezone.now()):
        _want_plan(report.property_id)
        record("withdraw report", str(report), by=by, property=report.property_id, reason=reason)
    report.refresh_from_db()
    return report


# --- History from before ---


@transaction.atomic
def take_over_history(rows: Iterable[Sequence[Any]], *, by: User | None) -> int:
    """Keep care that was done before this record began, so that the next is counted from it.

    Each row is property code, tag (empty for the whole property), rule and day. All rows are taken
    or none; `Refused` names the wrong ones. A row that is known already is not written again.
    """
    _allow_office(by)
    past = [PastCare(number, *row) for number, row in enumerate(rows, 1)]
    places = {place.code: place for place in Property.objects.filter(code__in={row.property for row in past})}
    strangers = [
        row.problem("property", row.property, "the code of a property")
        for row in past
        if row.property not in places
    ]
    if strangers:
        raise Refused(strangers)
    return sum(
        _take_over(place, [row for row in past if row.property == code], by=by)
        for code, place in places.items()
    )


def _take_over(place: Property, past: Sequence[PastCare], *, by: User | None) -> int:
    _lock(place.pk)
    known = set(
        CareTask.objects.filter(property=place, state__in=SETTLED).values_list("series", "settled_on")
    )
    wanted = as_wanted(past, queries.past_scene(place), queries.history(place), queries.every_rule())
    new = [want for want in wanted if (want.series, want.window.due) not in known]
    for want in new:
        _keep_settled(place, want)
    if new:
        _want_plan(place.pk)
        record("take over history", place.code, by=by, rows=len(new))
    return len(new)


def _values(want: Wanted) -> dict[str, Any]:
    return {
        "opens_on": want.window.opens,
        "due_on": want.window.due,
        "closes_on": want.window.closes,
        "rule": want.rule,
        "minutes": want.minutes,
        "people": want.people,
        "skill": want.skill,
        "title": want.title,
        "title_es": want.title_es,
        "cautions": list(want.cautions),
        "details": want.details,
    }


def _keep_settled(place: Property, want: Wanted) -> None:
    CareTask.objects.update_or_create(
        property=place,
        key=want.key,
        defaults={
            "thing_id": want.thing_uid,
            "stem": want.stem,
            "series": want.series,
            "occurrence": want.occurrence,
            "state": TaskState.DONE,
            "settled_on": want.window.due,
            "changed_at": timezone.now(),
            **_values(want),
        },
    )


# --- Shared ---


def _lock(property_id: int) -> Property:
    return Property.objects.select_for_update().get(pk=property_id)


def _want_plan(property_id: int | None) -> None:
    """Ask for a new plan of one property, or of all."""
    rows = Property.objects.all() if property_id is None else Property.objects.filter(pk=property_id)
    rows.update(plan_wanted_at=timezone.now())


def _want_reason(reason: str) -> None:
    if not reason.strip():
        raise ValueError("reason is empty: say why")


def _allow_office(by: User | None) -> None:
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office may do this.")


def _allow_crew(by: User | None) -> None:
    if by is not None and not (by.in_office() or by.role == Role.CREW):
        raise PermissionDenied("Only crews and the office may do this.")
