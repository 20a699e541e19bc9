"""Ask the public forecast for the stations that have an address for it; none has one by default."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from landscape_care.care.forecast_asking import ask_for
from landscape_care.care.models import WeatherStation


class Command(BaseCommand):
    """`python3 manage.py forecast`."""

    help = "Ask the forecast of the U.S. National Weather Service now, as the clock does every three hours."

    def handle(self, *args: Any, **options: Any) -> None:
        """Print one line for each station with an address; one that fails stops no other."""
        for station in WeatherStation.objects.exclude(forecast_url=""):
            days = ask_for(station.pk, now=timezone.now())
            station.refresh_from_db()
            if station.forecast_trouble:
                self.stderr.write(f"{station.code}: {station.forecast_trouble}")
            elif days is None:
                self.stdout.write(f"{station.code}: asked for at {station.forecast_asked_at:%H:%M} UTC")
            else:
                self.stdout.write(f"{station.code}: {days} days taken")
