"""Basins, pumps, filters and the water that leaves them.

US customary: feet, gallons, gallons a minute, psi. Unplug and lock out a pump before hands go in;
wiring near water is for a licensed electrician; local code comes first.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

from landscape_care.almanac.bounds import check, check_not_negative, check_positive, check_whole
from landscape_care.almanac.evapotranspiration import saturation_vapour_pressure_kpa

GALLONS_PER_FT3 = 1728 / 231
GALLONS_PER_INCH_FT2 = GALLONS_PER_FT3 / 12
# FAO-56 Table 12: open water under two metres deep.
OPEN_WATER = 1.05
# Common practice: eight to ten psi over the clean gauge.
BACKWASH_RISE_PSI = 8.0
LEAK_SHARE = 1.5
LB_PER_GALLON = 8.34
# gal/min for each ft² of sand, high rate: design, and the most (NSF/ANSI 50 practice).
SAND_DESIGN_RATE, SAND_MOST_RATE = 15.0, 20.0
SHORTEST_DRY_SPELL_DAYS = 3
# lb/h for each ft² and inHg, times the latent heat: still air, and more for each mph of wind.
CARRIER_WIND = (95.0, 37.4)
SHELTERED_WIND = (69.4, 30.8)

_INHG_PER_KPA = 0.2952998
_BTU_LB_PER_MJ_KG = 429.9226
_KW_PER_HP = 0.7457


def round_basin_gal(diameter_ft: float, depth_ft: float) -> float:
    """Return the water in a round basin, gal."""
    check_positive("diameter_ft", diameter_ft)
    check_positive("depth_ft", depth_ft)
    return math.pi * diameter_ft**2 / 4 * depth_ft * GALLONS_PER_FT3


def rectangular_basin_gal(length_ft: float, width_ft: float, *, depth_ft: float) -> float:
    """Return the water in a basin with four straight sides, gal."""
    check_positive("length_ft", length_ft)
    check_positive("width_ft", width_ft)
    check_positive("depth_ft", depth_ft)
    return length_ft * width_ft * depth_ft * GALLONS_PER_FT3


def turnover_gpm(gallons: float, hours: float = 1) -> float:
    """Return the flow that moves all the water once in so many hours, gal/min.

    Common practice: an hour for an ornamental basin, one to two with koi.
    """
    check_positive("gallons", gallons)
    check("hours", hours, 0.1, 48)
    return gallons / hours / 60


def water_hp(gallons_per_minute: float, head_ft: float) -> float:
    """Return the power given to the water, hp: gpm · ft / 3960."""
    check_not_negative("gallons_per_minute", gallons_per_minute)
    check_not_negative("head_ft", head_ft)
    return gallons_per_minute * head_ft / 3960


def brake_hp(gallons_per_minute: float, head_ft: float, *, pump_efficiency: float) -> float:
    """Return the power the pump shaft takes, hp."""
    check("pump_efficiency", pump_efficiency, 0.05, 1)
    return water_hp(gallons_per_minute, head_ft) / pump_efficiency


def energy_kwh(brake_hp: float, hours: float, *, motor_efficiency: float) -> float:
    """Return the energy a pump motor uses in so many hours, kWh."""
    check_not_negative("brake_hp", brake_hp)
    check_not_negative("hours", hours)
    check("motor_efficiency", motor_efficiency, 0.05, 1)
    return brake_hp * _KW_PER_HP / motor_efficiency * hours


def filter_rate_gpm_ft2(gallons_per_minute: float, filter_area_ft2: float) -> float:
    """Return the flow through each square foot of sand; 15 is a design rate, 20 the usual limit."""
    check_not_negative("gallons_per_minute", gallons_per_minute)
    check_positive("filter_area_ft2", filter_area_ft2)
    return gallons_per_minute / filter_area_ft2


def backwash_gallons(gallons_per_minute: float, minutes: float = 2.5, *, rinse_minutes: float = 0.5) -> float:
    """Return the water a backwash and the rinse after it send away, gal.

    Common practice: two to three minutes, then half a minute of rinse.
    """
    check_not_negative("gallons_per_minute", gallons_per_minute)
    check("minutes", minutes, 0, 30)
    check("rinse_minutes", rinse_minutes, 0, 10)
    return gallons_per_minute * (minutes + rinse_minutes)


def backwash_due(pressure_psi: float, clean_psi: float) -> bool:
    """Tell whether a filter gauge has risen far enough over its clean reading, psi."""
    check("pressure_psi", pressure_psi, 0, 100)
    check("clean_psi", clean_psi, 0, 60)
    return pressure_psi >= clean_psi + BACKWASH_RISE_PSI


def evaporation_gal_day(eto_in: float, area_ft2: float) -> float:
    """Return what open water loses to the air, gal over the span of the ETo given in inches.

    1.05 · ETo, FAO-56 Table 12 for water under two metres deep.
    """
    check("eto_in", eto_in, 0, 200)
    check_not_negative("area_ft2", area_ft2)
    return OPEN_WATER * eto_in * area_ft2 * GALLONS_PER_INCH_FT2


def evaporation_carrier_lb_h(
    area_ft2: float,
    water_f: float,
    *,
    vapour_pressure_kpa: float,
    wind_mph: float,
    wind_factors: tuple[float, float] = CARRIER_WIND,
) -> float:
    """Return what open water loses to the air, lb/h: A (pw − pa) (a + b V) / Y.

    Carrier's form as in the ASHRAE handbook; pressures in inHg, wind in mph, latent heat Y in
    Btu/lb. Never below zero: dew adds nothing.
    """
    check_not_negative("area_ft2", area_ft2)
    check("water_f", water_f, 32, 130)
    check("vapour_pressure_kpa", vapour_pressure_kpa, 0, 15)
    check("wind_mph", wind_mph, 0, 100)
    water_c = (water_f - 32) / 1.8
    deficit_inhg = (saturation_vapour_pressure_kpa(water_c) - vapour_pressure_kpa) * _INHG_PER_KPA
    latent_btu_lb = (2.501 - 0.002361 * water_c) * _BTU_LB_PER_MJ_KG
    still, moving = _pair("wind_factors", wind_factors)
    return max(0.0, area_ft2 * deficit_inhg * (still + moving * wind_mph) / latent_btu_lb)


def _pair(field: str, values: Any) -> tuple[float, float]:
    if not isinstance(values, tuple | list) or len(values) != 2:
        raise ValueError(f"{field} is {values!r}: it must be two numbers")
    for value in values:
        check(field, value, 0, 1000)
    return values[0], values[1]


def bleed_gal(evaporation_gal: float, cycles_of_concentration: float) -> float:
    """Return the water to let go so that salts stay at so many times the supply, gal: E / (COC − 1)."""
    check_not_negative("evaporation_gal", evaporation_gal)
    check("cycles_of_concentration", cycles_of_concentration, 1.05, 20)
    return evaporation_gal / (cycles_of_concentration - 1)


def carrier_gal_day(pounds_per_hour: float) -> float:
    """Return a loss in lb/h as gallons a day; a gallon of water weighs 8.34 lb."""
    check_not_negative("pounds_per_hour", pounds_per_hour)
    return pounds_per_hour * 24 / LB_PER_GALLON


def make_up_gal(
    evaporation_gal: float, splash_gal: float = 0, *, cycles_of_concentration: float = 3
) -> float:
    """Return the water a basin takes to stay full and fresh, gal: evaporation + splash + bleed.

    What splashes out carries salt away too, so the bleed is less by it.
    """
    check_not_negative("splash_gal", splash_gal)
    bleed = max(0.0, bleed_gal(evaporation_gal, cycles_of_concentration) - splash_gal)
    return evaporation_gal + splash_gal + bleed


def flow_for_filter_gpm(filter_area_ft2: float, gallons_per_minute_ft2: float = SAND_DESIGN_RATE) -> float:
    """Return the flow that suits a sand filter, gal/min: 15 for each square foot, 20 at the most."""
    check_positive("filter_area_ft2", filter_area_ft2)
    check("gallons_per_minute_ft2", gallons_per_minute_ft2, 1, 25)
    return filter_area_ft2 * gallons_per_minute_ft2


@dataclass(frozen=True)
class LevelLoss:
    """What a basin lost between two readings of its level, and whether a leak is suspected."""

    loss_in: float
    days: int
    is_leak_suspected: bool


def level_loss(levels: Sequence[tuple[date, float]], eto_in: float) -> LevelLoss:
    """Return what a basin lost over a dry spell with its auto-fill closed, inches.

    Levels are days with the depth of water under the mark; `eto_in` is the ETo from the first
    reading to the last. A fill between readings hides a loss, so rises are refused.
    """
    days = [day for day, _ in levels]
    if len(levels) < 2 or days != sorted(set(days)):
        raise ValueError(f"levels is {levels!r}: give at least two readings on days in order")
    for _, below_in in levels:
        check("below_in", below_in, 0, 240)
    for (_, before_in), (day, after_in) in pairwise(levels):
        if after_in < before_in:
            raise ValueError(f"levels rise on {day}: give the readings since the last fill or rain")
    loss_in, span = levels[-1][1] - levels[0][1], (days[-1] - days[0]).days
    return LevelLoss(loss_in, span, leak_suspected(loss_in, eto_in, dry_days=span))


def leak_suspected(loss_in: float, eto_in: float, *, dry_days: int) -> bool:
    """Tell whether a basin lost more than half again what the air took over a dry spell.

    Loss and ETo in inches over the whole spell, at least three days long; a shorter one proves
    nothing. Common practice.
    """
    check("loss_in", loss_in, 0, 240)
    check("eto_in", eto_in, 0, 200)
    check_whole("dry_days", dry_days, 0, 366)
    return dry_days >= SHORTEST_DRY_SPELL_DAYS and loss_in > LEAK_SHARE * OPEN_WATER * eto_in
