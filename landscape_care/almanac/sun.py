"""Sunrise, sunset and civil twilight by the clock of a place.

Equations of the NOAA Global Monitoring Laboratory solar calculator, after Meeus, Astronomical
Algorithms (1991). Within 0.015 degrees of the solar position algorithm of NREL (Reda and Andreas
2004), which is 10 seconds up to 55 degrees of latitude and less than a minute wherever the sun moves
by more than a fiftieth of a degree a minute. A sun that grazes an angle more slowly passes it at no
well-defined time. Civil dusk is geometric, six degrees under the horizon; refraction near the horizon
varies with the weather by more than these seconds.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from landscape_care.almanac.bounds import check, check_whole
from landscape_care.almanac.dates import check_day, zone

# Upper limb on the horizon with mean refraction; the sun six degrees under it.
HORIZON_ZENITH_DEG = 90.833
CIVIL_ZENITH_DEG = 96.0

_J2000_ORDINAL = date(2000, 1, 1).toordinal()
_MINUTES_A_DAY = 1440.0
_PASSES = 3
_START = datetime(2000, 1, 1, tzinfo=UTC)
# Up to so many crossings are computed without a table.
_FEW = 4000
_TABLE_STEP_MIN = 360.0

Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class _Place:
    latitude_deg: float
    longitude_deg: float
    time_zone: str

    def __post_init__(self) -> None:
        check("latitude_deg", self.latitude_deg, -90, 90)
        check("longitude_deg", self.longitude_deg, -180, 180)
        zone(self.time_zone)


@dataclass(frozen=True)
class _Crossing:
    """The sun passing a zenith angle, downwards in the evening or upwards in the morning."""

    zenith_deg: float
    side: int


_SUNSET = _Crossing(HORIZON_ZENITH_DEG, 1)
_SUNRISE = _Crossing(HORIZON_ZENITH_DEG, -1)
_DUSK = _Crossing(CIVIL_ZENITH_DEG, 1)
_DAWN = _Crossing(CIVIL_ZENITH_DEG, -1)


def sunset(day: date, latitude_deg: float, longitude_deg: float, time_zone: str) -> datetime | None:
    """Return the local time of sunset on a day, None when the sun does not set that day."""
    return _on_day(day, _Place(latitude_deg, longitude_deg, time_zone), _SUNSET)


def sunrise(day: date, latitude_deg: float, longitude_deg: float, time_zone: str) -> datetime | None:
    """Return the local time of sunrise on a day, None when the sun does not rise that day."""
    return _on_day(day, _Place(latitude_deg, longitude_deg, time_zone), _SUNRISE)


def civil_dusk(day: date, latitude_deg: float, longitude_deg: float, time_zone: str) -> datetime | None:
    """Return when the sun sinks to six degrees under the horizon, local time, if it does."""
    return _on_day(day, _Place(latitude_deg, longitude_deg, time_zone), _DUSK)


def civil_dawn(day: date, latitude_deg: float, longitude_deg: float, time_zone: str) -> datetime | None:
    """Return when the sun climbs to six degrees under the horizon, local time, if it does."""
    return _on_day(day, _Place(latitude_deg, longitude_deg, time_zone), _DAWN)


def sunset_minutes(
    first_day: date,
    days: int,
    latitude_deg: float,
    longitude_deg: float,
    time_zone: str,
) -> Values:
    """Return sunset on each of so many days, in minutes after midnight by the clock on the wall.

    A day without a sunset is nan.
    """
    place = _Place(latitude_deg, longitude_deg, time_zone)
    minutes: Values = _wall_minutes(first_day, days, [place], _SUNSET)[0]
    return minutes


def sunset_of_places(first_day: date, days: int, places: Sequence[tuple[float, float, str]]) -> Values:
    """Return sunset at many places, one row each, in minutes after midnight by their own clocks.

    A place is its latitude and longitude in degrees and its time zone. A day without a sunset is nan.
    """
    return _wall_minutes(first_day, days, [_Place(*place) for place in places], _SUNSET)


def dusk_of_places(first_day: date, days: int, places: Sequence[tuple[float, float, str]]) -> Values:
    """Return civil dusk at many places, one row each, in minutes after midnight by their own clocks.

    A day on which the sun does not sink six degrees under the horizon is nan.
    """
    return _wall_minutes(first_day, days, [_Place(*place) for place in places], _DUSK)


def day_length_h(day: date, latitude_deg: float) -> float:
    """Return the hours from sunrise to sunset: 0 in polar night, 24 in polar day."""
    check("latitude_deg", latitude_deg, -90, 90)
    _check_day("day", day)
    noon = np.array([(day.toordinal() - _J2000_ORDINAL) * _MINUTES_A_DAY + 720])
    latitude = np.array([latitude_deg])
    cosine = _cosine_hour_angle(_sine_declination(noon), latitude, HORIZON_ZENITH_DEG)
    return math.degrees(math.acos(float(np.clip(cosine[0], -1.0, 1.0)))) * 2 / 15


def _check_day(field: str, day: date) -> None:
    check_day(field, day)
    check(f"year of {field}", day.year, 1700, 2200)


def _wall_minutes(first_day: date, days: int, places: Sequence[_Place], crossing: _Crossing) -> Values:
    """Return the crossing of each place (row) and day (column) by the clock on the wall."""
    check_whole("days", days, 0, 200_000)
    _check_day("first_day", first_day)
    found = np.full((len(places), days), np.nan)
    if not days or not places:
        return found
    spots = _Spots(
        np.array([place.latitude_deg for place in places]),
        np.array([place.longitude_deg for place in places]),
    )
    # As below: an evening may belong to the date of a neighbouring solar day.
    minutes = _utc_minutes(first_day - timedelta(days=2), days + 4, spots, crossing)
    names = [place.time_zone for place in places]
    for time_zone in sorted(set(names)):
        rows = np.array([row for row, name in enumerate(names) if name == time_zone])
        found[rows] = _filed(minutes[rows], first_day, days, time_zone)
    return found


def _filed(minutes: Values, first_day: date, days: int, time_zone: str) -> Values:
    """File moments in minutes of UTC under their local dates, as minutes of that day's clock."""
    found = np.full((len(minutes), days), np.nan)
    starts, offsets = _offsets(time_zone, first_day - timedelta(days=4), days + 8)
    local = minutes + offsets[np.searchsorted(starts, minutes, side="right") - 1]
    midnight = np.floor(local / _MINUTES_A_DAY)
    column = midnight - (first_day.toordinal() - _J2000_ORDINAL)
    within = (column >= 0) & (column < days)
    rows = np.nonzero(within)[0]
    found[rows, column[within].astype(np.intp)] = (local - midnight * _MINUTES_A_DAY)[within]
    return found


@lru_cache(maxsize=512)
def _offsets(time_zone: str, first_day: date, days: int) -> tuple[Values, Values]:
    """Return from which minute of UTC on a clock is how many minutes ahead of it."""
    tz = zone(time_zone)
    first = (first_day.toordinal() - _J2000_ORDINAL) * int(_MINUTES_A_DAY)
    daily = [first + count * int(_MINUTES_A_DAY) for count in range(days + 1)]
    starts, offsets = [-math.inf], [_offset_min(daily[0], tz)]
    for before, after in pairwise(daily):
        if _offset_min(after, tz) != offsets[-1]:
            starts.append(_change(before, after, tz))
            offsets.append(_offset_min(after, tz))
    return np.array(starts), np.array(offsets)


def _change(before: int, after: int, tz: ZoneInfo) -> int:
    """Return the first minute of UTC with the offset that holds at the later of two minutes."""
    wanted = _offset_min(after, tz)
    while after - before > 1:
        middle = (before + after) // 2
        if _offset_min(middle, tz) == wanted:
            after = middle
        else:
            before = middle
    return after


def _offset_min(minute: int, tz: ZoneInfo) -> float:
    moment = _START + timedelta(minutes=minute)
    return (moment.astimezone(tz).utcoffset() or timedelta(0)) / timedelta(minutes=1)


def _on_day(day: date, place: _Place, crossing: _Crossing) -> datetime | None:
    return _local_moments(day, 1, place, crossing).get(day)


def _local_moments(first_day: date, days: int, place: _Place, crossing: _Crossing) -> dict[date, datetime]:
    # An evening in the Americas ends on the next UTC day, and a white night's sunset falls after
    # midnight, so neighbouring days are computed too and each moment is filed under its own date.
    spot = _Spots(np.array([place.latitude_deg]), np.array([place.longitude_deg]))
    _check_day("day", first_day)
    minutes = _utc_minutes(first_day - timedelta(days=2), days + 4, spot, crossing)
    tz = zone(place.time_zone)
    moments = (
        (_START + timedelta(minutes=float(each))).astimezone(tz) for each in minutes[np.isfinite(minutes)]
    )
    return {moment.date(): moment for moment in moments}


def _utc_minutes(first_day: date, days: int, spots: "_Spots", crossing: _Crossing) -> Values:
    """Return the crossing of each place (row) and solar day in minutes after 2000-01-01 00:00 UTC."""
    first = first_day.toordinal() - _J2000_ORDINAL
    midnights = np.arange(first, first + days, dtype=np.float64) * _MINUTES_A_DAY
    noons = midnights + 720 - 4 * spots.longitude_deg[:, None]
    sun = _Sun.exact if noons.size <= _FEW else _tabled(first - 2, days + 4)
    moments: Values = noons
    for _ in range(_PASSES):
        sine, equation_min = sun(moments)
        cosine = _cosine_hour_angle(sine, spots.latitude_deg[:, None], crossing.zenith_deg)
        # A sun that stays up comes nearest the crossing at midnight, one that stays down at noon: a
        # day on which it just reaches it is found from there.
        hour_angle_deg = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
        moments = noons - equation_min + 4 * crossing.side * hour_angle_deg
    return np.where(np.abs(cosine) <= 1, moments, np.nan)


def _cosine_hour_angle(sine_declination: Values, latitude_deg: Values, zenith_deg: float) -> Values:
    """Cosine of the sun's hour angle at a zenith; outside -1 to 1 where the sun never comes there."""
    latitude = np.radians(np.clip(latitude_deg, -89.999, 89.999))
    cosine_declination = np.sqrt(1 - np.square(sine_declination))
    cosine: Values = (math.cos(math.radians(zenith_deg)) - np.sin(latitude) * sine_declination) / (
        np.cos(latitude) * cosine_declination
    )
    return cosine


@dataclass(frozen=True)
class _Spots:
    """Latitudes and longitudes of several places, degrees."""

    latitude_deg: Values
    longitude_deg: Values


class _Sun:
    """The sine of the sun's declination and the equation of time (min) in minutes of UTC."""

    @staticmethod
    def exact(minutes: Values) -> tuple[Values, Values]:
        return _sine_declination(minutes), _equation_of_time_min(minutes)


@lru_cache(maxsize=16)
def _tabled(first: int, days: int) -> Callable[[Values], tuple[Values, Values]]:
    """Return the sun read from a table of every six hours, straight between its rows.

    In six hours the declination bends by less than a thousandth of a degree and the equation of
    time by less than a tenth of a second, so a table serves many places at once.
    """
    start = first * _MINUTES_A_DAY
    rows: Values = np.asarray(start + np.arange(days * 4 + 1) * _TABLE_STEP_MIN, dtype=np.float64)
    sine, equation_min = _Sun.exact(rows)

    def read(minutes: Values) -> tuple[Values, Values]:
        place = (minutes - start) / _TABLE_STEP_MIN
        index = np.clip(place.astype(np.intp), 0, len(rows) - 2)
        part = place - index
        return tuple(  # type: ignore[return-value]
            table[index] + part * (table[index + 1] - table[index]) for table in (sine, equation_min)
        )

    return read


def _centuries(minutes: Values) -> Values:
    return (minutes / _MINUTES_A_DAY - 0.5) / 36525


def _mean_longitude_deg(century: Values) -> Values:
    return np.mod(280.46646 + century * (36000.76983 + century * 0.0003032), 360)


def _mean_anomaly_deg(century: Values) -> Values:
    return 357.52911 + century * (35999.05029 - 0.0001537 * century)


def _eccentricity(century: Values) -> Values:
    return 0.016708634 - century * (0.000042037 + 0.0000001267 * century)


def _equation_of_centre_deg(century: Values) -> Values:
    anomaly = np.radians(_mean_anomaly_deg(century))
    first = 1.914602 - century * (0.004817 + 0.000014 * century)
    second = 0.019993 - 0.000101 * century
    third = 0.000289
    centre: Values = np.sin(anomaly) * first + np.sin(2 * anomaly) * second + np.sin(3 * anomaly) * third
    return centre


def _obliquity_deg(century: Values) -> Values:
    seconds = 21.448 - century * (46.815 + century * (0.00059 - century * 0.001813))
    mean = 23 + (26 + seconds / 60) / 60
    return mean + 0.00256 * np.cos(np.radians(125.04 - 1934.136 * century))


def _apparent_longitude_deg(century: Values) -> Values:
    true = _mean_longitude_deg(century) + _equation_of_centre_deg(century)
    return true - 0.00569 - 0.00478 * np.sin(np.radians(125.04 - 1934.136 * century))


def _sine_declination(minutes: Values) -> Values:
    century = _centuries(minutes)
    tilt = np.radians(_obliquity_deg(century))
    sine: Values = np.sin(tilt) * np.sin(np.radians(_apparent_longitude_deg(century)))
    return sine


def _equation_of_time_min(minutes: Values) -> Values:
    century = _centuries(minutes)
    longitude = np.radians(_mean_longitude_deg(century))
    anomaly = np.radians(_mean_anomaly_deg(century))
    eccentricity = _eccentricity(century)
    half_tilt = np.tan(np.radians(_obliquity_deg(century)) / 2) ** 2
    equation: Values = (
        half_tilt * np.sin(2 * longitude)
        - 2 * eccentricity * np.sin(anomaly)
        + 4 * eccentricity * half_tilt * np.sin(anomaly) * np.cos(2 * longitude)
        - 0.5 * half_tilt**2 * np.sin(4 * longitude)
        - 1.25 * eccentricity**2 * np.sin(2 * anomaly)
    )
    return 4 * np.degrees(equation)
