"""Who gets in with a name and a password, and how often somebody may be wrong.

The count belongs to name and place together, so that a stranger elsewhere cannot lock anybody out.
Sign-in page and API ask the same door.
"""

import hashlib
from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.core.cache import cache
from django.http import HttpRequest

from landscape_care.people.models import User

TRIES, TRIES_SECONDS = 10, 15 * 60


class PatientBackend(ModelBackend):
    """Names and passwords of the user table; after ten wrong tries from one place a name waits there."""

    def authenticate(
        self,
        request: HttpRequest | None,
        username: str | None = None,
        password: str | None = None,
        **more: Any,
    ) -> User | None:
        """The person, or None; a wrong try is counted, a right one clears the count."""
        if username is None or is_waiting(request, username):
            return None
        found = super().authenticate(request, username=username, password=password, **more)
        counter, wrong = _counter(request, username), cache.get(_counter(request, username), 0)
        if found is None:
            cache.set(counter, wrong + 1, TRIES_SECONDS)
        elif wrong:
            cache.delete(counter)
        return found if isinstance(found, User) else None


def is_waiting(request: HttpRequest | None, username: str) -> bool:
    """Whether a name was wrong so often from this place that it has to wait."""
    return bool(cache.get(_counter(request, username), 0) >= TRIES)


def _counter(request: HttpRequest | None, username: str) -> str:
    place = request.META.get("REMOTE_ADDR", "") if request else ""
    return "sign-in-" + hashlib.sha256(f"{username.lower()}@{place}".encode()).hexdigest()
