"""Visits, what a crew needs to enter, and what was really done."""

import re
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import parsers, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.care import Measurement, TaskRow
from landscape_care.api.description import paged, told
from landscape_care.api.door import (
    Door,
    OfficeDoor,
    chosen,
    one,
    page_of,
    person,
    plain_query,
    query,
    read,
    shown,
    today_in,
)
from landscape_care.api.fields import Body, Clock, Day, Identity, ModelRow, PageQuery, ReasonBody
from landscape_care.care.queries import visible_tasks
from landscape_care.dispatch.queries import visible_stops
from landscape_care.people.actions import record
from landscape_care.visits import actions, queries
from landscape_care.visits.models import Completion, Outcome, Visit, VisitState

# --- Visits -----------------------------------------------------------------------------------


class VisitRow(ModelRow[Visit]):
    """A visit: the days it may be, and what people were told once it is published."""

    property = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    skills = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:  # noqa: D106
        model = Visit
        fields: tuple[str, ...] = (
            "id",
            "property",
            "slot",
            "state",
            "opens_on",
            "closes_on",
            "weekdays",
            "minutes",
            "people",
            "skills",
            "day",
            "arrives_at",
            "leaves_at",
            "crew_name",
            "moved_from",
            "withdrawn_reason",
            "revision",
            "changed_at",
        )


class VisitWithTasks(VisitRow):
    """A visit with its care tasks."""

    tasks = serializers.SerializerMethodField()

    class Meta(VisitRow.Meta):  # noqa: D106
        fields: tuple[str, ...] = (*VisitRow.Meta.fields, "tasks")

    @extend_schema_field(TaskRow(many=True))
    def get_tasks(self, row: Visit) -> Any:
        """The care tasks, settled ones included."""
        return TaskRow(queries.tasks_of(row).select_related("property"), many=True).data


class VisitQuery(PageQuery):
    """Which visits: of a property, in a state, told or possible within some days."""

    property = serializers.SlugField(required=False, help_text="Code of a property")
    state = serializers.ChoiceField(VisitState.choices, required=False)
    first = Day(required=False, help_text="Visits that may be on this day or later")
    last = Day(required=False, help_text="Visits that may be on this day or earlier")


class AccessRow(serializers.Serializer[Any]):
    """How to get in."""

    street = serializers.CharField()
    town = serializers.CharField()
    latitude_deg = serializers.FloatField()
    longitude_deg = serializers.FloatField()
    access_opens = Clock()
    access_closes = Clock()
    access_note = serializers.CharField()
    gate_code = serializers.CharField()


class VisitList(Door):
    """Visits; a crew sees those on its published routes."""

    @told(paged(VisitRow), asked=VisitQuery)
    def get(self, request: Request) -> Response:
        """List the visits you may see."""
        asked = query(VisitQuery, request)
        return page_of(_found(queries.visible_visits(person(request)), asked), asked, VisitRow)


def _found(rows: QuerySet[Visit], asked: dict[str, Any]) -> QuerySet[Visit]:
    filters = {
        "property": "property__code",
        "state": "state",
        "first": "closes_on__gte",
        "last": "opens_on__lte",
    }
    return rows.filter(**{column: asked[name] for name, column in filters.items() if name in asked})


class VisitDetail(Door):
    """One visit."""

    @told(VisitWithTasks)
    def get(self, request: Request, number: int) -> Response:
        """Show a visit with its care tasks."""
        return shown(one(queries.visible_visits(person(request)), pk=number), VisitWithTasks)


class VisitAccess(Door):
    """Gate code and access note: for the crew on the day of the visit, and for the office."""

    @told(AccessRow)
    def get(self, request: Request, number: int) -> Response:
        """Show how to get in; who asked is noted."""
        by = person(request)
        visit = one(queries.visible_visits(by), pk=number)
        place = visit.property
        today = today_in(place.time_zone)
        if not by.in_office() and not visible_stops(by).filter(visit=visit, day=today).exists():
            raise PermissionDenied("The gate code is shown to the crew on the day of the visit.")
        record("see access", f"{place.code} {visit.slot}", by=by)
        return shown(place, AccessRow)


class VisitWithdrawal(OfficeDoor):
    """Taking a visit back."""

    @told(VisitRow, takes=ReasonBody)
    def post(self, request: Request, number: int) -> Response:
        """Take back a visit that is not done; calendars tell it, its open care is planned again."""
        by, given = person(request), read(ReasonBody, request.data)
        visit = one(queries.visible_visits(by), pk=number)
        return shown(actions.withdraw(visit, given["reason"], by=by), VisitRow)


# --- Completions ------------------------------------------------------------------------------


@extend_schema_field(
    {
        "type": "object",
        "description": "By tag: set_minutes, set_weekdays, set_start of a zone; set_on, set_off of a timer",
        "additionalProperties": {
            "type": "object",
            "additionalProperties": {"oneOf": [{"type": "integer"}, {"type": "string", "maxLength": 20}]},
        },
    }
)
class SettingsLeft(serializers.Field[Any, Any, Any, Any]):
    """What a crew left set, by tag and setting; the record decides which settings there are."""

    def to_internal_value(self, data: Any) -> dict[str, dict[str, Any]]:
        """Read two levels of short words and whole numbers."""
        if not isinstance(data, dict) or len(data) > 200:
            raise serializers.ValidationError("settings by tag")
        return {_word(tag): self._settings(tag, settings) for tag, settings in data.items()}

    def _settings(self, tag: str, settings: Any) -> dict[str, Any]:
        if not isinstance(settings, dict) or len(settings) > 10:
            raise serializers.ValidationError({tag: ["settings by name"]})
        return {_word(name): _setting(value) for name, value in settings.items()}

    def to_representation(self, value: Any) -> Any:
        """As it was kept."""
        return value


def _word(text: str) -> str:
    if not re.fullmatch(r"[\w .:/-]{1,20}", text):
        raise serializers.ValidationError("words of at most 20 letters and digits")
    return text


def _setting(value: Any) -> Any:
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) < 10_000:
        return value
    if isinstance(value, str):
        return _word(value) if value else ""
    raise serializers.ValidationError("whole numbers, or short words such as 05:30")


class ReadingTaken(Measurement):
    """A value measured on the thing of the task, or on the thing with the tag."""

    tag = serializers.CharField(max_length=20, required=False)


class CompletionBody(Body):
    """What was done for one care task of a visit."""

    visit = Identity()
    task = Identity()
    outcome = serializers.ChoiceField(Outcome.choices)
    done_on = Day()
    reason = serializers.CharField(
        max_length=200, required=False, allow_blank=True, help_text="Needed when it was skipped"
    )
    note = serializers.CharField(
        max_length=4000, required=False, allow_blank=True, help_text="Needed when something is to follow"
    )
    readings = ReadingTaken(many=True, required=False)
    settings_left = SettingsLeft(required=False)


class CompletionRow(ModelRow[Completion]):
    """What was done for one care task; the bytes of its photos lie at `photos/<id>/picture/`."""

    visit = serializers.PrimaryKeyRelatedField[Any](read_only=True)
    task = serializers.PrimaryKeyRelatedField[Any](read_only=True)
    by = serializers.SlugRelatedField[Any](slug_field="username", read_only=True, allow_null=True)
    readings = serializers.ListField(child=serializers.DictField(), read_only=True)
    settings_left = SettingsLeft(read_only=True)
    photos = serializers.PrimaryKeyRelatedField[Any](many=True, read_only=True)

    class Meta:  # noqa: D106
        model = Completion
        fields = (
            "id",
            "visit",
            "task",
            "outcome",
            "reason",
            "note",
            "readings",
            "settings_left",
            "done_on",
            "by",
            "recorded_at",
            "photos",
        )


class CompletionList(Door):
    """What was done on the visits you may see."""

    @told(paged(CompletionRow), asked=PageQuery)
    def get(self, request: Request) -> Response:
        """List the completions, the newest first."""
        return page_of(queries.visible_completions(person(request)), plain_query(request), CompletionRow)


class CompletionDetail(Door):
    """One completion, under an id that its sender made."""

    may_conflict = True

    @told(CompletionRow)
    def get(self, request: Request, uuid: UUID) -> Response:
        """Show a completion."""
        return shown(one(queries.visible_completions(person(request)), pk=uuid), CompletionRow)

    @extend_schema(request=CompletionBody, responses={200: CompletionRow, 201: CompletionRow})
    def put(self, request: Request, uuid: UUID) -> Response:
        """Note what was done; the same id and body again changes nothing and gives the same answer."""
        by, given = person(request), read(CompletionBody, request.data)
        visit = chosen(queries.visible_visits(by), "visit", pk=given.pop("visit"))
        task = chosen(visible_tasks(by), "task", pk=given.pop("task"))
        if given["done_on"] > today_in(visit.property.time_zone):
            raise serializers.ValidationError({"done_on": ["today or a day before"]})
        known = queries.visible_completions(by).filter(pk=uuid).exists()
        completion = actions.complete(uuid, visit=visit, task=task, **given, by=by)
        return shown(completion, CompletionRow, 200 if known else 201)


class CompletionPictureBody(Body):
    """A JPEG, PNG or WebP picture of at most 12 MB."""

    picture = serializers.FileField()


class CompletionPhotos(Door):
    """Pictures of what was done."""

    parser_classes = (parsers.MultiPartParser,)

    @told(CompletionRow, takes=CompletionPictureBody, status=201)
    def post(self, request: Request, uuid: UUID) -> Response:
        """Add a picture to a completion, to its thing and its property."""
        completion = one(queries.visible_completions(person(request)), pk=uuid)
        picture = read(CompletionPictureBody, request.data)["picture"]
        actions.keep_photo(completion, picture, by=person(request))
        completion = one(queries.visible_completions(person(request)), pk=uuid)
        return shown(completion, CompletionRow, 201)
