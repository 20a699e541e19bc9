"""What goes against a published month, and the letters about changed visits."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import paged, told
from landscape_care.api.dispatch import PlanRow
from landscape_care.api.door import (
    OfficeDoor,
    chosen,
    one,
    page_of,
    person,
    plain_query,
    read,
    shown,
    today_in,
)
from landscape_care.api.fields import Body, Clock, Day, ModelRow, PageQuery, Whole
from landscape_care.api.months import EffectsRow
from landscape_care.care.catalog import SKILLS
from landscape_care.care.urgent_calls import UrgentWork
from landscape_care.dispatch import actions, queries
from landscape_care.dispatch.disruptions import hit_words, shown_effects
from landscape_care.dispatch.models import Disruption, DisruptionKind, Letter, PlanState
from landscape_care.properties.queries import visible_depots, visible_properties


class DisruptionRow(ModelRow[Disruption]):
    """What happened, and the plan that answers it; `effects` once that plan is there."""

    crews = serializers.SlugRelatedField[Any](slug_field="code", many=True, read_only=True)
    property = serializers.SlugRelatedField[Any](slug_field="code", read_only=True, allow_null=True)
    plan = PlanRow(read_only=True)
    visit = serializers.PrimaryKeyRelatedField[Any](read_only=True, allow_null=True)
    said = serializers.SerializerMethodField()
    effects = serializers.SerializerMethodField()

    class Meta:  # noqa: D106
        model = Disruption
        fields = (
            "id",
            "kind",
            "first_day",
            "last_day",
            "crews",
            "property",
            "opens_at",
            "closes_at",
            "words",
            "visit",
            "plan",
            "asked_at",
            "confirmed_at",
            "said",
            "effects",
        )

    def get_said(self, row: Disruption) -> str:
        """What happened, in a few words."""
        return hit_words(row).en

    def get_effects(self, row: Disruption) -> dict[str, Any] | None:
        """What confirming would tell whom, with `seen` to send along; nothing while it is worked out."""
        if row.plan.state != PlanState.PROPOSED:
            return None
        found = EffectsRow(shown_effects(row, today_in(row.plan.depot.time_zone)))
        return dict(found.data)


class DisruptionBody(Body):
    """What happened; heat needs hours, a closed garden its property, an urgent call minutes and words too."""

    depot = serializers.SlugField(help_text="Code of the depot")
    kind = serializers.ChoiceField(DisruptionKind.choices)
    first_day = Day()
    last_day = Day(required=False, help_text="Without it: the first day alone")
    crews = serializers.ListField(
        child=serializers.SlugField(),
        required=False,
        default=list,
        max_length=100,
        help_text="Codes of crews",
    )
    property = serializers.SlugField(required=False, help_text="Code of a property")
    opens_at = Clock(required=False)
    closes_at = Clock(required=False)
    minutes = Whole(min_value=5, max_value=960, required=False)
    skill = serializers.ChoiceField(SKILLS, required=False, default="gardener")
    words = serializers.CharField(max_length=200, required=False, default="", allow_blank=True)


class DisruptionList(OfficeDoor):
    """Disruptions."""

    @told(paged(DisruptionRow), asked=PageQuery)
    def get(self, request: Request) -> Response:
        """List what went against published months, the newest first."""
        rows = queries.visible_disruptions(person(request)).prefetch_related("crews")
        return page_of(rows, plain_query(request), DisruptionRow)

    @told(DisruptionRow, takes=DisruptionBody, status=202)
    def post(self, request: Request) -> Response:
        """Say what happened; the least change that answers it is worked out in the background."""
        by, given = person(request), read(DisruptionBody, request.data)
        depot = chosen(visible_depots(by), "depot", code=given["depot"])
        ask = _ask(by, given)
        row = actions.disrupt(depot, ask, by=by, today=today_in(depot.time_zone))
        return shown(row, DisruptionRow, 202)


def _ask(by: Any, given: dict[str, Any]) -> actions.Ask:
    last = given.get("last_day", given["first_day"])
    crews = tuple(chosen(queries.visible_crews(by), "crews", code=code) for code in given["crews"])
    place = None
    if "property" in given:
        place = chosen(visible_properties(by), "property", code=given["property"])
    work = None
    if given["kind"] == DisruptionKind.URGENT_CALL and "minutes" in given and last >= given["first_day"]:
        span = {"first_day": given["first_day"], "last_day": last}
        work = UrgentWork(**span, minutes=given["minutes"], skill=given["skill"])
    return actions.Ask(
        kind=given["kind"],
        first_day=given["first_day"],
        last_day=last,
        crews=crews,
        place=place,
        opens_at=given.get("opens_at"),
        closes_at=given.get("closes_at"),
        work=work,
        words=given["words"],
    )


class DisruptionDetail(OfficeDoor):
    """One disruption."""

    @told(DisruptionRow)
    def get(self, request: Request, number: int) -> Response:
        """Show what happened and, once it is worked out, what would change and why."""
        return shown(one(queries.visible_disruptions(person(request)), pk=number), DisruptionRow)


class SeenBody(Body):
    """The mark of the effects that you looked at."""

    seen = serializers.CharField(max_length=64)


class DisruptionConfirmation(OfficeDoor):
    """Making the answer hold."""

    may_conflict = True

    @told(DisruptionRow, takes=SeenBody)
    def post(self, request: Request, number: int) -> Response:
        """Confirm the changes you saw, and tell people; if anything changed since, look again."""
        by, given = person(request), read(SeenBody, request.data)
        row = one(queries.visible_disruptions(by), pk=number)
        today = today_in(row.plan.depot.time_zone)
        return shown(actions.confirm(row.pk, seen=given["seen"], by=by, today=today), DisruptionRow)


class DisruptionDrop(OfficeDoor):
    """Leaving the month as it is."""

    may_conflict = True

    @told(DisruptionRow)
    def post(self, request: Request, number: int) -> Response:
        """Drop the answer; nobody was told anything."""
        by = person(request)
        row = one(queries.visible_disruptions(by), pk=number)
        return shown(actions.drop(row.pk, by=by), DisruptionRow)


class LetterRow(ModelRow[Letter]):
    """A letter about changed visits; each leaves at most once."""

    client = serializers.SlugRelatedField[Any](slug_field="code", read_only=True, allow_null=True)
    person = serializers.SlugRelatedField[Any](slug_field="username", read_only=True, allow_null=True)

    class Meta:  # noqa: D106
        model = Letter
        fields = (
            "id",
            "client",
            "person",
            "address",
            "subject",
            "body",
            "state",
            "attempts",
            "written_at",
            "sent_at",
            "failure",
        )


class LetterList(OfficeDoor):
    """Letters."""

    @told(paged(LetterRow), asked=PageQuery)
    def get(self, request: Request) -> Response:
        """List the letters, the newest first."""
        return page_of(queries.visible_letters(person(request)), plain_query(request), LetterRow)
