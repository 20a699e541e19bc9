"""What twelve usual months of a place cannot be, so that a figure in the wrong unit or month is found.

Thresholds are common practice where no source is named.
"""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from landscape_care.almanac.dates import on, parse_month_day
from landscape_care.almanac.refusals import Problem
from landscape_care.almanac.weather import Measured, Place, eto_mm

if TYPE_CHECKING:
    from landscape_care.almanac.climate import Climate

MONTH_NAMES = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
BOUNDS = {
    "tmax_f": (-60, 130, "°F"),
    "tmin_f": (-80, 110, "°F"),
    "rain_in": (0, 120, "in"),
    "eto_in": (0, 25, "in"),
}
# Where the warmest month stays under 10 °C no tree grows (Köppen's limit of polar climates).
WARMEST_MONTH_F = 50.0
# The driest deserts swing by some 45 °F between a month's mean low and high.
WIDEST_SWING_F = 55.0
# A month lies near the mean of its neighbours, also in the middle of a continent.
FARTHEST_FROM_NEIGHBOURS_F = 20.0
# Few gardens on earth get more in a year.
WETTEST_YEAR_IN = 150.0
# An estimate from highs and lows alone, beside a measured year.
ETO_RATIO = (0.5, 2.0)
DRY_YEAR_IN = 20.0
TROPIC_DEG = 23.44
FREEZING_F = 32.0
_MM_PER_IN = 25.4
_DAYS_IN_MONTH = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_COMMON_YEAR = 2001


def problems_of(place: "Climate", *, stands_somewhere: bool) -> Iterator[Problem]:
    """Yield what cannot be of a usual year; what hangs on the place only where that is on the globe."""
    months = [*_months(place)] or [*_order(place)]
    yield from months
    if stands_somewhere and not months:
        yield from _units(place)
        yield from _hemisphere(place)
        yield from _frost_and_cold(place)
    if stands_somewhere:
        yield from _frost(place)


def estimated_eto_in(
    tmax_f: Sequence[float], tmin_f: Sequence[float], *, dry: bool, latitude_deg: float, elevation_m: float
) -> tuple[float, ...]:
    """Return monthly reference evapotranspiration from highs and lows alone, inches.

    FAO-56 equation 6 at the middle of each month, with humidity from the low, radiation from the
    swing and 2 m/s of wind (chapter 3).
    """
    found = []
    for index, days in enumerate(_DAYS_IN_MONTH):
        weather = Measured(tmax_c=_celsius(tmax_f[index]), tmin_c=_celsius(tmin_f[index]), is_arid=dry)
        middle = on(_COMMON_YEAR, f"{index + 1:02}-15").timetuple().tm_yday
        day_in = eto_mm(weather, Place(latitude_deg, elevation_m, middle)) / _MM_PER_IN
        found.append(round(max(0.0, day_in) * days, 2))
    return tuple(found)


def _months(place: "Climate") -> Iterator[Problem]:
    for field, (low, high, unit) in BOUNDS.items():
        values = getattr(place, field)
        if len(values) != 12:
            yield Problem(field, f"{len(values)} values", "twelve values, one a month from January on")
            continue
        for month, value in enumerate(values, 1):
            if not low <= value <= high:
                yield Problem(f"{field}.{month}", value, f"{_name(month)}: from {low} to {high} {unit}")


def _order(place: "Climate") -> Iterator[Problem]:
    for month, (low, high) in enumerate(zip(place.tmin_f, place.tmax_f, strict=True), 1):
        if low > high:
            yield Problem(f"tmin_f.{month}", low, f"{_name(month)}: not above tmax_f, {high:g} °F")


def _units(place: "Climate") -> Iterator[Problem]:
    if max(place.tmean_f) < WARMEST_MONTH_F:
        yield _too_cold(place)
        return
    for month, (low, high) in enumerate(zip(place.tmin_f, place.tmax_f, strict=True), 1):
        if high - low > WIDEST_SWING_F:
            wanted = (
                f"{_name(month)}: within {WIDEST_SWING_F:g} °F of tmax_f, {high:g} °F{_maybe_celsius(low)}"
            )
            yield Problem(f"tmin_f.{month}", low, wanted)
    for field in ("tmax_f", "tmin_f"):
        yield from _outliers(field, getattr(place, field))
    if sum(place.rain_in) > WETTEST_YEAR_IN:
        wanted = f"at most {WETTEST_YEAR_IN:g} in a year; millimetres are divided by 25.4"
        yield Problem("rain_in", f"{sum(place.rain_in):g} in a year", wanted)
    yield from _unlikely_eto(place)


def _too_cold(place: "Climate") -> Problem:
    span = f"{min(place.tmax_f):g} to {max(place.tmax_f):g}"
    warm_f = max(place.tmax_f) * 1.8 + 32
    wanted = (
        f"°F, with a warmest month of {WARMEST_MONTH_F:g} °F or more in the mean: no garden grows where it is"
        f" colder; if these are °C, {max(place.tmax_f):g} °C is {warm_f:.0f} °F"
    )
    return Problem("tmax_f", span, wanted)


def _outliers(field: str, values: Sequence[float]) -> Iterator[Problem]:
    """Name the worst month alone: its neighbours look wrong beside it too."""
    usual = [(values[index - 1] + values[(index + 1) % 12]) / 2 for index in range(12)]
    worst = max(range(12), key=lambda index: abs(values[index] - usual[index]))
    if abs(values[worst] - usual[worst]) > FARTHEST_FROM_NEIGHBOURS_F:
        wanted = (
            f"{_name(worst + 1)}: within {FARTHEST_FROM_NEIGHBOURS_F:g} °F of the mean of its neighbours,"
            f" {usual[worst]:g} °F{_maybe_celsius(values[worst])}"
        )
        yield Problem(f"{field}.{worst + 1}", values[worst], wanted)


def _unlikely_eto(place: "Climate") -> Iterator[Problem]:
    guess_in = sum(
        estimated_eto_in(
            place.tmax_f,
            place.tmin_f,
            dry=sum(place.rain_in) < DRY_YEAR_IN,
            latitude_deg=place.latitude_deg,
            elevation_m=place.elevation_m,
        )
    )
    year_in, (low, high) = sum(place.eto_in), ETO_RATIO
    if not low * guess_in <= year_in <= high * guess_in:
        wanted = (
            f"{low * guess_in:.0f} to {high * guess_in:.0f} in a year, by the highs and lows;"
            " millimetres are divided by 25.4"
        )
        yield Problem("eto_in", f"{year_in:g} in a year", wanted)


def _hemisphere(place: "Climate") -> Iterator[Problem]:
    if abs(place.latitude_deg) < TROPIC_DEG:
        return
    summer_half = sum(place.tmean_f[3:9]) - sum(place.tmean_f[:3]) - sum(place.tmean_f[9:])
    if summer_half * place.latitude_deg < 0:
        half = "warmer" if place.latitude_deg > 0 else "colder"
        wanted = f"January first: at latitude {place.latitude_deg:g} April to September are the {half} half"
        yield Problem("tmax_f", "the other way round", wanted)


def _frost(place: "Climate") -> Iterator[Problem]:
    given = {name: getattr(place, name) for name in ("last_frost", "first_frost")}
    wrong = [*_no_days(given)]
    yield from wrong
    missing = [name for name, month_day in given.items() if month_day is None]
    if len(missing) == 1:
        yield Problem(missing[0], None, "both dates, or neither where it never freezes")
    elif not (missing or wrong):
        yield from _frost_order(place)


def _no_days(given: dict[str, str | None]) -> Iterator[Problem]:
    for name, month_day in given.items():
        try:
            if month_day is not None:
                parse_month_day(month_day)
        except ValueError as no_day:
            yield Problem(name, month_day, f"a yearly date MM-DD such as 02-07 ({no_day})")


def _frost_order(place: "Climate") -> Iterator[Problem]:
    # Counted on from the middle of summer the first frost comes, then the last.
    midsummer = on(_COMMON_YEAR, "07-01" if place.latitude_deg >= 0 else "01-01").timetuple().tm_yday
    last, first = (
        (on(_COMMON_YEAR, day or "").timetuple().tm_yday - midsummer) % 365
        for day in (place.last_frost, place.first_frost)
    )
    if first >= last:
        seasons = "the last frost of spring, and first_frost the first of autumn"
        yield Problem("last_frost", place.last_frost, f"{seasons} ({place.first_frost} comes after it)")


def _frost_and_cold(place: "Climate") -> Iterator[Problem]:
    coldest = min(range(12), key=lambda index: place.tmin_f[index])
    if place.last_frost is None and place.first_frost is None and place.tmin_f[coldest] < FREEZING_F:
        low = f"{_name(coldest + 1)}'s usual low is {place.tmin_f[coldest]:g} °F"
        yield Problem("last_frost", None, f"a date, and one for first_frost: {low}, so it freezes here")


def _maybe_celsius(value_f: float) -> str:
    return f"; {value_f:g} °C would be {value_f * 1.8 + 32:.0f} °F" if -30 <= value_f <= 50 else ""


def _name(month: int) -> str:
    return MONTH_NAMES[month - 1]


def _celsius(degrees_f: float) -> float:
    return (degrees_f - 32) / 1.8
