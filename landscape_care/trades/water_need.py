"""How much water planted ground needs, and how long a valve runs to give it.

US customary: inches, square feet, gallons, minutes. ETo is the reference evapotranspiration.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from landscape_care.almanac.bounds import check, check_not_negative, check_positive, check_whole
from landscape_care.almanac.climate import DAYS_IN_MONTH, DAYS_IN_YEAR, mean_curve
from landscape_care.trades.stretches import fewest_stretches

GALLONS_PER_INCH_FT2 = 1728 / 231 / 12
IN_H_FT2_PER_GPM = 60 / GALLONS_PER_INCH_FT2
# EPA WaterSense water budget: the printed factor, and the share of the peak month's rain counted.
WATERSENSE_GALLONS = 0.6233
WATERSENSE_ALLOWED_SHARE = 0.70
RAIN_CREDIT = 0.25
# No controller splits a run further: every minute of a day.
MOST_CYCLES = 1440

# WUCOLS water classes; the factors lie in its ranges (under 0.10, 0.10-0.30, 0.40-0.60,
# 0.70-0.90), with 0.3 for low as ANSI/ASABE S623 has for desert plants. Both from memory.
PLANT_FACTORS: Mapping[str, float] = MappingProxyType({"VL": 0.1, "L": 0.3, "M": 0.5, "H": 0.8})


@dataclass(frozen=True)
class Soil:
    """What a soil texture holds and takes in: in/ft, in/h, and inches on the surface before runoff."""

    available_in_per_ft: float
    infiltration_in_h: float
    surface_storage_in: float


# Irrigation Association, controller testing protocol, rounded, slopes to 3 %; from memory.
SOILS: Mapping[str, Soil] = MappingProxyType(
    {
        "sand": Soil(0.7, 0.60, 0.40),
        "loamy_sand": Soil(1.0, 0.50, 0.36),
        "sandy_loam": Soil(1.4, 0.40, 0.33),
        "loam": Soil(2.0, 0.35, 0.30),
        "clay_loam": Soil(2.2, 0.20, 0.26),
        "clay": Soil(2.0, 0.10, 0.20),
    }
)


@dataclass(frozen=True)
class CycleAndSoak:
    """A watering split into cycles so that none runs off, with the pause in which it soaks in."""

    cycles: int
    cycle_minutes: float
    soak_minutes: float


@dataclass(frozen=True)
class SeasonalSetting:
    """A seasonal adjustment in percent of the peak, and the yearly days it holds, MM-DD."""

    first_day: str
    last_day: str
    percent: float


def soil(texture: str) -> Soil:
    """Return the soil of a texture such as 'sandy_loam'."""
    if texture not in SOILS:
        raise ValueError(f"soil is {texture!r}: it must be one of {', '.join(SOILS)}")
    return SOILS[texture]


def plant_factor(water_class: str) -> float:
    """Return the share of ETo a water class VL, L, M or H needs to look well."""
    if water_class not in PLANT_FACTORS:
        raise ValueError(f"water_class is {water_class!r}: it must be one of {', '.join(PLANT_FACTORS)}")
    return PLANT_FACTORS[water_class]


def landscape_coefficient(species: float, density: float = 1.0, *, microclimate: float = 1.0) -> float:
    """Return the share of ETo a planting needs: ks · kd · kmc, UC ANR landscape coefficient method."""
    check("species", species, 0.01, 1.0)
    check("density", density, 0.5, 1.3)
    check("microclimate", microclimate, 0.5, 1.4)
    return species * density * microclimate


def canopy_area_ft2(diameter_ft: float) -> float:
    """Return the ground under a round canopy, ft²."""
    check("diameter_ft", diameter_ft, 0.1, 150)
    return math.pi * diameter_ft**2 / 4


def gallons_per_day(eto_in: float, plant_factor: float, *, area_ft2: float, efficiency: float = 1.0) -> float:
    """Return the water a planting needs on a day of so much ETo, gal: 0.6234 · ETo · PF · ft² / eff."""
    check("eto_in", eto_in, 0, 2)
    check("plant_factor", plant_factor, 0, 1.5)
    check_not_negative("area_ft2", area_ft2)
    check("efficiency", efficiency, 0.2, 1)
    return eto_in * plant_factor * area_ft2 * GALLONS_PER_INCH_FT2 / efficiency


def precipitation_rate_in_h(gallons_per_minute: float, area_ft2: float) -> float:
    """Return the depth sprays put down, in/h: 96.25 · gpm / ft² (the trade prints 96.3)."""
    check_not_negative("gallons_per_minute", gallons_per_minute)
    check_positive("area_ft2", area_ft2)
    return IN_H_FT2_PER_GPM * gallons_per_minute / area_ft2


def precipitation_rate_from_spacing(head_gpm: float, row_ft: float, *, head_ft: float) -> float:
    """Return the depth sprays put down from one head's flow and the spacing of rows and heads, in/h."""
    check_not_negative("head_gpm", head_gpm)
    check("row_ft", row_ft, 0.01, 1000)
    check("head_ft", head_ft, 0.01, 1000)
    return precipitation_rate_in_h(head_gpm, row_ft * head_ft)


def scheduling_multiplier(distribution_uniformity: float) -> float:
    """Return how much longer to run so that dry spots get enough: 1 / (0.4 + 0.6 DU).

    Irrigation Association.
    """
    check("distribution_uniformity", distribution_uniformity, 0.2, 1)
    return 1 / (0.4 + 0.6 * distribution_uniformity)


def watersense_multiplier(distribution_uniformity: float) -> float:
    """Return the multiplier of the EPA WaterSense water budget, 1 / DU; for budgets, not run times."""
    check("distribution_uniformity", distribution_uniformity, 0.2, 1)
    return 1 / distribution_uniformity


def spray_minutes(net_in: float, precipitation_in_h: float, *, multiplier: float = 1.0) -> float:
    """Return the minutes to put down a depth: 60 · in / (in/h) · multiplier."""
    check("net_in", net_in, 0, 20)
    check_positive("precipitation_in_h", precipitation_in_h)
    check("multiplier", multiplier, 1, 5)
    return 60 * net_in / precipitation_in_h * multiplier


def drip_minutes(gallons: float, emitters: int, *, emitter_gph: float, uniformity: float = 1.0) -> float:
    """Return the minutes for emitters to give so many gallons: 60 · gal / (n · gph · EU)."""
    check_not_negative("gallons", gallons)
    check_whole("emitters", emitters, 1, 100_000)
    check_positive("emitter_gph", emitter_gph)
    check("uniformity", uniformity, 0.2, 1)
    return 60 * gallons / (emitters * emitter_gph * uniformity)


def share_of_need(run_minutes: float, gallons_per_minute: float, *, needed_gal: float) -> float:
    """Return the water a run brings over what a planting needs of it; 1 is just enough.

    With it one sees how badly one valve serves two plantings.
    """
    check_not_negative("run_minutes", run_minutes)
    check_not_negative("gallons_per_minute", gallons_per_minute)
    check_positive("needed_gal", needed_gal)
    return run_minutes * gallons_per_minute / needed_gal


def total_available_in(available_in_per_ft: float, root_depth_in: float) -> float:
    """Return the water a root zone holds between full and wilting, inches."""
    check("available_in_per_ft", available_in_per_ft, 0.1, 4)
    check("root_depth_in", root_depth_in, 1, 120)
    return available_in_per_ft * root_depth_in / 12


def refill_in(
    available_in_per_ft: float, root_depth_in: float, *, depletion: float, wetted_share: float = 1.0
) -> float:
    """Return the depth a watering puts back once the allowed share is used up, inches over the area."""
    check("depletion", depletion, 0.05, 0.95)
    check("wetted_share", wetted_share, 0.05, 1)
    return total_available_in(available_in_per_ft, root_depth_in) * depletion * wetted_share


def interval_days(
    available_in_per_ft: float,
    root_depth_in: float,
    *,
    depletion: float,
    need_in_per_day: float,
    wetted_share: float = 1.0,
) -> float:
    """Return the days a root zone lasts between waterings: AWC · roots · MAD · wetted share / need.

    Infinite where nothing is needed.
    """
    check("need_in_per_day", need_in_per_day, 0, 3)
    held = refill_in(available_in_per_ft, root_depth_in, depletion=depletion, wetted_share=wetted_share)
    return held / need_in_per_day if need_in_per_day else math.inf


def longest_cycle_minutes(
    precipitation_in_h: float, infiltration_in_h: float, *, surface_storage_in: float
) -> float:
    """Return the minutes until sprays run off: 60 · ASA / (PR − IR); infinite where they never do.

    Irrigation Association, controller testing protocol; from memory.
    """
    check_positive("precipitation_in_h", precipitation_in_h)
    check("infiltration_in_h", infiltration_in_h, 0.01, 20)
    check("surface_storage_in", surface_storage_in, 0, 3)
    surplus_in_h = precipitation_in_h - infiltration_in_h
    return 60 * surface_storage_in / surplus_in_h if surplus_in_h > 0 else math.inf


def cycle_and_soak(
    run_minutes: float, precipitation_in_h: float, *, infiltration_in_h: float, surface_storage_in: float
) -> CycleAndSoak:
    """Split a run into equal cycles that do not run off; the soak lets the ponded water sink in."""
    check_not_negative("run_minutes", run_minutes)
    longest = longest_cycle_minutes(
        precipitation_in_h, infiltration_in_h, surface_storage_in=surface_storage_in
    )
    if not longest or run_minutes / longest > MOST_CYCLES:
        raise ValueError(f"surface_storage_in is {surface_storage_in:g}: no cycle is short enough")
    cycles = max(1, math.ceil(run_minutes / longest - 1e-9))
    cycle_minutes = run_minutes / cycles
    if cycles == 1:
        return CycleAndSoak(1, cycle_minutes, 0.0)
    ponded_in = (precipitation_in_h - infiltration_in_h) * cycle_minutes / 60
    return CycleAndSoak(cycles, cycle_minutes, 60 * ponded_in / infiltration_in_h)


def effective_rain_in(rain_in: float, crop_et_in: float, *, usable_storage_in: float = 3.0) -> float:
    """Return the part of a month's rain that plants use, inches.

    USDA-SCS TR-21; never more than the rain or the month's need.
    """
    check("rain_in", rain_in, 0, 120)
    check("crop_et_in", crop_et_in, 0, 30)
    check("usable_storage_in", usable_storage_in, 0.75, 6)
    storage = usable_storage_in
    factor = 0.531747 + 0.295164 * storage - 0.057697 * storage**2 + 0.003804 * storage**3
    used = factor * (0.70917 * math.pow(rain_in, 0.82416) - 0.11556) * math.pow(10, 0.02426 * crop_et_in)
    return min(max(used, 0.0), rain_in, crop_et_in)


def leaching_requirement(water_ds_m: float, soil_threshold_ds_m: float) -> float:
    """Return the share of the water that must pass the roots to carry salt away: ECw / (5 ECe − ECw).

    FAO Irrigation and Drainage Paper 29, equation 9; from memory.
    """
    check("water_ds_m", water_ds_m, 0, 15)
    check("soil_threshold_ds_m", soil_threshold_ds_m, 0.5, 20)
    if 5 * soil_threshold_ds_m <= 2 * water_ds_m:
        raise ValueError(
            f"water_ds_m is {water_ds_m:g}: too salty for a soil threshold of {soil_threshold_ds_m:g} dS/m"
        )
    return water_ds_m / (5 * soil_threshold_ds_m - water_ds_m)


def gross_for_leaching_in(net_in: float, leaching_share: float) -> float:
    """Return the depth to give so that a share of it passes the roots with the salt, in: net / (1 − LR).

    FAO Irrigation and Drainage Paper 29; from memory.
    """
    check("net_in", net_in, 0, 20)
    check("leaching_share", leaching_share, 0, 0.9)
    return net_in / (1 - leaching_share)


def watersense_allowance_gal(eto_in: float, area_ft2: float) -> float:
    """Return the EPA WaterSense allowance of the peak month, gal: 70 % of the baseline; from memory."""
    return WATERSENSE_ALLOWED_SHARE * watersense_baseline_gal(eto_in, area_ft2)


def watersense_baseline_gal(eto_in: float, area_ft2: float) -> float:
    """Return the EPA WaterSense baseline of the peak month, gal: ETo · ft² · 0.6233."""
    check("eto_in", eto_in, 0, 30)
    check_not_negative("area_ft2", area_ft2)
    return eto_in * area_ft2 * WATERSENSE_GALLONS


def watersense_requirement_gal(
    eto_in: float,
    coefficient: float,
    *,
    area_ft2: float,
    distribution_uniformity: float,
    rain_in: float = 0,
) -> float:
    """Return what a hydrozone needs in the peak month by the EPA WaterSense budget, gal.

    (1/DU) (ETo · KL − 25 % of rain) ft² · 0.6233; from memory.
    """
    check("eto_in", eto_in, 0, 30)
    check("coefficient", coefficient, 0, 1.5)
    check_not_negative("area_ft2", area_ft2)
    check_not_negative("rain_in", rain_in)
    net_in = max(0.0, eto_in * coefficient - RAIN_CREDIT * rain_in)
    return watersense_multiplier(distribution_uniformity) * net_in * area_ft2 * WATERSENSE_GALLONS


def settings_per_year(eto_by_month: Sequence[float], band_points: float) -> tuple[SeasonalSetting, ...]:
    """Return the fewest seasonal settings that stay within so many points of the daily need.

    The need is the daily ETo in percent of the year's highest, straight between the mid-months;
    `eto_by_month` is in inches, January first. The first setting begins where the fewest suffice.
    """
    check("band_points", band_points, 1, 50)
    for month_in in eto_by_month:
        check("eto_by_month", month_in, 0, 40)
    if len(eto_by_month) != 12 or max(eto_by_month) <= 0:
        raise ValueError(
            f"eto_by_month is {tuple(eto_by_month)!r}: give twelve sums, none below 0, in inches"
        )
    return _settings_per_year(tuple(eto_by_month), band_points)


@lru_cache(maxsize=256)
def _settings_per_year(eto_by_month: tuple[float, ...], band_points: float) -> tuple[SeasonalSetting, ...]:
    # Every controller of a town asks for the same year.
    daily = mean_curve(tuple(np.divide(eto_by_month, DAYS_IN_MONTH)))
    percent = (100 * daily / daily.max()).tolist()

    def fits(low: float, high: float) -> bool:
        return high - low <= 2 * band_points

    runs = fewest_stretches(percent * 2, fits, span=DAYS_IN_YEAR)
    return tuple(_seasonal_setting(percent * 2, run) for run in runs)


def _seasonal_setting(percent: Sequence[float], run: range) -> SeasonalSetting:
    new_year = date(2001, 1, 1)
    first, last = (new_year + timedelta(days=index % DAYS_IN_YEAR) for index in (run.start, run.stop - 1))
    needs = percent[run.start : run.stop]
    return SeasonalSetting(f"{first:%m-%d}", f"{last:%m-%d}", (min(needs) + max(needs)) / 2)
