"""Make the file of an address anew and store it, for everybody who asks until something changes."""

import gzip
import logging
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby
from typing import Any, NamedTuple

from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections

from landscape_care.calendars import queries
from landscape_care.calendars.feeds import (
    CLOSING,
    FeedEvent,
    Heading,
    entries_of,
    entry_bytes,
    opening,
    zones_of,
)
from landscape_care.calendars.models import Address, CalendarFile, Shows
from landscape_care.calendars.polling import (
    LastFile,
    Poll,
    StoredFile,
    last_file,
    parts_changed,
    poll,
    zipped_file,
)
from landscape_care.calendars.sheets import Sheet, bound, index_of, print_of, tag_of, unbound
from landscape_care.calendars.telling import Memory, Told, as_told, line_of

log = logging.getLogger(__name__)
TRIES = 3
MOST_PATCHES = 40
_HEAD, _END = "head", "end"
_LOCAL = b";TZID="


class Unsettled(Exception):  # noqa: N818 - it reads as a sentence
    """So much changed while the file was made that old and new would have been mixed."""


class Made(NamedTuple):
    """A file with its bytes, zipped."""

    head: StoredFile
    zipped: bytes


@dataclass(frozen=True, slots=True)
class Draft:
    """What a file is to tell: entries read anew, in the place of those that are `gone`.

    `made_of` marks the rows it was read from, and the day ends at `fresh_until_s`. `zone` is that
    of the entries which stay as they are.
    """

    events: list[FeedEvent]
    heading: Heading
    made_of: str
    fresh_until_s: int
    whole: bool
    gone: frozenset[str]
    zone: str = ""


@dataclass(frozen=True, slots=True)
class Last:
    """The last file of an address with what was told in it; empty where there was none."""

    file: LastFile | None = None
    memory: Memory = field(default_factory=Memory)
    sheets: dict[str, Sheet] = field(default_factory=dict)

    @classmethod
    def of(cls, number: int, code: str) -> "Last":
        """The last file; its sheets only where the same code made it."""
        file = last_file(number)
        if file is None:
            return cls()
        memory = Memory.unpacked(file.told)
        sheets = unbound(file.zipped, memory.sheets) if _code(file.made_of) == code else []
        return cls(file, memory, {sheet.name: sheet for sheet in sheets})

    def entries(self, months: Iterable[str]) -> dict[str, bytes]:
        """The entries of some months as they were drawn, by UID."""
        return {
            uid: entry
            for month in months
            if month in self.sheets
            for uid, entry in entries_of(self.sheets[month].plain()).items()
        }

    def months(self) -> set[str]:
        """The months that had entries."""
        return self.sheets.keys() - {_HEAD, _END}


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
        draft = _patched(address, asked, last, now) or _whole(address, asked, last, now)
        again = poll(asked.digest, now)
        if again is None:
            return None
        if again.made_of == asked.made_of:
            return draft
        asked = again
    raise Unsettled(f"address {asked.address}: changed {TRIES} times while its calendar was made")


def _whole(address: Address, asked: Poll, last: Last, now: datetime) -> Draft:
    today = queries.local_day(address, now)
    events, heading = queries.entries(address, today)
    until = int(queries.day_ends_at(address, today).timestamp())
    whole, gone = heading == queries.heading(address), frozenset(last.memory.lines)
    return Draft(events, heading, asked.made_of, until, whole, gone)


# --- Patching -------------------------------------------------------------------------------------


def _patched(address: Address, asked: Poll, last: Last, now: datetime) -> Draft | None:
    """The last file with some visits read anew, where on this day nothing else changed; else None."""
    place, file = address.property, last.file
    if place is None or file is None or not _may_be_patched(address, asked, last, now):
        return None
    numbers = _visits_changed(parts_changed(place.pk, file.made_of, asked.made_of))
    if numbers is None:
        return None
    uids, events = queries.entries_of_visits(address, numbers, queries.local_day(address, now))
    if len(uids) != len(numbers):
        return None
    left = len(last.memory.lines.keys() - uids)
    if not 1 < left + len(events) <= queries.most_entries(address):
        return None
    heading, until = queries.heading(address), file.fresh_until_s
    return Draft(events, heading, asked.made_of, until, True, frozenset(uids), place.time_zone)


def _may_be_patched(address: Address, asked: Poll, last: Last, now: datetime) -> bool:
    """Whether the last file is of this code, these choices and this day, and holds all there was."""
    file = last.file
    if file is None or not last.sheets or not asked.watched or address.shows in (Shows.WINDOWS, Shows.TODOS):
        return False
    same_version = file.made_of.rpartition("/")[0] == asked.made_of.rpartition("/")[0]
    whole = last.memory.whole and len(last.memory.lines) > 1
    return same_version and whole and now.timestamp() < file.fresh_until_s


def _visits_changed(parts: set[str] | None) -> list[int] | None:
    """The numbers of the visits that changed, or None where more than a few visits did."""
    if parts is None:
        return None
    changed = parts - {"untold"}
    numbers = [int(part.removeprefix("visit:")) for part in changed if part.startswith("visit:")]
    return numbers if len(numbers) == len(changed) and len(numbers) <= MOST_PATCHES else None


# --- Drawing and storing --------------------------------------------------------------------------


def _stored(number: int, draft: Draft, last: Last, now: datetime) -> Made:
    events, told = as_told(draft.events, last.memory.of, now=now)
    sheets, local = _sheets(events, told, draft, last)
    lines = {uid: line for uid, line in last.memory.lines.items() if uid not in draft.gone}
    lines |= {uid: line_of(each) for uid, each in told.items()}
    memory = Memory(lines, index_of(sheets), sorted(local), draft.whole)
    made = _made(sheets, last.file, now)
    try:
        return _write(number, made, _columns(draft, made, memory), last.file)
    except DatabaseError as error:
        # A database that cannot be written is no reason to withhold a file that was made.
        log.warning("A calendar file could not be stored: %s", error)
        return made


def _sheets(
    events: list[FeedEvent], told: Mapping[str, Told], draft: Draft, last: Last
) -> tuple[list[Sheet], set[str]]:
    """The sheets of the file, and the months that tell local times; months left alone keep theirs."""
    days = {uid: before.day for uid in draft.gone if (before := last.memory.of(uid))}
    touched = {day[:7] for day in (*days.values(), *(each.day for each in told.values()))}
    drawn = last.entries(touched)
    entries = {uid: entry for uid, entry in drawn.items() if uid not in draft.gone}
    days = {uid: stays.day for uid in entries if (stays := last.memory.of(uid))}
    entries |= _drawn(events, told, drawn, last)
    months = _by_month(entries, days | {uid: each.day for uid, each in told.items()})
    local = {month for month, plain in months.items() if _LOCAL in plain} | {*last.memory.local} - touched
    zones = zones_of(events) | ({draft.zone} if draft.zone and local else set())
    sheets = {month: last.sheets[month] for month in last.months() - touched}
    sheets |= {month: _sheet(month, plain, last) for month, plain in months.items()}
    head = _sheet(_HEAD, opening(draft.heading, zones), last)
    return [head, *(sheets[month] for month in sorted(sheets)), _sheet(_END, CLOSING, last)], local


def _drawn(
    events: Iterable[FeedEvent], told: Mapping[str, Told], before: Mapping[str, bytes], last: Last
) -> Iterator[tuple[str, bytes]]:
    """The bytes of entries; those that are told again as they were are not drawn again."""
    for event in events:
        uid = str(event.uid)
        same = last.memory.of(uid) == told[uid] and before.get(uid)
        yield uid, same or entry_bytes(event)


def _by_month(entries: Mapping[str, bytes], days: Mapping[str, str]) -> dict[str, bytes]:
    order = sorted(entries, key=lambda uid: (days[uid], uid))
    return {
        month: b"".join(entries[uid] for uid in uids)
        for month, uids in groupby(order, key=lambda uid: days[uid][:7])
    }


def _sheet(name: str, plain: bytes, last: Last) -> Sheet:
    """A sheet; the last one where it says the same, because zipping takes longest."""
    before = last.sheets.get(name)
    same = before is not None and before.size == len(plain) and before.print == print_of(plain)
    return before if before is not None and same else Sheet.of(name, plain)


def _code(made_of: str) -> str:
    return made_of.partition("/")[0]


def _made(sheets: list[Sheet], before: LastFile | None, now: datetime) -> Made:
    tag, zipped, changed_s = tag_of(sheets), bound(sheets), int(now.timestamp())
    if before is not None:
        # It grows with each change, because Last-Modified has whole seconds.
        same, last_s = before.head.tag == tag, before.head.changed_s
        changed_s = last_s if same else max(changed_s, last_s + 1)
    return Made(StoredFile(changed_s, tag, sum(sheet.size for sheet in sheets), len(zipped)), zipped)


def _columns(draft: Draft, made: Made, memory: Memory) -> dict[str, Any]:
    of = {"made_of": draft.made_of, "fresh_until_s": draft.fresh_until_s, "told": memory.packed()}
    return of | made.head._asdict() | {"zipped": made.zipped}


def _write(number: int, made: Made, columns: dict[str, Any], before: LastFile | None) -> Made:
    """Store the file unless somebody else stored another one meanwhile; return what is stored."""
    if before is None:
        _, mine = CalendarFile.objects.get_or_create(address_id=number, defaults=columns)
    else:
        mine = _replace(number, columns, before)
    other = None if mine else zipped_file(number)
    return Made(*other) if other else made


def _replace(number: int, columns: dict[str, Any], before: LastFile) -> bool:
    """Put a file in the place of the one it was made after; in SQL, as polls are read."""
    sets = ", ".join(f"{name} = %s" for name in columns)
    where = "address_id = %s AND made_of = %s AND tag = %s"
    with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
        cursor.execute(
            f"UPDATE calendars_calendarfile SET {sets} WHERE {where}",  # noqa: S608 - our own names
            [*columns.values(), number, before.made_of, before.head.tag],
        )
        return bool(cursor.rowcount)
