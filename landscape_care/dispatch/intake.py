"""Everything an office brings in from spreadsheets at once: gardens, the care done before, and crews.

Check first, then take in: every wrong cell is named with what would be right, and all of it goes onto
the record or nothing does.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction

from landscape_care.care import actions as care
from landscape_care.care.catalog import rule_named
from landscape_care.dispatch import crew_intake
from landscape_care.dispatch.crew_intake import CrewIntake
from landscape_care.dispatch.records import CrewRecord
from landscape_care.people.models import User
from landscape_care.properties import intake as gardens
from landscape_care.properties.intake import Intake, IntakeRefused, RowProblem, Source
from landscape_care.properties.intake.forms import plain_form
from landscape_care.trades.limits import Refused

__all__ = ["Found", "IntakeRefused", "RowProblem", "Source", "check", "take_in", "template"]


@dataclass(frozen=True)
class Found:
    """What some files hold, and what is wrong with them."""

    gardens: Intake
    crews: CrewIntake
    problems: tuple[RowProblem, ...]
    today: date

    def counts(self) -> dict[str, int]:
        """How many rows of each sort there are, in the order of the workbook."""
        counted = self.gardens.counts()
        return {
            "clients": counted.clients,
            "depots": counted.depots,
            "properties": counted.properties,
            "agreements": counted.agreements,
            "things": counted.things,
            "last_care": len(self.gardens.last_care),
            "crews": len(self.crews.crews),
        }


def check(files: Collection[Any], *, today: date) -> Found:
    """Look at every row of some workbooks, CSV files or zip files; nothing is written."""
    found = gardens.check(files, today=today)
    crews = crew_intake.check(files, new_depots=[entry.record.code for entry in found.depots])
    problems = (*found.problems, *_unknown_rules(found), *crews.problems)
    return Found(found, crews, problems, today)


@transaction.atomic
def take_in(found: Found, *, by: User | None) -> dict[str, int]:
    """Put everything that was found onto the record, or nothing; `IntakeRefused` says why not."""
    if found.problems:
        raise IntakeRefused(found.problems)
    gardens.apply(found.gardens, by=by, today=found.today)
    crew_intake.apply(found.crews, by=by)
    try:
        care.take_over_history(found.gardens.history(), by=by)
    except Refused as refused:
        raise IntakeRefused(_at_their_rows(found.gardens, refused)) from None
    return found.counts()


def template() -> bytes:
    """The empty workbook with a sheet for each kind, and one for crews, as the bytes of an XLSX file."""
    return gardens.template([plain_form(crew_intake.SHEET, CrewRecord)])


def _unknown_rules(found: Intake) -> Iterator[RowProblem]:
    for entry in found.last_care:
        try:
            rule_named(entry.record.rule)
        except ValueError as unknown:
            place, wanted = entry.place, str(unknown).partition(": ")[2]
            yield RowProblem(place.sheet, place.row, "rule", entry.record.rule, wanted, place.file)


def _at_their_rows(found: Intake, refused: Refused) -> Iterable[RowProblem]:
    """Problems that care names as `row 3 done_on`, with the rows of the spreadsheet."""
    for problem in refused.problems:
        _, number, column = problem.field.split(" ", 2)
        place = found.last_care[int(number) - 1].place
        yield RowProblem(place.sheet, place.row, column, problem.value, problem.wanted, place.file)
