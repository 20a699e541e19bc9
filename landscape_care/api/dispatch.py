"""Crews, their days, the plans of a month and the stops on them."""

from datetime import date
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.almanac.heat_plan import LEVELS, HeatPlan
from landscape_care.api.description import paged, told
from landscape_care.api.door import (
    Door,
    OfficeDoor,
    chosen,
    day_named,
    office_writes,
    one,
    page_of,
    person,
    plain_query,
    query,
    read,
    shown,
    today_in,
)
from landscape_care.api.fields import Body, Clock, Day, ModelRow, PageQuery, Whole
from landscape_care.api.properties import property_coded
from landscape_care.api.records import fields_from
from landscape_care.api.visits import VisitWithTasks
from landscape_care.care.catalog import SKILLS
from landscape_care.dispatch import actions, queries
from landscape_care.dispatch.models import Crew, MonthPlan, PlanState, Stop, Unserved
from landscape_care.dispatch.records import CrewRecord
from landscape_care.people.models import User
from landscape_care.properties.queries import visible_depots

# --- Crews ------------------------------------------------------------------------------------


class CrewRow(ModelRow[Crew]):
    """People with a vehicle; weekdays are 1 Monday to 7 Sunday."""

    depot = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    skills = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:  # noqa: D106
        model = Crew
        fields = (
            "code",
            "name",
            "depot",
            "people",
            "skills",
            "shift_opens",
            "shift_closes",
            "break_minutes",
            "weekdays",
            "payload_lb",
            "bed_yd3",
            "heat_opens",
            "active",
        )


class Skills(serializers.ListField):
    """Skills one by one; the record holds them with commas."""

    child = serializers.ChoiceField(SKILLS)

    def to_internal_value(self, data: Any) -> Any:
        """Join them as the record does."""
        return ",".join(super().to_internal_value(data))


def _crew_fields(**more: Any) -> dict[str, Any]:
    fields = fields_from(CrewRecord, leave_out=("code",), **more)
    return fields | {"skills": Skills(max_length=len(SKILLS), allow_empty=False, **more)}


CrewBody = type(
    "CrewBody",
    (Body,),
    {"__doc__": "A new crew.", "code": serializers.SlugField(max_length=40), **_crew_fields()},
)
CrewChangeBody = type(
    "CrewChangeBody", (Body,), {"__doc__": "What changed of a crew.", **_crew_fields(required=False)}
)


class DayOffBody(Body):
    """A day on which a crew does not work."""

    day = Day()
    reason = serializers.CharField(max_length=120, required=False, default="", allow_blank=True)


class CrewList(Door):
    """Crews; a crew member sees their own."""

    @told(paged(CrewRow), asked=PageQuery)
    def get(self, request: Request) -> Response:
        """List the crews."""
        return page_of(queries.visible_crews(person(request)), plain_query(request), CrewRow)

    @told(CrewRow, takes=CrewBody, status=201)
    def post(self, request: Request) -> Response:
        """Add a crew."""
        by = office_writes(request)
        return shown(actions.add_crew(read(CrewBody, request.data), by=by), CrewRow, 201)


class CrewDetail(Door):
    """One crew."""

    @told(CrewRow)
    def get(self, request: Request, code: str) -> Response:
        """Show a crew."""
        return shown(one(queries.visible_crews(person(request)), code=code), CrewRow)

    @told(CrewRow, takes=CrewChangeBody)
    def patch(self, request: Request, code: str) -> Response:
        """Change people, skills, shift or working days of a crew."""
        by = office_writes(request)
        crew = one(queries.visible_crews(by), code=code)
        return shown(actions.change_crew(crew, read(CrewChangeBody, request.data), by=by), CrewRow)


class DayOffRow(serializers.Serializer[Any]):
    """A day on which a crew does not work."""

    day = serializers.DateField()
    reason = serializers.CharField()


class CrewDayOff(OfficeDoor):
    """Days off."""

    @told(DayOffRow, takes=DayOffBody, status=201)
    def post(self, request: Request, code: str) -> Response:
        """Note that a crew does not work on a day; told visits move when the month is planned again."""
        by, given = person(request), read(DayOffBody, request.data)
        crew = one(queries.visible_crews(by), code=code)
        return shown(actions.give_day_off(crew, given["day"], given["reason"], by=by), DayOffRow, 201)


class PreferredCrewBody(Body):
    """The code of a crew of the property's depot, or null for any."""

    crew = serializers.SlugField(max_length=40, allow_null=True)


def _crew_coded(by: User, code: str | None) -> Crew | None:
    return chosen(queries.visible_crews(by), "crew", code=code) if code else None


class PreferredCrew(OfficeDoor):
    """The crew that a property would rather have."""

    @told(PreferredCrewBody)
    def get(self, request: Request, code: str) -> Response:
        """Show it, null where any crew will do."""
        crew = queries.preferred_crew(property_coded(request, code))
        return shown({"crew": crew.code if crew else None}, PreferredCrewBody)

    @told(PreferredCrewBody, takes=PreferredCrewBody)
    def put(self, request: Request, code: str) -> Response:
        """Say it; months planned from now on pay a price for another crew."""
        by, place = office_writes(request), property_coded(request, code)
        given = read(PreferredCrewBody, request.data)["crew"]
        actions.prefer_crew(place, _crew_coded(by, given), by=by)
        return shown({"crew": given}, PreferredCrewBody)


class StopRow(ModelRow[Stop]):
    """A visit on a crew's route; `version` must be sent back with each change."""

    crew = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    visit = serializers.PrimaryKeyRelatedField[Any](read_only=True)
    plan = serializers.PrimaryKeyRelatedField[Any](read_only=True)

    class Meta:  # noqa: D106
        model = Stop
        fields = (
            "id",
            "plan",
            "visit",
            "crew",
            "day",
            "position",
            "drive_minutes",
            "drive_miles",
            "arrives_at",
            "leaves_at",
            "held",
            "version",
        )


class StopOfDay(StopRow):
    """A stop with its visit and tasks."""

    visit = VisitWithTasks(read_only=True)  # type: ignore[assignment]


class LoadRow(serializers.Serializer[Any]):
    """A line of what to load in the morning, in both languages; no amount where it is only named."""

    en = serializers.CharField()
    es = serializers.CharField()
    amount = serializers.FloatField(allow_null=True)
    unit = serializers.CharField()
    unit_es = serializers.CharField()


class HeatLine(serializers.Serializer[Any]):
    """A sentence in both languages."""

    en = serializers.CharField()
    es = serializers.CharField()


class HeatRow(serializers.Serializer[Any]):
    """The crew's shift in the usual heat of the month: when to start, until when heavy work goes on, rest."""

    level = serializers.ChoiceField(LEVELS)
    index_f = serializers.FloatField(help_text="Heat index of the worst hour that is worked, °F")
    start = Clock()
    heavy_until = Clock(help_text="The start where no hour is fit for heavy work")
    ends = Clock()
    rest_minutes = serializers.IntegerField()
    lines = serializers.SerializerMethodField()

    @extend_schema_field(HeatLine(many=True))
    def get_lines(self, plan: HeatPlan) -> Any:
        """What to do, in both languages."""
        return [{"en": english, "es": spanish} for english, spanish in plan.lines]


class CrewDayRow(serializers.Serializer[Any]):
    """A crew's day: its stops in order, what to load, and the shift in the heat."""

    crew = serializers.CharField(source="crew.code")
    day = serializers.DateField()
    stops = serializers.SerializerMethodField()
    load = LoadRow(many=True)
    route_version = serializers.SerializerMethodField()
    heat = HeatRow(allow_null=True)

    @extend_schema_field(StopOfDay(many=True))
    def get_stops(self, row: queries.CrewDay) -> Any:
        """The stops in order."""
        return StopOfDay([sheet.stop for sheet in row.stops], many=True).data

    def get_route_version(self, row: queries.CrewDay) -> int:
        """What a change of the order has to send along."""
        frame = queries.crew_route(row.crew, row.day)
        return frame.version if frame else 0


class CrewDayDetail(Door):
    """What a crew does on a day, as published."""

    @told(CrewDayRow)
    def get(self, request: Request, code: str, day: str) -> Response:
        """Show a crew's day."""
        crew = one(queries.visible_crews(person(request)), code=code)
        return shown(queries.crew_day(crew, day_named(day)), CrewDayRow)


# --- Plans of a month -------------------------------------------------------------------------


class PlanRow(ModelRow[MonthPlan]):
    """One attempt at a depot's month."""

    depot = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    asked_by = serializers.SlugRelatedField[Any](slug_field="username", read_only=True, allow_null=True)
    summary = serializers.DictField(read_only=True)
    progress = serializers.DictField(read_only=True)

    class Meta:  # noqa: D106
        model = MonthPlan
        fields = (
            "id",
            "depot",
            "month",
            "number",
            "state",
            "seconds_allowed",
            "summary",
            "asked_by",
            "asked_at",
            "solved_at",
            "published_at",
            "failure",
            "progress",
            "stop_wanted",
            "withdrawn_at",
            "withdrawn_reason",
        )


class UnservedRow(ModelRow[Unserved]):
    """A visit that a plan could not place, and why."""

    visit = serializers.PrimaryKeyRelatedField[Any](read_only=True)

    class Meta:  # noqa: D106
        model = Unserved
        fields = ("visit", "reason", "reason_es")


class PlanQuery(PageQuery):
    """Which plans."""

    depot = serializers.SlugField(required=False, help_text="Code of a depot")
    month = Day(required=False, help_text="First day of the month")
    state = serializers.ChoiceField(PlanState.choices, required=False)


class PlanBody(Body):
    """Which month to plan for which depot."""

    depot = serializers.SlugField(help_text="Code of the depot")
    month = Day(help_text="Any day of the month")
    seconds = Whole(min_value=1, max_value=actions.LONGEST_SECONDS, default=20, help_text="How long to look")


class PlanList(OfficeDoor):
    """Plans of months."""

    @told(paged(PlanRow), asked=PlanQuery)
    def get(self, request: Request) -> Response:
        """List the plans, the newest month first."""
        asked = query(PlanQuery, request)
        rows = queries.visible_plans(person(request))
        filters = {"depot": "depot__code", "month": "month", "state": "state"}
        rows = rows.filter(**{column: asked[name] for name, column in filters.items() if name in asked})
        return page_of(rows, asked, PlanRow)

    @told(PlanRow, takes=PlanBody, status=202)
    def post(self, request: Request) -> Response:
        """Ask for a plan; it is solved in the background, its state tells when."""
        by, given = person(request), read(PlanBody, request.data)
        depot = chosen(visible_depots(by), "depot", code=given["depot"])
        month: date = given["month"].replace(day=1)
        plan = actions.propose(depot, month, by=by, today=today_in(depot.time_zone), seconds=given["seconds"])
        return shown(plan, PlanRow, 202)


class PlanDetail(OfficeDoor):
    """One plan."""

    @told(PlanRow)
    def get(self, request: Request, number: int) -> Response:
        """Show a plan and how far it is."""
        return shown(one(queries.visible_plans(person(request)), pk=number), PlanRow)


class PlanStops(OfficeDoor):
    """The stops of a plan."""

    @told(paged(StopRow), asked=PageQuery)
    def get(self, request: Request, number: int) -> Response:
        """List the stops by day, crew and order."""
        plan = one(queries.visible_plans(person(request)), pk=number)
        return page_of(plan.stops.select_related("crew"), plain_query(request), StopRow)


class PlanUnserved(OfficeDoor):
    """The visits that a plan could not place."""

    @told(paged(UnservedRow), asked=PageQuery)
    def get(self, request: Request, number: int) -> Response:
        """List the visits with the reasons."""
        plan = one(queries.visible_plans(person(request)), pk=number)
        return page_of(plan.unserved.order_by("id"), plain_query(request), UnservedRow)


class PublicationQuery(Body):
    """The mark of the effects that you looked at; without it the plan is published as it stands."""

    seen = serializers.CharField(max_length=64, required=False)


class PlanPublication(OfficeDoor):
    """Telling everybody what a plan says."""

    may_conflict = True

    @told(PlanRow, asked=PublicationQuery)
    def post(self, request: Request, number: int) -> Response:
        """Publish a plan, all of it or nothing."""
        by, asked = person(request), query(PublicationQuery, request)
        plan = one(queries.visible_plans(by), pk=number)
        today = today_in(plan.depot.time_zone)
        published = actions.publish(plan.pk, by=by, today=today, seen=asked.get("seen"))
        return shown(published, PlanRow)


# --- Stops ------------------------------------------------------------------------------------


class VersionBody(Body):
    """The version you saw; when somebody changed the stop since, nothing happens and you are told who."""

    version = Whole(min_value=0)


class MoveBody(VersionBody):
    """Where the stop goes."""

    day = Day()
    crew = serializers.SlugField(help_text="Code of the crew")


class StopDetail(Door):
    """One stop."""

    @told(StopRow)
    def get(self, request: Request, number: int) -> Response:
        """Show a stop with its version."""
        return shown(one(queries.visible_stops(person(request)), pk=number), StopRow)


class StopMove(OfficeDoor):
    """Moving a stop."""

    may_conflict = True

    @told(StopRow, takes=MoveBody)
    def post(self, request: Request, number: int) -> Response:
        """Move a stop to another day or crew; times of both routes are reckoned again."""
        by, given = person(request), read(MoveBody, request.data)
        stop = one(queries.visible_stops(by), pk=number)
        crew = chosen(queries.visible_crews(by), "crew", code=given["crew"])
        moved = actions.move_stop(
            stop.pk,
            day=given["day"],
            crew=crew,
            version=given["version"],
            by=by,
            today=today_in(stop.visit.property.time_zone),
        )
        return shown(moved, StopRow)


class StopHold(OfficeDoor):
    """Keeping a stop where it is."""

    may_conflict = True

    @told(StopRow, takes=VersionBody)
    def post(self, request: Request, number: int) -> Response:
        """Hold day and crew of a stop when the month is planned again."""
        by, given = person(request), read(VersionBody, request.data)
        stop = one(queries.visible_stops(by), pk=number)
        return shown(actions.hold_stop(stop.pk, version=given["version"], by=by), StopRow)


class StopRelease(OfficeDoor):
    """Letting a stop go where it fits."""

    may_conflict = True

    @told(StopRow, takes=VersionBody)
    def post(self, request: Request, number: int) -> Response:
        """Let the next plan choose day and crew again."""
        by, given = person(request), read(VersionBody, request.data)
        stop = one(queries.visible_stops(by), pk=number)
        return shown(actions.release_stop(stop.pk, version=given["version"], by=by), StopRow)
