"""Spreadsheets in: check them, take them in, or fetch the empty workbook to fill in."""

from datetime import date
from typing import Any

from rest_framework import parsers, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.answers import Attachment, RawRenderer
from landscape_care.api.description import told
from landscape_care.api.door import OfficeDoor, person, today_in
from landscape_care.api.fields import Body, ProblemRow
from landscape_care.api.problems import row_problem
from landscape_care.dispatch import intake
from landscape_care.dispatch.intake import Found, Source
from landscape_care.properties.queries import visible_depots

MOST_FILES = 20
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class IntakeBody(Body):
    """Workbooks (.xlsx), CSV files named after their sheets, or zip files of such CSV files."""

    files = serializers.ListField(child=serializers.FileField(allow_empty_file=True), max_length=MOST_FILES)


class CountsRow(serializers.Serializer[Any]):
    """How many rows of each kind there are."""

    clients = serializers.IntegerField()
    depots = serializers.IntegerField()
    properties = serializers.IntegerField()
    agreements = serializers.IntegerField()
    things = serializers.IntegerField()
    last_care = serializers.IntegerField()
    crews = serializers.IntegerField()


class CheckedRow(serializers.Serializer[Any]):
    """What was found in the files, and every problem with its place."""

    counts = CountsRow()
    problems = ProblemRow(many=True)


def files_of(request: Request) -> list[Any]:
    """The uploaded files."""
    serializer = IntakeBody(data=request.data)
    serializer.is_valid(raise_exception=True)
    files: list[Any] = serializer.validated_data["files"]
    return files


def _looked(request: Request) -> Found:
    sources = [Source.of(file) for file in files_of(request)]
    return intake.check(sources, today=_today(request))


def _today(request: Request) -> date:
    """The day at the depot where it is earliest, so that no depot is ahead of its calendar."""
    zones = visible_depots(person(request)).values_list("time_zone", flat=True)
    return min((today_in(zone) for zone in zones), default=today_in("UTC"))


class IntakeCheck(OfficeDoor):
    """Looking at files without taking anything in."""

    parser_classes = (parsers.MultiPartParser,)

    @told(CheckedRow, takes=IntakeBody)
    def post(self, request: Request) -> Response:
        """Check every row of the files."""
        looked = _looked(request)
        rows = [row_problem(problem) for problem in looked.problems]
        return Response({"counts": looked.counts(), "problems": rows})


class IntakeApplication(OfficeDoor):
    """Taking files in."""

    parser_classes = (parsers.MultiPartParser,)

    @told(CountsRow, takes=IntakeBody, status=201)
    def post(self, request: Request) -> Response:
        """Take in records, crews and care done before: all of it, or nothing and the problems."""
        return Response(intake.take_in(_looked(request), by=person(request)), status=201)


class IntakeTemplate(OfficeDoor):
    """The empty workbook."""

    renderer_classes = (RawRenderer,)

    @told(bytes, media=XLSX)
    def get(self, request: Request) -> Response:
        """Fetch the workbook to fill in: a sheet for each kind, with a row of what is right."""
        return Attachment(intake.template(), media_type=XLSX, name="landscape-care.xlsx")
