"""Care tasks written many at a time: a plan of a new property is some hundred rows.

PostgreSQL takes new rows as a stream (COPY) and changed ones as one statement over arrays; SQLite
takes a prepared statement with many rows. Both get the same columns.
"""

import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from django.db import connection, connections

from landscape_care.care.generation import Wanted
from landscape_care.care.models import CareTask, TaskState

_TABLE = CareTask._meta.db_table
# What planning decides of a task, with the types by which PostgreSQL reads it.
_PLANNED = {
    "opens_on": "date",
    "due_on": "date",
    "closes_on": "date",
    "rule": "text",
    "minutes": "int",
    "people": "int",
    "skill": "text",
    "title": "text",
    "title_es": "text",
    "cautions": "jsonb",
    "details": "jsonb",
}
_NAMED = ("property_id", "thing_id", "stem", "series", "occurrence", "key", "changed_at")
_A_BLOCK = 2000
Row = tuple[Any, ...]


def insert(wanted: Iterable[tuple[int, Wanted]], now: datetime) -> None:
    """Store new care tasks, each with the number of its property; their own numbers are not read back."""
    values, usual = _Values(), _usual()
    at = _moment(now)
    rows = [(place, *_names_of(want), at, *values.planned(want)) for place, want in wanted]
    if rows:
        _insert((*_NAMED, *_PLANNED, *usual), rows, tuple(usual.values()))


def move(moved: Iterable[tuple[int, Wanted]], now: datetime) -> None:
    """Give stored tasks, by their number, what is wanted now; they are open and one revision further."""
    values = _Values()
    rows = [(*values.planned(want), number) for number, want in moved]
    if rows:
        _update(rows, _moment(now))


# --- Values ---


class _Values:
    """What planning decides of tasks as the driver takes it; a text that many tasks share is written once."""

    def __init__(self) -> None:
        # The connection itself: its stand-in for the thread looks it up anew for every value.
        self._day = connections[connection.alias].ops.adapt_datefield_value
        self._texts: dict[int, tuple[object, str]] = {}

    def planned(self, want: Wanted) -> Row:
        """The values of one task in the order of the columns."""
        window = want.window
        return (
            self._day(window.opens),
            self._day(window.due),
            self._day(window.closes),
            want.rule,
            want.minutes,
            want.people,
            want.skill,
            want.title,
            want.title_es,
            self._text(want.cautions),
            self._text(want.details),
        )

    def _text(self, value: object) -> str:
        # The value is kept beside its text, so that no other gets its number meanwhile.
        known = self._texts.get(id(value))
        if known is None:
            known = self._texts[id(value)] = (value, json.dumps(value))
        return known[1]


def _names_of(want: Wanted) -> Row:
    return (want.thing_uid, want.stem, want.series, want.occurrence, want.key)


def _usual() -> dict[str, Any]:
    """The columns of a new task that planning does not decide, with their first values."""
    decided = {*_NAMED, *_PLANNED}
    fields = (field for field in CareTask._meta.concrete_fields if not field.primary_key)
    return {
        str(field.column): field.get_db_prep_save(field.get_default(), connection)
        for field in fields
        if field.column not in decided
    }


def _moment(now: datetime) -> Any:
    return connection.ops.adapt_datetimefield_value(now)


# --- Statements; every name in them is one of ours ---


def _insert(names: Sequence[str], rows: Sequence[Row], usual: Row) -> None:
    """Store rows; the last columns are the same in all of them."""
    columns = ", ".join(names)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {_TABLE} ({columns}) FROM STDIN") as stream:
                for start in range(0, len(rows), _A_BLOCK):
                    stream.write(_as_lines(rows[start : start + _A_BLOCK], usual))
        else:
            places = ", ".join(["%s"] * len(names))
            sql = f"INSERT INTO {_TABLE} ({columns}) VALUES ({places})"  # noqa: S608
            cursor.executemany(sql, [row + usual for row in rows])


def _as_lines(rows: Iterable[Row], usual: Row) -> str:
    """Rows in the text form of COPY: a line each, values parted by tabs."""
    text, end = _CopyTexts(), "\t".join(["", *map(_copy_text, usual)]) + "\n"
    return "".join(["\t".join([text[value] for value in row]) + end for row in rows])


class _CopyTexts(dict[Any, str]):
    """Numbers, texts and days in the text form of COPY, each written once; no two kinds are equal."""

    def __missing__(self, value: Any) -> str:
        self[value] = text = _copy_text(value)
        return text


def _copy_text(value: Any) -> str:
    if value is None:
        return "\\N"
    if isinstance(value, bool):
        return "t" if value else "f"
    return str(value).translate(_ESCAPED)


_ESCAPED = str.maketrans({"\\": "\\\\", "\t": "\\t", "\n": "\\n", "\r": "\\r"})


def _update(rows: Sequence[Row], at: Any) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_update_from_arrays(), [at, *map(list, zip(*rows, strict=True))])
        else:
            cursor.executemany(_update_one(), [(at, *row) for row in rows])


_AGAIN = (
    f"UPDATE {_TABLE} SET state = '{TaskState.OPEN.value}', "  # noqa: S608
    "revision = revision + 1, changed_at = %s"
)


def _update_one() -> str:
    return f"{_AGAIN}, {', '.join(f'{name} = %s' for name in _PLANNED)} WHERE id = %s"


def _update_from_arrays() -> str:
    values = ", ".join(f"{name} = now.{name}" for name in _PLANNED)
    arrays = ", ".join(f"%s::{kind}[]" for kind in (*_PLANNED.values(), "bigint"))
    return (
        f"{_AGAIN}, {values} FROM unnest({arrays}) AS now({', '.join(_PLANNED)}, number) "
        f"WHERE {_TABLE}.id = now.number"
    )
