"""Reading a forecast in the JSON forms of the U.S. National Weather Service.

One form has periods of day and night, the other figures by layer with their hours, among them the
depth of rain. Only what is acted on is kept: the high of a day, the low of the morning that ends a
night, gusts, rain. Both forms are from memory of the service's public description.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, datetime, timedelta, tzinfo
from math import isfinite
from typing import Any

from landscape_care.care.weather_limits import DayAhead

# The one service whose form is read; no other address is asked.
SERVICE = "https://api.weather.gov/"
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_KMH_PER_MPH = 1.609344
_MM_PER_IN = 25.4
_SPAN = re.compile(r"P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?)?")
Days = dict[date, dict[str, float]]


def read(answer: Any, zone: tzinfo) -> list[DayAhead]:
    """The days of an answer in order, by the clock of the place; another form is refused."""
    properties = answer.get("properties") if isinstance(answer, Mapping) else None
    properties = properties if isinstance(properties, Mapping) else {}
    days: Days = {}
    if "periods" in properties:
        for period in _periods(properties["periods"]):
            _note(period, days)
    elif any(name in properties for name in _LAYERS):
        _note_layers(properties, days, zone)
    else:
        raise ValueError(
            "answer has neither properties.periods nor layers such as properties.maxTemperature:"
            " wanted a forecast"
        )
    return [DayAhead(day, **days[day]) for day in sorted(days)]


def check_address(url: str, *, service: str = SERVICE) -> None:
    """Refuse an address that is not the service's."""
    if not url.startswith(service):
        raise ValueError(f"forecast_url is {url!r}: wanted an address that begins with {service}")


def _periods(periods: Any) -> Iterable[Mapping[str, Any]]:
    if not isinstance(periods, list) or not all(isinstance(each, Mapping) for each in periods):
        raise ValueError("answer has no list properties.periods: wanted a forecast by day and night")
    return periods


def _note(period: Mapping[str, Any], days: Days) -> None:
    start = _moment(period.get("startTime"))
    degrees_f = _degrees_f(period)
    # The low of a night comes in the morning after.
    day = start.date() if period.get("isDaytime") or start.hour < 12 else start.date() + timedelta(1)
    values = days.setdefault(day, {})
    name, better = ("tmax_f", max) if period.get("isDaytime") else ("tmin_f", min)
    values[name] = better(degrees_f, values.get(name, degrees_f))
    for gust_mph in _gusts_mph(period):
        windy = days.setdefault(start.date(), {})
        windy["gust_mph"] = max(_within("gust_mph", gust_mph), windy.get("gust_mph", 0.0))
    chance = period.get("probabilityOfPrecipitation")
    percent = chance.get("value") if isinstance(chance, Mapping) else None
    if percent is not None:
        wet = days.setdefault(start.date(), {})
        wet["rain_percent"] = max(_within("rain_percent", percent), wet.get("rain_percent", 0.0))


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


# --- Figures by layer ---


def _note_layers(properties: Mapping[str, Any], days: Days, zone: tzinfo) -> None:
    for name, (kept, better, ours) in _LAYERS.items():
        for moment, span, value in _figures(name, properties.get(name), zone):
            value = _within(kept, ours(value))
            if kept == "rain_in":
                _share_out(value, moment, span, days)
                continue
            # The hours of a low begin in the evening and end in the morning it belongs to.
            day = (moment + span).date() if kept == "tmin_f" else moment.date()
            values = days.setdefault(day, {})
            values[kept] = better(value, values.get(kept, value))


def _figures(name: str, layer: Any, zone: tzinfo) -> Iterator[tuple[datetime, timedelta, float]]:
    if layer is None:
        return
    rows = layer.get("values") if isinstance(layer, Mapping) else None
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
        raise ValueError(f"{name} has no list of values: wanted values with validTime and value")
    if str(layer.get("uom", "")).rpartition(":")[2] not in _UNITS[name]:
        raise ValueError(f"uom of {name} is {layer.get('uom')!r}: wanted {' or '.join(_UNITS[name])}")
    for row in rows:
        if row.get("value") is None:
            continue
        written, _, span = str(row.get("validTime")).partition("/")
        moment = _moment(written)
        if moment.tzinfo is None:
            raise ValueError(f"validTime is {written!r}: wanted a moment with its time zone")
        yield moment.astimezone(zone), _span(span), _number(name, row["value"])


def _span(written: str) -> timedelta:
    found = _SPAN.fullmatch(written)
    if found is None or not any(found.groups()):
        raise ValueError(f"validTime has the span {written!r}: wanted one such as PT6H")
    days, hours, minutes = (int(part or 0) for part in found.groups())
    return timedelta(days=days, hours=hours, minutes=minutes)


def _share_out(rain_in: float, moment: datetime, span: timedelta, days: Days) -> None:
    """Give each day the share of a depth of rain that its hours have."""
    while span > timedelta(0):
        midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(1)
        part = min(span, midnight - moment)
        values = days.setdefault(moment.date(), {})
        share_in = rain_in * (part / (span or part))
        values["rain_in"] = values.get("rain_in", 0.0) + share_in
        rain_in, span, moment = rain_in - share_in, span - part, moment + part


def _number(name: str, value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(f"{name} is {value!r}: wanted a number")
    return float(value)


_WITHIN = {
    "tmax_f": (-80, 135),
    "tmin_f": (-80, 135),
    "gust_mph": (0, 250),
    "rain_in": (0, 25),
    "rain_percent": (0, 100),
}


def _within(name: str, value: Any) -> float:
    low, high = _WITHIN[name]
    if not low <= _number(name, value) <= high:
        raise ValueError(f"{name} is {value:g}: wanted {low} to {high}")
    return float(value)


def _fahrenheit(degrees_c: float) -> float:
    return degrees_c * 1.8 + 32


def _miles(kmh: float) -> float:
    return kmh / _KMH_PER_MPH


def _inches(depth_mm: float) -> float:
    return depth_mm / _MM_PER_IN


def _as_it_is(value: float) -> float:
    return value


_LAYERS: Mapping[str, tuple[str, Callable[..., float], Callable[[float], float]]] = {
    "maxTemperature": ("tmax_f", max, _fahrenheit),
    "minTemperature": ("tmin_f", min, _fahrenheit),
    "windGust": ("gust_mph", max, _miles),
    "windSpeed": ("gust_mph", max, _miles),
    "quantitativePrecipitation": ("rain_in", max, _inches),
    "probabilityOfPrecipitation": ("rain_percent", max, _as_it_is),
}
_UNITS = {
    "maxTemperature": ("degC",),
    "minTemperature": ("degC",),
    "windGust": ("km_h-1",),
    "windSpeed": ("km_h-1",),
    "quantitativePrecipitation": ("mm",),
    "probabilityOfPrecipitation": ("percent",),
}
