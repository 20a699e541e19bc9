"""The short way to calendars, past sessions, languages and forms, which no calendar program has."""

import re
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from landscape_care.calendars.views import feed

_FEED = re.compile(r"/calendars/(?P<token>[^/]{1,200})\.ics")


class StraightToCalendars:
    """Answer for a calendar before any other middleware adds a cookie or a Vary to it."""

    def __init__(self, answer: Callable[[HttpRequest], HttpResponse]) -> None:
        """Keep the rest of the chain."""
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer for a calendar, pass on everything else."""
        found = _FEED.fullmatch(request.path_info)
        return feed(request, found["token"]) if found else self.answer(request)
