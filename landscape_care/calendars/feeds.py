"""Calendar files: events in, bytes out. The only door to the iCalendar library.

Every occurrence is an event of its own, because recurrence rules are read differently from
program to program. A file is a snapshot without METHOD, so DTSTAMP is the moment of the last
change (RFC 5545, 3.8.7.2) and the same events give the same bytes.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import ClassVar, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from icalendar import Alarm, Calendar, Component, Event, Todo, vDuration, vText

from landscape_care.calendars.time_zones import can_be_written, zone_rule

STATUSES = ("CONFIRMED", "TENTATIVE", "CANCELLED")
TODO_STATUSES = ("NEEDS-ACTION", "COMPLETED", "CANCELLED")
PRODUCT = "-//Landscape Care//Care calendar//"
CLOSING = b"END:VCALENDAR\r\n"
_BEGIN = re.compile(rb"(?:^|(?<=\r\n))BEGIN:(VEVENT|VTODO)\r\nUID:")
_LINE_BREAKS = re.compile("\r\n|[\r\u2028\u2029]")
# Control characters, the byte order mark and lone surrogates have no place in a calendar file.
_FORBIDDEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ufeff\ud800-\udfff\ufffe\uffff]")


class Text(vText):
    r"""A text value escaped as RFC 5545, 3.3.11 says; the library's own way turns a typed \N into a line."""

    def to_ical(self) -> bytes:
        """Escape backslash, semicolon, comma and line breaks."""
        text = str(self).replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
        return text.replace("\n", "\\n").encode()


@dataclass(frozen=True)
class Days:
    """Whole days, both ends included."""

    first: date
    last: date

    def __post_init__(self) -> None:
        """Refuse days out of order."""
        if self.last < self.first:
            raise ValueError(f"last {self.last} is before first {self.first}: give the earlier day first")


@dataclass(frozen=True)
class Hours:
    """A span of wall clock time at a place."""

    starts: datetime
    ends: datetime
    time_zone: str

    def __post_init__(self) -> None:
        """Refuse what is no wall clock time, or has no length."""
        if self.starts.tzinfo or self.ends.tzinfo:
            raise ValueError("starts and ends are wall clock times of time_zone: give them without an offset")
        if self.ends_at().astimezone(UTC) <= self.starts_at().astimezone(UTC):
            raise ValueError(f"ends {self.ends} is not after starts {self.starts} in {self.time_zone}")

    def starts_at(self) -> datetime:
        """The moment of the start; a time told twice means its first hour (RFC 5545, 3.3.5)."""
        return self.starts.replace(tzinfo=ZoneInfo(self.time_zone))

    def ends_at(self) -> datetime:
        """The moment of the end."""
        return self.ends.replace(tzinfo=ZoneInfo(self.time_zone))

    def local(self) -> bool:
        """Whether every reader finds the right moments from local time and the zone's rule."""
        return can_be_written(self.time_zone, self.starts) and can_be_written(self.time_zone, self.ends)


def hours_or_day(starts: datetime, ends: datetime, time_zone: str) -> Hours | Days:
    """The hours, or their whole day where the clock makes no span of them, as in a skipped hour."""
    try:
        return Hours(starts, ends, time_zone)
    except ValueError:
        return Days(starts.date(), starts.date())


@dataclass(frozen=True)
class FeedEvent:
    """One entry of a calendar; text may be any text, it is cleaned when written."""

    uid: UUID
    sequence: int
    changed_at: datetime
    span: Days | Hours
    summary: str
    description: str = ""
    status: str = "CONFIRMED"
    location: str = ""
    place: tuple[float, float] | None = None
    url: str = ""
    categories: tuple[str, ...] = ()
    transparent: bool = True
    alarm_minutes: int | None = None

    statuses: ClassVar[tuple[str, ...]] = STATUSES

    def __post_init__(self) -> None:
        """Refuse an entry that no calendar may carry."""
        if self.sequence < 0:
            raise ValueError(f"sequence {self.sequence}: a number of changes from 0 up is right")
        if self.changed_at.tzinfo is None:
            raise ValueError(f"changed_at {self.changed_at}: a moment with its offset is right")
        if self.status not in self.statuses:
            raise ValueError(f"status {self.status!r}: one of {', '.join(self.statuses)} is right")
        if self.alarm_minutes is not None and self.alarm_minutes < 0:
            raise ValueError(f"alarm_minutes {self.alarm_minutes}: minutes before the start, from 0 up")

    def content(self) -> tuple[str, ...]:
        """All that the entry says, apart from the stamps of its last change."""
        shown = (self.span, self.status, self.location, self.place, self.url, self.transparent)
        return (self.summary, self.description, *self.categories, str(self.alarm_minutes), *map(str, shown))

    def first_day(self) -> date:
        """The local day on which the entry begins."""
        return self.span.first if isinstance(self.span, Days) else self.span.starts.date()


@dataclass(frozen=True)
class FeedTodo(FeedEvent):
    """An entry of a list to do, from the first of its days to be done by the last."""

    status: str = "NEEDS-ACTION"
    done_at: datetime | None = None

    statuses: ClassVar[tuple[str, ...]] = TODO_STATUSES

    def __post_init__(self) -> None:
        """Refuse what no list may carry."""
        super().__post_init__()
        if not isinstance(self.span, Days):
            raise ValueError(f"span {self.span}: what is to be done has whole days")
        if (self.done_at is not None) != (self.status == "COMPLETED"):
            raise ValueError(f"done_at {self.done_at}: a moment where it is COMPLETED, and only there")

    def content(self) -> tuple[str, ...]:
        """All that the entry says, apart from the stamps of its last change."""
        return (*super().content(), str(self.done_at))


@dataclass(frozen=True)
class Heading:
    """What a calendar says about itself."""

    name: str
    description: str
    language: str
    refresh: timedelta
    colour: str
    url: str = ""


def render(
    events: Sequence[FeedEvent], heading: Heading, *, drawn: Mapping[str, bytes] | None = None
) -> bytes:
    """Return the calendar file; an empty one is refused, because subscribers would lose what they have.

    `drawn` has the bytes of entries that are as they were in an earlier file.
    """
    if not events:
        raise ValueError("events is empty: a calendar carries at least one entry")
    uids = {event.uid for event in events}
    if len(uids) != len(events):
        raise ValueError(f"{len(events)} entries share {len(uids)} UIDs: each entry needs its own")
    ready = drawn or {}
    entries = [ready.get(str(event.uid)) or entry_bytes(event) for event in events]
    return joined(heading, zones_of(events), entries)


def joined(heading: Heading, zones: Iterable[str], entries: Iterable[bytes]) -> bytes:
    """The bytes of a calendar from those of its entries, in their order."""
    return b"".join([opening(heading, zones), *entries, CLOSING])


def opening(heading: Heading, zones: Iterable[str]) -> bytes:
    """What stands before the entries: the calendar's own properties and the zones used."""
    return b"".join([_above(heading), *map(_zone, sorted(zones))])


def entries_of(body: bytes) -> dict[str, bytes]:
    """The bytes of each entry of a file that was made here, or of a part of it, by UID."""
    begins = [(found.start(), found.end()) for found in _BEGIN.finditer(body)]
    ends = [*(start for start, _ in begins[1:]), len(body.removesuffix(CLOSING))]
    # The UID is the first line of each; 36 characters of a UUID.
    return {
        body[uid : uid + 36].decode("ascii"): body[start:end]
        for (start, uid), end in zip(begins, ends, strict=True)
    }


def clean(text: str) -> str:
    """Return text with plain line breaks and nothing that a calendar file must not hold."""
    return _FORBIDDEN.sub("", _LINE_BREAKS.sub("\n", text))


def one_line(text: str) -> str:
    """Return cleaned text on a single line."""
    return " ".join(clean(text).split())


def zones_of(events: Iterable[FeedEvent]) -> set[str]:
    """The zones that the local times of events name."""
    spans = (event.span for event in events)
    return {span.time_zone for span in spans if isinstance(span, Hours) and span.local()}


@lru_cache(maxsize=64)
def _zone(name: str) -> bytes:
    return "".join(f"{line}\r\n" for line in zone_rule(name).lines()).encode("ascii")


@lru_cache(maxsize=64)
def _above(heading: Heading) -> bytes:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT + heading.language.upper())
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    for name in ("name", "x-wr-calname"):
        calendar.add(name, Text(one_line(heading.name)))
    for name in ("description", "x-wr-caldesc"):
        calendar.add(name, Text(clean(heading.description)))
    # The library writes the duration without the VALUE that RFC 7986, 5.7 demands.
    calendar.add("refresh-interval", heading.refresh, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(heading.refresh))
    calendar.add("color", heading.colour)
    if heading.url:
        calendar.add("url", _address(heading.url))
    return bytes(calendar.to_ical(sorted=False)).removesuffix(CLOSING)


def entry_bytes(event: FeedEvent) -> bytes:
    """One entry as it stands in a file."""
    entry = Todo() if isinstance(event, FeedTodo) else Event()
    entry.add("uid", str(event.uid))
    entry.add("dtstamp", event.changed_at.astimezone(UTC))
    entry.add("last-modified", event.changed_at.astimezone(UTC))
    entry.add("sequence", event.sequence)
    if isinstance(event, FeedTodo):
        _add_due(entry, event)
    else:
        _add_span(entry, event.span)
        entry.add("transp", "TRANSPARENT" if event.transparent else "OPAQUE")
    entry.add("summary", Text(one_line(event.summary)))
    entry.add("status", event.status)
    _add_details(entry, event)
    return bytes(entry.to_ical(sorted=False))


def _add_span(entry: Component, span: Days | Hours) -> None:
    if isinstance(span, Days):
        entry.add("dtstart", span.first)
        entry.add("dtend", span.last + timedelta(days=1))  # exclusive, RFC 5545, 3.6.1
        return
    starts, ends = span.starts_at(), span.ends_at()
    if not span.local():
        starts, ends = starts.astimezone(UTC), ends.astimezone(UTC)
    entry.add("dtstart", starts)
    entry.add("dtend", ends)


def _add_due(todo: Component, event: FeedTodo) -> None:
    first, last = cast(Days, event.span).first, cast(Days, event.span).last
    # DUE is the day itself, and later than a DTSTART beside it (RFC 5545, 3.8.2.3).
    if first < last:
        todo.add("dtstart", first)
    todo.add("due", last)
    if event.done_at is not None:
        todo.add("completed", event.done_at.astimezone(UTC))
        todo.add("percent-complete", 100)


def _add_details(entry: Component, event: FeedEvent) -> None:
    if event.description:
        entry.add("description", Text(clean(event.description)))
    if event.location:
        entry.add("location", Text(one_line(event.location)))
    if event.place:
        entry.add("geo", event.place)
    if event.url:
        entry.add("url", _address(event.url))
    if event.categories:
        entry.add("categories", [one_line(category) for category in event.categories])
    if event.alarm_minutes is not None:
        entry.add_component(_alarm(event))


def _alarm(event: FeedEvent) -> Alarm:
    # Words on a screen alone: a calendar from elsewhere has no business sounding or mailing.
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", -timedelta(minutes=event.alarm_minutes or 0))
    alarm.add("description", Text(one_line(event.summary)))
    return alarm


def _address(url: str) -> str:
    if re.search(r"[\s\x00-\x1f\x7f]", url):
        raise ValueError(f"url {url!r}: an address has neither spaces nor line breaks")
    return url
