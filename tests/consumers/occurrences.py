"""What every reader must find: when which entry is, and how it stands."""

from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import NamedTuple

from landscape_care.calendars.feeds import Days, FeedEvent, FeedTodo


class Occurrence(NamedTuple):
    """An entry as it stands in a reader's calendar: moments in UTC, or days with an exclusive end."""

    uid: str
    start: str
    end: str
    status: str


def said(moment: date) -> str:
    """A day, or a moment in UTC, as text."""
    if not isinstance(moment, datetime):
        return moment.isoformat()
    if moment.tzinfo is None:
        raise ValueError(f"{moment} floats: a reader lost its zone")
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def expected(events: Iterable[FeedEvent]) -> list[Occurrence]:
    """What the database tells, by Python's zoneinfo and nothing of a calendar library; no lists to do."""
    return sorted(_of(event) for event in events if not isinstance(event, FeedTodo))


def _of(event: FeedEvent) -> Occurrence:
    if isinstance(event.span, Days):
        start, end = event.span.first, date.fromordinal(event.span.last.toordinal() + 1)
    else:
        start, end = event.span.starts_at(), event.span.ends_at()
    return Occurrence(str(event.uid), said(start), said(end), event.status)
