"""The life of a month's plan: compared, stopped, told before it is published, taken back; moves weighed."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import told
from landscape_care.api.dispatch import MoveBody, PlanRow
from landscape_care.api.door import Door, OfficeDoor, chosen, day_named, one, person, read, shown, today_in
from landscape_care.api.fields import Body, Clock, Identity, ReasonBody, Whole
from landscape_care.dispatch import actions, figures, queries
from landscape_care.dispatch.changes import Change, Sort, Spot
from landscape_care.dispatch.models import PlanState
from landscape_care.dispatch.publishing import Effects, effects

# --- Figures ----------------------------------------------------------------------------------


class FiguresRow(serializers.Serializer[Any]):
    """What a month costs; driving with the ways back to the depot."""

    visits = serializers.IntegerField()
    unserved = serializers.IntegerField()
    crew_days = serializers.IntegerField()
    service_minutes = serializers.IntegerField()
    drive_minutes = serializers.FloatField()
    drive_miles = serializers.FloatField()
    overtime_minutes = serializers.IntegerField()
    visits_per_crew_day = serializers.FloatField(allow_null=True)
    preferred_share = serializers.FloatField(allow_null=True, help_text="0 to 1")


class FiguresOfPlan(serializers.Serializer[Any]):
    """A plan with its figures."""

    plan = serializers.IntegerField(source="plan.pk")
    number = serializers.IntegerField(source="plan.number")
    month = serializers.DateField(source="plan.month")
    figures = FiguresRow()


class ComparedRow(serializers.Serializer[Any]):
    """A plan beside the one before it and the published one of the month before."""

    now = FiguresRow()
    before = FiguresOfPlan(allow_null=True)
    last_month = FiguresOfPlan(allow_null=True)


class PlanComparison(OfficeDoor):
    """A plan beside others."""

    @told(ComparedRow)
    def get(self, request: Request, number: int) -> Response:
        """Compare a plan with the plan before and with last month."""
        plan = one(queries.visible_plans(person(request)), pk=number)
        return shown(figures.compared(plan), ComparedRow)


# --- What is told -----------------------------------------------------------------------------


class SpotRow(serializers.Serializer[Spot]):
    """Where a visit is."""

    day = serializers.DateField()
    crew = serializers.CharField(help_text="Name of the crew")
    arrives_at = Clock()
    leaves_at = Clock()


class ChangeRow(serializers.Serializer[Change]):
    """One visit that is somewhere else than people know, with the reason in both languages."""

    visit = serializers.IntegerField(source="visit_id")
    sort = serializers.ChoiceField([str(sort) for sort in Sort])
    was = SpotRow(allow_null=True)
    now = SpotRow(allow_null=True)
    why = serializers.CharField(source="why.en")
    why_es = serializers.CharField(source="why.es")


class EffectsRow(serializers.Serializer[Effects]):
    """What publishing tells; send `seen` along, so that only what you looked at is published."""

    seen = serializers.CharField()
    unchanged = serializers.IntegerField(help_text="Visits that stay as people know them")
    refusal = serializers.SerializerMethodField()
    changes = ChangeRow(many=True)
    crews = serializers.ListField(child=serializers.CharField())

    def get_refusal(self, row: Effects) -> str:
        """Why the plan cannot be published as it stands, or nothing."""
        return str(row.refusal or "")


class PlanEffects(OfficeDoor):
    """What publishing would do."""

    @told(EffectsRow)
    def get(self, request: Request, number: int) -> Response:
        """Say what publishing a plan would tell whom and take back."""
        plan = one(queries.visible_plans(person(request)), pk=number)
        return shown(effects(plan, today_in(plan.depot.time_zone)), EffectsRow)


class PlanStop(OfficeDoor):
    """Ending the work on a plan."""

    @told(PlanRow)
    def post(self, request: Request, number: int) -> Response:
        """Stop solving and keep the best so far; a plan that nobody began is withdrawn."""
        by = person(request)
        plan = one(queries.visible_plans(by), pk=number)
        return shown(actions.stop_solving(plan.pk, by=by), PlanRow)


class PlanWithdrawal(OfficeDoor):
    """Taking a plan back."""

    may_conflict = True

    @told(PlanRow, takes=ReasonBody)
    def post(self, request: Request, number: int) -> Response:
        """Discard a proposal, or take back a published month: all visits to come, or none."""
        by, given = person(request), read(ReasonBody, request.data)
        plan = one(queries.visible_plans(by), pk=number)
        if plan.state != PlanState.PUBLISHED:
            return shown(actions.withdraw_proposal(plan.pk, by=by), PlanRow)
        today = today_in(plan.depot.time_zone)
        return shown(actions.withdraw_month(plan.pk, given["reason"], by=by, today=today), PlanRow)


# --- Moves and orders -------------------------------------------------------------------------


class LoadOfRoutes(serializers.Serializer[Any]):
    """What the routes that a move touches cost together."""

    drive_minutes = serializers.FloatField()
    overtime_minutes = serializers.IntegerField()


class MoveCostRow(serializers.Serializer[Any]):
    """What a move would cost, and which visits would come at another hour."""

    before = LoadOfRoutes()
    after = LoadOfRoutes()
    changes = ChangeRow(many=True)


class StopMoveCost(OfficeDoor):
    """The cost of a move."""

    may_conflict = True

    @told(MoveCostRow, takes=MoveBody)
    def post(self, request: Request, number: int) -> Response:
        """Check a move and reckon its cost, without doing it."""
        by, given = person(request), read(MoveBody, request.data)
        stop = one(queries.visible_stops(by), pk=number)
        crew = chosen(queries.visible_crews(by), "crew", code=given["crew"])
        if stop.version != given["version"]:
            raise actions.stop_changed(stop)
        today = today_in(stop.visit.property.time_zone)
        move = actions.weigh_move(stop.pk, day=given["day"], crew=crew, by=by, today=today)
        return shown(move, MoveCostRow)


class OrderBody(Body):
    """All stops of the day in the order wanted, and the version of the route that you saw."""

    stops = serializers.ListField(child=Identity(), min_length=1, max_length=100)
    version = Whole(min_value=0)


class RouteRow(serializers.Serializer[Any]):
    """What frames a crew's day."""

    crew = serializers.CharField(source="crew.code")
    day = serializers.DateField()
    starts_at = Clock()
    ends_at = Clock()
    return_minutes = serializers.FloatField()
    overtime_minutes = serializers.IntegerField()
    version = serializers.IntegerField()


class CrewDayOrder(Door):
    """The order of a crew's day."""

    may_conflict = True

    @told(RouteRow, takes=OrderBody)
    def put(self, request: Request, code: str, day: str) -> Response:
        """Drive the day in another order; the office for days to come, the crew for its today."""
        by, given = person(request), read(OrderBody, request.data)
        crew = one(queries.visible_crews(by), code=code)
        today = today_in(crew.depot.time_zone)
        on = day_named(day)
        frame = actions.reorder_day(crew, on, given["stops"], version=given["version"], by=by, today=today)
        return shown(frame, RouteRow)
