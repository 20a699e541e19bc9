"""The water in the ground of a zone day by day, and what that asks of the controller for two weeks.

FAO Irrigation and Drainage Paper 56, chapter 8: depletion of the root zone (equation 85), kept
between nothing and all that the roots can hold (equation 82). Inches over the area.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from landscape_care.almanac.climate import DAYS_IN_MONTH, Climate, irrigation_eto_in_on
from landscape_care.care.observations import DayObserved, with_eto
from landscape_care.trades.irrigation import ZoneNeed
from landscape_care.trades.kinds import Zone

FORTNIGHT_DAYS = 14
LOOK_BACK_DAYS = 30
# Of a day's rain, half of what exceeds 0.2 in reaches the roots (common practice).
RAIN_LOST_IN, RAIN_SHARE = 0.2, 0.5
# A controller's seasonal adjust is set in steps.
STEP_PERCENT = 5


@dataclass(frozen=True, slots=True)
class DayWater:
    """What a day took and gave, inches, and whether it was measured or is the usual one."""

    day: date
    eto_in: float
    rain_in: float
    measured: bool


@dataclass(frozen=True, slots=True)
class Adjust:
    """What to set the seasonal adjust of a zone to for a fortnight, with what it rests on."""

    tag: str
    percent: int
    depletion_in: float
    allowed_in: float
    measured_days: int
    bridged_days: int


def days_of_water(
    observed: Mapping[date, DayObserved], climate: Climate, *, first: date, last: date
) -> list[DayWater]:
    """Each day from first to last as measured; a missing one as it usually is."""
    days = (first + timedelta(count) for count in range((last - first).days + 1))
    return [_day_of_water(day, observed.get(day), climate) for day in days]


def _day_of_water(day: date, seen: DayObserved | None, climate: Climate) -> DayWater:
    if seen is not None:
        return DayWater(day, with_eto(seen, climate), seen.rain_in, measured=True)
    usual_rain_in = climate.rain_in[day.month - 1] / DAYS_IN_MONTH[day.month - 1]
    return DayWater(day, irrigation_eto_in_on(climate, day), usual_rain_in, measured=False)


def depletions(need: ZoneNeed, days: Sequence[DayWater], *, given_in_per_day: float) -> list[float]:
    """Depletion of the root zone at the end of each day, inches; it begins half way to the allowed one."""
    left, found = allowed_in(need) / 2, []
    for each in days:
        after = left + each.eto_in * crop_factor(need) - effective_rain_in(each.rain_in) - given_in_per_day
        left = min(max(after, 0.0), held_in(need))
        found.append(left)
    return found


def adjust(zone: Zone, need: ZoneNeed, days: Sequence[DayWater], *, coming_eto_in: float) -> Adjust | None:
    """The seasonal adjust for the coming fortnight against what is set; None where nothing is set.

    The ground ends the fortnight as it usually is: half way to the depletion that is allowed.
    """
    given_in = set_in_per_day(zone, need)
    if given_in <= 0:
        return None
    left = depletions(need, days, given_in_per_day=given_in)[-1]
    wanted_in = coming_eto_in * crop_factor(need) + left - allowed_in(need) / 2
    percent = 100 * max(0.0, wanted_in) / (given_in * FORTNIGHT_DAYS)
    measured = sum(each.measured for each in days)
    return Adjust(
        zone.tag,
        STEP_PERCENT * round(percent / STEP_PERCENT),
        round(left, 2),
        round(allowed_in(need), 2),
        measured,
        len(days) - measured,
    )


def usual_eto_in(climate: Climate, first: date) -> float:
    """Reference evapotranspiration that is usual in the fortnight from a day on, inches."""
    return sum(irrigation_eto_in_on(climate, first + timedelta(count)) for count in range(FORTNIGHT_DAYS))


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
