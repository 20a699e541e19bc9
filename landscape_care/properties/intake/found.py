"""What an intake holds once it is checked: records with their places, and problems with theirs."""

from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Generic, TypeVar

from landscape_care.properties.records import (
    AgreementRecord,
    CareDone,
    ClientRecord,
    DepotRecord,
    PropertyRecord,
)
from landscape_care.trades.kinds import Thing

R = TypeVar("R")


@dataclass(frozen=True)
class Place:
    """Where a row stands: sheet, row number as the spreadsheet program shows it, and file."""

    sheet: str
    row: int
    file: str = ""


@dataclass(frozen=True)
class RowProblem:
    """One wrong cell, and what would be right. Row 0 is the file or the sheet as a whole."""

    sheet: str
    row: int
    column: str
    value: object
    wanted: str
    file: str = ""

    def __str__(self) -> str:
        where = f"{self.sheet or self.file}"
        where += f" row {self.row}" if self.row else ""
        where += f", {self.column}" if self.column else ""
        return f"{where}: {_shown(self.value)}, wanted {self.wanted}"


@dataclass(frozen=True)
class Entry(Generic[R]):
    """A checked record and where it stands."""

    record: R
    place: Place


@dataclass(frozen=True)
class ThingEntry:
    """A checked installed thing. Numbers in it are provisional: negative ones are on the record already."""

    property: str
    record: Thing
    place: Place


@dataclass(frozen=True)
class Intake:
    """Everything found in some files. It may be applied when there are no problems."""

    clients: tuple[Entry[ClientRecord], ...] = ()
    depots: tuple[Entry[DepotRecord], ...] = ()
    properties: tuple[Entry[PropertyRecord], ...] = ()
    agreements: tuple[Entry[AgreementRecord], ...] = ()
    things: tuple[ThingEntry, ...] = ()
    last_care: tuple[Entry[CareDone], ...] = ()
    problems: tuple[RowProblem, ...] = ()
    files: tuple[str, ...] = ()

    def counts(self) -> "Counts":
        """How much there is of everything."""
        return Counts(
            clients=len(self.clients),
            depots=len(self.depots),
            properties=len(self.properties),
            agreements=len(self.agreements),
            things=len(self.things),
            by_kind=tuple(sorted(Counter(entry.record.kind for entry in self.things).items())),
        )

    def history(self) -> list[tuple[str, str, str, date]]:
        """Care done before the intake: property code, tag, rule and day."""
        rows = [entry.record for entry in self.last_care]
        return [(row.property, row.tag, row.rule, row.done_on) for row in rows]


@dataclass(frozen=True)
class Counts:
    """How many rows of each kind were taken in."""

    clients: int = 0
    depots: int = 0
    properties: int = 0
    agreements: int = 0
    things: int = 0
    by_kind: tuple[tuple[str, int], ...] = ()


def _shown(value: object) -> str:
    return (
        "nothing" if value is None or value == "" else repr(value) if isinstance(value, str) else str(value)
    )
