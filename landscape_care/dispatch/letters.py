"""Letters about changed visits: written with the change, sent afterwards, and never twice.

A letter is claimed by a conditional update before it leaves. What a mail server plainly refused is
tried again later; what may have left is not. So an owner misses a letter rather than reads it twice,
and the calendar tells the change in any case.
"""

import logging
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from smtplib import SMTPException, SMTPRecipientsRefused, SMTPResponseException
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.db.models import F
from django.utils import timezone

from landscape_care.almanac.dates import say_clock, say_day
from landscape_care.dispatch.changes import Change, Sort, Spot
from landscape_care.dispatch.models import Crew, Letter, LetterState
from landscape_care.people.models import User
from landscape_care.properties.models import Client
from landscape_care.visits.models import Visit

log = logging.getLogger(__name__)

MOST_ATTEMPTS = 6
FIRST_WAIT = timedelta(minutes=2)  # doubled with each further attempt
MOST_LINES = 40

WORDS = {
    "en": {
        "subject": "Changed visits: {names}",
        "crew_subject": "Your route changed: {names}",
        "greeting": "Visits have changed:",
        "moved": "{place}: {now} instead of {was}. {why}.",
        "taken_back": "{place}: the visit of {was} does not take place. {why}.",
        "new": "{place}: new, {now}. {why}.",
        "spot": "{day}, {clock}",
        "more": "and {count} more",
        "end": "Your calendar shows the same. This letter cannot be answered.",
    },
    "es": {
        "subject": "Cambio de visitas: {names}",
        "crew_subject": "Cambió su ruta: {names}",
        "greeting": "Hay cambios en las visitas:",
        "moved": "{place}: {now} en lugar de {was}. {why}.",
        "taken_back": "{place}: la visita del {was} no se realiza. {why}.",
        "new": "{place}: nueva, {now}. {why}.",
        "spot": "{day}, {clock}",
        "more": "y {count} más",
        "end": "Su calendario muestra lo mismo. Esta carta no admite respuesta.",
    },
}


# --- Writing ------------------------------------------------------------------------------------------


def write(found: Iterable[Change], visits: Mapping[int, Visit], *, about: str) -> int:
    """Keep a letter for each owner and crew member with an address; call it in the change's transaction.

    The same change writes the same keys, so that it never writes twice. Off unless LETTERS is on.
    """
    if not settings.LETTERS:
        return 0
    changes = list(found)
    new = [*_to_clients(changes, visits, about), *_to_crews(changes, visits, about)]
    return len(Letter.objects.bulk_create(new, ignore_conflicts=True))


def _to_clients(changes: Iterable[Change], visits: Mapping[int, Visit], about: str) -> Iterator[Letter]:
    by_client: dict[Client, list[Change]] = defaultdict(list)
    for change in changes:
        client = visits[change.visit_id].property.client
        if client.email and change.sort != Sort.OTHER_CREW:
            by_client[client].append(change)
    for client, own in by_client.items():
        yield Letter(
            key=f"{about}, client {client.pk}",
            client=client,
            address=client.email,
            send_after=timezone.now(),
            **_text(own, visits, language=client.language, subject="subject"),
        )


def _to_crews(changes: Iterable[Change], visits: Mapping[int, Visit], about: str) -> Iterator[Letter]:
    by_crew: dict[str, list[Change]] = defaultdict(list)
    for change in changes:
        for name in change.crews:
            by_crew[name].append(change)
    depots = {visit.property.depot_id for visit in visits.values()}
    for crew in Crew.objects.filter(name__in=by_crew, depot__in=depots).prefetch_related("members"):
        for member in crew.members.all():
            if member.email and member.is_active:
                yield _to_member(member, crew, _text_for(member, by_crew[crew.name], visits), about)


def _to_member(member: User, crew: Crew, text: Mapping[str, str], about: str) -> Letter:
    key = f"{about}, crew {crew.pk}, person {member.pk}"
    return Letter(key=key, person=member, address=member.email, send_after=timezone.now(), **text)


def _text_for(member: User, own: list[Change], visits: Mapping[int, Visit]) -> dict[str, str]:
    return _text(own, visits, language=member.language, subject="crew_subject")


def _text(own: list[Change], visits: Mapping[int, Visit], *, language: str, subject: str) -> dict[str, str]:
    words = WORDS[language]
    places = list(dict.fromkeys(visits[change.visit_id].property.name for change in own))
    names = ", ".join(places[:3]) + (", …" if len(places) > 3 else "")
    lines = [line(change, visits[change.visit_id], language=language) for change in own[:MOST_LINES]]
    if len(own) > MOST_LINES:
        lines.append(words["more"].format(count=len(own) - MOST_LINES))
    body = "\n".join([words["greeting"], "", *lines, "", words["end"]])
    return {"subject": " ".join(words[subject].format(names=names).split())[:160], "body": body}


def line(change: Change, visit: Visit, *, language: str) -> str:
    """One change as an owner reads it, in a language."""
    said = {
        "place": visit.property.name,
        "was": _spot(change.was, language),
        "now": _spot(change.now, language),
        "why": (change.why.es if language == "es" else change.why.en).rstrip("."),
    }
    key = {Sort.TAKEN_BACK: "taken_back", Sort.NEW: "new"}.get(change.sort, "moved")
    return WORDS[language][key].format(**said)


def _spot(spot: Spot | None, language: str) -> str:
    if spot is None:
        return ""
    day, clock = say_day(language, spot.day), say_clock(language, spot.arrives_at)
    return WORDS[language]["spot"].format(day=day, clock=clock)


# --- Sending ------------------------------------------------------------------------------------------


def send_waiting(now: datetime) -> int:
    """Send what waits; a letter that somebody else has claimed is left to them."""
    waiting = Letter.objects.filter(state=LetterState.WAITING, send_after__lte=now)
    return sum(_send(number, now) for number in waiting.order_by("pk").values_list("pk", flat=True)[:200])


def _send(number: int, now: datetime) -> bool:
    mine = Letter.objects.filter(pk=number, state=LetterState.WAITING, send_after__lte=now)
    connection = get_connection(fail_silently=False)
    if not mine.update(state=LetterState.SENDING, attempts=F("attempts") + 1):
        return False
    letter = Letter.objects.get(pk=number)
    try:
        connection.open()
    except (SMTPException, OSError) as refused:
        # Nobody has seen the letter yet.
        return _wait(letter, refused, now)
    try:
        connection.send_messages([_mail(letter)])
    except (SMTPResponseException, SMTPRecipientsRefused) as refused:
        return _refused(letter, refused, now)
    except (SMTPException, OSError) as unknown:
        log.exception("Letter %s may have left", number)
        return _end(letter, LetterState.FAILED, f"It may have left: {type(unknown).__name__}")
    finally:
        connection.close()
    return _end(letter, LetterState.SENT, "")


def _mail(letter: Letter) -> EmailMessage:
    host = urlsplit(settings.SITE_URL).hostname or "localhost"
    headers = {"Message-ID": f"<letter-{letter.pk}@{host}>", "Auto-Submitted": "auto-generated"}
    return EmailMessage(letter.subject, letter.body, to=[letter.address], headers=headers)


def _refused(letter: Letter, refused: Exception, now: datetime) -> bool:
    """A server said no: for good with a code from 500 on (RFC 5321, 4.2.1), else for now."""
    codes = [getattr(refused, "smtp_code", 0)]
    if isinstance(refused, SMTPRecipientsRefused):
        codes = [code for code, _ in refused.recipients.values()]
    if max(codes, default=0) >= 500:
        return _end(letter, LetterState.FAILED, f"Refused: {refused}")
    return _wait(letter, refused, now)


def _wait(letter: Letter, refused: Exception, now: datetime) -> bool:
    if letter.attempts >= MOST_ATTEMPTS:
        return _end(letter, LetterState.FAILED, f"Given up: {refused}")
    letter.send_after = now + FIRST_WAIT * 2 ** (letter.attempts - 1)
    return _end(letter, LetterState.WAITING, str(refused))


def _end(letter: Letter, state: LetterState, failure: str) -> bool:
    letter.state, letter.failure = state, failure[:200]
    letter.sent_at = timezone.now() if state == LetterState.SENT else None
    letter.save(update_fields=["state", "failure", "sent_at", "send_after"])
    return state == LetterState.SENT
