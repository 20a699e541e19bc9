"""Writes of the calendars room: issue and revoke addresses, note what was read."""

import re
import secrets
from datetime import datetime, timedelta
from hashlib import sha256

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from landscape_care.calendars.models import Address, Audience
from landscape_care.calendars.queries import TARGETS, digest_of, target_code
from landscape_care.dispatch.models import Crew
from landscape_care.people.actions import record
from landscape_care.people.models import Language, User
from landscape_care.properties.models import Client, Depot, Property

TOKEN_BYTES = 32  # 256 random bits
HINT_LENGTH = 6
READ_NOTED_EVERY = timedelta(hours=1)
_PRODUCT = re.compile(r"([A-Za-z][\w .-]{0,60})/[\w.]+")

Target = Property | Client | Crew | Depot | None


def issue(
    audience: str, target: Target, *, name: str, language: str = "en", by: User | None
) -> tuple[Address, str]:
    """Make a secret address and return it with its token, which nobody can show again."""
    _allow(by)
    audience = Audience(audience)
    _check(audience, target, language)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with transaction.atomic():
        address = Address.objects.create(
            digest=digest_of(token),
            hint=token[:HINT_LENGTH],
            audience=audience,
            name=name,
            language=language,
            **({} if target is None else {audience.value: target}),
        )
        _record("issue address", address, by)
    return address, token


def revoke(address: Address, *, by: User | None) -> bool:
    """Silence an address for good; a second time changes nothing and returns False."""
    _allow(by)
    with transaction.atomic():
        if not Address.objects.filter(pk=address.pk, revoked_at=None).update(revoked_at=timezone.now()):
            return False
        _record("revoke address", address, by)
    return True


def note_read(address: Address, *, reader: str, now: datetime) -> bool:
    """Note that an address was read, at most once an hour."""
    if address.last_read_at and now - address.last_read_at < READ_NOTED_EVERY:
        return False  # Not even an UPDATE without rows: it would wait for the lock of a writer.
    quiet = Q(last_read_at=None) | Q(last_read_at__lte=now - READ_NOTED_EVERY)
    rows = Address.objects.filter(quiet, pk=address.pk)
    return bool(rows.update(last_read_at=now, last_reader=reader_family(reader)))


def note_body(address: Address, body: bytes, *, now: datetime) -> datetime:
    """Note when a file first differed from the one before, and return that moment.

    It grows by at least a second with each change, because Last-Modified has whole seconds.
    """
    digest = sha256(body).hexdigest()
    known = address.body_changed_at
    if known is not None and address.body_digest == digest:
        return known
    moment = now.replace(microsecond=0)
    if known is not None:
        moment = max(moment, known + timedelta(seconds=1))
    Address.objects.filter(pk=address.pk, body_digest=address.body_digest).update(
        body_digest=digest, body_changed_at=moment
    )
    return moment


def reader_family(agent: str) -> str:
    """The name of a calendar program from its User-Agent (RFC 9110, 10.1.5), without version and system."""
    names: list[str] = [name.strip() for name in _PRODUCT.findall(agent)]
    # What calls itself Mozilla for old sites' sake says its own name last.
    return (names[-1] if "Mozilla" in names else (names or [""])[0])[:80]


def _allow(by: User | None) -> None:
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office and dispatchers give out or revoke calendar addresses.")


def _check(audience: Audience, target: Target, language: str) -> None:
    kind = TARGETS.get(audience)
    if kind is None and target is not None:
        raise ValueError(f"target {target}: the company calendar is about no single thing, give None")
    if kind is not None and not isinstance(target, kind):
        raise ValueError(
            f"target {target!r}: a calendar for {audience.value} wants a {kind.__name__.lower()}"
        )
    if language not in Language.values:
        raise ValueError(f"language {language!r}: one of {', '.join(Language.values)} is right")


def _record(verb: str, address: Address, by: User | None) -> None:
    subject = f"{address.audience} {target_code(address)}".strip()
    record(verb, subject, by=by, address=address.pk, hint=address.hint, name=address.name)
