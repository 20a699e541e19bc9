"""Spreadsheet files as sheets of rows, each with the number that the spreadsheet program shows.

Read are XLSX workbooks, single CSV files named after their sheet, and a zip of such CSV files.
"""

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

MOST_BYTES = 12 * 1024 * 1024
MOST_UNPACKED_BYTES = 200 * 1024 * 1024
MOST_ROWS = 200_000
MOST_COLUMNS = 200
REMARK = "#"

_PACKED = (".xlsx", ".xlsm", ".zip")
_OLD_OFFICE = b"\xd0\xcf\x11\xe0"
_DELIMITERS = ",;\t|"


@dataclass(frozen=True)
class Source:
    """A file as it was handed in."""

    name: str
    content: bytes

    @classmethod
    def of(cls, file: Any) -> "Source":
        """A source from a path or from anything with a name that can be read."""
        if isinstance(file, Source):
            return file
        if isinstance(file, str | Path):
            return cls(Path(file).name, Path(file).read_bytes())
        return cls(PurePosixPath(str(file.name)).name, file.read())


@dataclass(frozen=True)
class Row:
    """One row under the header: its number in the spreadsheet, and its cells by column."""

    number: int
    cells: dict[str, object]


@dataclass(frozen=True)
class Sheet:
    """A sheet with its columns as written, folded to small letters and underscores."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    header_number: int = 1
    file: str = ""


@dataclass(frozen=True)
class Unreadable:
    """A file or a part of it that cannot be read, with what would be right."""

    file: str
    sheet: str
    value: str
    wanted: str


@dataclass
class Read:
    """What was found in the files."""

    sheets: list[Sheet] = field(default_factory=list)
    unreadable: list[Unreadable] = field(default_factory=list)


class _Refusal(Exception):
    """Why a file cannot be read: the value found, and what would be right."""

    def __init__(self, value: str, wanted: str) -> None:
        super().__init__(value)
        self.value, self.wanted = value, wanted


def read(files: Iterable[Any]) -> Read:
    """All sheets of some files; a file that is no spreadsheet is named, and the others are still read."""
    found = Read()
    for source in map(Source.of, files):
        try:
            found.sheets += _sheets(source)
        except _Refusal as refusal:
            found.unreadable.append(Unreadable(source.name, "", refusal.value, refusal.wanted))
    return found


def _sheets(source: Source) -> list[Sheet]:
    if len(source.content) > MOST_BYTES:
        raise _Refusal(f"{len(source.content)} bytes", f"a file of at most {MOST_BYTES // 1024 // 1024} MB")
    if not source.content.strip():
        raise _Refusal("an empty file", "a file with rows")
    if source.content.startswith(_OLD_OFFICE):
        raise _Refusal("an old or protected workbook", "an .xlsx workbook without a password, or CSV files")
    if source.content.startswith(b"PK"):
        return _packed_sheets(source)
    if PurePosixPath(source.name).suffix.casefold() in _PACKED:
        raise _Refusal("no workbook and no archive", "a workbook or zip file that opens, or CSV files")
    return [_csv_sheet(source.name, source)]


def _packed_sheets(source: Source) -> list[Sheet]:
    try:
        with zipfile.ZipFile(io.BytesIO(source.content)) as packed:
            _refuse_packing(packed)
            if "[Content_Types].xml" in packed.namelist():
                return _workbook_sheets(source)
            return [_csv_sheet(name, Source(source.name, packed.read(name))) for name in _csv_names(packed)]
    except (zipfile.BadZipFile, NotImplementedError, EOFError, OSError):
        raise _Refusal("a broken archive", "a workbook or a zip file that opens") from None


def _refuse_packing(packed: zipfile.ZipFile) -> None:
    if any(member.flag_bits & 0x1 for member in packed.infolist()):
        raise _Refusal("an encrypted archive", "a zip file without a password")
    if sum(member.file_size for member in packed.infolist()) > MOST_UNPACKED_BYTES:
        limit_mb = MOST_UNPACKED_BYTES // 1024 // 1024
        raise _Refusal("an archive that unpacks to too much", f"at most {limit_mb} MB unpacked")


def _csv_names(packed: zipfile.ZipFile) -> list[str]:
    paths = [PurePosixPath(name) for name in packed.namelist() if not name.endswith("/")]
    paths = [path for path in paths if not path.name.startswith(".") and path.parts[0] != "__MACOSX"]
    strangers = [path.name for path in paths if path.suffix.casefold() != ".csv"]
    if strangers or not paths:
        raise _Refusal(", ".join(strangers) or "an empty archive", "CSV files named after their sheets")
    return [str(path) for path in paths]


# --- Workbooks --------------------------------------------------------------------------------


def _workbook_sheets(source: Source) -> list[Sheet]:
    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(source.content), read_only=True, data_only=True)
        try:
            return [
                _workbook_sheet(sheet, source) for sheet in book.worksheets if sheet.sheet_state == "visible"
            ]
        finally:
            book.close()
    except _Refusal:
        raise
    # A broken workbook makes the reader stumble in many ways.
    except Exception:  # noqa: BLE001
        raise _Refusal("a broken workbook", "an .xlsx workbook that opens") from None


def _workbook_sheet(sheet: Any, source: Source) -> Sheet:
    # The size that a workbook states of itself is often wrong.
    sheet.reset_dimensions()
    rows = sheet.iter_rows(values_only=True, max_col=MOST_COLUMNS)
    return _sheet(str(sheet.title), enumerate(rows, 1), source.name)


# --- CSV --------------------------------------------------------------------------------------


def _csv_sheet(name: str, source: Source) -> Sheet:
    text = _decoded(source.content)
    try:
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
        return _sheet(PurePosixPath(name).stem, enumerate(rows, 1), source.name)
    except csv.Error as broken:
        raise _Refusal(f"{name}: {broken}", "a CSV file or an .xlsx workbook") from None


def _decoded(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings: tuple[str, ...] = ("utf-16",)
    else:
        encodings = ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise _Refusal("not a spreadsheet", "an .xlsx workbook, a CSV file or a zip of CSV files")


def _delimiter(text: str) -> str:
    """The sign between columns, which the header shows: it has no quoted text."""
    header = next((line for line in text.splitlines() if line.strip(_DELIMITERS + " \t")), "")
    return max(_DELIMITERS, key=header.count)


# --- Both -------------------------------------------------------------------------------------


def _sheet(title: str, numbered: Iterable[tuple[int, Sequence[object]]], file: str) -> Sheet:
    filled = ((number, cells) for number, cells in numbered if any(not _is_blank(cell) for cell in cells))
    filled = ((number, cells) for number, cells in filled if not _is_remark(cells))
    header_number, header = next(filled, (1, ()))
    columns = tuple("" if _is_blank(cell) else folded(cell) for cell in header)
    rows = tuple(_rows(filled, columns))
    return Sheet(folded(title), tuple(filter(None, columns)), rows, header_number, file)


def _rows(filled: Iterator[tuple[int, Sequence[object]]], columns: tuple[str, ...]) -> Iterator[Row]:
    for count, (number, cells) in enumerate(filled, 1):
        if count > MOST_ROWS:
            raise _Refusal(f"more than {MOST_ROWS} rows", f"at most {MOST_ROWS} rows a sheet")
        named = {
            name: cell for name, cell in zip(columns, cells, strict=False) if name and not _is_blank(cell)
        }
        named |= _beyond(columns, cells)
        yield Row(number, named)


def _beyond(columns: tuple[str, ...], cells: Sequence[object]) -> dict[str, object]:
    """Cells that no header stands above: they would be lost in silence."""
    padded = (*columns, *("" for _ in cells[len(columns) :]))
    return {
        f"column {number}": cell
        for number, (name, cell) in enumerate(zip(padded, cells, strict=False), 1)
        if not name and not _is_blank(cell)
    }


def _is_blank(cell: object) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _is_remark(cells: Sequence[object]) -> bool:
    first = next(cell for cell in cells if not _is_blank(cell))
    return isinstance(first, str) and first.lstrip().startswith(REMARK)


def folded(name: object) -> str:
    """A name of a sheet or column in small letters with underscores."""
    return "_".join(str(name).casefold().replace("-", " ").replace("_", " ").split())
