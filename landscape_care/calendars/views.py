"""Serve calendars: one answer for readers that come back every few minutes for years."""

import gzip
import logging
from datetime import datetime
from functools import lru_cache
from hashlib import sha256

from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.http import http_date
from django.views.decorators.csrf import csrf_exempt

from landscape_care.calendars import actions, queries
from landscape_care.calendars.conditions import has_current, wants_gzip
from landscape_care.calendars.keeping import Kept, LastGood
from landscape_care.calendars.models import Address

log = logging.getLogger(__name__)
last_good = LastGood()
METHODS = ("GET", "HEAD")
_ALWAYS = {
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Robots-Tag": "noindex",
}
_NOBODY = "No calendar lives at this address. Ask the office for a new one.\n"
_AWAY = "The calendar cannot be read just now. Keep what you have and try again in a few minutes.\n"


@csrf_exempt
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """Answer a calendar program; never with an empty or doubtful calendar."""
    if request.method not in METHODS:
        return _plain(405, "A calendar can only be read.\n", Allow=", ".join(METHODS))
    now = timezone.now()
    kept = _current(token, request.headers.get("User-Agent", ""), now)
    if isinstance(kept, HttpResponse):
        return kept
    return _answer(request, kept)


def _current(token: str, reader: str, now: datetime) -> Kept | HttpResponse:
    digest = queries.digest_of(token)
    try:
        address = queries.live_address(token)
        if address is None:
            last_good.forget(digest)
            return _plain(404, _NOBODY)
        kept = _built(address, reader, now)
    except Exception:
        # Whatever it was: an error can freeze a reader, a doubtful answer can empty its calendar.
        log.exception("A calendar could not be built; the last good one is served where there is one.")
        return last_good.get(digest, now) or _plain(503, _AWAY, **{"Retry-After": "300"})
    last_good.keep(digest, kept)
    return kept


def _built(address: Address, reader: str, now: datetime) -> Kept:
    body = queries.calendar_file(address, queries.local_day(address, now))
    return Kept(body, _noted(address, body, reader, now), address.language, now)


def _noted(address: Address, body: bytes, reader: str, now: datetime) -> datetime:
    try:
        actions.note_read(address, reader=reader, now=now)
        return actions.note_body(address, body, now=now)
    except DatabaseError as error:
        # A database that cannot be written is no reason to withhold a file that was built.
        log.warning("Reading a calendar could not be noted: %s", error)
        return now


def _answer(request: HttpRequest, kept: Kept) -> HttpResponse:
    zipped = wants_gzip(request.headers.get("Accept-Encoding", ""))
    body = _zipped(kept.body) if zipped else kept.body
    tag = f'"{sha256(kept.body).hexdigest()[:32]}{"-gzip" if zipped else ""}"'
    current = has_current(
        tag,
        kept.changed_at,
        none_match=request.headers.get("If-None-Match"),
        modified_since=request.headers.get("If-Modified-Since"),
    )
    silent = current or request.method == "HEAD"
    # Also a 304 tells the length of the file; zero would be taken for the length of the stored copy.
    headers = _headers(kept, tag, len(body)) | ({"Content-Encoding": "gzip"} if zipped else {})
    return HttpResponse(b"" if silent else body, status=304 if current else 200, headers=headers)


def _headers(kept: Kept, tag: str, length: int) -> dict[str, str]:
    return {
        **_ALWAYS,
        "Content-Type": "text/calendar; charset=utf-8",
        "Content-Language": kept.language,
        "Content-Length": str(length),
        "Content-Disposition": 'inline; filename="garden-care.ics"',
        "Cache-Control": "private, no-cache",
        "ETag": tag,
        "Last-Modified": http_date(kept.changed_at.timestamp()),
        "Vary": "Accept-Encoding",
    }


@lru_cache(maxsize=64)
def _zipped(body: bytes) -> bytes:
    return gzip.compress(body, compresslevel=6, mtime=0)


def _plain(status: int, text: str, **headers: str) -> HttpResponse:
    common = {**_ALWAYS, "Cache-Control": "private, no-cache", "Content-Length": str(len(text.encode()))}
    return HttpResponse(
        text, status=status, content_type="text/plain; charset=utf-8", headers={**common, **headers}
    )
