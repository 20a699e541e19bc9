"""Crews in from spreadsheets: the sheet `crews`, in the files that hold the gardens or alone.

As with gardens, every wrong cell is named with what would be right, and all crews are added or none.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import asdict, dataclass, field
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction

from landscape_care.dispatch import actions
from landscape_care.dispatch.models import Crew
from landscape_care.dispatch.records import CrewRecord
from landscape_care.people.models import User
from landscape_care.properties.building import build
from landscape_care.properties.intake import IntakeRefused, RowProblem
from landscape_care.properties.intake.cells import Unclear, value_of
from landscape_care.properties.intake.reading import Row, Sheet, read
from landscape_care.properties.models import Depot
from landscape_care.trades.limits import Problem, Refused, is_required, limits_of

SHEET = "crews"
COLUMNS = limits_of(CrewRecord)


@dataclass(frozen=True)
class CrewIntake:
    """The crews found in some files; they may be added when there are no problems."""

    crews: tuple[CrewRecord, ...] = ()
    problems: tuple[RowProblem, ...] = ()


@dataclass
class _Check:
    """One look through all rows: codes seen so far, and what came of it."""

    depots: Collection[str]
    codes: set[str]
    crews: list[CrewRecord] = field(default_factory=list)
    problems: list[RowProblem] = field(default_factory=list)

    def row(self, sheet: Sheet, row: Row) -> None:
        try:
            record = _record(row)
            self._refuse_known(record)
        except Refused as refused:
            self.problems += [_placed(sheet, row.number, problem) for problem in refused.problems]
            return
        self.codes.add(record.code)
        self.crews.append(record)

    def _refuse_known(self, record: CrewRecord) -> None:
        problems = []
        if record.code in self.codes:
            problems.append(Problem("code", record.code, "another code: this crew is already here"))
        if record.depot not in self.depots:
            wanted = "the code of a depot: " + (", ".join(sorted(self.depots)) or "there is none yet")
            problems.append(Problem("depot", record.depot, wanted))
        if problems:
            raise Refused(problems)


def check(files: Iterable[Any], *, new_depots: Collection[str] = ()) -> CrewIntake:
    """Look at the crews in some files; depots that the same files are about to add count as known.

    Files and sheets of other kinds are passed over: who takes in the gardens judges them.
    """
    known = {*Depot.objects.values_list("code", flat=True), *new_depots}
    look = _Check(known, set(Crew.objects.values_list("code", flat=True)))
    for sheet in read(files).sheets:
        if sheet.name == SHEET:
            look.problems += _header_problems(sheet)
            for row in sheet.rows:
                look.row(sheet, row)
    return CrewIntake(tuple(look.crews), tuple(look.problems))


@transaction.atomic
def apply(intake: CrewIntake, *, by: User | None) -> int:
    """Add all crews of an intake without problems, and say how many."""
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office takes crews in.")
    if intake.problems:
        raise IntakeRefused(intake.problems)
    for record in intake.crews:
        actions.add_crew(asdict(record), by=by)
    return len(intake.crews)


def _header_problems(sheet: Sheet) -> Iterator[RowProblem]:
    for name in sheet.columns:
        if name not in COLUMNS:
            wanted = "one of the columns " + ", ".join(COLUMNS)
            yield RowProblem(sheet.name, sheet.header_number, name, name, wanted, sheet.file)
    for name in COLUMNS:
        if is_required(CrewRecord, name) and name not in sheet.columns:
            yield RowProblem(sheet.name, sheet.header_number, name, "", f"a column {name}", sheet.file)


def _record(row: Row) -> CrewRecord:
    values, problems = {}, []
    for column, cell in row.cells.items():
        # A column nobody knows is told once, at the header.
        if limit := COLUMNS.get(column):
            try:
                values[column] = value_of(cell, limit)
            except Unclear as unclear:
                problems.append(Problem(column, cell, str(unclear)))
    if problems:
        raise Refused(problems)
    return build(CrewRecord, values)


def _placed(sheet: Sheet, number: int, problem: Problem) -> RowProblem:
    return RowProblem(sheet.name, number, problem.field, problem.value, problem.wanted, sheet.file)
