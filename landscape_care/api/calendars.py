"""Secret addresses under which people subscribe to calendars."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.conf import settings
from django.urls import reverse
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import paged, told
from landscape_care.api.door import OfficeDoor, chosen, one, page_of, person, plain_query, read, shown
from landscape_care.api.fields import Body, ModelRow, PageQuery, Whole
from landscape_care.api.problems import Conflict
from landscape_care.calendars import actions, queries
from landscape_care.calendars.models import Address, Audience, Shows
from landscape_care.calendars.options import (
    LONGEST_AHEAD_DAYS,
    LONGEST_ALARM_MINUTES,
    LONGEST_PAST_DAYS,
    Options,
)
from landscape_care.care.catalog import STEMS
from landscape_care.dispatch.queries import visible_crews
from landscape_care.people.models import Language, User
from landscape_care.properties.queries import visible_clients, visible_depots, visible_properties

TARGETS = {
    Audience.PROPERTY: visible_properties,
    Audience.CLIENT: visible_clients,
    Audience.CREW: visible_crews,
    Audience.DEPOT: visible_depots,
}


class AddressRow(ModelRow[Address]):
    """An address without its secret; `hint` tells addresses apart."""

    target = serializers.SerializerMethodField()
    stems = serializers.ListField(
        child=serializers.ChoiceField(STEMS), help_text="Kinds of care; none for all"
    )

    class Meta:  # noqa: D106
        model = Address
        fields: tuple[str, ...] = (
            "id",
            "audience",
            "target",
            "name",
            "language",
            "shows",
            "stems",
            "past_days",
            "ahead_days",
            "alarm_minutes",
            "hint",
            "issued_at",
            "last_read_at",
            "last_reader",
        )

    def get_target(self, row: Address) -> str:
        """The code of what the calendar is about; empty for the company."""
        return queries.target_code(row)


class ChoicesBody(Body):
    """What a calendar shows; null leaves what is usual for its audience."""

    shows = serializers.ChoiceField(Shows.choices, default=Shows.ALL)
    stems = serializers.ListField(
        child=serializers.ChoiceField(STEMS), default=list, max_length=len(STEMS), help_text="None for all"
    )
    past_days = Whole(min_value=0, max_value=LONGEST_PAST_DAYS, allow_null=True, default=None)
    ahead_days = Whole(min_value=1, max_value=LONGEST_AHEAD_DAYS, allow_null=True, default=None)
    alarm_minutes = Whole(
        min_value=0,
        max_value=LONGEST_ALARM_MINUTES,
        allow_null=True,
        default=None,
        help_text="Before a visit",
    )


class AddressBody(ChoicesBody):
    """Whom the calendar is for; the company's own has no target."""

    audience = serializers.ChoiceField(Audience.choices)
    target = serializers.SlugField(
        required=False, default="", allow_blank=True, help_text="Code of the target"
    )
    name = serializers.CharField(max_length=80, help_text="Who gets it, to know whom to revoke")
    language = serializers.ChoiceField(Language.choices, default=Language.ENGLISH)


class IssuedRow(AddressRow):
    """A new address with its secret, which is shown this once."""

    url = serializers.SerializerMethodField()

    class Meta(AddressRow.Meta):  # noqa: D106
        fields: tuple[str, ...] = (*AddressRow.Meta.fields, "url")

    def get_url(self, row: Address) -> str:
        """The address to subscribe to."""
        return f"{settings.SITE_URL}{reverse('calendars:feed', args=[self.context['token']])}"


class AddressList(OfficeDoor):
    """Calendar addresses that answer."""

    @told(paged(AddressRow), asked=PageQuery)
    def get(self, request: Request) -> Response:
        """List the live addresses, without their secrets."""
        return page_of(queries.live_addresses(), plain_query(request), AddressRow)

    @told(IssuedRow, takes=AddressBody, status=201)
    def post(self, request: Request) -> Response:
        """Issue an address; its secret is in this answer and nowhere else."""
        given, by = read(AddressBody, request.data), person(request)
        target = _target(by, Audience(given["audience"]), given["target"])
        with _choices_refused():
            address, token = actions.issue(
                given["audience"],
                target,
                name=given["name"],
                language=given["language"],
                options=_options(given),
                by=by,
            )
        return Response(IssuedRow(address, context={"token": token}).data, status=201)


@contextmanager
def _choices_refused() -> Iterator[None]:
    """Tell a choice that does not fit the audience as a problem of its field."""
    try:
        yield
    except ValueError as wrong:
        name, _, wanted = str(wrong).partition(":")
        raise serializers.ValidationError({name.split()[0]: [wanted.strip()]}) from wrong


def _options(given: dict[str, Any]) -> Options:
    return Options(
        shows=given["shows"],
        stems=tuple(given["stems"]),
        past_days=given["past_days"],
        ahead_days=given["ahead_days"],
        alarm_minutes=given["alarm_minutes"],
    )


def _target(by: User, audience: Audience, code: str) -> Any:
    if audience in TARGETS:
        return chosen(TARGETS[audience](by), "target", code=code)
    if code:
        raise serializers.ValidationError({"target": ["nothing: the company's calendar has no target"]})
    return None


class AddressDetail(OfficeDoor):
    """One live address."""

    @told(AddressRow)
    def get(self, request: Request, number: int) -> Response:
        """Show an address without its secret."""
        return shown(one(queries.live_addresses(), pk=number), AddressRow)


class AddressChoices(OfficeDoor):
    """What an address shows."""

    may_conflict = True

    @told(AddressRow, takes=ChoicesBody)
    def post(self, request: Request, number: int) -> Response:
        """Choose all of it anew; subscribers see it when they read next."""
        address, given = one(queries.live_addresses(), pk=number), read(ChoicesBody, request.data)
        try:
            with _choices_refused():
                chosen = actions.choose(address, _options(given), by=person(request))
        except actions.AlreadySilent as silent:
            raise Conflict("Somebody else revoked this address a moment ago.") from silent
        return shown(chosen, AddressRow)


class AddressRenewal(OfficeDoor):
    """A new secret for the same calendar."""

    may_conflict = True

    @told(IssuedRow, status=201)
    def post(self, request: Request, number: int) -> Response:
        """Revoke an address and issue another for the same calendar; the secret is in this answer alone."""
        address = one(queries.live_addresses(), pk=number)
        try:
            fresh, token = actions.reissue(address, by=person(request))
        except actions.AlreadySilent as silent:
            raise Conflict("Somebody else revoked this address a moment ago.") from silent
        return Response(IssuedRow(fresh, context={"token": token}).data, status=201)


class AddressRevocation(OfficeDoor):
    """The end of an address."""

    may_conflict = True

    @told(AddressRow)
    def post(self, request: Request, number: int) -> Response:
        """Silence an address for good; from now on it is unknown, as one that never was."""
        address = one(queries.live_addresses(), pk=number)
        if not actions.revoke(address, by=person(request)):
            raise Conflict("Somebody else revoked this address a moment ago.")
        return shown(address, AddressRow)
