"""Wishes of owners for another day of a visit."""

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import paged, told
from landscape_care.api.door import OfficeDoor, one, page_of, person, plain_query, read, shown
from landscape_care.api.fields import Body, ModelRow, PageQuery
from landscape_care.api.problems import Conflict
from landscape_care.visits import actions, queries
from landscape_care.visits.models import DayRequest


class DayRequestRow(ModelRow[DayRequest]):
    """A wish for another day."""

    property = serializers.SlugField(source="visit.property.code")

    class Meta:  # noqa: D106
        model = DayRequest
        fields = ("id", "visit", "property", "day", "words", "asked_at")


class AnswerBody(Body):
    """What became of it."""

    answer = serializers.CharField(max_length=200, allow_blank=True, default="")


class DayRequestList(OfficeDoor):
    """Wishes that wait for the office."""

    @told(paged(DayRequestRow), asked=PageQuery)
    def get(self, request: Request) -> Response:
        """List the wishes of visits to come; one whose visit was moved since has its answer."""
        return page_of(queries.open_day_requests(person(request)), plain_query(request), DayRequestRow)


class DayRequestSettlement(OfficeDoor):
    """The end of a wish."""

    may_conflict = True

    @told(DayRequestRow, takes=AnswerBody)
    def post(self, request: Request, number: int) -> Response:
        """Take a wish off the list, with a word on what became of it."""
        wish, given = (
            one(queries.open_day_requests(person(request)), pk=number),
            read(AnswerBody, request.data),
        )
        if not actions.settle_day_request(wish, given["answer"], by=person(request)):
            raise Conflict("Somebody else settled this wish a moment ago.")
        return shown(wish, DayRequestRow)
