"""What a usual year is like at a place: temperature, rain, reference evapotranspiration, frost."""

import csv
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from importlib import resources
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from landscape_care.almanac import usual_years
from landscape_care.almanac.bounds import check
from landscape_care.almanac.dates import on, zone
from landscape_care.almanac.refusals import Problem, Refused

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
_KEY = re.compile(r"[a-z0-9]+(?:[-_][a-z0-9]+)*")
_PLACE_BOUNDS = {
    "latitude_deg": (-90, 90),
    "longitude_deg": (-180, 180),
    "elevation_m": (-430, 5500),
    "irrigation_share": (0.5, 1.2),
}

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
        """Refuse a place off the globe and a usual year that no garden has, naming every wrong field."""
        problems = [*self._place_problems()]
        problems += usual_years.problems_of(self, stands_somewhere=not problems)
        if problems:
            raise Refused(problems)

    def _place_problems(self) -> Iterator[Problem]:
        if not _KEY.fullmatch(self.key):
            yield Problem("key", self.key, "small letters, digits and hyphens, such as own-corrales")
        for name in ("name", "temperature_provenance", "eto_provenance", "frost_provenance"):
            if not getattr(self, name).strip():
                yield Problem(name, getattr(self, name), "something: it must not be empty")
        for name, (low, high) in _PLACE_BOUNDS.items():
            value = getattr(self, name)
            if not low <= value <= high:
                yield Problem(name, value, f"from {low:g} to {high:g}")
        try:
            zone(self.time_zone)
        except ValueError:
            yield Problem("time_zone", self.time_zone, "an IANA name such as America/Denver")

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


@dataclass(frozen=True)
class ClimateBook:
    """The climates that come along and a company's own beside them."""

    own: tuple[Climate, ...] = ()

    def __iter__(self) -> Iterator[Climate]:
        yield from climates().values()
        yield from self.own

    def keys(self) -> list[str]:
        """Every key, in order of the alphabet."""
        return sorted(each.key for each in self)

    def get(self, key: str) -> Climate | None:
        """Return the climate of a key, if there is one."""
        return climates().get(key) or next((each for each in self.own if each.key == key), None)

    def named(self, key: str) -> Climate:
        """Return the climate of a key."""
        found = self.get(key)
        if found is None:
            raise ValueError(f"climate {key!r} is unknown: use one of {', '.join(self.keys())}")
        return found

    def nearest(self, latitude_deg: float, longitude_deg: float, elevation_m: float | None = None) -> Climate:
        """Return the climate most like a place, at most 150 km away.

        With an elevation a climate at a like height is preferred among those near enough.
        """
        check("latitude_deg", latitude_deg, -90, 90)
        check("longitude_deg", longitude_deg, -180, 180)
        here = (latitude_deg, longitude_deg)
        away = [(distance_km(here, (each.latitude_deg, each.longitude_deg)), each) for each in self]
        nearest_km, nearest = min(away, key=lambda pair: pair[0])
        if nearest_km > FARTHEST_KM:
            raise ValueError(
                f"no climate is known for latitude_deg {latitude_deg:g}, longitude_deg"
                f" {longitude_deg:g}: the nearest, {nearest.name}, is"
                f" {nearest_km:.0f} km away and {FARTHEST_KM:.0f} km is the limit"
            )
        near = [pair for pair in away if pair[0] <= FARTHEST_KM]
        return min(near, key=lambda pair: _unlikeness_km(pair[0], pair[1], elevation_m))[1]


@lru_cache(maxsize=1)
def climates() -> Mapping[str, Climate]:
    """Return the climates that come along, by key."""
    months: dict[str, list[dict[str, str]]] = {}
    for row in _rows("climates.csv"):
        months.setdefault(row["key"], []).append(row)
    sites = _rows("climate_sites.csv")
    return MappingProxyType({site["key"]: _read(site, months[site["key"]]) for site in sites})


def climate(key: str) -> Climate:
    """Return the climate of a key among those that come along."""
    return ClimateBook().named(key)


def nearest_climate(
    latitude_deg: float, longitude_deg: float, *, elevation_m: float | None = None
) -> Climate:
    """Return the climate most like a place among those that come along, at most 150 km away."""
    return ClimateBook().nearest(latitude_deg, longitude_deg, elevation_m)


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
    _check_twelve("monthly_sums", monthly_sums, (0, 1e6))
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


def _unlikeness_km(away_km: float, site: Climate, elevation_m: float | None) -> float:
    if elevation_m is None:
        return away_km
    height_m = elevation_m - site.elevation_m
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
        frost_provenance=_with_sort(site["frost_provenance"], site["frost_source"]),
        irrigation_share=float(site["irrigation_share"]),
        **monthly,
    )


def _with_sort(sort: str, source: str) -> str:
    """A source with its sort before it, published or memory, unless it says so itself."""
    return source if source.startswith(f"from {sort}") else f"{sort}: {source}"


def _rows(file_name: str) -> list[dict[str, str]]:
    path = resources.files("landscape_care.almanac").joinpath("data", file_name)
    with path.open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def _check_twelve(field: str, values: Sequence[float], bounds: tuple[float, float]) -> None:
    if len(values) != 12:
        raise ValueError(f"{field} has {len(values)} values: give one a month, twelve")
    for month, value in enumerate(values, 1):
        check(f"{field}, month {month}", value, *bounds)
