"""What was told of each entry before, so that every change of its content is told as a change.

Some programs keep an entry as they know it unless SEQUENCE, LAST-MODIFIED or DTSTAMP moved. Rows
have stamps of their own, but an entry may also change with a row beside it, such as the name of
a property. So the last word on the stamps is said here: they move together exactly when the
content does.
"""

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from hashlib import sha1

from landscape_care.calendars.feeds import FeedEvent


@dataclass(frozen=True, slots=True)
class Told:
    """The print of an entry's content, the stamps it was told with (seconds since 1970), its first day."""

    content: str
    sequence: int
    changed_s: int
    day: str = ""


def as_told(
    events: Iterable[FeedEvent], before: Callable[[str], Told | None], *, now: datetime
) -> tuple[list[FeedEvent], dict[str, Told]]:
    """Return the events with the stamps to tell, and what to remember of them."""
    stamped = [_stamped(event, content_print(event), before(str(event.uid)), now) for event in events]
    return [event for event, _ in stamped], {str(event.uid): told for event, told in stamped}


def _stamped(event: FeedEvent, content: str, last: Told | None, now: datetime) -> tuple[FeedEvent, Told]:
    told = _told(event, content, last, now)
    changed_at = datetime.fromtimestamp(told.changed_s, UTC)
    if event.sequence == told.sequence and event.changed_at == changed_at:
        return event, told
    return replace(event, sequence=told.sequence, changed_at=changed_at), told


def _told(event: FeedEvent, content: str, last: Told | None, now: datetime) -> Told:
    if last is not None and last.content == content:
        return last
    own_s, day = int(event.changed_at.timestamp()), event.first_day().isoformat()
    if last is None:
        return Told(content, event.sequence, own_s, day)
    if own_s <= last.changed_s:
        own_s = max(int(now.timestamp()), last.changed_s + 1)
    return Told(content, max(event.sequence, last.sequence + 1), own_s, day)


def content_print(event: FeedEvent) -> str:
    """A short digest of all that an entry says, apart from its stamps."""
    return sha1(
        "\x1f".join(event.content()).encode(errors="surrogatepass"), usedforsecurity=False
    ).hexdigest()[:20]


@dataclass(frozen=True, slots=True)
class Memory:
    """What was told of each entry, a line each by UID, and the index of the sheets of the file.

    `local` are the months that tell local times. It is `whole` when nothing was left out because
    there was too much. Lines are read as they are needed, because a change asks for few of hundreds.
    """

    lines: dict[str, str] = field(default_factory=dict)
    sheets: list[list[str | int]] = field(default_factory=list)
    local: list[str] = field(default_factory=list)
    whole: bool = False

    def of(self, uid: str) -> Told | None:
        """What was told of an entry."""
        line = self.lines.get(uid)
        if line is None:
            return None
        content, sequence, changed_s, day = line.split(" ")
        return Told(content, int(sequence), int(changed_s), day)

    def packed(self) -> bytes:
        """It, for a column."""
        above = json.dumps([self.sheets, self.local, self.whole], separators=(",", ":"))
        return "\n".join([above, *(f"{uid} {line}" for uid, line in self.lines.items())]).encode()

    @classmethod
    def unpacked(cls, column: bytes) -> "Memory":
        """It, from a column."""
        above, *lines = column.decode().split("\n")
        sheets, local, whole = json.loads(above)
        return cls(dict(line.split(" ", 1) for line in lines), sheets, local, whole)


def line_of(told: Told) -> str:
    """What was told of an entry, as a memory keeps it."""
    return f"{told.content} {told.sequence} {told.changed_s} {told.day}"
