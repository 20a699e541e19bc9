"""Care rules of the company's own: made, changed and ended."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.care import RuleRow
from landscape_care.api.description import told
from landscape_care.api.door import Door, OfficeDoor, office_writes, one, person, read, shown
from landscape_care.api.fields import Body, Number, ReasonBody, Whole
from landscape_care.api.problems import Conflict
from landscape_care.care import actions, queries
from landscape_care.care.catalog import PROPERTY, REPORTED, SKILLS
from landscape_care.care.cautions import cautions
from landscape_care.care.details import NUMBERS
from landscape_care.care.measures import QUANTITIES
from landscape_care.care.models import OwnRule
from landscape_care.people.models import User
from landscape_care.trades.kinds import KINDS
from landscape_care.trades.limits import Problem, Refused


class WordsBody(Body):
    """What a rule says in one language."""

    title = serializers.CharField(max_length=160)
    how = serializers.CharField(max_length=2000)
    materials = serializers.CharField(max_length=400, required=False, allow_blank=True)


class ThresholdBody(Body):
    """The measured value at which care is due; exactly one bound."""

    quantity = serializers.ChoiceField(tuple(QUANTITIES))
    at_least = Number(required=False)
    at_most = Number(required=False)
    above_clean = Number(required=False)
    off_by_percent = Number(required=False)
    times_evaporation = Number(required=False)


class OwnRuleBody(Body):
    """A rule of our own: for what, exactly one trigger, how long, by whom, and the words for it."""

    kind = serializers.ChoiceField((*KINDS, PROPERTY))
    where = serializers.DictField(
        child=serializers.ListField(child=serializers.CharField(max_length=80), max_length=20),
        required=False,
        help_text="Traits of the thing and the values that count: role: [shrub, vine], fish: [true]",
    )
    every = Whole(min_value=1, max_value=7305, required=False, help_text="Days since the last care")
    within = serializers.CharField(max_length=120, required=False, help_text="The season `every` keeps to")
    season = serializers.CharField(max_length=120, required=False, help_text="Such as perennial_cutback")
    run_hours = Number(min_value=1, max_value=200_000, required=False, help_text="Hours of running")
    reading = ThresholdBody(required=False)
    event = serializers.ChoiceField(REPORTED, required=False)
    days_after = serializers.ListField(
        child=Whole(min_value=0, max_value=366), required=False, min_length=1, max_length=12
    )
    tolerance_days = Whole(min_value=0, max_value=183, required=False)
    set_up = Number(min_value=0, max_value=1440, required=False, help_text="Minutes")
    minutes = Number(min_value=0, max_value=1440, required=False, help_text="For each unit")
    unit = serializers.CharField(max_length=20, required=False, help_text="Such as plant or 100 ft2")
    skill = serializers.ChoiceField(SKILLS)
    people = Whole(min_value=1, max_value=12, required=False)
    cautions = serializers.ListField(
        child=serializers.ChoiceField(tuple(cautions())), required=False, max_length=20
    )
    asks = serializers.ListField(
        child=serializers.ChoiceField(tuple(QUANTITIES)), required=False, max_length=5
    )
    details = serializers.ChoiceField(tuple(NUMBERS), required=False)
    en = WordsBody()
    es = WordsBody()
    source = serializers.CharField(max_length=200)  # type: ignore[assignment]
    reason = serializers.CharField(max_length=200)


class NewRuleBody(OwnRuleBody):
    """A new rule of our own; its key begins with own-."""

    key = serializers.CharField(max_length=60)


class OwnRuleList(Door):
    """Rules of our own; `care-rules/` lists them with the rest."""

    may_conflict = True

    @told(RuleRow(many=True))
    def get(self, request: Request) -> Response:
        """List the rules of our own that hold."""
        rules = [queries.read_own(row) for row in queries.own_rules(person(request))]
        return Response(RuleRow(rules, many=True).data)

    @told(RuleRow, takes=NewRuleBody, status=201)
    def post(self, request: Request) -> Response:
        """Add a rule; it holds at all properties that have such a thing."""
        by, given = office_writes(request), read(NewRuleBody, request.data)
        key = given.pop("key")
        if queries.own_rules(by).filter(key=key).exists():
            raise Conflict(f"{key} is a rule already; change it at its own address.")
        return _set(key, given, by, 201)


class OwnRuleDetail(Door):
    """One rule of our own."""

    @told(RuleRow)
    def get(self, request: Request, key: str) -> Response:
        """Show a rule of our own that holds."""
        return shown(queries.read_own(_the_rule(request, key)), RuleRow)

    @told(RuleRow, takes=OwnRuleBody)
    def put(self, request: Request, key: str) -> Response:
        """Give a rule of our own new values, all of them."""
        by, given = office_writes(request), read(OwnRuleBody, request.data)
        return _set(_the_rule(request, key).key, given, by, 200)


class OwnRuleEnd(OfficeDoor):
    """The end of a rule of our own."""

    @told(RuleRow, takes=ReasonBody)
    def post(self, request: Request, key: str) -> Response:
        """Ask for no more care by a rule; what is settled stays."""
        reason, row = read(ReasonBody, request.data)["reason"], _the_rule(request, key)
        return shown(queries.read_own(actions.end_own_rule(row, reason=reason, by=person(request))), RuleRow)


def _the_rule(request: Request, key: str) -> OwnRule:
    row: OwnRule = one(queries.own_rules(person(request)), key=key)
    return row


def _set(key: str, given: dict[str, Any], by: User, status: int) -> Response:
    reason = given.pop("reason")
    table = given | {"where": {name: _traits(values) for name, values in given.get("where", {}).items()}}
    try:
        row = actions.set_own_rule(key, table, reason=reason, by=by)
    except ValueError as nonsense:
        raise Refused([_problem(given, str(nonsense))]) from nonsense
    return shown(queries.read_own(row), RuleRow, status)


def _traits(values: list[str]) -> list[bool | str]:
    return [{"true": True, "false": False}.get(value, value) for value in values]


def _problem(given: dict[str, Any], words: str) -> Problem:
    """A refusal of the catalog, which begins with the field, as one on that field."""
    field = words.split(" ", 1)[0].rstrip(":")
    return Problem(field, given.get(field), words.partition("wanted ")[2] or words)
