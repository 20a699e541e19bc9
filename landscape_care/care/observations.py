"""Daily weather of a station, read from a file and checked against the usual year of the place.

A row that cannot be is kept out and named with its line; the days around it stay. Columns: day,
tmax_f, tmin_f, rain_in, and where the station has them eto_in and gust_mph.
"""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from landscape_care.almanac.climate import Climate, tmean_f_on
from landscape_care.almanac.weather import Measured as MeasuredWeather
from landscape_care.almanac.weather import Place, eto_mm
from landscape_care.trades.limits import Problem

NEEDED = ("day", "tmax_f", "tmin_f", "rain_in")
MORE = ("eto_in", "gust_mph")
BOUNDS: Mapping[str, tuple[float, float]] = {
    "tmax_f": (-60, 135),
    "tmin_f": (-80, 115),
    "rain_in": (0, 25),
    "eto_in": (0, 0.8),
    "gust_mph": (0, 250),
}
# No day is so far from the usual mean of its season; 4 °F in July is a value in °C (common practice).
FARTHEST_FROM_USUAL_F = 50.0
FREEZE_F, STORM_GUST_MPH = 34.0, 45.0
_MM_PER_IN = 25.4


@dataclass(frozen=True, slots=True)
class DayObserved:
    """The weather of one day at a station: °F, inches, miles an hour."""

    day: date
    tmax_f: float
    tmin_f: float
    rain_in: float
    eto_in: float | None = None
    gust_mph: float | None = None

    def __post_init__(self) -> None:
        for name, (low, high) in BOUNDS.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise ValueError(f"{name} is {value:g}: wanted {low:g} to {high:g}")
        if self.tmin_f > self.tmax_f:
            raise ValueError(f"tmin_f is {self.tmin_f:g}: wanted at most tmax_f, {self.tmax_f:g}")


@dataclass(frozen=True, slots=True)
class Observed:
    """What a file tells: its good days in order, the rows kept out, and the days between that are missing."""

    days: tuple[DayObserved, ...]
    problems: tuple[Problem, ...]
    missing: tuple[date, ...]


def read(text: str, climate: Climate, *, today: date) -> Observed:
    """The days of a file in the form above; a day of the future is kept out like one that cannot be."""
    rows = csv.DictReader(io.StringIO(text.lstrip("\ufeff")))
    lacking = [name for name in NEEDED if name not in (rows.fieldnames or ())]
    if lacking:
        return Observed(
            (), (Problem("columns", ", ".join(rows.fieldnames or ()), f"{', '.join(lacking)}"),), ()
        )
    days: dict[date, DayObserved] = {}
    twice: set[date] = set()
    problems: list[Problem] = []
    for number, row in enumerate(rows, 2):
        try:
            found = _day(row, climate, today)
        except ValueError as wrong:
            problems.append(Problem(f"row {number}", _shown(row), str(wrong)))
            continue
        if days.get(found.day, found) != found:
            twice.add(found.day)
            problems.append(
                Problem(f"row {number} day", found.day, "one row a day, or the same values again")
            )
        days.setdefault(found.day, found)
    good = tuple(days[day] for day in sorted(days) if day not in twice)
    return Observed(good, tuple(problems), tuple(_missing(good)))


def with_eto(observed: DayObserved, climate: Climate) -> float:
    """Reference evapotranspiration of a day, inches: as measured, or by its extremes (FAO-56, chapter 3)."""
    if observed.eto_in is not None:
        return observed.eto_in
    weather = MeasuredWeather(
        tmax_c=_celsius(observed.tmax_f), tmin_c=_celsius(observed.tmin_f), is_arid=_is_arid(climate)
    )
    place = Place(climate.latitude_deg, climate.elevation_m, observed.day.timetuple().tm_yday)
    return eto_mm(weather, place) / _MM_PER_IN


def _day(row: Mapping[str, str | None], climate: Climate, today: date) -> DayObserved:
    day = _date(row.get("day"))
    values = {name: _number(name, row.get(name)) for name in (*NEEDED[1:], *MORE)}
    for name in NEEDED[1:]:
        if values[name] is None:
            raise ValueError(f"{name} is empty: wanted a number")
    observed = DayObserved(day, **values)  # type: ignore[arg-type]
    if day > today:
        raise ValueError(f"day is {day}: wanted {today} or before")
    usual_f = tmean_f_on(climate, day)
    mean_f = (observed.tmax_f + observed.tmin_f) / 2
    if abs(mean_f - usual_f) > FARTHEST_FROM_USUAL_F:
        raise ValueError(f"mean is {mean_f:.0f} °F where {usual_f:.0f} is usual: wanted values in °F")
    return observed


def _date(written: str | None) -> date:
    try:
        return date.fromisoformat((written or "").strip())
    except ValueError:
        raise ValueError(f"day is {written!r}: wanted a day such as 2027-03-01") from None


def _number(name: str, written: str | None) -> float | None:
    if not (written or "").strip():
        return None
    try:
        return float(written or "")
    except ValueError:
        raise ValueError(f"{name} is {written!r}: wanted a number") from None


def _missing(days: Sequence[DayObserved]) -> Iterator[date]:
    for one, other in pairwise(days):
        for count in range(1, (other.day - one.day).days):
            yield one.day + timedelta(count)


def _shown(row: Mapping[str, str | None]) -> str:
    return ", ".join(str(row.get(name)) for name in NEEDED)


def _celsius(degrees_f: float) -> float:
    return (degrees_f - 32) / 1.8


def _is_arid(climate: Climate) -> bool:
    # Under 20 in of rain a year air is too dry for the night's low to be its dew point (common practice).
    return sum(climate.rain_in) < 20
