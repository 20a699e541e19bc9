"""A usual year as a picture: highs and lows month by month, and the windows that are computed from it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils import dates
from django.utils.translation import gettext

from landscape_care.almanac.anchors import NAMED_WINDOWS, windows_in_year
from landscape_care.almanac.climate import Climate
from landscape_care.pages import charts, seasons
from landscape_care.pages.season_charts import Figure

WIDTH, NARROWEST = 480.0, 3.0


@dataclass(frozen=True)
class WindowLine:
    """One named window of a year: its days, and bars where they lie in it; no days where it never opens."""

    name: str
    spans: tuple[tuple[date, date], ...]
    bars: tuple[tuple[float, float], ...]


def temperatures(place: Climate) -> Figure:
    """Usual highs and lows, °F."""
    labels = tuple(str(dates.MONTHS_3[month]).capitalize() for month in range(1, 13))
    series = ((gettext("High"), place.tmax_f), (gettext("Low"), place.tmin_f))
    return Figure(
        gettext("Usual highs and lows"), charts.lines(labels, series, from_zero=False), series, labels
    )


def water(place: Climate) -> Figure:
    """Evapotranspiration and rain, inches a month."""
    labels = tuple(str(dates.MONTHS_3[month]).capitalize() for month in range(1, 13))
    series = ((gettext("Evapotranspiration"), place.eto_in), (gettext("Rain"), place.rain_in))
    return Figure(
        gettext("What the air takes and the sky gives"), charts.lines(labels, series), series, labels
    )


def windows(place: Climate, year: int) -> list[WindowLine]:
    """Every named window of a year, in the order in which it opens."""
    lines = [_line(name, place, year) for name in NAMED_WINDOWS]
    return sorted(lines, key=lambda line: (not line.spans, line.spans))


def ticks() -> list[float]:
    """Where the months begin."""
    return [round(_x(date(2001, month, 1)), 1) for month in range(1, 13)]


def _line(name: str, place: Climate, year: int) -> WindowLine:
    spans = tuple((opens, closes) for opens, closes in windows_in_year(name, place, year))
    said = str(seasons.NAMES[name])
    return WindowLine(said[:1].upper() + said[1:], spans, tuple(_bars(spans, year)))


def _bars(spans: tuple[tuple[date, date], ...], year: int) -> Iterator[tuple[float, float]]:
    first, last = date(year, 1, 1), date(year, 12, 31)
    for opens, closes in spans:
        start, end = max(opens, first), min(closes, last)
        if start <= end:
            x = _x(start)
            yield round(x, 1), round(max(NARROWEST, _x(end + timedelta(1)) - x), 1)


def _x(day: date) -> float:
    start = date(day.year, 1, 1)
    # The day after the last of December is the right edge, not the left one again.
    return (day - start).days / 366 * WIDTH
