"""The sheets an intake may hold: their names, their columns, and what is right in each column."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from landscape_care.properties.records import (
    AgreementRecord,
    CareDone,
    ClientRecord,
    DepotRecord,
    PropertyRecord,
)
from landscape_care.trades.kinds import KINDS
from landscape_care.trades.limits import Limit, is_required, limits_of

PROPERTY = Limit("text", high=40, help="Code of the property")
# Sheets that may lie in the same workbook and are read by others, or by people alone.
READ_ME = "read_me"
LEFT_TO_OTHERS = ("crews", READ_ME)
# A thing may be put in without these by other ways in; in a spreadsheet they find the row again.
_NEEDED = ("property", "tag")

_PLURALS = {
    "valve_box": "valve_boxes",
    "boundary": "boundaries",
}


@dataclass(frozen=True)
class SheetForm:
    """One sheet: its name, the record its rows become, and the limit of each column."""

    sheet: str
    record: type[Any]
    columns: Mapping[str, Limit]
    needed: frozenset[str]
    kind: str = ""

    def field(self, column: str) -> str:
        """The field of the record that a column fills."""
        return _FIELDS.get((self.kind, column), column)

    def column(self, field: str) -> str:
        """The column that fills a field of the record."""
        return column_of(field)


def column_of(field: str) -> str:
    """The column of a field: things refer to each other by number inside and by tag outside."""
    if field.endswith("_ids"):
        return field.removesuffix("_ids") + "s"
    return field.removesuffix("_id")


def plural(kind: str) -> str:
    """The name of the sheet of a kind."""
    return _PLURALS.get(kind, f"{kind}s")


def plain_form(sheet: str, record: type[Any]) -> SheetForm:
    """The form of a sheet whose columns are the fields of a record."""
    columns = limits_of(record)
    return SheetForm(sheet, record, columns, _needed(record, columns))


def _thing_form(kind: str) -> SheetForm:
    record = KINDS[kind]
    columns = {column_of(name): limit for name, limit in limits_of(record).items()}
    note = columns.pop("note")
    columns = {"property": PROPERTY, **columns, "note": note}
    return SheetForm(plural(kind), record, columns, _needed(record, limits_of(record)) | set(_NEEDED), kind)


def _needed(record: type[Any], limits: Mapping[str, Limit]) -> frozenset[str]:
    return frozenset(column_of(name) for name in limits if is_required(record, name))


_FIELDS = {
    (kind, column_of(name)): name
    for kind, record in KINDS.items()
    for name, limit in limits_of(record).items()
    if limit.kind in ("reference", "many")
}

CLIENTS = plain_form("clients", ClientRecord)
DEPOTS = plain_form("depots", DepotRecord)
PROPERTIES = plain_form("properties", PropertyRecord)
AGREEMENTS = plain_form("agreements", AgreementRecord)
LAST_CARE = plain_form("last_care", CareDone)
THINGS = tuple(_thing_form(kind) for kind in KINDS)

FORMS: Mapping[str, SheetForm] = {
    form.sheet: form for form in (CLIENTS, DEPOTS, PROPERTIES, AGREEMENTS, *THINGS, LAST_CARE)
}
