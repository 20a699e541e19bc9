"""A year of a controller: its few settings, and the water each zone takes by month.

Inches and gallons; monthly values January first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta

import numpy as np
import numpy.typing as npt

from landscape_care.almanac.bounds import check
from landscape_care.almanac.climate import DAYS_IN_MONTH, mean_curve, smooth_days
from landscape_care.trades.irrigation import (
    ONLY_ONE_VALVE,
    ControllerProgram,
    Supply,
    ZoneNeed,
    controller_program,
    settings_per_year,
)
from landscape_care.trades.water_need import GALLONS_PER_INCH_FT2, RAIN_CREDIT

USUAL_BAND_POINTS = 12.5
NO_RAIN = (0.0,) * 12

_COMMON_YEAR = 2001

Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Hours:
    """When a controller may water: weekdays (0 is Monday), from when to when, and the supply."""

    weekdays: tuple[int, ...]
    opens: time
    closes: time
    supply: Supply = ONLY_ONE_VALVE


@dataclass(frozen=True)
class YearSetting:
    """A program and the yearly days it holds, MM-DD, with the setting in percent of the peak."""

    first_day: str
    last_day: str
    percent: float
    program: ControllerProgram


def programs_of_a_year(
    zones: Sequence[ZoneNeed],
    eto_by_month: Sequence[float],
    hours: Hours,
    *,
    band_points: float = USUAL_BAND_POINTS,
    rain_by_month: Sequence[float] | None = None,
) -> tuple[YearSetting, ...]:
    """Return the fewest programs of a year that stay within a band of the daily need, points of the peak.

    Each is made for the middle of the needs it covers, with the mean daily rain of its days.
    """
    _check_months("eto_by_month", eto_by_month)
    _check_months("rain_by_month", NO_RAIN if rain_by_month is None else rain_by_month)
    daily = mean_curve(tuple(np.divide(eto_by_month, DAYS_IN_MONTH)))
    rain = smooth_days(rain_by_month) if rain_by_month is not None else np.zeros_like(daily)
    return tuple(
        YearSetting(
            setting.first_day,
            setting.last_day,
            setting.percent,
            controller_program(
                zones,
                eto_in_per_day=setting.percent / 100 * float(daily.max()),
                allowed_weekdays=hours.weekdays,
                window_opens=hours.opens,
                window_closes=hours.closes,
                rain_in_per_day=float(rain[days_of(setting.first_day, setting.last_day)].mean()),
                supply=hours.supply,
            ),
        )
        for setting in settings_per_year(eto_by_month, band_points)
    )


def gallons_set(settings: Sequence[YearSetting]) -> dict[int, Values]:
    """Return what the programs of a year give each station by month, gal."""
    months = np.repeat(np.arange(12), DAYS_IN_MONTH)
    found: dict[int, Values] = {}
    for setting in settings:
        days = np.bincount(months[days_of(setting.first_day, setting.last_day)], minlength=12)
        for zone in setting.program.zones:
            so_far = found.setdefault(zone.station, np.zeros(12))
            so_far += days * zone.gallons_per_week / 7
    return found


def gallons_needed(
    zones: Sequence[ZoneNeed],
    eto_by_month: Sequence[float],
    rain_by_month: Sequence[float] | None = None,
) -> Values:
    """Return what zones need by month so that their driest spot has enough, gal: one row a zone.

    (ETo · plant factor · microclimate − a quarter of the rain) · ft² · 0.6234, times the run time
    multiplier of sprays or over the emission uniformity of drip.
    """
    _check_months("eto_by_month", eto_by_month)
    _check_months("rain_by_month", NO_RAIN if rain_by_month is None else rain_by_month)
    if not zones:
        return np.zeros((0, 12))
    rain = np.zeros(12) if rain_by_month is None else np.asarray(rain_by_month, dtype=np.float64)
    thirst = np.array([zone.plant_factor * zone.microclimate for zone in zones])
    net_in = np.maximum(np.outer(thirst, eto_by_month) - RAIN_CREDIT * rain, 0)
    gross = np.array([_gallons_per_inch(zone) for zone in zones])
    needed: Values = net_in * gross[:, None]
    return needed


def days_of(first_day: str, last_day: str) -> npt.NDArray[np.intp]:
    """Return the places in a common year of the days from MM-DD to MM-DD, over new year if need be."""
    first, last = (_place(month_day) for month_day in (first_day, last_day))
    return np.arange(first, last + 1 if last >= first else last + 366) % 365


def _check_months(field: str, values: Sequence[float]) -> None:
    if len(values) != 12:
        raise ValueError(f"{field} has {len(values)} values: give one a month, twelve")
    for value in values:
        check(field, value, 0, 120)


def _gallons_per_inch(zone: ZoneNeed) -> float:
    """Return what a zone must be given for a net inch, gal: by its own run time and flow."""
    return zone.minutes_for(1) * zone.flow_gpm if zone.is_point else zone.minutes_for(1) * _spray_gpm(zone)


def _spray_gpm(zone: ZoneNeed) -> float:
    # A precipitation rate measured on the ground counts for the bed, whatever the flow.
    return zone.rate_in_h / 60 * zone.area_ft2 * GALLONS_PER_INCH_FT2


def _place(month_day: str) -> int:
    month, day = map(int, month_day.split("-"))
    return (date(_COMMON_YEAR, month, day) - date(_COMMON_YEAR, 1, 1)) // timedelta(1)
