"""One small query for readers that come back every few minutes for years."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import Any, NamedTuple

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from landscape_care.calendars.making import made_by
from landscape_care.calendars.watching import NOTES, WATCHING

READ_NOTED_EVERY = timedelta(hours=1)
# On SQLite, where one writes at a time, notes come in the order of their numbers, so the newest
# says it all and is found without counting. On PostgreSQL a late commit brings an older number.
_NEWEST = f"coalesce((SELECT max(c.id) FROM {NOTES} c WHERE c.about = {{}}), 0)"  # noqa: S608
_COUNTED = f"SELECT count(*) || ':' || coalesce(max(c.id), 0) FROM {NOTES} c"  # noqa: S608
_OF_CLIENT = "(SELECT 'property:' || p.id FROM properties_property p WHERE p.client_id = a.client_id)"
_MARKS = {
    "sqlite": (
        f"max({_NEWEST.format(repr('all'))}, {_NEWEST.format(repr('property:') + ' || a.property_id')})",
        f"(SELECT coalesce(max(c.id), 0) FROM {NOTES} c WHERE c.about = 'all' OR c.about IN {_OF_CLIENT})",  # noqa: S608
        f"(SELECT coalesce(max(c.id), 0) FROM {NOTES} c)",  # noqa: S608
    ),
    "postgresql": (
        f"({_COUNTED} WHERE c.about IN ('all', 'property:' || a.property_id))",
        f"({_COUNTED} WHERE c.about = 'all' OR c.about IN {_OF_CLIENT})",
        f"({_COUNTED})",
    ),
}
_POLL = """SELECT a.id, a.language, a.version, a.last_read_at IS NULL OR a.last_read_at <= {0},
f.made_of, f.fresh_until_s, f.changed_s, f.tag, f.size, f.zipped_size,
EXISTS (SELECT 1 FROM {notes} w WHERE w.about = '{watching}'),
CASE a.audience WHEN 'property' THEN {property} WHEN 'client' THEN {client} ELSE {all} END
FROM calendars_address a LEFT JOIN calendars_calendarfile f ON f.address_id = a.id
WHERE a.digest = {0} AND a.revoked_at IS NULL"""
_PARTS = """SELECT c.part, count(*) FROM {notes} c
WHERE c.about IN ('all', 'property:' || {0}) AND c.id > {0} GROUP BY c.part"""
_FILE = "SELECT changed_s, tag, size, zipped_size, zipped FROM calendars_calendarfile WHERE address_id = {0}"
_FILE_AND_MEMORY = """SELECT changed_s, tag, size, zipped_size, zipped, made_of, fresh_until_s, told
FROM calendars_calendarfile WHERE address_id = {0}"""


class StoredFile(NamedTuple):
    """What readers are told of a file before they take it."""

    changed_s: int
    tag: str
    size: int
    zipped_size: int


class LastFile(NamedTuple):
    """All that is stored of the file of an address."""

    head: StoredFile
    zipped: bytes
    made_of: str
    fresh_until_s: int
    told: bytes


class Poll(NamedTuple):
    """An address with what is stored of its file, and of what a file would be made now."""

    digest: str
    address: int
    language: str
    read_is_due: bool
    stored: StoredFile | None
    made_of: str
    watched: bool
    stored_of: str = ""
    fresh_until_s: int = 0

    def fresh(self, now_s: float) -> bool:
        """Whether the stored file is what would be made now."""
        return self.watched and self.stored_of == self.made_of and now_s < self.fresh_until_s


def poll(digest: str, now: datetime) -> Poll | None:
    """The live address of a digest with the state of its file, in one query.

    In SQL of our own, because composing it anew costs the processor more than all the rest.
    """
    row = _row(_POLL, (_an_hour_before(int(now.timestamp()) // 60), digest))
    if row is None:
        return None
    number, language, version, due, stored_of, until, changed_s, tag, size, zipped_size, watched, mark = row
    file = StoredFile(changed_s, tag, size, zipped_size) if stored_of is not None else None
    made_of = f"{made_by()}/{version}/{mark}"
    return Poll(
        digest, number, language, bool(due), file, made_of, bool(watched), stored_of or "", until or 0
    )


def zipped_file(address: int) -> tuple[StoredFile, bytes] | None:
    """The stored file of an address with its bytes."""
    row = _row(_FILE, (address,))
    return (StoredFile(*row[:4]), bytes(row[4])) if row else None


def last_file(address: int) -> LastFile | None:
    """The stored file of an address with all that was remembered of it."""
    row = _row(_FILE_AND_MEMORY, (address,))
    return LastFile(StoredFile(*row[:4]), bytes(row[4]), row[5], row[6], bytes(row[7])) if row else None


def parts_changed(number: int, before: str, after: str) -> set[str] | None:
    """The parts of a property's calendar that changed between two marks, or None where nobody can tell.

    A mark is the newest note, and on PostgreSQL their number before it: where more or fewer came
    than there are newer ones, one was committed late, or notes were swept.
    """
    connection = connections[DEFAULT_DB_ALIAS]
    (count, newest), (count_now, _) = _mark(before), _mark(after)
    with connection.cursor() as cursor:
        cursor.execute(_sql(_PARTS, "postgresql"), (str(number), newest))
        found = dict(cursor.fetchall())
    counted = connection.vendor == "postgresql"
    return None if counted and count + sum(found.values()) != count_now else set(found)


def _mark(made_of: str) -> tuple[int, int]:
    count, _, newest = made_of.rpartition("/")[2].rpartition(":")
    return int(count or 0), int(newest)


@lru_cache(maxsize=4)
def _an_hour_before(minute: int) -> str | None:
    moment = datetime.fromtimestamp(minute * 60, UTC) - READ_NOTED_EVERY
    adapted: str | None = connections[DEFAULT_DB_ALIAS].ops.adapt_datetimefield_value(moment)
    return adapted


@lru_cache(maxsize=16)
def _sql(statement: str, vendor: str) -> str:
    """A statement with the parameters and marks of a database."""
    names = dict(zip(("property", "client", "all"), _MARKS[vendor], strict=True))
    sign = "?" if vendor == "sqlite" else "%s"
    return " ".join(statement.format(sign, notes=NOTES, watching=WATCHING, **names).split())


def _row(statement: str, parameters: Sequence[int | str | None]) -> Any:
    """The first row of a statement.

    Straight from the driver, whose errors are told as always: the layers between take a third of
    the processor time of a poll. Who listens to queries, as tests do, hears of it all the same.
    """
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.execute_wrappers or connection.queries_logged:
        return _heard(connection, statement, parameters)
    connection.ensure_connection()
    with connection.wrap_database_errors:
        return connection.connection.execute(_sql(statement, connection.vendor), parameters).fetchone()


def _heard(connection: BaseDatabaseWrapper, statement: str, parameters: Sequence[int | str | None]) -> Any:
    with connection.cursor() as cursor:
        cursor.execute(_sql(statement, connection.vendor).replace("?", "%s"), parameters)
        return cursor.fetchone()
