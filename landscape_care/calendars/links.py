"""The link from an owner's entry to the page of that one visit.

An entry may be forwarded to anybody, so the link opens neither the calendar nor the garden's
page: it names one visit and one address, is signed, and falls silent with the address.
"""

from uuid import UUID

from django.conf import settings
from django.core.signing import BadSignature, Signer

_SIGNER = Signer(salt="calendars.visit", sep=".")


def visit_link(address: int, visit: UUID) -> str:
    """The web address of a visit's page for who reads an address."""
    return f"{settings.SITE_URL}/garden/visit/{_SIGNER.sign(f'{address}-{visit.hex}')}/"


def read_link(text: str) -> tuple[int, UUID] | None:
    """The numbers of address and visit in a link, or None where it was not made here."""
    try:
        address, _, visit = _SIGNER.unsign(text).partition("-")
        return int(address), UUID(visit)
    except (BadSignature, ValueError):
        return None


def signature() -> str:
    """A word that changes when links made before no longer hold."""
    return _SIGNER.signature("links")
