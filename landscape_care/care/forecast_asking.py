"""Asking the public forecast: one service, no redirects, a limit on time and size; and when to ask again.

A station without an address is never asked for, and none has one by default.
"""

import json
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from http.client import HTTPException, HTTPMessage
from typing import IO, Any
from urllib.request import HTTPRedirectHandler, Request, build_opener
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from landscape_care.care import weather_intake
from landscape_care.care.forecasts import SERVICE, check_address
from landscape_care.care.models import WeatherStation
from landscape_care.properties.books import climate_at

# An answer is some 20 kB, the form with layers some 300 kB.
TIMEOUT_S, LONGEST_S, LARGEST_ANSWER, _PIECE = 20.0, 60.0, 2_000_000, 65_536
# The service renews a forecast some times a day; a failure is tried again sooner.
ASK_AGAIN, TRY_AGAIN, TOO_OLD = timedelta(hours=3), timedelta(minutes=30), timedelta(days=2)
_LONGEST_TROUBLE = 300
Ask = Callable[[str], Any]


class NoRedirect(HTTPRedirectHandler):
    """Follows nowhere: another address is not the one that was looked at."""

    def redirect_request(
        self, req: Request, fp: IO[bytes], code: int, msg: str, headers: HTTPMessage, newurl: str
    ) -> None:
        """Say where it led."""
        raise ValueError(f"{req.full_url} leads to {newurl}: redirects are not followed")


def ask(url: str, *, service: str = SERVICE) -> Any:
    """The answer of the forecast service as plain values."""
    check_address(url, service=service)
    # The address begins with the service's own, which was looked at in the line before.
    headers = {"Accept": "application/geo+json", "User-Agent": "landscape-care"}
    asked = Request(url, headers=headers)  # noqa: S310
    try:
        with build_opener(NoRedirect).open(asked, timeout=TIMEOUT_S) as answer:
            return json.loads(_read(answer, time.monotonic() + LONGEST_S))
    except HTTPException as broken:
        raise OSError(f"{url}: {type(broken).__name__}") from broken


def _read(answer: IO[bytes], until: float) -> bytes:
    """All of an answer, unless it is too large or drips in too slowly."""
    pieces, size = [], 0
    while piece := answer.read(_PIECE):
        pieces.append(piece)
        size += len(piece)
        if size > LARGEST_ANSWER:
            raise ValueError(f"answer is larger than {LARGEST_ANSWER} bytes: wanted a forecast")
        if time.monotonic() > until:
            raise TimeoutError(f"answer took longer than {LONGEST_S:.0f} s")
    return b"".join(pieces)


def stations_to_ask(now: datetime) -> QuerySet[WeatherStation]:
    """The stations with an address whose forecast was not asked for lately."""
    tried = Q(forecast_asked_at__lte=now - TRY_AGAIN) & ~Q(forecast_trouble="")
    due = Q(forecast_asked_at=None) | Q(forecast_asked_at__lte=now - ASK_AGAIN) | tried
    return WeatherStation.objects.exclude(forecast_url="").filter(due)


def ask_for(station_id: int, *, now: datetime, asking: Ask = ask) -> int | None:
    """Ask for the forecast of one station if nobody else does; days that are new, None where it was not due.

    Trouble is kept with the station and raised by nobody; a forecast that became too old is let go.
    """
    if not stations_to_ask(now).filter(pk=station_id).update(forecast_asked_at=now):
        return None
    station = WeatherStation.objects.get(pk=station_id)
    today = now.astimezone(ZoneInfo(climate_at(station.climate).time_zone)).date()
    try:
        return weather_intake.take_forecast(station, asking(station.forecast_url), today=today, by=None)
    except (OSError, ValueError, RecursionError) as trouble:
        note_trouble(station, str(trouble) or type(trouble).__name__, now=now)
        return 0


def note_trouble(station: WeatherStation, words: str, *, now: datetime) -> None:
    """Keep why no forecast came, and let the last one go when it is too old."""
    WeatherStation.objects.filter(pk=station.pk).update(forecast_trouble=words[:_LONGEST_TROUBLE])
    if station.forecast_taken_at is None or now - station.forecast_taken_at > TOO_OLD:
        weather_intake.drop_forecast(station)
