"""Spreadsheets in: check them, take them in, or fetch the empty workbook to fill in."""

from collections.abc import Sequence
from typing import Any

from rest_framework import parsers, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.answers import Attachment, RawRenderer
from landscape_care.api.description import told
from landscape_care.api.door import OfficeDoor
from landscape_care.api.fields import Body
from landscape_care.api.problems import clean, shown_value
from landscape_care.properties import intake

MOST_FILES = 20
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class IntakeBody(Body):
    """Workbooks (.xlsx), CSV files named after their sheets, or zip files of such CSV files."""

    files = serializers.ListField(child=serializers.FileField(allow_empty_file=True), max_length=MOST_FILES)


class RowProblemRow(serializers.Serializer[Any]):
    """One wrong cell; row 0 is the file or the sheet as a whole."""

    file = serializers.CharField()
    sheet = serializers.CharField()
    row = serializers.IntegerField()
    column = serializers.CharField()
    value = serializers.JSONField(allow_null=True)
    wanted = serializers.CharField()


class CountsRow(serializers.Serializer[Any]):
    """How many rows of each kind there are."""

    clients = serializers.IntegerField()
    depots = serializers.IntegerField()
    properties = serializers.IntegerField()
    agreements = serializers.IntegerField()
    things = serializers.IntegerField()


class CheckedRow(serializers.Serializer[Any]):
    """What was found in the files, and every problem with its place."""

    counts = CountsRow()
    problems = RowProblemRow(many=True)


def files_of(request: Request) -> list[Any]:
    """The uploaded files."""
    serializer = IntakeBody(data=request.data)
    serializer.is_valid(raise_exception=True)
    files: list[Any] = serializer.validated_data["files"]
    return files


def problem_rows(problems: Sequence[intake.RowProblem]) -> list[dict[str, Any]]:
    """Problems as the answer tells them."""
    return [
        {
            "file": clean(problem.file),
            "sheet": clean(problem.sheet),
            "row": problem.row,
            "column": clean(problem.column),
            "value": shown_value(problem.column, problem.value),
            "wanted": clean(problem.wanted),
        }
        for problem in problems
    ]


class IntakeCheck(OfficeDoor):
    """Looking at files without taking anything in."""

    parser_classes = (parsers.MultiPartParser,)

    @told(CheckedRow, takes=IntakeBody)
    def post(self, request: Request) -> Response:
        """Check every row of the files."""
        checked = intake.check(files_of(request))
        counts = CountsRow(checked.counts()).data
        return Response({"counts": counts, "problems": problem_rows(checked.problems)})


class IntakeTemplate(OfficeDoor):
    """The empty workbook."""

    renderer_classes = (RawRenderer,)

    @told(bytes, media=XLSX)
    def get(self, request: Request) -> Response:
        """Fetch the workbook to fill in: a sheet for each kind, with a row of what is right."""
        return Attachment(intake.template(), media_type=XLSX, name="landscape-care.xlsx")
