"""Writes of the calendars room: issue and revoke addresses, note what was read."""

import re
import secrets
from datetime import datetime
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Count, F, Max, Q
from django.utils import timezone

from landscape_care.calendars import queries
from landscape_care.calendars.models import Address, Audience, CalendarFile, Change
from landscape_care.calendars.options import Options
from landscape_care.calendars.polling import READ_NOTED_EVERY, Poll
from landscape_care.calendars.queries import TARGETS, target_code
from landscape_care.calendars.watching import WATCHING
from landscape_care.dispatch.models import Crew
from landscape_care.people.actions import record
from landscape_care.people.models import Language, User
from landscape_care.properties.models import Client, Depot, Property

TOKEN_BYTES = 32  # 256 random bits
HINT_LENGTH = 6
NOTES_KEPT = 200
_PRODUCT = re.compile(r"([A-Za-z][\w .-]{0,60})/[\w.]+")

USUAL = Options()
Target = Property | Client | Crew | Depot | None


class AlreadySilent(Exception):  # noqa: N818 - it reads as a sentence
    """The address was revoked before."""


def issue(
    audience: str,
    target: Target,
    *,
    name: str,
    language: str = "en",
    options: Options = USUAL,
    by: User | None,
) -> tuple[Address, str]:
    """Make a secret address and return it with its token, which nobody can show again."""
    _allow(by)
    audience = Audience(audience)
    _check(audience, target, language)
    _check_options(audience, options)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with transaction.atomic():
        address = Address.objects.create(
            digest=queries.digest_of(token),
            hint=token[:HINT_LENGTH],
            audience=audience,
            name=name,
            language=language,
            **_columns(options),
            **({} if target is None else {audience.value: target}),
        )
        _record("issue address", address, by)
    return address, token


def reissue(address: Address, *, by: User | None) -> tuple[Address, str]:
    """Give out a new token for the same calendar; the old one is silent from now on."""
    _allow(by)
    with transaction.atomic():
        if not revoke(address, by=by):
            raise AlreadySilent(f"{address} was revoked before: issue a new one")
        target = address.property or address.client or address.crew or address.depot
        return issue(
            address.audience,
            target,
            name=address.name,
            language=address.language,
            options=address.options(),
            by=by,
        )


def choose(address: Address, options: Options, *, by: User | None) -> Address:
    """Choose anew what a calendar shows; its subscribers see it when they read it next."""
    _allow(by)
    _check_options(Audience(address.audience), options)
    with transaction.atomic():
        rows = Address.objects.filter(pk=address.pk, revoked_at=None)
        if not rows.update(version=F("version") + 1, **_columns(options)):
            raise AlreadySilent(f"{address} was revoked before: issue a new one")
        _record("choose for address", address, by)
    address.refresh_from_db()
    return address


def revoke(address: Address, *, by: User | None) -> bool:
    """Silence an address for good; a second time changes nothing and returns False."""
    _allow(by)
    with transaction.atomic():
        if not Address.objects.filter(pk=address.pk, revoked_at=None).update(revoked_at=timezone.now()):
            return False
        CalendarFile.objects.filter(pk=address.pk).delete()
        _record("revoke address", address, by)
    return True


def note_read(poll: Poll, *, reader: str, now: datetime) -> bool:
    """Note that an address was read, at most once an hour."""
    if not poll.read_is_due:
        return False  # Not even an UPDATE without rows: it would wait for the lock of a writer.
    quiet = Q(last_read_at=None) | Q(last_read_at__lte=now - READ_NOTED_EVERY)
    rows = Address.objects.filter(quiet, pk=poll.address)
    return bool(rows.update(last_read_at=now, last_reader=reader_family(reader)))


def sweep_notes() -> int:
    """Put one note of changes in the place of many, and return of how many gardens or routes.

    The new note is the newest, so no mark made before can come again; files are made once more.
    """
    many = (
        Change.objects.exclude(about=WATCHING).values("about").annotate(count=Count("pk"), newest=Max("pk"))
    )
    rows = list(many.filter(count__gt=NOTES_KEPT).order_by("about"))
    for row in rows:
        with transaction.atomic():
            Change.objects.filter(about=row["about"], pk__lte=row["newest"]).delete()
            Change.objects.create(about=row["about"])
    return len(rows)


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


def _check_options(audience: Audience, options: Options) -> None:
    owners = audience in (Audience.PROPERTY, Audience.CLIENT)
    if audience == Audience.CREW and (options.shows not in ("all", "visits") or options.stems):
        raise ValueError("shows and stems: a crew sees all its stops, choose neither")
    if options.shows == "seasons" and not owners:
        raise ValueError("shows 'seasons': owners alone have care of the season, choose windows instead")
    if options.shows in ("seasons", "windows", "todos") and options.alarm_minutes is not None:
        raise ValueError(f"alarm_minutes {options.alarm_minutes}: whole days sound no alarm, leave it empty")


def _columns(options: Options) -> dict[str, Any]:
    return {
        "shows": options.shows,
        "stems": list(options.stems),
        "past_days": options.past_days,
        "ahead_days": options.ahead_days,
        "alarm_minutes": options.alarm_minutes,
    }


def _record(verb: str, address: Address, by: User | None) -> None:
    subject = f"{address.audience} {target_code(address)}".strip()
    record(verb, subject, by=by, address=address.pk, hint=address.hint, name=address.name)
