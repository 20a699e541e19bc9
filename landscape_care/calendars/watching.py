"""Triggers by which the database itself notes every change of what calendars tell.

A note is written in the transaction of the change, whoever makes it: an action, the stock admin
or a statement typed by hand. A stored calendar file is as good as new while the notes about it are
the same in number and the newest is the same. On PostgreSQL a note is always a new row, so that
nobody waits for anybody; a transaction that commits late changes the number. On SQLite, where one
writes at a time, a note replaces the one before it.

Migrations rebuild tables, and on SQLite a table that is rebuilt loses its triggers. So they are
taken down before a migration and set up after it, and while they are down no file counts as fresh.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

NOTES = "calendars_change"
WATCHING = "watching"
EVENTS = ("INSERT", "UPDATE", "DELETE")
_PLACE = (
    *("code", "name", "client_id", "depot_id", "street", "town", "latitude_deg", "longitude_deg"),
    *("time_zone", "access_opens", "access_closes", "access_note", "gate_code"),
)
_OF_VISIT = "(SELECT property_id FROM visits_visit WHERE id = {row}.visit_id)"
# Owners read a task in its visit, and apart where its occurrence names a season, a month or a day.
_PART_OF_TASK = (
    "CASE WHEN {row}.occurrence LIKE '%-%' THEN '' ELSE coalesce('visit:' || "
    "(SELECT visit_id FROM visits_visittask WHERE task_id = {row}.id), 'untold') END"
)


@dataclass(frozen=True, slots=True)
class Watched:
    """A table, and whom its rows are about: a property by an expression of {row}, or a fixed word."""

    table: str
    place: str = ""
    word: str = ""
    columns: tuple[str, ...] = ()
    part: str = "''"
    many: bool = False  # whether many rows of it are written at once

    def about(self, row: str) -> tuple[str, str]:
        """The SQL of what a change of a row is about, and which part of it."""
        about = f"'property:' || {self.place.format(row=row)}" if self.place else f"'{self.word}'"
        return about, self.part.format(row=row)

    def clause(self, event: str) -> str:
        """UPDATE with the columns that matter; other events as they are."""
        return f"UPDATE OF {', '.join(self.columns)}" if event == "UPDATE" and self.columns else event


TABLES = (
    Watched("visits_visit", "{row}.property_id", part="'visit:' || {row}.id", many=True),
    Watched("care_caretask", "{row}.property_id", part=_PART_OF_TASK, many=True),
    Watched("visits_visittask", _OF_VISIT, part="'visit:' || {row}.visit_id", many=True),
    Watched("properties_property", "{row}.id", columns=_PLACE),
    Watched("properties_installedthing", "{row}.property_id", columns=("tag", "name", "property_id")),
    Watched("properties_client", word="all", columns=("code", "name")),
    Watched("properties_depot", word="all", columns=("code", "name", "time_zone")),
    Watched("dispatch_crew", word="routes", columns=("code", "name", "depot_id")),
    Watched("dispatch_monthplan", word="routes", columns=("state",)),
    Watched("dispatch_stop", word="routes"),
)


def stop_watching(*, using: str, plan: Sequence[object] = (), **_: Any) -> None:
    """Take the triggers down before tables are rebuilt; from now on no stored file counts as fresh.

    A change of the triggers themselves needs a migration too, or they stay as they are.
    """
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    if not plan or NOTES not in tables:
        return
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {NOTES} WHERE about = %s", [WATCHING])  # noqa: S608 - our own name
        for statement in _removals(connection, tables):
            cursor.execute(statement)


def start_watching(*, using: str, **_: Any) -> None:
    """Set the triggers up where all tables are there; what happened meanwhile counts as a change of all."""
    connection = connections[using]
    if not {NOTES, *(each.table for each in TABLES)} <= set(connection.introspection.table_names()):
        return
    with transaction.atomic(using=using), connection.cursor() as cursor:
        cursor.execute(f"SELECT count(*) FROM {NOTES} WHERE about = %s", [WATCHING])  # noqa: S608
        if cursor.fetchone()[0]:
            return
        for statement in _statements(connection):
            cursor.execute(statement)
        cursor.execute(f"INSERT INTO {NOTES} (about) VALUES ('all'), (%s)", [WATCHING])  # noqa: S608


def _removals(connection: BaseDatabaseWrapper, tables: set[str]) -> Iterator[str]:
    of_table = connection.vendor == "postgresql"
    for each in TABLES:
        if each.table in tables:
            for name in _names(each):
                yield f"DROP TRIGGER IF EXISTS {name}" + (f" ON {each.table}" if of_table else "")


def _names(each: Watched) -> Iterator[str]:
    for event in (*EVENTS, "LEAVE"):
        yield f"calendars_{each.table}_{event.lower()}"


def _statements(connection: BaseDatabaseWrapper) -> Iterator[str]:
    make = _for_postgres if connection.vendor == "postgresql" else _for_sqlite
    for each in TABLES:
        yield from make(each)


# --- SQLite -----------------------------------------------------------------------------------


def _for_sqlite(each: Watched) -> Iterator[str]:
    for event in EVENTS:
        rows = {"INSERT": ("NEW",), "UPDATE": ("OLD", "NEW"), "DELETE": ("OLD",)}[event]
        body = " ".join(_replace(*about) for about in dict.fromkeys(each.about(row) for row in rows))
        yield _on_row(each, event, each.clause(event), body)
    if "client_id" in each.columns:
        yield _on_row(each, "leave", "UPDATE OF client_id", _replace("'all'", "''"))


def _on_row(each: Watched, name: str, clause: str, body: str) -> str:
    return (
        f"CREATE TRIGGER IF NOT EXISTS calendars_{each.table}_{name.lower()} "
        f"AFTER {clause} ON {each.table} BEGIN {body} END"
    )


def _replace(about: str, part: str) -> str:
    return (
        f"DELETE FROM {NOTES} WHERE about = {about} AND part = {part}; "  # noqa: S608 - our own names
        f"INSERT INTO {NOTES} (about, part) SELECT {about}, {part} WHERE {about} IS NOT NULL;"
    )


# --- PostgreSQL -------------------------------------------------------------------------------
# One note for each property, however many of its rows a statement writes.

_KNOWN = {
    "INSERT": "REFERENCING NEW TABLE AS told ",
    "UPDATE": "REFERENCING OLD TABLE AS told_before NEW TABLE AS told ",
    "DELETE": "REFERENCING OLD TABLE AS told ",
}


def _for_postgres(each: Watched) -> Iterator[str]:
    if each.many and each.place:
        for event in EVENTS:
            yield from _pair(
                each, event, event, _note_each(each, event), _KNOWN[event] + "FOR EACH STATEMENT"
            )
    elif each.place:
        for event in EVENTS:
            note = _note(*each.about("OLD" if event == "DELETE" else "NEW"))
            yield from _pair(each, event, each.clause(event), note, "FOR EACH ROW")
    else:
        for event in EVENTS:
            yield from _pair(each, event, each.clause(event), _note(*each.about("")), "FOR EACH STATEMENT")
    if "client_id" in each.columns:
        # A client's calendar that loses a property has nothing else that says so.
        yield from _pair(each, "LEAVE", "UPDATE OF client_id", _note("'all'", "''"), "FOR EACH STATEMENT")


def _note(about: str, part: str) -> str:
    return f"INSERT INTO {NOTES} (about, part) VALUES ({about}, {part});"  # noqa: S608


def _note_each(each: Watched, event: str) -> str:
    found = " UNION ".join(
        f"SELECT {about} AS about, {part} AS part FROM {table}"  # noqa: S608
        for table in (("told", "told_before") if event == "UPDATE" else ("told",))
        for about, part in [each.about(table)]
    )
    return (
        f"INSERT INTO {NOTES} (about, part) "  # noqa: S608
        f"SELECT DISTINCT about, part FROM ({found}) f WHERE about IS NOT NULL;"
    )


def _pair(each: Watched, event: str, clause: str, body: str, how: str) -> Iterator[str]:
    name = f"calendars_{each.table}_{event.lower()}"
    yield (
        f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql "
        f"AS $note$ BEGIN {body} RETURN NULL; END $note$"
    )
    yield f"CREATE OR REPLACE TRIGGER {name} AFTER {clause} ON {each.table} {how} EXECUTE FUNCTION {name}()"
