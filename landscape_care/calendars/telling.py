"""What was told of each entry before, so that every change of its content is told as a change.

Some programs keep an entry as they know it unless SEQUENCE, LAST-MODIFIED or DTSTAMP moved. Rows
have stamps of their own, but an entry may also change with a row beside it, such as the name of
a property. So the last word on the stamps is said here: they move together exactly when the
content does.
"""

import json
import zlib
from collections.abc import Iterable, Mapping
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
    events: Iterable[FeedEvent], before: Mapping[str, Told], *, now: datetime
) -> tuple[list[FeedEvent], dict[str, Told]]:
    """Return the events with the stamps to tell, and what to remember of them."""
    stamped = [_stamped(event, content_print(event), before.get(str(event.uid)), now) for event in events]
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
    """What was told of each entry, by UID, and the notes of changes by part that it was made from.

    It is `whole` when nothing was left out because there was too much.
    """

    told: dict[str, Told] = field(default_factory=dict)
    parts: dict[str, str] = field(default_factory=dict)
    whole: bool = False

    def packed(self) -> bytes:
        """It, for a column."""
        rows = [
            [uid, each.content, each.sequence, each.changed_s, each.day] for uid, each in self.told.items()
        ]
        return zlib.compress(json.dumps([rows, self.parts, self.whole], separators=(",", ":")).encode(), 1)

    @classmethod
    def unpacked(cls, column: bytes) -> "Memory":
        """It, from a column."""
        rows, parts, whole = json.loads(zlib.decompress(column))
        return cls({uid: Told(*rest) for uid, *rest in rows}, parts, whole)
