"""Serve calendars: one answer for readers that come back every few minutes for years."""

import gzip
import logging
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from django.conf import settings
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.http import http_date
from django.views.decorators.csrf import csrf_exempt

from landscape_care.calendars import actions, queries
from landscape_care.calendars.conditions import has_current, wants_gzip
from landscape_care.calendars.filing import Made, renew
from landscape_care.calendars.keeping import Kept, LastGood
from landscape_care.calendars.polling import Poll, StoredFile, poll, zipped_file
from landscape_care.calendars.restraint import A_POLL, AN_UNKNOWN, Buckets, reader_of

log = logging.getLogger(__name__)
last_good = LastGood()
buckets = Buckets()
METHODS = ("GET", "HEAD")
_ALWAYS = {
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Robots-Tag": "noindex",
}
_NOBODY = "No calendar lives at this address. Ask the office for a new one.\n"
_TOO_OFTEN = "Too many questions from this place. Keep what you have and try again later.\n"
_AWAY = "The calendar cannot be read just now. Keep what you have and try again in a few minutes.\n"


class Found(NamedTuple):
    """What is there to answer with; the bytes only where they are at hand already."""

    head: StoredFile
    language: str
    address: int
    zipped: bytes | None = None


@csrf_exempt
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """Answer a calendar program; never with an empty or doubtful calendar."""
    if request.method not in METHODS:
        return _plain(405, "A calendar can only be read.\n", Allow=", ".join(METHODS))
    now, digest = timezone.now(), queries.digest_of(token)
    reader = reader_of(request.META, behind_proxy=settings.SECURE_PROXY_SSL_HEADER is not None)
    if wait_s := buckets.wait_s(reader, A_POLL, now.timestamp()):
        return _plain(429, _TOO_OFTEN, **{"Retry-After": str(wait_s)})
    try:
        asked = poll(digest, now)
        found = _found(asked, now) if asked else None
        if asked is None or found is None:
            buckets.spend(reader, AN_UNKNOWN, now.timestamp())
            last_good.forget(digest)
            return _plain(404, _NOBODY)
        _note(asked, found, request.META.get("HTTP_USER_AGENT", ""), now)
        return _answer(request, digest, found, now)
    except Exception:
        # Whatever it was: an error can freeze a reader, a doubtful answer can empty its calendar.
        log.exception("A calendar could not be read; the last good one is served where there is one.")
        kept = last_good.get(digest, now)
        if kept is None:
            return _plain(503, _AWAY, **{"Retry-After": "300"})
        return _answer(request, digest, Found(kept.head, kept.language, 0, kept.zipped), kept.good_at)


def _found(asked: Poll, now: datetime) -> Found | None:
    """The stored file while it is fresh, a new one otherwise; the old one when making it fails."""
    if asked.stored is not None and asked.fresh(now.timestamp()):
        return Found(asked.stored, asked.language, asked.address)
    try:
        made: Made | None = renew(asked, now)
    except Exception:
        if asked.stored is None:
            raise
        log.exception("A calendar could not be made; the one stored last is served.")
        return Found(asked.stored, asked.language, asked.address)
    return Found(made.head, asked.language, asked.address, made.zipped) if made else None


def _note(asked: Poll, found: Found, reader: str, now: datetime) -> None:
    last_good.still_good(asked.digest, found.head.tag, now)
    try:
        actions.note_read(asked, reader=reader, now=now)
    except DatabaseError as error:
        log.warning("Reading a calendar could not be noted: %s", error)


def _answer(request: HttpRequest, digest: str, found: Found, now: datetime) -> HttpResponse:
    zipped = wants_gzip(request.META.get("HTTP_ACCEPT_ENCODING", ""))
    if _is_current(request, found.head, zipped=zipped):
        return HttpResponse(status=304, headers=_validators(found.head, zipped=zipped))
    if request.method == "HEAD":
        return HttpResponse(headers=_headers(found.head, found.language, zipped=zipped))
    stored = _bytes(found)
    if stored is None:
        last_good.forget(digest)
        return _plain(404, _NOBODY)
    head, body = stored
    last_good.keep(digest, Kept(head, body, found.language, now))
    return HttpResponse(
        body if zipped else gzip.decompress(body), headers=_headers(head, found.language, zipped=zipped)
    )


def _bytes(found: Found) -> tuple[StoredFile, bytes] | None:
    """Head and bytes together, because a newer file may have been stored; None once it is revoked."""
    return (found.head, found.zipped) if found.zipped is not None else zipped_file(found.address)


def _is_current(request: HttpRequest, head: StoredFile, *, zipped: bool) -> bool:
    return has_current(
        _tag(head, zipped=zipped),
        head.changed_s,
        none_match=request.META.get("HTTP_IF_NONE_MATCH"),
        modified_since=request.META.get("HTTP_IF_MODIFIED_SINCE"),
    )


def _tag(head: StoredFile, *, zipped: bool) -> str:
    return f'"{head.tag}-gzip"' if zipped else f'"{head.tag}"'


def _validators(head: StoredFile, *, zipped: bool) -> dict[str, str]:
    """What also a 304 says (RFC 9110, 15.4.5)."""
    return {
        "Content-Type": "text/calendar; charset=utf-8",
        # The length of the file; zero would be taken for the length of the stored copy.
        "Content-Length": str(head.zipped_size if zipped else head.size),
        "Cache-Control": "private, no-cache",
        "ETag": _tag(head, zipped=zipped),
        "Last-Modified": _date(head.changed_s),
        "Vary": "Accept-Encoding",
        "Referrer-Policy": "no-referrer",
    }


def _headers(head: StoredFile, language: str, *, zipped: bool) -> dict[str, str]:
    return {
        **_ALWAYS,
        **_validators(head, zipped=zipped),
        "Content-Language": language,
        "Content-Disposition": 'inline; filename="garden-care.ics"',
        **({"Content-Encoding": "gzip"} if zipped else {}),
    }


@lru_cache(maxsize=4096)
def _date(seconds: int) -> str:
    return http_date(seconds)


def _plain(status: int, text: str, **headers: str) -> HttpResponse:
    common = {**_ALWAYS, "Cache-Control": "private, no-cache", "Content-Length": str(len(text.encode()))}
    return HttpResponse(
        text, status=status, content_type="text/plain; charset=utf-8", headers={**common, **headers}
    )
