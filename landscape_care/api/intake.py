"""Spreadsheets in: check them, take them in, or fetch the empty workbook to fill in."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from rest_framework import parsers, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.answers import Attachment, RawRenderer
from landscape_care.api.description import told
from landscape_care.api.door import OfficeDoor, person, today_in
from landscape_care.api.fields import Body, ProblemRow
from landscape_care.api.problems import row_problem
from landscape_care.care import actions as care
from landscape_care.dispatch import intake as crew_intake
from landscape_care.dispatch.intake import CrewIntake
from landscape_care.properties import intake
from landscape_care.properties.intake import Intake, IntakeRefused, RowProblem, Source
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


@dataclass(frozen=True)
class Looked:
    """What some files hold for the record and for the crews."""

    gardens: Intake
    crews: CrewIntake
    today: date

    @property
    def problems(self) -> Sequence[RowProblem]:
        """Every wrong cell of all sheets."""
        return (*self.gardens.problems, *self.crews.problems)

    def counts(self) -> dict[str, int]:
        """How many rows of each kind there are."""
        counted = self.gardens.counts()
        names = ("clients", "depots", "properties", "agreements", "things")
        found = {name: getattr(counted, name) for name in names}
        return found | {"last_care": len(self.gardens.last_care), "crews": len(self.crews.crews)}


def _looked(request: Request) -> Looked:
    sources, today = [Source.of(file) for file in files_of(request)], _today(request)
    gardens = intake.check(sources, today=today)
    new_depots = [entry.record.code for entry in gardens.depots]
    return Looked(gardens, crew_intake.check(sources, new_depots=new_depots), today)


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
        looked, by = _looked(request), person(request)
        if looked.problems:
            raise IntakeRefused(looked.problems)
        with transaction.atomic():
            intake.apply(looked.gardens, by=by, today=looked.today)
            crew_intake.apply(looked.crews, by=by)
            care.take_over_history(looked.gardens.history(), by=by)
        return Response(looked.counts(), status=201)


class IntakeTemplate(OfficeDoor):
    """The empty workbook."""

    renderer_classes = (RawRenderer,)

    @told(bytes, media=XLSX)
    def get(self, request: Request) -> Response:
        """Fetch the workbook to fill in: a sheet for each kind, with a row of what is right."""
        return Attachment(intake.template(), media_type=XLSX, name="landscape-care.xlsx")
