"""The water in the ground of a zone day by day, and what that asks of the controller for two weeks.

FAO Irrigation and Drainage Paper 56, chapter 8: depletion of the root zone (equation 85), kept
between nothing and all that the roots can hold (equation 82); roots that find little take less
(equation 84). Inches over the area.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from landscape_care.almanac.climate import DAYS_IN_MONTH, Climate, irrigation_eto_in_on
from landscape_care.care.observations import DayObserved, eto_by_extremes_in, with_eto
from landscape_care.care.weather_limits import Ahead, DayAhead
from landscape_care.trades.irrigation import ZoneNeed
from landscape_care.trades.kinds import Zone

FORTNIGHT_DAYS = 14
LOOK_BACK_DAYS = 30
# Of a day's rain, half of what exceeds 0.2 in reaches the roots (common practice).
RAIN_LOST_IN, RAIN_SHARE = 0.2, 0.5
# A controller's seasonal adjust is set in steps.
STEP_PERCENT = 5
Source = Literal["measured", "forecast", "usual"]


@dataclass(frozen=True, slots=True)
class DayWater:
    """What a day takes and gives, inches, and whether that is measured, forecast or the usual one."""

    day: date
    eto_in: float
    rain_in: float
    source: Source


@dataclass(frozen=True, slots=True)
class Adjust:
    """What to set the seasonal adjust of a zone to for a fortnight, with what it rests on.

    `measured_days` and `bridged_days` lie behind, `forecast_days` and `usual_days` ahead.
    """

    tag: str
    percent: int
    depletion_in: float
    allowed_in: float
    measured_days: int
    bridged_days: int
    forecast_days: int
    usual_days: int


def days_of_water(
    observed: Mapping[date, DayObserved], climate: Climate, *, first: date, last: date
) -> list[DayWater]:
    """Each day from first to last as measured; a missing one as it usually is."""
    days = (first + timedelta(count) for count in range((last - first).days + 1))
    return [_day_of_water(day, observed.get(day), climate) for day in days]


def _day_of_water(day: date, seen: DayObserved | None, climate: Climate) -> DayWater:
    if seen is not None:
        return DayWater(day, with_eto(seen, climate), seen.rain_in, "measured")
    return usual_day(day, climate)


def usual_day(day: date, climate: Climate) -> DayWater:
    """What a day usually takes and gives at a place."""
    usual_rain_in = climate.rain_in[day.month - 1] / DAYS_IN_MONTH[day.month - 1]
    return DayWater(day, irrigation_eto_in_on(climate, day), usual_rain_in, "usual")


def coming_water(ahead: Ahead, climate: Climate, *, first: date) -> list[DayWater]:
    """Each day of the fortnight from a day on as forecast; what is not forecast as it usually is."""
    days = (first + timedelta(count) for count in range(FORTNIGHT_DAYS))
    return [_coming_day(ahead.get(day, DayAhead(day)), climate) for day in days]


def _coming_day(ahead: DayAhead, climate: Climate) -> DayWater:
    usual = usual_day(ahead.day, climate)
    eto_in, rain_in = usual.eto_in, usual.rain_in
    if ahead.tmax_f is not None and ahead.tmin_f is not None and ahead.tmin_f <= ahead.tmax_f:
        eto_in = eto_by_extremes_in(ahead.day, (ahead.tmin_f, ahead.tmax_f), climate)
    if ahead.rain_in is not None:
        rain_in = ahead.rain_in
    told = (eto_in, rain_in) != (usual.eto_in, usual.rain_in)
    return DayWater(ahead.day, eto_in, rain_in, "forecast" if told else "usual")


def depletions(need: ZoneNeed, days: Sequence[DayWater], *, given_in_per_day: float) -> list[float]:
    """Depletion of the root zone at the end of each day, inches; it begins half way to the allowed one."""
    left, found = allowed_in(need) / 2, []
    for each in days:
        taken_in = each.eto_in * crop_factor(need) * stress(need, left)
        after = left + taken_in - effective_rain_in(each.rain_in) - given_in_per_day
        left = min(max(after, 0.0), held_in(need))
        found.append(left)
    return found


def stress(need: ZoneNeed, depletion_in: float) -> float:
    """Share of what they want that roots still find, 1 down to the allowed depletion (equation 84)."""
    beyond_in = held_in(need) - allowed_in(need)
    return min(max((held_in(need) - depletion_in) / beyond_in, 0.0), 1.0) if beyond_in > 0 else 1.0


def adjust(
    zone: Zone, need: ZoneNeed, days: Sequence[DayWater], *, coming: Sequence[DayWater]
) -> Adjust | None:
    """The seasonal adjust for the coming days against what is set; None where nothing is set.

    The ground ends them as it usually is: half way to the depletion that is allowed.
    """
    given_in = set_in_per_day(zone, need)
    if given_in <= 0:
        return None
    left = depletions(need, days, given_in_per_day=given_in)[-1]
    # What roots and ground cannot hold of one day's rain runs through.
    rain_in = sum(min(effective_rain_in(each.rain_in), held_in(need)) for each in coming)
    taken_in = sum(each.eto_in for each in coming) * crop_factor(need)
    wanted_in = taken_in - rain_in + left - allowed_in(need) / 2
    percent = 100 * max(0.0, wanted_in) / (given_in * len(coming))
    measured, forecast = _count(days, "measured"), _count(coming, "forecast")
    return Adjust(
        zone.tag,
        STEP_PERCENT * round(percent / STEP_PERCENT),
        round(left, 2),
        round(allowed_in(need), 2),
        measured,
        len(days) - measured,
        forecast,
        len(coming) - forecast,
    )


def _count(days: Sequence[DayWater], source: Source) -> int:
    return sum(each.source == source for each in days)


def set_in_per_day(zone: Zone, need: ZoneNeed) -> float:
    """Depth that what is set gives the roots on an average day, inches."""
    weekly_minutes = (zone.set_minutes or 0) * len(zone.set_weekdays)
    return weekly_minutes / need.minutes_for(1.0) / 7


def crop_factor(need: ZoneNeed) -> float:
    """Share of reference evapotranspiration that the zone takes."""
    return need.plant_factor * need.microclimate


def allowed_in(need: ZoneNeed) -> float:
    """Depletion that is allowed before the next watering, inches."""
    return need.held_in


def held_in(need: ZoneNeed) -> float:
    """All that the roots can draw on, inches (equation 82)."""
    return need.held_in / need.depletion


def effective_rain_in(rain_in: float) -> float:
    """The part of a day's rain that reaches the roots, inches; common practice."""
    return max(0.0, rain_in - RAIN_LOST_IN) * RAIN_SHARE
