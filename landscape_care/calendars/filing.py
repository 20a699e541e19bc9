"""Make the file of an address anew and store it, for everybody who asks until something changes."""

import gzip
import logging
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from uuid import UUID

from django.db import DatabaseError

from landscape_care.calendars import queries
from landscape_care.calendars.feeds import FeedEvent, Heading, entries_of, render
from landscape_care.calendars.models import Address, CalendarFile
from landscape_care.calendars.polling import Poll, StoredFile, poll, zipped_file
from landscape_care.calendars.telling import Told, as_told, packed, unpacked

log = logging.getLogger(__name__)
TRIES = 3


class Unsettled(Exception):  # noqa: N818 - it reads as a sentence
    """So much changed while the file was made that old and new would have been mixed."""


@dataclass(frozen=True, slots=True)
class Made:
    """A file with its bytes, zipped."""

    head: StoredFile
    zipped: bytes


@dataclass(frozen=True, slots=True)
class Draft:
    """What a file is to tell, with the mark of the rows and the moment until which it holds."""

    events: list[FeedEvent]
    heading: Heading
    made_of: str
    fresh_until_s: int


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
    draft = _draft(asked, now)
    return None if draft is None else _stored(asked.address, draft, now)


def _draft(asked: Poll, now: datetime) -> Draft | None:
    """Read what is to be told between two equal marks, so that nothing changed while it was read."""
    for _ in range(TRIES):
        address = queries.live_address_numbered(asked.address)
        if address is None:
            return None
        today = queries.local_day(address, now)
        events, heading = queries.entries(address, today)
        until = int(queries.day_ends_at(address, today).timestamp())
        again = poll(asked.digest, now)
        if again is None:
            return None
        if again.made_of == asked.made_of:
            return Draft(events, heading, asked.made_of, until)
        asked = again
    raise Unsettled(f"address {asked.address}: changed {TRIES} times while its calendar was made")


def _stored(number: int, draft: Draft, now: datetime) -> Made:
    before = CalendarFile.objects.filter(pk=number).first()
    told_before = unpacked(bytes(before.told)) if before else {}
    events, told = as_told(draft.events, told_before, now=now)
    body = render(events, draft.heading, drawn=_drawn(before, draft, told_before, told))
    row = _row(number, draft, before, body, now)
    row.told = packed(told)
    try:
        kept = _write(row, before)
    except DatabaseError as error:
        # A database that cannot be written is no reason to withhold a file that was made.
        log.warning("A calendar file could not be stored: %s", error)
        kept = row
    return Made(StoredFile(kept.changed_s, kept.tag, kept.size, kept.zipped_size), bytes(kept.zipped))


def _drawn(
    before: CalendarFile | None, draft: Draft, told_before: Mapping[str, Told], told: Mapping[str, Told]
) -> dict[UUID, bytes]:
    """The entries of the last file that are told again as they were, by the same code."""
    if before is None or _code(before.made_of) != _code(draft.made_of):
        return {}
    same = {uid for uid, each in told.items() if told_before.get(uid) == each}
    drawn = entries_of(gzip.decompress(bytes(before.zipped)))
    return {uid: entry for uid, entry in drawn.items() if str(uid) in same}


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
        row.zipped = gzip.compress(body, compresslevel=6, mtime=0)
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
