"""Reading a forecast in the JSON form of the U.S. National Weather Service: periods of day and night.

Only what is acted on is kept: the high of a day, the low of the morning that ends a night, gusts.
The form is from memory of the service's public description.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import Any

from landscape_care.care.observations import FREEZE_F

# The one service whose form is read; no other address is asked.
SERVICE = "https://api.weather.gov/"
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_KMH_PER_MPH = 1.609344
WARM_NIGHTS_BETWEEN = 2


@dataclass(frozen=True, slots=True)
class DayAhead:
    """What is forecast for a day: °F and miles an hour; None where the answer does not reach."""

    day: date
    tmax_f: float | None = None
    tmin_f: float | None = None
    gust_mph: float | None = None


def read(answer: Any) -> list[DayAhead]:
    """The days of an answer in order; an answer of another form is refused with what was wanted."""
    periods = _periods(answer)
    days: dict[date, dict[str, float]] = {}
    for period in periods:
        _note(period, days)
    return [DayAhead(day, **days[day]) for day in sorted(days)]


def check_address(url: str) -> None:
    """Refuse an address that is not the service's."""
    if not url.startswith(SERVICE):
        raise ValueError(f"forecast_url is {url!r}: wanted an address that begins with {SERVICE}")


def freezing_nights(lows_f: Mapping[date, float]) -> list[date]:
    """The first morning of each spell at 34 °F and less; a spell ends with two warmer nights or more."""
    cold = sorted(day for day, low_f in lows_f.items() if low_f <= FREEZE_F)
    return cold[:1] + [day for before, day in pairwise(cold) if (day - before).days > WARM_NIGHTS_BETWEEN]


def spell_name(morning: date) -> str:
    """The name of a freeze: its week, so that a forecast that shifts by a day renames nothing."""
    year, week, _ = morning.isocalendar()
    return f"{year}-W{week:02d}"


def _periods(answer: Any) -> Iterable[Mapping[str, Any]]:
    properties = answer.get("properties") if isinstance(answer, Mapping) else None
    periods = properties.get("periods") if isinstance(properties, Mapping) else None
    if not isinstance(periods, list) or not all(isinstance(each, Mapping) for each in periods):
        raise ValueError("answer has no list properties.periods: wanted a forecast by day and night")
    return periods


def _note(period: Mapping[str, Any], days: dict[date, dict[str, float]]) -> None:
    start = _moment(period.get("startTime"))
    degrees_f = _degrees_f(period)
    # The low of a night comes in the morning after.
    day = start.date() if period.get("isDaytime") or start.hour < 12 else start.date() + timedelta(1)
    values = days.setdefault(day, {})
    name, better = ("tmax_f", max) if period.get("isDaytime") else ("tmin_f", min)
    values[name] = better(degrees_f, values.get(name, degrees_f))
    for gust_mph in _gusts_mph(period):
        windy = days.setdefault(start.date(), {})
        windy["gust_mph"] = max(gust_mph, windy.get("gust_mph", 0.0))


def _moment(written: Any) -> datetime:
    try:
        return datetime.fromisoformat(written)
    except (TypeError, ValueError):
        raise ValueError(
            f"startTime is {written!r}: wanted a moment such as 2027-01-10T06:00-07:00"
        ) from None


def _degrees_f(period: Mapping[str, Any]) -> float:
    degrees, unit = period.get("temperature"), period.get("temperatureUnit", "F")
    if isinstance(degrees, bool) or not isinstance(degrees, int | float) or unit not in ("F", "C"):
        raise ValueError(f"temperature is {degrees!r} {unit!r}: wanted a number in F or C")
    degrees_f = degrees * 1.8 + 32 if unit == "C" else float(degrees)
    if not -80 <= degrees_f <= 135:
        raise ValueError(f"temperature is {degrees!r} {unit}: wanted -80 to 135 °F")
    return degrees_f


def _gusts_mph(period: Mapping[str, Any]) -> Iterator[float]:
    for name in ("windGust", "windSpeed"):
        written = str(period.get(name) or "")
        numbers = [float(number) for number in _NUMBER.findall(written)]
        if numbers:
            yield max(numbers) / (_KMH_PER_MPH if "km" in written else 1.0)
