"""The water of a garden's zones by month and year, from its as-built record; gallons, January first."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from landscape_care.almanac.climate import DAYS_IN_MONTH, Climate
from landscape_care.trades.irrigation import ControllerProgram
from landscape_care.trades.kinds import AsBuilt, Controller
from landscape_care.trades.water_year import gallons_needed
from landscape_care.trades.zone_needs import (
    Needs,
    controllers_on,
    eto_in_per_day,
    needs_of,
    program_on_supply,
    water_is_off,
)

_COMMON_YEAR = 2001

Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class ZoneWater:
    """What a zone needs and what its programs give it by month, gal.

    What it needs counts a quarter of the usual rain; its programs do not, so that rain is saved when it
    falls. Months in which the water is off for the winter take part with the days on which it runs.
    """

    tag: str
    controller: str
    needed_by_month_gal: tuple[float, ...]
    set_by_month_gal: tuple[float, ...]

    @property
    def needed_in_a_year_gal(self) -> float:
        """What the zone needs in a usual year, gal."""
        return sum(self.needed_by_month_gal)

    @property
    def set_in_a_year_gal(self) -> float:
        """What its programs give in a usual year, gal."""
        return sum(self.set_by_month_gal)


def garden_water(as_built: AsBuilt, climate: Climate, day: date) -> tuple[ZoneWater, ...]:
    """Return the water of a usual year for each zone that can be computed as the garden stands on a day.

    Need by ETo, plant factor, microclimate and uniformity (`gallons_needed`); what is set by the month's
    mean program on the shared supply.
    """
    return tuple(
        water
        for controller in controllers_on(as_built, day)
        for water in _of_controller(as_built, controller, climate, day=day)
    )


def total_of(zones: tuple[ZoneWater, ...]) -> ZoneWater:
    """Return the water of several zones together."""
    needed = [sum(months) for months in zip(*(zone.needed_by_month_gal for zone in zones), strict=True)]
    given = [sum(months) for months in zip(*(zone.set_by_month_gal for zone in zones), strict=True)]
    return ZoneWater("", "", tuple(needed), tuple(given))


def _of_controller(
    as_built: AsBuilt, controller: Controller, climate: Climate, *, day: date
) -> Iterator[ZoneWater]:
    needs = needs_of(as_built, controller, day)
    share = np.array(_shares_with_water(climate))
    needed = gallons_needed(needs.zones, climate.irrigation_eto_in, climate.rain_in) * share
    given = _set(as_built, controller, climate, needs=needs, day=day) * share
    for tag, needed_gal, given_gal in zip(needs.tags, needed.tolist(), given.tolist(), strict=True):
        yield ZoneWater(tag, controller.tag, tuple(needed_gal), tuple(given_gal))


def _set(as_built: AsBuilt, controller: Controller, climate: Climate, *, needs: Needs, day: date) -> Values:
    """What the mean program of each month gives, gal: a row for each zone."""
    found = np.zeros((len(needs.zones), 12))
    row_of = {zone.station: row for row, zone in enumerate(needs.zones)}
    for month, days in enumerate(DAYS_IN_MONTH, 1):
        eto_in = eto_in_per_day(climate, date(_COMMON_YEAR, month, 1))
        made = program_on_supply(as_built, controller, needs, day=day, eto_in_per_day=eto_in)
        for station, gallons in _weekly(made):
            found[row_of[station], month - 1] = gallons * days / 7
    return found


def _weekly(made: ControllerProgram) -> Iterator[tuple[int, float]]:
    for zone in made.zones:
        yield zone.station, zone.gallons_per_week


@lru_cache(maxsize=256)
def _shares_with_water(climate: Climate) -> tuple[float, ...]:
    """The share of each month's days on which the water is not off for the winter."""
    first = date(_COMMON_YEAR, 1, 1)
    year = [first + timedelta(count) for count in range(365)]
    on = [[not water_is_off(climate, day) for day in year if day.month == month] for month in range(1, 13)]
    return tuple(sum(days) / len(days) for days in on)
