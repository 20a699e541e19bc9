"""Care rules, the company's adjustments, care tasks and readings."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import paged, told
from landscape_care.api.door import (
    Door,
    OfficeDoor,
    chosen,
    office_writes,
    one,
    page_of,
    person,
    query,
    read,
    shown,
    today_in,
)
from landscape_care.api.fields import (
    Body,
    Day,
    Identity,
    ModelRow,
    Number,
    PageQuery,
    ReasonBody,
    Whole,
)
from landscape_care.api.problems import Conflict
from landscape_care.care import actions, queries
from landscape_care.care.catalog import STEMS, Adjustment, Rule, with_adjustment
from landscape_care.care.measures import QUANTITIES, check_reading
from landscape_care.care.models import (
    SETTLED,
    CareTask,
    Reading,
    Report,
    ReportKind,
    RuleAdjustment,
    TaskState,
)
from landscape_care.properties.queries import visible_properties, visible_things
from landscape_care.trades.limits import Refused

ADJUSTABLE = ("enabled", "every_days", "offset_days", "minutes", "fixed")

# --- Rules and adjustments --------------------------------------------------------------------


class RuleWords(serializers.Serializer[Any]):
    """What a rule says in one language."""

    title = serializers.CharField()
    how = serializers.CharField()
    materials = serializers.CharField()


class LabourRow(serializers.Serializer[Any]):
    """Clock minutes of a rule: setting up, and for each so many of a unit."""

    set_up_minutes = serializers.FloatField()
    minutes_per_unit = serializers.FloatField()
    unit = serializers.CharField()
    unit_size = serializers.FloatField()


class RuleRow(serializers.Serializer[Any]):
    """A care rule of the catalog: for what, when, how long, by whom, and the words for it."""

    key = serializers.CharField()
    stem = serializers.CharField()
    kind = serializers.CharField()
    every_days = serializers.IntegerField(allow_null=True)
    within = serializers.CharField(allow_null=True)
    season = serializers.CharField(allow_null=True)
    computed = serializers.CharField(allow_null=True)
    tolerance_days = serializers.IntegerField()
    labour = LabourRow()
    skill = serializers.CharField()
    people = serializers.IntegerField()
    cautions = serializers.ListField(child=serializers.CharField())
    en = RuleWords()
    es = RuleWords()
    source = serializers.CharField()  # type: ignore[assignment]


class RuleQuery(Body):
    """Which rules."""

    stem = serializers.ChoiceField(STEMS, required=False)


class RuleList(Door):
    """The care rules of the catalog and our own; what was set otherwise is under `adjustments/`."""

    @told(RuleRow(many=True), asked=RuleQuery)
    def get(self, request: Request) -> Response:
        """List the rules."""
        stem = query(RuleQuery, request).get("stem")
        rules: list[Rule] = [rule for rule in queries.every_rule().values() if stem in (None, rule.stem)]
        return Response(RuleRow(rules, many=True).data)


class AdjustmentRow(ModelRow[RuleAdjustment]):
    """The company's own value for a rule, everywhere or on one property."""

    property = serializers.SlugRelatedField[Any](slug_field="code", read_only=True, allow_null=True)
    by = serializers.SlugRelatedField[Any](slug_field="username", read_only=True, allow_null=True)

    class Meta:  # noqa: D106
        model = RuleAdjustment
        fields = (
            "id",
            "rule",
            "property",
            "enabled",
            "every_days",
            "offset_days",
            "minutes",
            "fixed",
            "reason",
            "by",
            "at",
            "ended_at",
        )


class AdjustmentQuery(PageQuery):
    """Which adjustments."""

    property = serializers.SlugField(required=False, help_text="Code of a property")
    rule = serializers.CharField(required=False, max_length=60)


class AdjustmentBody(Body):
    """What to change of a rule, and why; without a property it holds everywhere."""

    rule = serializers.CharField(max_length=60)
    property = serializers.SlugField(required=False, allow_null=True, default=None)
    enabled = serializers.BooleanField(required=False, allow_null=True, default=None)
    every_days = Whole(min_value=1, max_value=3660, required=False, allow_null=True, default=None)
    offset_days = Whole(min_value=-366, max_value=366, required=False, allow_null=True, default=None)
    minutes = Whole(min_value=1, max_value=1440, required=False, allow_null=True, default=None)
    fixed = serializers.RegexField(
        r"^\d\d-\d\d\.\.\d\d-\d\d$",
        required=False,
        allow_null=True,
        default=None,
        help_text="Yearly days that count instead of the season, such as 03-01..03-21",
    )
    reason = serializers.CharField(max_length=200)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse values that the rule cannot have."""
        rule = queries.rule_named(attrs["rule"])
        if rule is None:
            raise serializers.ValidationError({"rule": ["the key of a care rule, see care-rules/"]})
        values = values_of(attrs)
        if not values:
            raise serializers.ValidationError(f"at least one of {', '.join(ADJUSTABLE)}")
        try:
            with_adjustment(rule, Adjustment(**values))
        except ValueError as nonsense:
            raise serializers.ValidationError({str(nonsense).split(" ", 1)[0]: [str(nonsense)]}) from nonsense
        return attrs


def values_of(given: dict[str, Any]) -> dict[str, Any]:
    """The values of an adjustment that were given."""
    return {name: given[name] for name in ADJUSTABLE if given.get(name) is not None}


class AdjustmentList(Door):
    """What the company set otherwise, everywhere or on one property."""

    @told(paged(AdjustmentRow), asked=AdjustmentQuery)
    def get(self, request: Request) -> Response:
        """List the adjustments that hold."""
        asked, rows = query(AdjustmentQuery, request), queries.visible_adjustments(person(request))
        filters = {"property": "property__code", "rule": "rule"}
        rows = rows.filter(**{column: asked[name] for name, column in filters.items() if name in asked})
        return page_of(rows, asked, AdjustmentRow)

    @told(AdjustmentRow, takes=AdjustmentBody, status=201)
    def post(self, request: Request) -> Response:
        """Adjust a rule; the adjustment before ends, and care is planned again."""
        by, given = office_writes(request), read(AdjustmentBody, request.data)
        code = given["property"]
        place = chosen(visible_properties(by), "property", code=code) if code else None
        row = actions.adjust_rule(
            given["rule"], by=by, reason=given["reason"], property=place, **values_of(given)
        )
        return shown(row, AdjustmentRow, 201)


class AdjustmentEnd(OfficeDoor):
    """The end of an adjustment."""

    @told(AdjustmentRow)
    def post(self, request: Request, number: int) -> Response:
        """Let the rule go back to what holds without this adjustment."""
        by = person(request)
        return shown(
            actions.end_adjustment(one(queries.visible_adjustments(by), pk=number), by=by), AdjustmentRow
        )


# --- Tasks ------------------------------------------------------------------------------------


class TaskRow(ModelRow[CareTask]):
    """A care task with its window."""

    property = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    thing = serializers.PrimaryKeyRelatedField[Any](read_only=True, allow_null=True)
    cautions = serializers.ListField(child=serializers.CharField(), read_only=True)
    details = serializers.DictField(read_only=True)

    class Meta:  # noqa: D106
        model = CareTask
        fields = (
            "id",
            "key",
            "property",
            "thing",
            "rule",
            "stem",
            "occurrence",
            "title",
            "title_es",
            "opens_on",
            "due_on",
            "closes_on",
            "minutes",
            "people",
            "skill",
            "cautions",
            "details",
            "state",
            "held",
            "settled_on",
            "skip_reason",
            "revision",
            "changed_at",
        )


class TaskQuery(PageQuery):
    """Which care tasks: of a property, in a state, with a window that touches some days."""

    property = serializers.SlugField(required=False, help_text="Code of a property")
    state = serializers.ChoiceField(TaskState.choices, required=False)
    stem = serializers.CharField(required=False, max_length=20)
    first = Day(required=False, help_text="Windows that close on this day or later")
    last = Day(required=False, help_text="Windows that open on this day or earlier")
    late_on = Day(
        required=False, help_text="Open tasks whose window had closed by this day, oldest of each series"
    )


class WhyRow(serializers.Serializer[Any]):
    """Why a task is there and how late it is, in both languages."""

    en = serializers.CharField()
    es = serializers.CharField()


class SettlementBody(Body):
    """What became of a task outside any visit."""

    outcome = serializers.ChoiceField([(state.value, state.label) for state in SETTLED])
    on = Day()
    reason = serializers.CharField(
        max_length=200, required=False, allow_blank=True, default="", help_text="Needed when it was skipped"
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """A skipped task wants a reason."""
        if attrs["outcome"] == TaskState.SKIPPED and not attrs["reason"].strip():
            raise serializers.ValidationError({"reason": ["why it was skipped"]})
        return attrs


class TaskList(Door):
    """Care tasks."""

    @told(paged(TaskRow), asked=TaskQuery)
    def get(self, request: Request) -> Response:
        """List the care tasks by due day."""
        asked, by = query(TaskQuery, request), person(request)
        rows = queries.late(by, asked["late_on"]) if "late_on" in asked else queries.visible_tasks(by)
        return page_of(_found(rows, asked), asked, TaskRow)


def _found(rows: QuerySet[CareTask], asked: dict[str, Any]) -> QuerySet[CareTask]:
    filters = {
        "property": "property__code",
        "state": "state",
        "stem": "stem",
        "first": "closes_on__gte",
        "last": "opens_on__lte",
    }
    return rows.filter(**{column: asked[name] for name, column in filters.items() if name in asked})


class TaskDetail(Door):
    """One care task."""

    @told(TaskRow)
    def get(self, request: Request, number: int) -> Response:
        """Show a care task with its computed details."""
        return shown(one(queries.visible_tasks(person(request)), pk=number), TaskRow)


class TaskWhy(Door):
    """The reason for a task."""

    @told(WhyRow)
    def get(self, request: Request, number: int) -> Response:
        """Say why a task is there and whether it is late."""
        task = one(queries.visible_tasks(person(request)), pk=number)
        en, es = queries.why(task, today_in(task.property.time_zone))
        return Response({"en": en, "es": es})


class TaskHold(OfficeDoor):
    """Keeping the window of a task."""

    may_conflict = True

    @told(TaskRow)
    def post(self, request: Request, number: int) -> Response:
        """Keep the window as it is, whatever planning finds."""
        by = person(request)
        return shown(actions.hold(one(queries.visible_tasks(by), pk=number), by=by), TaskRow)


class TaskRelease(OfficeDoor):
    """Letting planning move a task again."""

    may_conflict = True

    @told(TaskRow)
    def post(self, request: Request, number: int) -> Response:
        """Let planning move the window again."""
        by = person(request)
        return shown(actions.release(one(queries.visible_tasks(by), pk=number), by=by), TaskRow)


class TaskSettlement(OfficeDoor):
    """Noting what became of a task outside any visit."""

    may_conflict = True

    @told(TaskRow, takes=SettlementBody)
    def post(self, request: Request, number: int) -> Response:
        """Note that a task was done or skipped; the next is counted from there."""
        by, given = person(request), read(SettlementBody, request.data)
        task = one(queries.visible_tasks(by), pk=number)
        if given["on"] > today_in(task.property.time_zone):
            raise serializers.ValidationError({"on": ["today or a day before"]})
        return shown(actions.settle(task, **given, by=by), TaskRow)


class TaskReopening(OfficeDoor):
    """Taking back that a task was settled."""

    may_conflict = True

    @told(TaskRow, takes=ReasonBody)
    def post(self, request: Request, number: int) -> Response:
        """Take back a settlement that was a mistake."""
        by, given = person(request), read(ReasonBody, request.data)
        task = one(queries.visible_tasks(by), pk=number)
        if task.state not in SETTLED:
            raise Conflict(f"This task is {task.state}; only a settled one can be taken back.")
        return shown(actions.unsettle(task, reason=given["reason"], by=by), TaskRow)


# --- Readings ---------------------------------------------------------------------------------


class ReadingRow(ModelRow[Reading]):
    """A measured value."""

    thing = serializers.PrimaryKeyRelatedField[Any](read_only=True)
    by = serializers.SlugRelatedField[Any](slug_field="username", read_only=True, allow_null=True)

    class Meta:  # noqa: D106
        model = Reading
        fields = ("id", "thing", "quantity", "value", "unit", "taken_on", "by")


class ReadingQuery(PageQuery):
    """Which readings."""

    thing = Identity(required=False, help_text="Number of an installed thing")


class Measurement(Body):
    """A measured value in its own unit."""

    quantity = serializers.ChoiceField([(name, known.en) for name, known in QUANTITIES.items()])
    value = Number()
    unit = serializers.CharField(max_length=20)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a foreign unit and a value no gauge shows."""
        try:
            check_reading(attrs["quantity"], attrs["value"], attrs["unit"])
        except Refused as refused:
            wrong = {problem.field: [problem.wanted] for problem in refused.problems}
            raise serializers.ValidationError(wrong) from refused
        return attrs


class ReadingBody(Measurement):
    """A value read on an installed thing."""

    thing = Identity()
    taken_on = Day()


class ReadingList(Door):
    """Measured values."""

    @told(paged(ReadingRow), asked=ReadingQuery)
    def get(self, request: Request) -> Response:
        """List the readings, the newest first."""
        asked, rows = query(ReadingQuery, request), queries.visible_readings(person(request))
        rows = rows.filter(thing=asked["thing"]) if "thing" in asked else rows
        return page_of(rows, asked, ReadingRow)

    @told(ReadingRow, takes=ReadingBody, status=201)
    def post(self, request: Request) -> Response:
        """Keep a reading; one over a threshold brings care forward."""
        by, given = person(request), read(ReadingBody, request.data)
        thing = chosen(visible_things(by), "thing", pk=given["thing"])
        if given["taken_on"] > today_in(thing.property.time_zone):
            raise serializers.ValidationError({"taken_on": ["today or a day before"]})
        row = actions.take_reading(
            thing, given["quantity"], given["value"], given["unit"], on=given["taken_on"], by=by
        )
        return shown(row, ReadingRow, 201)


# --- Reports ----------------------------------------------------------------------------------


class ReportRow(ModelRow[Report]):
    """Something that happened on a property and asks for care."""

    property = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    thing = serializers.PrimaryKeyRelatedField[Any](read_only=True, allow_null=True)
    by = serializers.SlugRelatedField[Any](slug_field="username", read_only=True, allow_null=True)

    class Meta:  # noqa: D106
        model = Report
        fields = ("id", "property", "thing", "kind", "happened_on", "note", "by", "at", "withdrawn_at")


class ReportQuery(PageQuery):
    """Which reports."""

    property = serializers.SlugField(required=False, help_text="Code of a property")
    kind = serializers.ChoiceField(ReportKind.choices, required=False)


class ReportBody(Body):
    """What happened, when, and to what; without a thing it befell the whole property."""

    property = serializers.SlugField(help_text="Code of a property")
    kind = serializers.ChoiceField(ReportKind.choices)
    happened_on = Day()
    thing = Identity(required=False, allow_null=True, default=None)
    note = serializers.CharField(max_length=400, required=False, allow_blank=True, default="")


class ReportList(Door):
    """What happened on properties."""

    @told(paged(ReportRow), asked=ReportQuery)
    def get(self, request: Request) -> Response:
        """List the reports, the newest first."""
        asked, rows = query(ReportQuery, request), queries.visible_reports(person(request))
        filters = {"property": "property__code", "kind": "kind"}
        rows = rows.filter(**{column: asked[name] for name, column in filters.items() if name in asked})
        return page_of(rows, asked, ReportRow)

    @told(ReportRow, takes=ReportBody, status=201)
    def post(self, request: Request) -> Response:
        """Report what happened; the care that follows is planned."""
        by, given = person(request), read(ReportBody, request.data)
        place = chosen(visible_properties(by), "property", code=given["property"])
        thing = chosen(visible_things(by), "thing", pk=given["thing"]) if given["thing"] else None
        if given["happened_on"] > today_in(place.time_zone):
            raise serializers.ValidationError({"happened_on": ["today or a day before"]})
        try:
            row = actions.report(
                place, given["kind"], on=given["happened_on"], by=by, thing=thing, note=given["note"]
            )
        except ValueError as nonsense:
            field = {"on": "happened_on"}.get(word := str(nonsense).split(" ", 1)[0], word)
            raise serializers.ValidationError({field: [str(nonsense)]}) from nonsense
        return shown(row, ReportRow, 201)


class ReportWithdrawal(OfficeDoor):
    """Taking a report back."""

    @told(ReportRow, takes=ReasonBody)
    def post(self, request: Request, number: int) -> Response:
        """Take back a report that was a mistake; open care that followed is withdrawn."""
        by, given = person(request), read(ReasonBody, request.data)
        row = one(queries.visible_reports(by), pk=number)
        return shown(actions.withdraw_report(row, reason=given["reason"], by=by), ReportRow)
