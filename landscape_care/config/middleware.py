"""Say plainly when the house cannot answer right now, instead of a stack trace."""

import errno
import logging
from collections.abc import Callable

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse

log = logging.getLogger(__name__)


class SayWhenUnavailable:
    """Answer 503 with Retry-After while the database is away, and 507 when the disk is full."""

    def __init__(self, answer: Callable[[HttpRequest], HttpResponse]) -> None:
        """Keep the rest of the chain."""
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.answer(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """Turn the two failures a person can only wait for into an honest answer."""
        if isinstance(error, OperationalError | InterfaceError):
            log.error("The database did not answer: %s", error)
            return unavailable()
        if isinstance(error, OSError) and error.errno == errno.ENOSPC:
            log.error("The disk is full: %s", error)
            return HttpResponse(
                "The disk is full, so nothing was saved. Keep it and tell the office.", status=507
            )
        return None


def unavailable() -> HttpResponse:
    """Ask to come back in a few seconds."""
    return HttpResponse(
        "The database does not answer just now. Nothing was changed; try again in a few seconds.",
        status=503,
        headers={"Retry-After": "5", "Cache-Control": "no-store"},
        content_type="text/plain; charset=utf-8",
    )
