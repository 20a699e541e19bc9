"""Ask the public forecast for the stations that have an address for it; none has one by default."""

import json
from typing import Any
from urllib.request import Request, urlopen
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand
from django.utils import timezone

from landscape_care.care import weather_intake
from landscape_care.care.forecasts import check_address
from landscape_care.care.models import WeatherStation
from landscape_care.properties.books import climate_at

TIMEOUT_S, LARGEST_ANSWER = 20, 2_000_000


class Command(BaseCommand):
    """`python3 manage.py forecast`."""

    help = "Ask the forecast of the U.S. National Weather Service for stations with an address of it."

    def handle(self, *args: Any, **options: Any) -> None:
        """Print one line for each station; one that fails stops no other."""
        for station in WeatherStation.objects.exclude(forecast_url=""):
            try:
                days = self._take(station)
            except (OSError, ValueError) as trouble:
                self.stderr.write(f"{station.code}: {trouble}")
                continue
            self.stdout.write(f"{station.code}: {days} days taken")

    def _take(self, station: WeatherStation) -> int:
        today = timezone.localdate(timezone=ZoneInfo(climate_at(station.climate).time_zone))
        return weather_intake.take_forecast(station, fetched(station.forecast_url), today=today, by=None)


def fetched(url: str) -> Any:
    """The answer of the forecast service as plain values."""
    check_address(url)
    # The address begins with https and the service's own name, which was looked at above.
    headers = {"Accept": "application/geo+json", "User-Agent": "landscape-care"}
    asked = Request(url, headers=headers)  # noqa: S310
    with urlopen(asked, timeout=TIMEOUT_S) as answer:  # noqa: S310
        return json.loads(answer.read(LARGEST_ANSWER))
