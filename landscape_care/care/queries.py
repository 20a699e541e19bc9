"""Reads of the care room."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta

from django.contrib.auth.models import AnonymousUser
from django.db.models import F, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from landscape_care.almanac.dates import Window as Span
from landscape_care.care import planning_book
from landscape_care.care.catalog import (
    OWN_PREFIX,
    Adjustment,
    Rule,
    adjusted,
    agreed,
    by_any_name,
    catalog,
    own_rule,
    trouble_with,
)
from landscape_care.care.details import Scene, hours_per_day
from landscape_care.care.explanations import Facts, LastCare, Own, explain
from landscape_care.care.explanations import OtherDays as Other
from landscape_care.care.generation import FOLLOW_UP, History, Wanted, days_between, generate
from landscape_care.care.measures import Measured
from landscape_care.care.models import (
    SETTLED,
    CareTask,
    OtherDays,
    OwnRule,
    Reading,
    Report,
    RuleAdjustment,
    TaskState,
)
from landscape_care.care.reconciliation import Changes, reconcile
from landscape_care.people.models import AuditEntry, User
from landscape_care.properties.books import climate_at
from landscape_care.properties.models import Agreement, Property
from landscape_care.properties.queries import as_built, as_builts, sees_all, visible_properties

HORIZON_DAYS = 396
# Properties whose rows are locked together while they are planned; others wait for them that long.
PLANNED_TOGETHER = 20
CADENCE_DAYS = {"weekly": 7, "fortnightly": 14, "monthly": 28, "seasonal": 91}
_DONE = TaskState.DONE.value


# --- For people ---


def visible_tasks(user: User | AnonymousUser) -> QuerySet[CareTask]:
    """The care tasks somebody may see."""
    rows = CareTask.objects.select_related("property", "thing")
    # Whoever may see properties sees all of them; a list of them would lead the database past its index.
    return rows if sees_all(user) else rows.none()


def visible_readings(user: User | AnonymousUser) -> QuerySet[Reading]:
    """The readings somebody may see."""
    rows = Reading.objects.select_related("thing__property", "by")
    return rows if sees_all(user) else rows.none()


def visible_adjustments(user: User | AnonymousUser) -> QuerySet[RuleAdjustment]:
    """The live adjustments somebody may see: those of the company and of their properties."""
    rows = RuleAdjustment.objects.select_related("property", "by").filter(ended_at=None)
    seen = visible_properties(user)
    return rows.filter(Q(property=None) | Q(property__in=seen)) if seen.exists() else rows.none()


def visible_reports(user: User | AnonymousUser) -> QuerySet[Report]:
    """The reports somebody may see, withdrawn ones left out."""
    rows = Report.objects.select_related("property", "thing", "by").filter(withdrawn_at=None)
    return rows if sees_all(user) else rows.none()


def late(user: User | AnonymousUser, today: date, place: Property | None = None) -> QuerySet[CareTask]:
    """Open tasks whose window has closed, the oldest of each series, longest overdue first."""
    # A task whose window has closed was due before; the index knows days of being due.
    rows = visible_tasks(user).filter(state=TaskState.OPEN, closes_on__lt=today, due_on__lt=today)
    rows = rows.filter(property=place) if place else rows
    # Whatever is older in the series is late as well, so the first of the late ones is the oldest.
    place_in_series = Window(
        RowNumber(), partition_by=[F("property"), F("series")], order_by=["due_on", "id"]
    )
    oldest = rows.annotate(place_in_series=place_in_series).filter(place_in_series=1)
    return oldest.order_by("closes_on", "id")


def due_between(user: User | AnonymousUser, first: date, last: date) -> QuerySet[CareTask]:
    """Open tasks with a due day from the first day to the last."""
    return visible_tasks(user).filter(state=TaskState.OPEN, due_on__gte=first, due_on__lte=last)


def why(task: CareTask, today: date) -> tuple[str, str]:
    """Why a task is there, why on these days and whether it is late, in English and Spanish."""
    place = task.property
    plain = rule_named(task.rule)
    rule = rules_for(place).get(task.rule, plain)
    return explain(rule, plain, _facts(task, rule, today))


def _facts(task: CareTask, rule: Rule | None, today: date) -> Facts:
    place, record = task.property, as_built(task.property)
    thing = record.thing(task.thing_id)
    scene = Scene(record, climate_at(place.climate))
    installed = thing is not None and thing.installed_on > place.care_starts_on
    return Facts(
        series=task.series,
        occurrence=task.occurrence,
        window=Span(task.opens_on, task.due_on, task.closes_on),
        starts_on=thing.installed_on if installed else place.care_starts_on,
        installed=installed,
        climate=scene.climate,
        every_days=days_between(rule, scene, thing) if rule else None,
        hours_per_day=hours_per_day(scene, thing) if rule and rule.run_hours and thing else None,
        last=_last_care(task),
        reading=_reading_behind(task, rule),
        numbers=task.details.get("numbers", {}),
        own=_own_values(task),
        nothing_set="nothing_set" in task.details,
        held=task.held,
        late_days=(today - task.closes_on).days if task.state == TaskState.OPEN else 0,
        weather=task.details.get("weather"),
        other_days=_other_days(task),
    )


def _other_days(task: CareTask) -> Other | None:
    row = OtherDays.objects.filter(task=task).first()
    return Other(row.told_for, Span(row.opens_on, row.due_on, row.closes_on), row.why) if row else None


def elsewhere(user: User | AnonymousUser, today: date) -> QuerySet[OtherDays]:
    """Told care from today on that the weather or a reading wants on other days, for the office to decide."""
    rows = OtherDays.objects.select_related("task__property", "task__thing")
    seen = rows.filter(task__state=TaskState.OPEN) if sees_all(user) else rows.none()
    return seen.filter(told_for__gte=today).order_by("told_for", "task_id")


def _own_values(task: CareTask) -> tuple[Own, ...]:
    rows = RuleAdjustment.objects.filter(
        Q(property=None) | Q(property=task.property_id), rule=task.rule, ended_at=None
    )
    return tuple(Own(values_of(row), row.reason, row.property_id is None) for row in rows)


def _reading_behind(task: CareTask, rule: Rule | None) -> Measured | None:
    """The reading on the first day of a window that asked for the task."""
    if rule is None or rule.reading is None or task.opens_on != task.due_on:
        return None
    rows = Reading.objects.filter(
        thing=task.thing_id, quantity=rule.reading.quantity, taken_on=task.opens_on
    ).order_by("-id")
    row = rows.first()
    return Measured(row.taken_on, row.value) if row else None


def how(task: CareTask, language: str) -> list[str]:
    """What a crew reads: how the work is done, then what was computed for this time."""
    lines = list(task.details.get("lines", {}).get(language, ()))
    rule = rule_named(task.rule)
    return [rule.text(language).how, *lines] if rule and not task.series.endswith(FOLLOW_UP) else lines


def asked_readings(task: CareTask) -> tuple[str, ...]:
    """The quantities a crew writes down with this task."""
    rule = rule_named(task.rule)
    return rule.asks if rule else ()


def who_settled(task: CareTask) -> AuditEntry | None:
    """Who last noted that a task was done or skipped, and when."""
    rows = AuditEntry.objects.select_related("by").filter(verb="settle task", subject=task.key[:120])
    return rows.filter(detail__property=task.property_id).first()


# --- Rules ---


def every_rule() -> Mapping[str, Rule]:
    """The rules of the catalog and the company's own that hold now, by key."""
    return {**catalog(), **{row.key: read_own(row) for row in OwnRule.objects.filter(ended_at=None)}}


def own_rules(user: User | AnonymousUser) -> QuerySet[OwnRule]:
    """The company's own rules that hold now, for whoever sees all properties."""
    rows = OwnRule.objects.filter(ended_at=None)
    return rows if visible_properties(user).exists() else rows.none()


def read_own(row: OwnRule) -> Rule:
    """An own rule as planning takes it."""
    return own_rule(row.key, row.table)


def rule_named(name: str) -> Rule | None:
    """A rule by its key or a key it had before, own ones and ended ones among them."""
    if name.startswith(OWN_PREFIX):
        row = OwnRule.objects.filter(key=name).first()
        return read_own(row) if row else None
    return by_any_name().get(name)


# --- For planning ---


def to_plan(today: date) -> QuerySet[Property]:
    """Properties on which something changed, or whose plan does not reach far enough."""
    enough = today + timedelta(days=HORIZON_DAYS - 1)
    wanted = Q(plan_wanted_at__isnull=False) | Q(planned_through=None) | Q(planned_through__lt=enough)
    return Property.objects.filter(wanted).order_by(F("plan_wanted_at").asc(nulls_last=True), "id")


def to_plan_together(today: date) -> Iterator[list[int]]:
    """The properties to plan, a few at a time; what is read of a few is read at once."""
    waiting = list(to_plan(today).values_list("pk", flat=True))
    for start in range(0, len(waiting), PLANNED_TOGETHER):
        yield waiting[start : start + PLANNED_TOGETHER]


def still_to_plan(property_ids: Iterable[int], now: datetime) -> dict[date, list[int]]:
    """Those of some properties that still want a plan, by the day it is there."""
    by_day: dict[date, list[int]] = defaultdict(list)
    for place in to_plan(now.date()).filter(pk__in=tuple(property_ids)):
        by_day[now.astimezone(place.zone()).date()].append(place.pk)
    return by_day


def horizon(place: Property, today: date, through: date | None = None) -> date:
    """The last day to plan for: thirteen months on, and never less than was planned before."""
    wanted = through or today + timedelta(days=HORIZON_DAYS)
    return max(wanted, place.planned_through) if place.planned_through else wanted


def changes_wanted(place: Property, *, today: date, through: date) -> Changes:
    """What would have to be written so that the stored tasks of a property are the right ones."""
    return next(changes_of([place], today=today, through={place.pk: through}))


def changes_of(places: Sequence[Property], *, today: date, through: Mapping[int, date]) -> Iterator[Changes]:
    """The changes of each property in turn; what is read of all of them is read at once."""
    pages, records, rules = planning_book.read(places), as_builts(p.pk for p in places), rules_of(places)
    for place in places:
        page, last_day = pages[place.pk], through[place.pk]
        wanted: Iterable[Wanted] = ()
        if place.care_ends_on is None or place.care_ends_on >= today:
            last_day = min(last_day, place.care_ends_on or last_day)
            scene = (records[place.pk], climate_at(place.climate), rules[place.pk], page.history())
            wanted = generate(*scene, today=today, through=last_day)
        yield reconcile(wanted, page.stored)


def rules_for(place: Property) -> Mapping[str, Rule]:
    """The care rules as they hold on a property: adjusted, and as far as the agreement goes."""
    return rules_of([place])[place.pk]


def rules_of(places: Sequence[Property]) -> dict[int, Mapping[str, Rule]]:
    """The care rules as they hold on each property, by its number; alike terms are worked out once."""
    every, (company, own) = every_rule(), _adjustments_of(places)
    agreements = {row.property_id: row for row in Agreement.objects.filter(property__in=places)}
    alike: dict[object, Mapping[str, Rule]] = {}
    found = {}
    for place in places:
        mine, agreement = own.get(place.pk, {}), agreements.get(place.pk)
        terms = (agreement.cadence, *agreement.stems) if agreement else None
        key = (tuple(mine.items()), terms)
        if key not in alike:
            alike[key] = _as_agreed(adjusted(every, company, mine), agreement)
        found[place.pk] = alike[key]
    return found


def _as_agreed(rules: Mapping[str, Rule], agreement: Agreement | None) -> Mapping[str, Rule]:
    if agreement is None:
        return rules
    return agreed(rules, agreement.stems, CADENCE_DAYS[agreement.cadence])


def adjustments(place: Property | None) -> tuple[dict[str, Adjustment], dict[str, Adjustment]]:
    """The live adjustments of the company, and those of one property, by rule."""
    company, own = _adjustments_of([place] if place else [])
    return company, own.get(place.pk, {}) if place else {}


def _adjustments_of(
    places: Sequence[Property],
) -> tuple[dict[str, Adjustment], dict[int, dict[str, Adjustment]]]:
    company: dict[str, Adjustment] = {}
    own: dict[int, dict[str, Adjustment]] = defaultdict(dict)
    rows = RuleAdjustment.objects.filter(Q(property=None) | Q(property__in=places), ended_at=None)
    for row in rows.order_by("id"):
        (company if row.property_id is None else own[row.property_id])[row.rule] = values_of(row)
    return company, own


def values_of(row: RuleAdjustment) -> Adjustment:
    """The values of an adjustment as planning takes them."""
    return Adjustment(row.enabled, row.every_days, row.offset_days, row.minutes, row.fixed)


def idle_adjustments(user: User | AnonymousUser) -> list[tuple[RuleAdjustment, str]]:
    """Adjustments that a newer catalog leaves without effect, each with the reason."""
    told = ((row, trouble_with(rule_named(row.rule), values_of(row))) for row in visible_adjustments(user))
    return [(row, words) for row, words in told if words]


def history(place: Property) -> History:
    """What is settled on a property by series, and its readings."""
    return planning_book.read([place])[place.pk].history()


def _last_care(task: CareTask) -> LastCare | None:
    rows = CareTask.objects.filter(property=task.property_id, series=task.series, state__in=SETTLED)
    if task.settled_on:
        rows = rows.filter(settled_on__lte=task.settled_on)
    found = (
        rows.exclude(pk=task.pk)
        .order_by("-settled_on", "-id")
        .values_list("settled_on", "occurrence", "state")
    )
    numbers = [int(occurrence) for _, occurrence, _ in found if occurrence.isdecimal()]
    if not found or found[0][0] is None:
        return None
    return LastCare(max(numbers, default=0), found[0][0], done=found[0][2] == _DONE)


def past_scene(place: Property) -> Scene:
    """The garden and its usual year, to read history by."""
    return Scene(as_built(place), climate_at(place.climate))
