"""Sunrise, sunset and civil twilight by the clock of a place.

Equations of the NOAA Global Monitoring Laboratory solar calculator, after Meeus, Astronomical
Algorithms (1991). Good to a minute up to 72 degrees of latitude between 1800 and 2100; the
refraction near the horizon varies with the weather by more than that.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import numpy.typing as npt

from landscape_care.almanac.bounds import check
from landscape_care.almanac.dates import zone

# Upper limb on the horizon with mean refraction; the sun six degrees under it.
HORIZON_ZENITH_DEG = 90.833
CIVIL_ZENITH_DEG = 96.0

_J2000_ORDINAL = date(2000, 1, 1).toordinal()
_MINUTES_A_DAY = 1440.0
_PASSES = 3

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
    if days < 0:
        raise ValueError(f"days is {days}: it must be 0 or more")
    place = _Place(latitude_deg, longitude_deg, time_zone)
    moments = _local_moments(first_day, days, place, _SUNSET)
    wanted = (moments.get(first_day + timedelta(days=count)) for count in range(days))
    return np.array([math.nan if moment is None else _clock_minutes(moment) for moment in wanted])


def day_length_h(day: date, latitude_deg: float) -> float:
    """Return the hours from sunrise to sunset: 0 in polar night, 24 in polar day."""
    check("latitude_deg", latitude_deg, -90, 90)
    noon = np.array([(day.toordinal() - _J2000_ORDINAL) * _MINUTES_A_DAY + 720])
    hour_angle_deg = _hour_angle_deg(noon, latitude_deg, HORIZON_ZENITH_DEG, clip=np.clip)
    return float(hour_angle_deg[0]) * 2 / 15


def _on_day(day: date, place: _Place, crossing: _Crossing) -> datetime | None:
    return _local_moments(day, 1, place, crossing).get(day)


def _local_moments(first_day: date, days: int, place: _Place, crossing: _Crossing) -> dict[date, datetime]:
    # An evening in the Americas ends on the next UTC day, and a white night's sunset falls after
    # midnight, so neighbouring days are computed too and each moment is filed under its own date.
    minutes = _utc_minutes(first_day - timedelta(days=2), days + 4, place, crossing)
    tz = zone(place.time_zone)
    start = datetime.combine(date(2000, 1, 1), time(0), UTC)
    moments = (
        (start + timedelta(minutes=float(each))).astimezone(tz) for each in minutes[np.isfinite(minutes)]
    )
    return {moment.date(): moment for moment in moments}


def _utc_minutes(first_day: date, days: int, place: _Place, crossing: _Crossing) -> Values:
    """Return the crossing of each solar day in minutes after 2000-01-01 00:00 UTC."""
    first = first_day.toordinal() - _J2000_ORDINAL
    midnights = np.arange(first, first + days, dtype=np.float64) * _MINUTES_A_DAY
    moments: Values = midnights + 720 - 4 * place.longitude_deg
    for _ in range(_PASSES):
        hour_angle_deg = _hour_angle_deg(moments, place.latitude_deg, crossing.zenith_deg)
        solar_noon = midnights + 720 - 4 * place.longitude_deg - _equation_of_time_min(moments)
        # Where the first guess at noon finds no crossing, stay at noon rather than with nan.
        moments = solar_noon + 4 * crossing.side * np.nan_to_num(hour_angle_deg)
    return np.where(np.isfinite(hour_angle_deg), moments, np.nan)


def _keep(values: Values, low: float, high: float) -> Values:
    return np.where((values < low) | (values > high), np.nan, values)


def _hour_angle_deg(
    minutes: Values,
    latitude_deg: float,
    zenith_deg: float,
    clip: Callable[[Values, float, float], Values] = _keep,
) -> Values:
    declination = np.radians(_declination_deg(minutes))
    latitude = math.radians(min(max(latitude_deg, -89.999), 89.999))
    cosine = (math.cos(math.radians(zenith_deg)) - math.sin(latitude) * np.sin(declination)) / (
        math.cos(latitude) * np.cos(declination)
    )
    return np.degrees(np.arccos(clip(cosine, -1.0, 1.0)))


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


def _declination_deg(minutes: Values) -> Values:
    century = _centuries(minutes)
    tilt = np.radians(_obliquity_deg(century))
    sine: Values = np.sin(tilt) * np.sin(np.radians(_apparent_longitude_deg(century)))
    return np.degrees(np.arcsin(sine))


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


def _clock_minutes(moment: datetime) -> float:
    return moment.hour * 60 + moment.minute + (moment.second + moment.microsecond / 1e6) / 60
