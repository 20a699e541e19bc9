"""Rows of sheets as named values that are not yet records."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from landscape_care.properties.building import build
from landscape_care.properties.intake.cells import Unclear, value_of
from landscape_care.properties.intake.forms import FORMS, LEFT_TO_OTHERS, SheetForm
from landscape_care.properties.intake.found import Place, RowProblem
from landscape_care.properties.intake.reading import Row, Sheet
from landscape_care.trades.limits import Problem, Refused, is_required

_BESIDE_THE_RECORD = ("property",)


@dataclass
class Draft:
    """One row: its values by field of the record, and the fields whose cells were unclear."""

    form: SheetForm
    place: Place
    values: dict[str, Any] = field(default_factory=dict)
    unclear: set[str] = field(default_factory=set)
    property: str = ""
    uid: int = 0

    def problem(self, problem: Problem) -> RowProblem:
        """A problem of a field, with the place of the row and the name of the column."""
        column = self.form.column(problem.field)
        return RowProblem(
            self.place.sheet, self.place.row, column, problem.value, problem.wanted, self.place.file
        )


@dataclass
class Drafted:
    """All rows of all sheets, and the problems met on the way."""

    drafts: list[Draft] = field(default_factory=list)
    problems: list[RowProblem] = field(default_factory=list)

    def of(self, form: SheetForm) -> list[Draft]:
        """The rows of one sheet."""
        return [draft for draft in self.drafts if draft.form is form]

    def of_things(self) -> list[Draft]:
        """The rows of installed things."""
        return [draft for draft in self.drafts if draft.form.kind]


def drafted(sheets: list[Sheet]) -> Drafted:
    """The rows of the sheets this room takes in."""
    found = Drafted()
    for sheet in sheets:
        form = FORMS.get(sheet.name)
        if form is not None:
            found.problems += _header_problems(sheet, form)
            _draft_rows(sheet, form, found)
        elif sheet.name not in LEFT_TO_OTHERS and (sheet.columns or sheet.rows):
            found.problems.append(_unknown_sheet(sheet))
    for uid, draft in enumerate(found.of_things(), 1):
        draft.uid = uid
    return found


def record_from(draft: Draft) -> Any:
    """The record of a row; `Refused` with the problems that are not told already."""
    try:
        return build(draft.form.record, draft.values)
    except Refused as refused:
        # A cell that could not be read looks missing here, and is told as unclear.
        fresh = [problem for problem in refused.problems if problem.field not in draft.unclear]
        raise Refused(fresh) from None


def _unknown_sheet(sheet: Sheet) -> RowProblem:
    return RowProblem(sheet.name, 0, "", sheet.name, "a sheet named one of " + ", ".join(FORMS), sheet.file)


def _header_problems(sheet: Sheet, form: SheetForm) -> Iterator[RowProblem]:
    at = (sheet.name, sheet.header_number)
    if not sheet.columns:
        yield RowProblem(*at, "", "", "a header row: " + ", ".join(form.columns), sheet.file)
        return
    for name in dict.fromkeys(sheet.columns):
        if name not in form.columns:
            yield RowProblem(*at, name, name, "one of the columns " + ", ".join(form.columns), sheet.file)
        elif sheet.columns.count(name) > 1:
            yield RowProblem(*at, name, name, "each column once", sheet.file)
    for name in sorted(form.needed - set(sheet.columns)):
        yield RowProblem(*at, name, "", f"a column {name}", sheet.file)


def _draft_rows(sheet: Sheet, form: SheetForm, found: Drafted) -> None:
    for row in sheet.rows:
        draft = Draft(form, Place(sheet.name, row.number, sheet.file))
        found.problems += _fill(draft, row, sheet)
        found.drafts.append(draft)


def _fill(draft: Draft, row: Row, sheet: Sheet) -> Iterator[RowProblem]:
    # A missing column is told once, not again in every row.
    form = draft.form
    draft.unclear |= {form.field(name) for name in form.needed - set(sheet.columns)}
    yield from _read_cells(draft, row)
    for name in form.needed & set(sheet.columns) - row.cells.keys():
        if form.kind and (name in _BESIDE_THE_RECORD or not is_required(form.record, form.field(name))):
            draft.unclear.add(name)
            yield draft.problem(Problem(name, None, form.columns[name].wanted()))


def _read_cells(draft: Draft, row: Row) -> Iterator[RowProblem]:
    for column, cell in row.cells.items():
        limit = draft.form.columns.get(column)
        if limit is None:
            if column.startswith("column "):
                yield draft.problem(Problem(column, cell, "nothing, or a header above it"))
            continue
        field_name = draft.form.field(column)
        try:
            value = value_of(cell, limit)
        except Unclear as unclear:
            draft.unclear.add(field_name)
            yield draft.problem(Problem(field_name, cell, str(unclear)))
        else:
            _keep(draft, field_name, value)


def _keep(draft: Draft, name: str, value: Any) -> None:
    if draft.form.kind and name in _BESIDE_THE_RECORD:
        setattr(draft, name, value)
    else:
        draft.values[name] = value
