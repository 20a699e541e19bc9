"""The link from an owner's entry to the page of that one visit.

An entry may be forwarded to anybody, so the link opens neither the calendar nor the garden's
page: it names one visit and one address, is signed, and falls silent with the address.
"""

from base64 import urlsafe_b64encode
from uuid import UUID

from django.conf import settings
from django.utils.crypto import constant_time_compare, salted_hmac

SIGNATURE_BYTES = 16  # 128 bits; short, because a calendar holds hundreds of them


def visit_link(address: int, visit: UUID) -> str:
    """The web address of a visit's page for who reads an address."""
    named = f"{address}-{visit}"  # The UID as it stands in the entry, so that it zips to nothing.
    return f"{settings.SITE_URL}/garden/visit/{named}.{signature(named)}/"


def read_link(text: str) -> tuple[int, UUID] | None:
    """The numbers of address and visit in a link, or None where it was not made here."""
    named, _, signed = text.partition(".")
    if not constant_time_compare(signed, signature(named)):
        return None
    address, _, visit = named.partition("-")
    return int(address), UUID(visit)


def signature(named: str) -> str:
    """What only this installation can write under a name."""
    digest = salted_hmac("calendars.visit", named, algorithm="sha256").digest()[:SIGNATURE_BYTES]
    return urlsafe_b64encode(digest).rstrip(b"=").decode()
