"""Reads of the care room."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta

from django.contrib.auth.models import AnonymousUser
from django.db.models import F, Max, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from landscape_care.almanac.climate import climate
from landscape_care.almanac.dates import Window as Span
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
from landscape_care.care.forecasts import spell_name
from landscape_care.care.generation import (
    FOLLOW_UP,
    NO_PAST,
    History,
    Past,
    Reported,
    Wanted,
    days_between,
    generate,
)
from landscape_care.care.measures import Measured
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
from landscape_care.care.reconciliation import Changes, Stored, reconcile
from landscape_care.care.weather_book import freeze_mornings, station_of, storm_days
from landscape_care.people.models import User
from landscape_care.properties.models import Agreement, Property, ThingChange
from landscape_care.properties.queries import as_built, visible_properties

HORIZON_DAYS = 396
CADENCE_DAYS = {"weekly": 7, "fortnightly": 14, "monthly": 28, "seasonal": 91}
_DONE = TaskState.DONE.value
# What a crew sets on zones and plain timers, see `properties.actions.leave_settings`.
_SETTINGS = ("set_minutes", "set_weekdays", "set_start", "set_on")
# Visits that people were told about, and those that are over; planning moves none of their tasks.
_TOLD, _OVER = Q(visit_task__visit__state="published"), Q(visit_task__visit__state="done")


# --- For people ---


def visible_tasks(user: User | AnonymousUser) -> QuerySet[CareTask]:
    """The care tasks somebody may see."""
    rows = CareTask.objects.select_related("property", "thing")
    return rows.filter(property__in=visible_properties(user))


def visible_readings(user: User | AnonymousUser) -> QuerySet[Reading]:
    """The readings somebody may see."""
    rows = Reading.objects.select_related("thing__property", "by")
    return rows.filter(thing__property__in=visible_properties(user))


def visible_adjustments(user: User | AnonymousUser) -> QuerySet[RuleAdjustment]:
    """The live adjustments somebody may see: those of the company and of their properties."""
    rows = RuleAdjustment.objects.select_related("property", "by").filter(ended_at=None)
    seen = visible_properties(user)
    return rows.filter(Q(property=None) | Q(property__in=seen)) if seen.exists() else rows.none()


def visible_reports(user: User | AnonymousUser) -> QuerySet[Report]:
    """The reports somebody may see, withdrawn ones left out."""
    rows = Report.objects.select_related("property", "thing", "by").filter(withdrawn_at=None)
    return rows.filter(property__in=visible_properties(user))


def late(user: User | AnonymousUser, today: date) -> QuerySet[CareTask]:
    """Open tasks whose window has closed, the oldest of each series, longest overdue first."""
    rows = visible_tasks(user).filter(state=TaskState.OPEN, closes_on__lt=today)
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
    scene = Scene(record, climate(place.climate))
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
    )


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


def horizon(place: Property, today: date, through: date | None = None) -> date:
    """The last day to plan for: thirteen months on, and never less than was planned before."""
    wanted = through or today + timedelta(days=HORIZON_DAYS)
    return max(wanted, place.planned_through) if place.planned_through else wanted


def changes_wanted(place: Property, *, today: date, through: date) -> Changes:
    """What would have to be written so that the stored tasks of a property are the right ones."""
    last_day = min(through, place.care_ends_on) if place.care_ends_on else through
    ended = place.care_ends_on is not None and place.care_ends_on < today
    wanted = () if ended else _wanted(place, today=today, through=last_day)
    return reconcile(wanted, stored_tasks(place))


def _wanted(place: Property, *, today: date, through: date) -> Iterable[Wanted]:
    record, place_climate = as_built(place), climate(place.climate)
    return generate(record, place_climate, rules_for(place), history(place), today=today, through=through)


def rules_for(place: Property) -> Mapping[str, Rule]:
    """The care rules as they hold on a property: adjusted, and as far as the agreement goes."""
    company, own = adjustments(place)
    rules = adjusted(every_rule(), company, own)
    agreement = Agreement.objects.filter(property=place).first()
    if agreement is None:
        return rules
    return agreed(rules, agreement.stems, CADENCE_DAYS[agreement.cadence])


def adjustments(place: Property | None) -> tuple[dict[str, Adjustment], dict[str, Adjustment]]:
    """The live adjustments of the company, and those of one property, by rule."""
    company: dict[str, Adjustment] = {}
    own: dict[str, Adjustment] = {}
    rows = RuleAdjustment.objects.filter(Q(property=None) | Q(property=place), ended_at=None)
    for row in rows.order_by("id"):
        (company if row.property_id is None else own)[row.rule] = values_of(row)
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
    return History(
        _past_of(place), _readings_of(place), _left_on(place), _reports_of(place), _kept_days(place)
    )


def _kept_days(place: Property) -> dict[str, date]:
    """The due day of every open task that planning may not move, by key."""
    rows = CareTask.objects.filter(Q(held=True) | _TOLD | _OVER, property=place, state=TaskState.OPEN)
    return dict(rows.values_list("key", "due_on"))


def _past_of(place: Property) -> dict[str, Past]:
    rows = CareTask.objects.filter(property=place, state__in=SETTLED).order_by("settled_on", "id")
    past: dict[str, Past] = {}
    for series, occurrence, state, on in rows.values_list("series", "occurrence", "state", "settled_on"):
        past[series] = past.get(series, NO_PAST).and_then(occurrence, on or date.min, done=state == _DONE)
    return past


def _readings_of(place: Property) -> dict[tuple[int, str], list[Measured]]:
    readings: dict[tuple[int, str], list[Measured]] = defaultdict(list)
    rows = Reading.objects.filter(thing__property=place).order_by("taken_on", "id")
    for thing_id, quantity, taken_on, value in rows.values_list("thing_id", "quantity", "taken_on", "value"):
        readings[thing_id, quantity].append(Measured(taken_on, value))
    return readings


def _left_on(place: Property) -> dict[int, date]:
    """The last day, on the wall of the place, on which a setting was changed, by thing."""
    rows = ThingChange.objects.filter(thing__property=place, field__in=_SETTINGS)
    moments = rows.order_by().values_list("thing_id").annotate(last=Max("at"))
    return {thing_id: last.astimezone(place.zone()).date() for thing_id, last in moments}


def _reports_of(place: Property) -> dict[str, list[Reported]]:
    reports: dict[str, list[Reported]] = defaultdict(list)
    for row in Report.objects.filter(property=place, withdrawn_at=None).order_by("happened_on", "id"):
        reports[row.kind].append(Reported(row.kind, row.happened_on, _name_of(row), row.thing_id, row.note))
    for told in _weather_of(place):
        reports[told.kind].append(told)
    return reports


def _weather_of(place: Property) -> Iterator[Reported]:
    """What the station of a property measured and forecasts that asks for care."""
    station = station_of(place)
    if station is None:
        return
    for day in storm_days(station, place.care_starts_on):
        yield Reported("storm", day, day.isoformat())
    for morning in freeze_mornings(station):
        yield Reported("freeze", morning - timedelta(1), spell_name(morning))


def _name_of(report: Report) -> str:
    """The occurrence of what follows; a storm is one however many report it."""
    day = report.happened_on.isoformat()
    return day if report.kind == ReportKind.STORM else f"{day}.{report.pk}"


def stored_tasks(place: Property) -> list[Stored]:
    """The stored tasks of a property, ready to be compared."""
    rows = CareTask.objects.filter(property=place)
    told, over = (set(rows.filter(which).values_list("pk", flat=True)) for which in (_TOLD, _OVER))
    settled = rows.filter(state__in=SETTLED).values_list("key", "series")
    fixed = [Stored(None, key, series, (), fixed=True, withdrawn=False) for key, series in settled]
    return fixed + [
        _stored(row, told=row.pk in told, over=row.pk in over) for row in rows.exclude(state__in=SETTLED)
    ]


def _stored(row: CareTask, *, told: bool, over: bool) -> Stored:
    shown = (
        row.opens_on,
        row.due_on,
        row.closes_on,
        row.rule,
        row.minutes,
        row.people,
        row.skill,
        row.title,
        row.title_es,
        row.cautions,
        row.details,
    )
    withdrawn = row.state == TaskState.WITHDRAWN
    fixed = (row.held or told or over) and not withdrawn
    return Stored(
        row, row.key, row.series, shown, fixed=fixed, withdrawn=withdrawn, told=told and not row.held
    )


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
    return Scene(as_built(place), climate(place.climate))
