"""A digest of the code that makes calendar files: a new version of it makes all stored files old."""

import hashlib
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

from django.conf import settings

from landscape_care.calendars.links import signature

_ROOMS = Path(__file__).parent.parent
_SOURCES = ("calendars/*.py", "almanac/dates.py", "care/cautions*")
_LIBRARIES = ("icalendar", "tzdata")


@lru_cache(maxsize=1)
def made_by() -> str:
    """A short digest of the sources, libraries and settings that go into the bytes of a file."""
    found = hashlib.sha256()
    for pattern in _SOURCES:
        for path in sorted(_ROOMS.glob(pattern)):
            found.update(path.read_bytes())
    words = [*(version(name) for name in _LIBRARIES), settings.SITE_URL, settings.LOGIN_URL, signature("")]
    found.update("\n".join(words).encode())
    return found.hexdigest()[:16]
