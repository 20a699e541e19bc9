"""Looks ahead: what-ifs, and the labour and driving of the next twelve months."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import paged, told
from landscape_care.api.door import (
    OfficeDoor,
    chosen,
    one,
    page_of,
    person,
    query,
    read,
    shown,
    today_in,
)
from landscape_care.api.fields import Body, Clock, Day, ModelRow, PageQuery, Whole
from landscape_care.dispatch import labour, what_ifs
from landscape_care.dispatch.actions import LONGEST_SECONDS
from landscape_care.dispatch.labour import Ahead
from landscape_care.dispatch.models import WhatIf
from landscape_care.dispatch.what_if_changes import MOST_CREWS, MOST_GARDENS, Changes
from landscape_care.dispatch.what_ifs import MOST_MONTHS, Span
from landscape_care.properties.queries import visible_depots
from landscape_care.visits.bundling import CADENCES

# --- What if ------------------------------------------------------------------------------------


class WhatIfRow(ModelRow[WhatIf]):
    """A copy of some months with something changed; `answer` has both sides by month and in total."""

    depot = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    asked_by = serializers.SlugRelatedField[Any](slug_field="username", read_only=True, allow_null=True)
    changes = serializers.DictField(read_only=True)
    progress = serializers.DictField(read_only=True)
    answer = serializers.DictField(read_only=True)

    class Meta:  # noqa: D106
        model = WhatIf
        fields = (
            "id",
            "depot",
            "first_month",
            "months",
            "changes",
            "seconds_allowed",
            "state",
            "progress",
            "stop_wanted",
            "answer",
            "failure",
            "asked_by",
            "asked_at",
            "done_at",
        )


class WhatIfQuery(PageQuery):
    """Which what-ifs."""

    depot = serializers.SlugField(required=False, help_text="Code of a depot")


class WhatIfBody(Body):
    """Which months of which depot, and what is changed; at least one thing must be."""

    depot = serializers.SlugField(help_text="Code of the depot")
    first_month = Day(help_text="Any day of the first month")
    months = Whole(min_value=1, max_value=MOST_MONTHS, default=1)
    seconds = Whole(min_value=1, max_value=LONGEST_SECONDS, default=60, help_text="For all months together")
    gardens_added = Whole(min_value=0, max_value=MOST_GARDENS, default=0)
    crews_out = serializers.ListField(
        child=serializers.SlugField(max_length=40), max_length=100, default=list, help_text="Codes of crews"
    )
    crews_added = Whole(min_value=0, max_value=MOST_CREWS, default=0)
    cadence_from = serializers.ChoiceField(CADENCES, required=False, help_text="Agreements of this cadence")
    cadence_to = serializers.ChoiceField(CADENCES, required=False, help_text="come like this instead")
    shift_opens = Clock(required=False, help_text="All shifts begin then")
    shift_closes = Clock(required=False, help_text="All shifts end then")


class WhatIfList(OfficeDoor):
    """What-ifs."""

    @told(paged(WhatIfRow), asked=WhatIfQuery)
    def get(self, request: Request) -> Response:
        """List what was asked, the newest first."""
        asked = query(WhatIfQuery, request)
        rows = what_ifs.visible(person(request))
        if asked.get("depot"):
            rows = rows.filter(depot__code=asked["depot"])
        return page_of(rows, asked, WhatIfRow)

    @told(WhatIfRow, takes=WhatIfBody, status=202)
    def post(self, request: Request) -> Response:
        """Ask for one; it is worked out in the background."""
        by, given = person(request), read(WhatIfBody, request.data)
        depot = chosen(visible_depots(by), "depot", code=given.pop("depot"))
        span = Span(given.pop("first_month"), given.pop("months"), given.pop("seconds"))
        changes = Changes(**{**given, "crews_out": tuple(given["crews_out"])})
        row = what_ifs.ask(depot, changes, span, by=by, today=today_in(depot.time_zone))
        return shown(row, WhatIfRow, 202)


class WhatIfDetail(OfficeDoor):
    """One what-if."""

    @told(WhatIfRow)
    def get(self, request: Request, number: int) -> Response:
        """Show how far it is, and its answer."""
        return shown(one(what_ifs.visible(person(request)), pk=number), WhatIfRow)


class WhatIfStop(OfficeDoor):
    """Ending a what-if."""

    @told(WhatIfRow, status=200)
    def post(self, request: Request, number: int) -> Response:
        """End the work and keep the months done so far; one that nobody began is withdrawn."""
        row = one(what_ifs.visible(person(request)), pk=number)
        return shown(what_ifs.stop(row.pk, by=person(request)), WhatIfRow)


# --- Labour -------------------------------------------------------------------------------------


class SkillHoursRow(serializers.Serializer[Any]):
    """Hours of work that ask for a skill, beside those of all crews that have it."""

    skill = serializers.CharField()
    work_hours = serializers.FloatField()
    hours_available = serializers.FloatField()
    short = serializers.BooleanField()


class LabourMonthRow(serializers.Serializer[Any]):
    """What a month asks for; hours count all people, driving is estimated."""

    month = serializers.DateField()
    visits = serializers.IntegerField()
    work_hours = serializers.FloatField()
    crew_days = serializers.IntegerField(source="driving.crew_days")
    drive_person_hours = serializers.FloatField(source="driving.person_hours")
    drive_miles = serializers.FloatField(source="driving.miles")
    hours_available = serializers.FloatField()
    share = serializers.FloatField(allow_null=True, help_text="0 to 1 and over; null where no crew works")
    short = serializers.BooleanField()
    skills = SkillHoursRow(many=True)


class DepotLabourRow(serializers.Serializer[Ahead]):
    """Twelve months of a depot."""

    depot = serializers.CharField(source="depot.code")
    driving_factor = serializers.FloatField(
        source="streets.factor", help_text="What published months drive over what is estimated"
    )
    more_crew_days = serializers.IntegerField(source="streets.more_crew_days")
    solved = serializers.SerializerMethodField()
    months = LabourMonthRow(many=True)

    @extend_schema_field(serializers.ListField(child=serializers.DateField()))
    def get_solved(self, row: Ahead) -> Any:
        """The months that the estimate was set by."""
        return list(row.solved)


class DepotLabour(OfficeDoor):
    """Labour and driving of a depot ahead."""

    @told(DepotLabourRow)
    def get(self, request: Request, code: str) -> Response:
        """Show twelve months from this one on."""
        depot = one(visible_depots(person(request)), code=code)
        return shown(labour.ahead(depot, today=today_in(depot.time_zone)), DepotLabourRow)
