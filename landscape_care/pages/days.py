"""What day it is where the work is; the clock is read here and passed on from here."""

from datetime import date
from zoneinfo import ZoneInfo

from django.utils import timezone


def today_in(time_zone: str) -> date:
    """Today by the local clock of a place."""
    return timezone.localdate(timezone=ZoneInfo(time_zone))
