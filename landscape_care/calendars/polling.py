"""One small query for readers that come back every few minutes for years."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache

from django.db import DEFAULT_DB_ALIAS, connections

from landscape_care.calendars.making import made_by
from landscape_care.calendars.watching import WATCHING

READ_NOTED_EVERY = timedelta(hours=1)
_MARK = "SELECT count(*) || ':' || coalesce(max(c.id), 0) FROM calendars_change c"
_POLL = f"""SELECT a.id, a.language, a.version, a.last_read_at IS NULL OR a.last_read_at <= %s,
       f.made_of, f.fresh_until_s, f.changed_s, f.tag, f.size, f.zipped_size,
       EXISTS (SELECT 1 FROM calendars_change w WHERE w.about = '{WATCHING}'),
       CASE a.audience
         WHEN 'property' THEN ({_MARK} WHERE c.about IN ('all', 'property:' || a.property_id))
         WHEN 'client' THEN ({_MARK} WHERE c.about = 'all' OR c.about IN
           (SELECT 'property:' || p.id FROM properties_property p WHERE p.client_id = a.client_id))
         ELSE ({_MARK})
       END
FROM calendars_address a LEFT JOIN calendars_calendarfile f ON f.address_id = a.id
WHERE a.digest = %s AND a.revoked_at IS NULL"""  # noqa: S608 - no word of it comes from outside
# Short, because it is searched for its parameters each time.
_POLL = " ".join(_POLL.split())


_PARTS = """
SELECT c.part, count(*) || ':' || max(c.id) FROM calendars_change c
WHERE c.about IN ('all', 'property:' || %s) GROUP BY c.part
"""
_FILE = """
SELECT changed_s, tag, size, zipped_size, zipped FROM calendars_calendarfile WHERE address_id = %s
"""


@dataclass(frozen=True, slots=True)
class StoredFile:
    """What readers are told of a file before they take it."""

    changed_s: int
    tag: str
    size: int
    zipped_size: int


@dataclass(frozen=True, slots=True)
class Poll:
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


@lru_cache(maxsize=4)
def _an_hour_before(minute: int) -> str | None:
    moment = datetime.fromtimestamp(minute * 60, UTC) - READ_NOTED_EVERY
    adapted: str | None = connections[DEFAULT_DB_ALIAS].ops.adapt_datetimefield_value(moment)
    return adapted


def poll(digest: str, now: datetime) -> Poll | None:
    """The live address of a digest with the state of its file, in one query.

    In SQL of our own, because composing it anew costs the processor more than all the rest.
    """
    minute = int(now.timestamp()) // 60
    with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
        cursor.execute(_POLL, (_an_hour_before(minute), digest))
        row = cursor.fetchone()
    if row is None:
        return None
    number, language, version, due, stored_of, until, *stored, watched, mark = row
    file = StoredFile(*stored) if stored_of is not None else None
    made_of = f"{made_by()}/{version}/{mark}"
    return Poll(
        digest, number, language, bool(due), file, made_of, bool(watched), stored_of or "", until or 0
    )


def zipped_file(address: int) -> tuple[StoredFile, bytes] | None:
    """The stored file of an address with its bytes."""
    with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
        cursor.execute(_FILE, [address])
        row = cursor.fetchone()
    return (StoredFile(*row[:4]), bytes(row[4])) if row else None


def parts_of_property(number: int) -> dict[str, str]:
    """The mark of each part of what a property's calendar is made from."""
    with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
        cursor.execute(_PARTS, (str(number),))
        return dict(cursor.fetchall())
