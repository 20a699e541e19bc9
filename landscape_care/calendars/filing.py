"""Make the file of an address anew and store it, for everybody who asks until something changes."""

import gzip
import logging
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256

from django.db import DatabaseError

from landscape_care.calendars import queries
from landscape_care.calendars.feeds import FeedEvent, Heading, entries_of, entry_bytes, joined, zones_of
from landscape_care.calendars.models import Address, CalendarFile, Shows
from landscape_care.calendars.polling import Poll, StoredFile, parts_of_property, poll, zipped_file
from landscape_care.calendars.telling import Memory, Told, as_told
from landscape_care.visits.models import Visit

log = logging.getLogger(__name__)
TRIES = 3
MOST_PATCHES = 40
_LOCAL = b";TZID="


class Unsettled(Exception):  # noqa: N818 - it reads as a sentence
    """So much changed while the file was made that old and new would have been mixed."""


@dataclass(frozen=True, slots=True)
class Made:
    """A file with its bytes, zipped."""

    head: StoredFile
    zipped: bytes


@dataclass(frozen=True, slots=True)
class Draft:
    """What a file is to tell: entries read anew, entries of the last file that stay as they are.

    `made_of` marks the rows it was read from, and the day ends at `fresh_until_s`.
    """

    events: list[FeedEvent]
    heading: Heading
    made_of: str
    fresh_until_s: int
    parts: dict[str, str]
    whole: bool
    kept: dict[str, bytes] = field(default_factory=dict)
    zones: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Last:
    """The last file of an address with what was told in it; empty where there was none."""

    row: CalendarFile | None = None
    memory: Memory = field(default_factory=Memory)
    entries: dict[str, bytes] = field(default_factory=dict)

    @classmethod
    def of(cls, number: int, code: str) -> "Last":
        """The last file; its bytes only where the same code made it."""
        row = CalendarFile.objects.filter(pk=number).first()
        if row is None:
            return cls()
        same = _code(row.made_of) == code
        entries = entries_of(gzip.decompress(bytes(row.zipped))) if same else {}
        return cls(row, Memory.unpacked(bytes(row.told)), entries)


def current_file(address: Address, now: datetime) -> bytes:
    """The file of a live address as its readers get it."""
    asked = poll(address.digest, now)
    if asked is None:
        raise LookupError(f"{address} was revoked")
    stored = zipped_file(asked.address) if asked.fresh(now.timestamp()) else None
    if stored is not None:
        return gzip.decompress(stored[1])
    made = renew(asked, now)
    if made is None:
        raise LookupError(f"{address} was revoked")
    return gzip.decompress(made.zipped)


def renew(asked: Poll, now: datetime) -> Made | None:
    """Make and store the file of an address; None when it was revoked meanwhile."""
    last = Last.of(asked.address, _code(asked.made_of))
    draft = _draft(asked, last, now)
    return None if draft is None else _stored(asked.address, draft, last, now)


def _draft(asked: Poll, last: Last, now: datetime) -> Draft | None:
    """Read what is to be told between two equal marks, so that nothing changed while it was read."""
    for _ in range(TRIES):
        address = queries.live_address_numbered(asked.address)
        if address is None:
            return None
        draft = _patched(address, asked, last, now) or _whole(address, asked, now)
        again = poll(asked.digest, now)
        if again is None:
            return None
        if again.made_of == asked.made_of:
            return draft
        asked = again
    raise Unsettled(f"address {asked.address}: changed {TRIES} times while its calendar was made")


def _whole(address: Address, asked: Poll, now: datetime) -> Draft:
    today = queries.local_day(address, now)
    parts = parts_of_property(address.property_id) if address.property_id else {}
    events, heading = queries.entries(address, today)
    until = int(queries.day_ends_at(address, today).timestamp())
    whole = heading == queries.heading(address)
    return Draft(events, heading, asked.made_of, until, parts, whole)


def _patched(address: Address, asked: Poll, last: Last, now: datetime) -> Draft | None:
    """The last file with some visits read anew, where on this day nothing else changed; else None."""
    place, row = address.property, last.row
    if place is None or row is None or not _may_be_patched(address, asked, last, now):
        return None
    parts, most = parts_of_property(place.pk), queries.most_entries(address)
    numbers = _visits_changed(last.memory.parts, parts)
    visits = Visit.objects.filter(pk__in=numbers or ())
    uids = {str(uid) for uid in visits.values_list("uid", flat=True)}
    if numbers is None or len(uids) != len(numbers):
        return None
    today = queries.local_day(address, now)
    events = queries.entries_of_visits(address, visits, today) if address.options().visits() else []
    kept = {uid: entry for uid, entry in last.entries.items() if uid not in uids}
    if not 1 < len(kept) + len(events) <= most:
        return None
    zones = {place.time_zone} if any(_LOCAL in entry for entry in kept.values()) else set()
    heading = queries.heading(address)
    return Draft(events, heading, asked.made_of, row.fresh_until_s, parts, True, kept, frozenset(zones))


def _may_be_patched(address: Address, asked: Poll, last: Last, now: datetime) -> bool:
    """Whether the last file is of this code, these choices and this day, and holds all there was."""
    row, told = last.row, last.memory.told
    if row is None or not asked.watched or address.shows == Shows.WINDOWS:
        return False
    same_version = row.made_of.rpartition("/")[0] == asked.made_of.rpartition("/")[0]
    whole = last.memory.whole and len(told) > 1 and told.keys() == last.entries.keys()
    return same_version and whole and now.timestamp() < row.fresh_until_s


def _visits_changed(before: Mapping[str, str], parts: Mapping[str, str]) -> list[int] | None:
    """The numbers of the visits that changed, or None where more than a few visits did."""
    changed = {part for part, mark in parts.items() if before.get(part) != mark} - {"untold"}
    numbers = [int(part.removeprefix("visit:")) for part in changed if part.startswith("visit:")]
    only_visits = len(numbers) == len(changed) and not before.keys() - parts.keys()
    return numbers if only_visits and len(numbers) <= MOST_PATCHES else None


def _stored(number: int, draft: Draft, last: Last, now: datetime) -> Made:
    events, told = as_told(draft.events, last.memory.told, now=now)
    told |= {uid: last.memory.told[uid] for uid in draft.kept}
    body = _body(events, told, draft, last)
    row = _row(number, draft, last.row, body, now)
    row.told = Memory(told, draft.parts, draft.whole).packed()
    try:
        kept = _write(row, last.row)
    except DatabaseError as error:
        # A database that cannot be written is no reason to withhold a file that was made.
        log.warning("A calendar file could not be stored: %s", error)
        kept = row
    return Made(StoredFile(kept.changed_s, kept.tag, kept.size, kept.zipped_size), bytes(kept.zipped))


def _body(events: list[FeedEvent], told: Mapping[str, Told], draft: Draft, last: Last) -> bytes:
    """The file, in which entries that are told again as they were are not drawn again."""
    entries = dict(draft.kept)
    for event in events:
        uid = str(event.uid)
        same = last.memory.told.get(uid) == told[uid] and last.entries.get(uid)
        entries[uid] = same or entry_bytes(event)
    order = sorted(entries, key=lambda uid: (told[uid].day, uid))
    return joined(draft.heading, zones_of(events) | draft.zones, [entries[uid] for uid in order])


def _code(made_of: str) -> str:
    return made_of.partition("/")[0]


def _row(number: int, draft: Draft, before: CalendarFile | None, body: bytes, now: datetime) -> CalendarFile:
    row = CalendarFile(address_id=number, made_of=draft.made_of, fresh_until_s=draft.fresh_until_s)
    row.tag, row.size = sha256(body).hexdigest()[:32], len(body)
    if before is not None and before.tag == row.tag:
        row.changed_s, row.zipped = before.changed_s, before.zipped
    else:
        # It grows with each change, because Last-Modified has whole seconds.
        row.changed_s = max(int(now.timestamp()), before.changed_s + 1 if before else 0)
        row.zipped = gzip.compress(body, compresslevel=4, mtime=0)
    row.zipped_size = len(row.zipped)
    return row


def _write(row: CalendarFile, before: CalendarFile | None) -> CalendarFile:
    """Store the row unless somebody else stored another one meanwhile; return what is stored."""
    columns = {field.attname: getattr(row, field.attname) for field in CalendarFile._meta.concrete_fields}
    number = columns.pop("address_id")
    if before is None:
        return CalendarFile.objects.get_or_create(address_id=number, defaults=columns)[0]
    mine = CalendarFile.objects.filter(pk=number, made_of=before.made_of, tag=before.tag)
    return row if mine.update(**columns) else CalendarFile.objects.filter(pk=number).first() or row
