"""Seasonal windows of a place, computed from its monthly means and frost dates.

The rules for the named windows are common practice, written down with thresholds that land
in the months that extension services of the region advise.

A window is written as an anchor (`rose_hard_prune`), an anchor moved by days
(`rose_hard_prune+14`), or a range between two anchors (`first_frost_50-21..last_frost_50+14`);
several windows are parted by `;`. An anchor is a named window with an optional `.start` or
`.end`, `mean_rises_60F`, `mean_falls_60F`, `last_frost_50`, `first_frost_50`, or a yearly date
MM-DD.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from types import MappingProxyType

from landscape_care.almanac.bounds import check
from landscape_care.almanac.climate import (
    DAYS_IN_YEAR,
    Climate,
    mean_curve,
    midwinter_month,
    winter_band,
)
from landscape_care.almanac.dates import on, parse_month_day

Span = tuple[str, str]
Found = Mapping[str, Span | list[str]]

COOL_ANNUALS_BELOW_F = MappingProxyType({"mild": 80.0, "cool": 70.0, "cold": 65.0})
WARM_ANNUALS_ABOVE_F = MappingProxyType({"mild": 72.0, "cool": 65.0, "cold": 60.0})
PERENNIALS_STIR_F = 48.0
ALGAE_GROWS_F = 60.0
ANNUALS_GROW_F = 50.0
SHORTEST_SWAP_DAYS = 14

_COMMON_YEAR = 2001
# A mean that meets the threshold on a day must not miss it by the last bit of a float.
_ROUNDING_F = 1e-9
_LONGEST_SHIFT_DAYS = 366
_POINTS = ("last_frost_50", "first_frost_50")
_ANCHOR = re.compile(
    r"(?:(?P<fixed>\d\d-\d\d)"
    r"|mean_(?P<way>rises|falls)_(?P<threshold_f>\d{2,3})F"
    r"|(?P<name>[a-z][a-z0-9_]*)(?:\.(?P<edge>start|end))?)"
    r"(?P<shift>[+-]\d{1,4})?"
)


@dataclass(frozen=True)
class _Year:
    """The monthly means and frost dates of a place, as days counted in a common year."""

    tmean_f: tuple[float, ...]
    last_frost: int | None
    first_frost: int | None

    @property
    def band(self) -> str:
        return winter_band(self.tmean_f)

    @property
    def midwinter(self) -> int:
        return _day_number(f"{midwinter_month(self.tmean_f):02}-15")

    @property
    def midsummer(self) -> int:
        return self.midwinter + DAYS_IN_YEAR // 2

    def rises(self, threshold_f: float) -> int | None:
        """Return the first day of the warm half year at or above a mean, in °F.

        Midwinter where it is never colder, None where it is never that warm.
        """
        if min(self.tmean_f) >= threshold_f:
            return self.midwinter
        return self._first_after(min(self.tmean_f), lambda mean_f: mean_f >= threshold_f - _ROUNDING_F)

    def falls(self, threshold_f: float) -> int | None:
        """Return the first day after the hottest month at or below a mean in °F, if any."""
        if max(self.tmean_f) <= threshold_f:
            return None
        return self._first_after(max(self.tmean_f), lambda mean_f: mean_f <= threshold_f + _ROUNDING_F)

    def _first_after(self, extreme_f: float, reached: Callable[[float], bool]) -> int | None:
        month = self.tmean_f.index(extreme_f) + 1
        start = _day_number(f"{month:02}-15")
        curve = mean_curve(self.tmean_f)
        days = (start + count for count in range(DAYS_IN_YEAR))
        return next((day for day in days if reached(curve[(day - 1) % DAYS_IN_YEAR])), None)


def seasonal_windows(
    tmean: Sequence[float], last_frost_md: str | None, *, first_frost_md: str | None
) -> dict[str, Span | list[str]]:
    """Return the named windows of a year as first and last MM-DD; a window that never comes is [].

    Monthly means in °F, January first; frost dates as MM-DD with even odds of a later last or an
    earlier first frost, None where it never freezes.
    """
    if len(tmean) != 12:
        raise ValueError(f"tmean has {len(tmean)} values: give one mean a month, twelve")
    for mean_f in tmean:
        check("tmean", mean_f, -80, 130)
    year = _Year(
        tuple(tmean),
        _given_frost("last_frost_md", last_frost_md),
        _given_frost("first_frost_md", first_frost_md),
    )
    return {name: _as_month_days(rule(year)) for name, rule in NAMED_WINDOWS.items()}


def windows_in_year(expression: str, climate: Climate, year: int) -> list[tuple[date, date]]:
    """Return the first and last days of the windows that open in a year, in order."""
    found = [
        window
        for part in _parse(expression)
        for window in _windows(part, climate, year)
        if window[0].year == year
    ]
    return sorted(found)


def check_expression(expression: str) -> None:
    """Refuse a window expression that no climate could read."""
    _parse(expression)


def _swap_to_cool(year: _Year) -> tuple[int, int] | None:
    opens = year.falls(COOL_ANNUALS_BELOW_F[year.band])
    if opens is None:
        return None
    if year.band != "cold" or year.first_frost is None:
        return opens, opens + 42
    closes = _on_or_after(year.midsummer, year.first_frost) - 7
    opens = _on_or_after(year.midsummer, opens)
    return min(opens, closes - SHORTEST_SWAP_DAYS), min(opens + 42, closes)


def _swap_to_warm(year: _Year) -> tuple[int, int] | None:
    warm = year.rises(WARM_ANNUALS_ABOVE_F[year.band])
    if warm is None:
        return None
    opens = warm if year.last_frost is None else _later(year, warm, year.last_frost + 14)
    return opens, opens + 35


def _later(year: _Year, *days: int) -> int:
    """Return the later of some spring days, counted on from the midsummer before."""
    return max(_on_or_after(year.midsummer, day) for day in days)


def _perennial_cutback(year: _Year) -> tuple[int, int] | None:
    if year.last_frost is None:
        return None
    if min(year.tmean_f) >= PERENNIALS_STIR_F:
        return year.last_frost + 7, year.last_frost + 35
    stirring = year.rises(PERENNIALS_STIR_F)
    if stirring is None:
        return None
    opens = _later(year, stirring - 14, year.last_frost - 28)
    return opens, opens + 28


def _frost_tender_prune(year: _Year) -> tuple[int, int] | None:
    return _around(year.last_frost, 14, 49)


def _rose_hard_prune(year: _Year) -> tuple[int, int] | None:
    first, last = (-28, -7) if year.band == "mild" else (-21, 7)
    return _around(year.last_frost, first, last)


def _frost_protection_ready(year: _Year) -> tuple[int, int] | None:
    return _around(year.first_frost, -21, 0)


def _irrigation_winterize(year: _Year) -> tuple[int, int] | None:
    return _around(year.first_frost, -14, 14) if year.band == "cold" else None


def _irrigation_spring_start(year: _Year) -> tuple[int, int] | None:
    return _around(year.last_frost, -14, 14) if year.band == "cold" else None


def _algae_season(year: _Year) -> tuple[int, int] | None:
    return _season_above(year, ALGAE_GROWS_F)


def _annual_season(year: _Year) -> tuple[int, int] | None:
    return _season_above(year, ANNUALS_GROW_F)


def _growing_season(year: _Year) -> tuple[int, int] | None:
    if year.last_frost is None or year.first_frost is None:
        return 1, DAYS_IN_YEAR
    return year.last_frost, _on_or_after(year.last_frost, year.first_frost)


NAMED_WINDOWS: Mapping[str, Callable[[_Year], tuple[int, int] | None]] = MappingProxyType(
    {
        "annual_swap_to_cool": _swap_to_cool,
        "annual_swap_to_warm": _swap_to_warm,
        "perennial_cutback": _perennial_cutback,
        "frost_tender_prune": _frost_tender_prune,
        "rose_hard_prune": _rose_hard_prune,
        "frost_protection_ready": _frost_protection_ready,
        "algae_season": _algae_season,
        "irrigation_winterize": _irrigation_winterize,
        "irrigation_spring_start": _irrigation_spring_start,
        "annual_season": _annual_season,
        "growing_season": _growing_season,
    }
)


def _season_above(year: _Year, threshold_f: float) -> tuple[int, int] | None:
    if min(year.tmean_f) >= threshold_f:
        return 1, DAYS_IN_YEAR
    opens, closes = year.rises(threshold_f), year.falls(threshold_f)
    return None if opens is None or closes is None else (opens, _on_or_after(opens, closes))


def _around(day: int | None, first: int, last: int) -> tuple[int, int] | None:
    return None if day is None else (day + first, day + last)


def _on_or_after(start: int, day: int) -> int:
    return start + (day - start) % DAYS_IN_YEAR


def _given_frost(field: str, month_day: str | None) -> int | None:
    try:
        return _frost_day(month_day)
    except ValueError as error:
        raise ValueError(f"{field}: {error}") from error


def _frost_day(month_day: str | None) -> int | None:
    return None if month_day is None else _day_number(month_day)


def _day_number(month_day: str) -> int:
    return on(_COMMON_YEAR, month_day).timetuple().tm_yday


def _month_day(day: int) -> str:
    start = date(_COMMON_YEAR, 1, 1)
    return f"{start + timedelta(days=(day - 1) % DAYS_IN_YEAR):%m-%d}"


def _as_month_days(span: tuple[int, int] | None) -> Span | list[str]:
    return [] if span is None else (_month_day(span[0]), _month_day(span[1]))


@dataclass(frozen=True)
class _Anchor:
    """One anchor of an expression: what it hangs on, which edge of it, moved by how many days."""

    base: str
    edge: str | None
    shift_days: int


@dataclass(frozen=True)
class _Part:
    """One window of an expression, from an anchor to an anchor."""

    opens: _Anchor
    closes: _Anchor


def _parse(expression: str) -> list[_Part]:
    return [_parse_part(text.strip(), expression) for text in expression.split(";")]


def _parse_part(text: str, expression: str) -> _Part:
    ends = text.split("..")
    if len(ends) > 2:
        raise ValueError(f"window {expression!r}: a range has two ends, as in a..b")
    anchors = [_parse_anchor(end.strip(), expression) for end in ends]
    part = _Part(_with_edge(anchors[0], "start"), _with_edge(anchors[-1], "end"))
    if _is_backwards(part):
        raise ValueError(f"window {expression!r}: {text!r} closes before it opens")
    return part


def _with_edge(anchor: _Anchor, edge: str) -> _Anchor:
    return _Anchor(anchor.base, anchor.edge or edge, anchor.shift_days)


def _is_backwards(part: _Part) -> bool:
    if part.opens.base != part.closes.base:
        return False
    is_point = part.opens.base not in NAMED_WINDOWS
    same_edge = is_point or part.opens.edge == part.closes.edge
    return same_edge and part.closes.shift_days < part.opens.shift_days


def _parse_anchor(text: str, expression: str) -> _Anchor:
    found = _ANCHOR.fullmatch(text)
    if found is None:
        raise ValueError(
            f"window {expression!r}: {text!r} is no anchor; write a name, optional .start or .end,"
            " and optional days such as +14"
        )
    shift_days = int(found["shift"] or 0)
    if abs(shift_days) > _LONGEST_SHIFT_DAYS:
        raise ValueError(f"window {expression!r}: {text!r} moves by more than a year")
    return _Anchor(_base(found, expression), found["edge"], shift_days)


def _base(found: re.Match[str], expression: str) -> str:
    if found["fixed"]:
        return _fixed(found["fixed"], expression)
    if found["way"]:
        return f"mean_{found['way']}_{found['threshold_f']}F"
    name = found["name"]
    if name not in NAMED_WINDOWS and name not in _POINTS:
        known = ", ".join((*NAMED_WINDOWS, *_POINTS, "mean_rises_60F", "mean_falls_60F", "MM-DD"))
        raise ValueError(f"window {expression!r}: anchor {name!r} is unknown; known are {known}")
    if name in _POINTS and found["edge"]:
        raise ValueError(f"window {expression!r}: {name} is one day and has no .{found['edge']}")
    return name


def _fixed(month_day: str, expression: str) -> str:
    try:
        parse_month_day(month_day)
    except ValueError as error:
        raise ValueError(f"window {expression!r}: {error}") from error
    return month_day


def _windows(part: _Part, climate: Climate, year: int) -> list[tuple[date, date]]:
    found = []
    for base_year in (year - 1, year, year + 1):
        opens = _day(part.opens, climate, base_year)
        closes = None if opens is None else _closing_day(part, climate, base_year, opens)
        if opens is not None and closes is not None:
            found.append((opens, closes))
    return found


def _closing_day(part: _Part, climate: Climate, base_year: int, opens: date) -> date | None:
    # Two edges of one season belong together, or the second to the season after; other anchors
    # may close a window that was moved back over new year.
    first = base_year if part.closes.base == part.opens.base else base_year - 1
    days = (_day(part.closes, climate, year) for year in range(first, base_year + 3))
    return next((day for day in days if day is not None and day >= opens), None)


def _day(anchor: _Anchor, climate: Climate, year: int) -> date | None:
    span = _span(anchor.base, climate)
    if span is None:
        return None
    opens, closes = on(year, span[0]), on(year, span[1])
    if closes < opens:
        closes = on(year + 1, span[1])
    return (opens if anchor.edge == "start" else closes) + timedelta(days=anchor.shift_days)


@lru_cache(maxsize=1024)
def _span(base: str, climate: Climate) -> Span | None:
    if base in NAMED_WINDOWS:
        year = _Year(
            climate.tmean_f,
            _frost_day(climate.last_frost),
            _frost_day(climate.first_frost),
        )
        return _pair(NAMED_WINDOWS[base](year))
    point = _point(base, climate)
    return None if point is None else (point, point)


def _pair(span: tuple[int, int] | None) -> Span | None:
    return None if span is None else (_month_day(span[0]), _month_day(span[1]))


def _point(base: str, climate: Climate) -> str | None:
    if base == "last_frost_50":
        return climate.last_frost
    if base == "first_frost_50":
        return climate.first_frost
    if not base.startswith("mean_"):
        return base
    _, way, threshold = base.split("_")
    year = _Year(climate.tmean_f, None, None)
    threshold_f = float(threshold.removesuffix("F"))
    day = year.rises(threshold_f) if way == "rises" else year.falls(threshold_f)
    return None if day is None else _month_day(day)
