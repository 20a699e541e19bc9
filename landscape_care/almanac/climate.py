"""What a usual year is like at a place: temperature, rain, reference evapotranspiration, frost."""

import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from importlib import resources
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from landscape_care.almanac.bounds import check
from landscape_care.almanac.dates import on, parse_month_day, zone

DAYS_IN_MONTH = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
DAYS_IN_YEAR = sum(DAYS_IN_MONTH)
MILD_FROM_F = 50.0
COOL_FROM_F = 42.0
FARTHEST_KM = 150.0

_EARTH_RADIUS_KM = 6371.0
# Common practice: a hundred metres up or down changes a garden about as much as ten kilometres.
_KM_PER_METRE_OF_HEIGHT = 0.1
_LEAP_DAY_INDEX = 59
_COMMON_YEAR = 2001

Months = tuple[float, ...]
Days = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Climate:
    """A place and its twelve usual months, January first, each figure with its provenance."""

    key: str
    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    time_zone: str
    tmax_f: Months
    tmin_f: Months
    rain_in: Months
    eto_in: Months
    last_frost: str | None
    first_frost: str | None
    temperature_provenance: str
    eto_provenance: str
    frost_provenance: str
    irrigation_share: float = 1.0

    def __post_init__(self) -> None:
        """Refuse a place off the globe and months that no garden has."""
        check(f"latitude_deg of {self.key}", self.latitude_deg, -90, 90)
        check(f"longitude_deg of {self.key}", self.longitude_deg, -180, 180)
        check(f"elevation_m of {self.key}", self.elevation_m, -430, 5500)
        check(f"irrigation_share of {self.key}", self.irrigation_share, 0.5, 1.2)
        zone(self.time_zone)
        self._check_months()
        self._check_frost()

    def _check_months(self) -> None:
        _check_twelve(self.key, "tmax_f", self.tmax_f, (-60, 130))
        _check_twelve(self.key, "tmin_f", self.tmin_f, (-80, 110))
        _check_twelve(self.key, "rain_in", self.rain_in, (0, 120))
        _check_twelve(self.key, "eto_in", self.eto_in, (0, 25))
        for month, (low, high) in enumerate(zip(self.tmin_f, self.tmax_f, strict=True), 1):
            if low > high:
                raise ValueError(
                    f"tmin_f of {self.key}, month {month} is {low:g}, above tmax_f {high:g}:"
                    " the minimum must not exceed the maximum"
                )

    def _check_frost(self) -> None:
        if (self.last_frost is None) != (self.first_frost is None):
            raise ValueError(
                f"frost of {self.key} is last {self.last_frost}, first {self.first_frost}:"
                " give both dates or neither"
            )
        for month_day in (self.last_frost, self.first_frost):
            if month_day is not None:
                parse_month_day(month_day)

    @property
    def tmean_f(self) -> Months:
        """Monthly mean temperature in °F, halfway between the usual maximum and minimum."""
        return tuple((high + low) / 2 for high, low in zip(self.tmax_f, self.tmin_f, strict=True))

    @property
    def irrigation_eto_in(self) -> Months:
        """Monthly reference evapotranspiration to water by, in inches.

        Airport weather is drier and windier than a garden's, so nine tenths of the airport
        series is used; a series measured over grass counts in full (common practice).
        """
        return tuple(month * self.irrigation_share for month in self.eto_in)

    @property
    def band(self) -> str:
        """Return how hard the winter is: 'mild', 'cool' or 'cold'."""
        return winter_band(self.tmean_f)


def midwinter_month(tmean_f: Sequence[float]) -> int:
    """Return the middle month of winter: 1, or 7 where the cold half year is May to October."""
    summer_half = range(4, 10)
    coldest = min(range(12), key=lambda index: tmean_f[index])
    return 7 if coldest in summer_half else 1


def winter_band(tmean_f: Sequence[float]) -> str:
    """Return the band of the midwinter mean: 'mild' from 50 °F, 'cool' from 42 °F, else 'cold'.

    Common practice.
    """
    mean_f = tmean_f[midwinter_month(tmean_f) - 1]
    if mean_f >= MILD_FROM_F:
        return "mild"
    return "cool" if mean_f >= COOL_FROM_F else "cold"


@lru_cache(maxsize=1)
def climates() -> Mapping[str, Climate]:
    """Return the known climates by key."""
    months: dict[str, list[dict[str, str]]] = {}
    for row in _rows("climates.csv"):
        months.setdefault(row["key"], []).append(row)
    sites = _rows("climate_sites.csv")
    return MappingProxyType({site["key"]: _read(site, months[site["key"]]) for site in sites})


def climate(key: str) -> Climate:
    """Return the climate of a key."""
    known = climates()
    if key not in known:
        raise ValueError(f"climate {key!r} is unknown: use one of {', '.join(sorted(known))}")
    return known[key]


def nearest_climate(latitude_deg: float, longitude_deg: float, elevation_m: float | None = None) -> Climate:
    """Return the known climate most like a place, at most 150 km away.

    With an elevation a climate at a like height is preferred among those near enough.
    """
    check("latitude_deg", latitude_deg, -90, 90)
    check("longitude_deg", longitude_deg, -180, 180)
    away_km = {
        key: distance_km((latitude_deg, longitude_deg), (site.latitude_deg, site.longitude_deg))
        for key, site in climates().items()
    }
    nearest = min(away_km, key=lambda key: away_km[key])
    if away_km[nearest] > FARTHEST_KM:
        raise ValueError(
            f"no climate is known for latitude_deg {latitude_deg:g}, longitude_deg"
            f" {longitude_deg:g}: the nearest, {climates()[nearest].name}, is"
            f" {away_km[nearest]:.0f} km away and {FARTHEST_KM:.0f} km is the limit"
        )
    near = [key for key, km in away_km.items() if km <= FARTHEST_KM]
    return climates()[min(near, key=lambda key: _unlikeness_km(key, away_km[key], elevation_m))]


def distance_km(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Return the great-circle distance in km of two places given as latitude and longitude."""
    lat1, lon1, lat2, lon2 = (math.radians(value) for value in (*one, *other))
    chord = math.sin((lat2 - lat1) / 2) ** 2
    chord += math.cos(lat1) * math.cos(lat2) * math.sin((lon2 - lon1) / 2) ** 2
    return 2 * _EARTH_RADIUS_KM * math.asin(min(1.0, math.sqrt(chord)))


@lru_cache(maxsize=64)
def eto_curve_in(climate: Climate) -> Days:
    """Return the published reference evapotranspiration of each day of a leap year, in inches.

    Day 0 is 1 January. The curve is the smoothest one whose days add up to every monthly sum;
    29 February repeats the mean of its neighbours, so a common year skips it.
    """
    curve = _with_leap_day(smooth_days(climate.eto_in))
    curve.setflags(write=False)
    return curve


def eto_in_on(climate: Climate, day: date) -> float:
    """Return the published reference evapotranspiration of a day in inches."""
    return float(eto_curve_in(climate)[_leap_index(day)])


def irrigation_eto_in_on(climate: Climate, day: date) -> float:
    """Return the reference evapotranspiration to water by on a day, in inches."""
    return eto_in_on(climate, day) * climate.irrigation_share


def tmean_f_on(climate: Climate, day: date) -> float:
    """Return the usual mean temperature of a day in °F, straight between the mid-months."""
    return float(mean_curve(climate.tmean_f)[_common_index(day)])


def smooth_days(monthly_sums: Sequence[float]) -> Days:
    """Return 365 daily values that add up to the monthly sums and bend as little as possible."""
    _check_twelve("smooth_days", "monthly_sums", monthly_sums, (0, 1e6))
    days: Days = _smoothing() @ np.asarray(monthly_sums, dtype=np.float64)
    return _without_negatives(days, monthly_sums)


def mean_curve(monthly_means: Sequence[float]) -> Days:
    """Return 365 daily values, straight between the monthly means set on the 15th."""
    fifteenths = [on(_COMMON_YEAR, f"{month:02}-15").timetuple().tm_yday for month in range(1, 13)]
    days = np.arange(1, DAYS_IN_YEAR + 1, dtype=np.float64)
    means = np.asarray(monthly_means, dtype=np.float64)
    curve: Days = np.interp(days, fifteenths, means, period=DAYS_IN_YEAR)
    return curve


@lru_cache(maxsize=1)
def _smoothing() -> Days:
    """Return the matrix from twelve sums to 365 days: least squared bend under the sums as constraints."""
    months, bends = _month_membership(), _second_differences()
    system = np.block([[bends.T @ bends, months.T], [months, np.zeros((12, 12))]])
    wanted = np.vstack([np.zeros((DAYS_IN_YEAR, 12)), np.eye(12)])
    days: Days = np.linalg.solve(system, wanted)[:DAYS_IN_YEAR]
    return days


def _month_membership() -> Days:
    owner = np.repeat(np.arange(12), DAYS_IN_MONTH)
    member: Days = (owner == np.arange(12)[:, None]).astype(np.float64)
    return member


def _second_differences() -> Days:
    day = np.eye(DAYS_IN_YEAR)
    bends: Days = np.roll(day, 1, axis=1) - 2 * day + np.roll(day, -1, axis=1)
    return bends


def _without_negatives(days: Days, monthly_sums: Sequence[float]) -> Days:
    # A month of nothing beside a month of much would bend the curve below zero.
    if days.min() >= 0:
        return days
    kept: Days = np.clip(days, 0, None)
    sums = np.add.reduceat(kept, np.cumsum((0, *DAYS_IN_MONTH[:-1])))
    scale: Days = np.divide(monthly_sums, sums, out=np.zeros(12), where=sums > 0)
    return kept * np.repeat(scale, DAYS_IN_MONTH)


def _with_leap_day(days: Days) -> Days:
    leap_day = (days[_LEAP_DAY_INDEX - 1] + days[_LEAP_DAY_INDEX]) / 2
    return np.insert(days, _LEAP_DAY_INDEX, leap_day)


def _leap_index(day: date) -> int:
    return day.replace(year=2000).timetuple().tm_yday - 1


def _common_index(day: date) -> int:
    return on(_COMMON_YEAR, f"{day:%m-%d}").timetuple().tm_yday - 1


def _unlikeness_km(key: str, away_km: float, elevation_m: float | None) -> float:
    if elevation_m is None:
        return away_km
    height_m = elevation_m - climates()[key].elevation_m
    return math.hypot(away_km, height_m * _KM_PER_METRE_OF_HEIGHT)


def _read(site: Mapping[str, str], months: Sequence[Mapping[str, str]]) -> Climate:
    in_order = sorted(months, key=lambda row: int(row["month"]))
    monthly = {
        name: tuple(float(row[name]) for row in in_order)
        for name in ("tmax_f", "tmin_f", "rain_in", "eto_in")
    }
    return Climate(
        key=site["key"],
        name=site["name"],
        latitude_deg=float(site["latitude_deg"]),
        longitude_deg=float(site["longitude_deg"]),
        elevation_m=float(site["elevation_m"]),
        time_zone=site["time_zone"],
        last_frost=site["last_frost"] or None,
        first_frost=site["first_frost"] or None,
        temperature_provenance=in_order[0]["temperature_source"],
        eto_provenance=in_order[0]["eto_source"],
        frost_provenance=f"{site['frost_provenance']}: {site['frost_source']}",
        irrigation_share=float(site["irrigation_share"]),
        **monthly,
    )


def _rows(file_name: str) -> list[dict[str, str]]:
    path = resources.files("landscape_care.almanac").joinpath("data", file_name)
    with path.open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def _check_twelve(key: str, field: str, values: Sequence[float], bounds: tuple[float, float]) -> None:
    if len(values) != 12:
        raise ValueError(f"{field} of {key} has {len(values)} values: give one a month, twelve")
    for month, value in enumerate(values, 1):
        check(f"{field} of {key}, month {month}", value, *bounds)
