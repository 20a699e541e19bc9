"""The last good file of each address, kept in memory for the moment when the database is away.

An error can freeze a subscriber's calendar and a doubtful answer can empty it, so the bytes
that were right a moment ago are the better answer.
"""

from collections import OrderedDict
from datetime import datetime, timedelta
from threading import Lock
from typing import NamedTuple

from landscape_care.calendars.polling import StoredFile

MOST = 500
LONGEST = timedelta(hours=6)


class Kept(NamedTuple):
    """A file as it was served, with its bytes, its language and when it was last known to be good."""

    head: StoredFile
    zipped: bytes
    language: str
    good_at: datetime


class LastGood:
    """A bounded memory of files by the digest of their token."""

    def __init__(self, most: int = MOST, longest: timedelta = LONGEST) -> None:
        self._files: OrderedDict[str, Kept] = OrderedDict()
        self._most, self._longest, self._lock = most, longest, Lock()

    def keep(self, digest: str, kept: Kept) -> None:
        """Keep a file, and drop the one that was used longest ago when there are too many."""
        with self._lock:
            self._files[digest] = kept
            self._files.move_to_end(digest)
            while len(self._files) > self._most:
                self._files.popitem(last=False)

    def still_good(self, digest: str, tag: str, now: datetime) -> None:
        """Note that a kept file is what the database has, or drop it when it is not."""
        with self._lock:
            kept = self._files.get(digest)
            if kept is None:
                return
            if kept.head.tag == tag:
                self._files[digest] = kept._replace(good_at=now)
            else:
                del self._files[digest]

    def forget(self, digest: str) -> None:
        """Drop the file of an address that no longer answers."""
        with self._lock:
            self._files.pop(digest, None)

    def get(self, digest: str, now: datetime) -> Kept | None:
        """The kept file, unless it is too old to be told."""
        with self._lock:
            kept = self._files.get(digest)
        return kept if kept and now - kept.good_at <= self._longest else None
