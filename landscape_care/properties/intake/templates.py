"""An empty workbook that says in every column what is right."""

import io
from collections.abc import Iterable

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from landscape_care.properties.intake.cells import wanted
from landscape_care.properties.intake.forms import FORMS, SheetForm
from landscape_care.properties.intake.reading import REMARK
from landscape_care.trades.limits import Limit

LAST_ROW = 5000
_READ_ME = (
    "One sheet for each kind of thing; one row for each thing. Sheets that are not needed may stay empty.",
    "Columns in bold are needed. The row under the header says what is right in each column.",
    "A row that begins with # is a remark and is not read. This sheet is not read either.",
    "Things refer to each other by tag, such as the bed of a planting. Tags are unique on a property.",
    "Everything is taken in, or nothing: wrong cells are named by sheet, row and column.",
    "Dates: 2024-03-11 or 3/11/2024. Clock times: 5:30 or 17:30. Weekdays: digits 1 Monday to 7 Sunday.",
)
# A spreadsheet program takes a list of choices of at most this length.
_LONGEST_LIST = 255


def template(also: Iterable[SheetForm] = ()) -> bytes:
    """A workbook with a sheet for each form, and for those of other rooms, as the bytes of an XLSX file."""
    book = Workbook()
    _write_read_me(book.worksheets[0])
    for form in (*FORMS.values(), *also):
        _write_form(book.create_sheet(form.sheet), form)
    book.properties.creator = "Landscape Care"
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def _write_read_me(sheet: Worksheet) -> None:
    sheet.title = "read_me"
    for number, line in enumerate(_READ_ME, 1):
        sheet.cell(number, 1, line)
    sheet.column_dimensions["A"].width = 100


def _write_form(sheet: Worksheet, form: SheetForm) -> None:
    for place, (column, limit) in enumerate(form.columns.items(), 1):
        sheet.cell(1, place, column).font = Font(bold=column in form.needed)
        remark = sheet.cell(2, place, _remark(limit, first=place == 1))
        remark.alignment = Alignment(wrap_text=True, vertical="top")
        remark.fill = PatternFill("solid", fgColor="EEF3EA")
        letter = get_column_letter(place)
        sheet.column_dimensions[letter].width = max(12, min(28, len(column) + 4))
        _offer_choices(sheet, letter, limit)
    sheet.freeze_panes = "A3"


def _remark(limit: Limit, *, first: bool) -> str:
    parts = (limit.help, wanted(limit))
    line = "; ".join(part for part in parts if part)
    return f"{REMARK} {line}" if first else line


def _offer_choices(sheet: Worksheet, letter: str, limit: Limit) -> None:
    choices = ("yes", "no") if limit.kind == "flag" else limit.choices
    listed = ",".join(choices)
    if not choices or len(listed) > _LONGEST_LIST:
        return
    offer = DataValidation(type="list", formula1=f'"{listed}"', allow_blank=True)
    sheet.add_data_validation(offer)
    offer.add(f"{letter}3:{letter}{LAST_ROW}")
