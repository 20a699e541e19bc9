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
from statistics import fmean

from landscape_care.almanac.climate import Climate, irrigation_eto_in_on, tmean_f_on
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
# Nor has a day more rain than this, or than twice that of its usual month; nor does the air take more
# than this, or than twice the usual (common practice).
MOST_RAIN_IN, MOST_RAIN_MONTHS, MOST_ETO_IN, MOST_ETO_USUAL = 5.0, 2.0, 0.3, 2.0
# A file of so many days whose values would be usual in another unit is in that unit.
DAYS_TO_JUDGE, OFF_F, NEAR_F = 7, 18.0, 14.0
RAIN_OFF, LEAST_RAIN_IN = 10.0, 3.0
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
    if (wrong_unit := _wrong_unit(good, climate)) is not None:
        return Observed((), (*problems, wrong_unit), ())
    return Observed(good, tuple(problems), tuple(_missing(good)))


def _wrong_unit(days: Sequence[DayObserved], climate: Climate) -> Problem | None:
    """What tells that a whole file is in other units, though each of its days could be."""
    if len(days) < DAYS_TO_JUDGE:
        return None
    usual_f = fmean(tmean_f_on(climate, each.day) for each in days)
    mean_f = fmean((each.tmax_f + each.tmin_f) / 2 for each in days)
    # The same values as °C would be near the usual, as °F they are far below it.
    if usual_f - mean_f > OFF_F and abs(mean_f * 1.8 + 32 - usual_f) < NEAR_F:
        return Problem(
            "tmax_f, tmin_f", f"a mean of {mean_f:.0f}", f"°F; {usual_f:.0f} is usual, so this is °C"
        )
    rain_in = sum(each.rain_in for each in days)
    usual_in = sum(climate.rain_in[each.day.month - 1] / 30 for each in days)
    if rain_in > max(LEAST_RAIN_IN, RAIN_OFF * usual_in):
        return Problem(
            "rain_in", f"{rain_in:.1f} in {len(days)} days", f"inches; {usual_in:.1f} is usual, so this is mm"
        )
    return None


def with_eto(observed: DayObserved, climate: Climate) -> float:
    """Reference evapotranspiration of a day, inches: as measured, or by its extremes (FAO-56, chapter 3)."""
    if observed.eto_in is not None:
        return observed.eto_in
    return eto_by_extremes_in(observed.day, (observed.tmin_f, observed.tmax_f), climate)


def eto_by_extremes_in(day: date, extremes_f: tuple[float, float], climate: Climate) -> float:
    """Reference evapotranspiration of a day from its low and high alone, inches (FAO-56, chapter 3)."""
    low_f, high_f = extremes_f
    weather = MeasuredWeather(tmax_c=_celsius(high_f), tmin_c=_celsius(low_f), is_arid=_is_arid(climate))
    place = Place(climate.latitude_deg, climate.elevation_m, day.timetuple().tm_yday)
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
    _check_wet(observed, climate)
    return observed


def _check_wet(observed: DayObserved, climate: Climate) -> None:
    most_rain_in = max(MOST_RAIN_IN, MOST_RAIN_MONTHS * climate.rain_in[observed.day.month - 1])
    if observed.rain_in > most_rain_in:
        raise ValueError(f"rain_in is {observed.rain_in:g}: wanted inches, at most {most_rain_in:.1f} here")
    most_eto_in = max(MOST_ETO_IN, MOST_ETO_USUAL * irrigation_eto_in_on(climate, observed.day))
    if observed.eto_in is not None and observed.eto_in > most_eto_in:
        raise ValueError(f"eto_in is {observed.eto_in:g}: wanted inches, at most {most_eto_in:.2f} here")


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
