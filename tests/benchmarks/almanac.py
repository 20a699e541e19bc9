"""Eighteen years of evapotranspiration, ten thousand zones for a year, dusk at a thousand places.

`python -m tests.benchmarks.almanac` prints JSON lines. Evapotranspiration is timed on the days of
AZMET_MARICOPA_DAILY where that names the file, else on made-up weather; beside refet and pyet in the
same run. Dusk is timed beside astral on some of the same places.
"""

import csv
import json
import os
import statistics
import time as clocks
from collections.abc import Callable
from datetime import date, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas
import pyet
import refet
from astral import Observer, SunDirection
from astral import sun as astral_sun

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac import sun
from landscape_care.almanac.climate import climate
from landscape_care.trades.irrigation import SOILS, ZoneNeed
from landscape_care.trades.water_year import Hours, gallons_set, programs_of_a_year

DAYS, ZONES, ZONES_OF_A_CONTROLLER, PLACES, PLACES_BESIDE_ASTRAL = 6575, 10_000, 8, 1000, 20
ROUNDS = 15
LATITUDE, ELEVATION_M = 33.069, 361.0
GOAL_TIMES_ASTRAL, GOAL_SECONDS_OFF = 20, 60

Values = npt.NDArray[np.float64]


def seconds_of(work: Callable[[], Any], rounds: int = ROUNDS) -> float:
    """The median of some rounds, after one that is not counted."""
    work()
    taken = []
    for _ in range(rounds):
        start = clocks.perf_counter()
        work()
        taken.append(clocks.perf_counter() - start)
    return statistics.median(taken)


def weather() -> dict[str, Values]:
    """Daily weather by column: measured where a file is named, else made up with a fixed seed."""
    path = os.environ.get("AZMET_MARICOPA_DAILY", "")
    if path:
        with Path(path).open(encoding="utf-8") as lines:
            rows = list(csv.DictReader(lines))
        return {
            name: np.array([float(row[name]) for row in rows], dtype=np.float64)
            for name in rows[0]
            if name != "Date"
        }
    chance = np.random.default_rng(7)
    low = chance.uniform(0, 25, DAYS)
    return {
        "DOY": np.asarray(np.arange(DAYS) % 365 + 1, dtype=np.float64),
        "Tmin": low,
        "Tmax": low + chance.uniform(5, 20, DAYS),
        "Tdew": low - chance.uniform(0, 10, DAYS),
        "Srad": chance.uniform(8, 30, DAYS),
        "Wndsp": chance.uniform(0.5, 6, DAYS),
    }


def evapotranspiration() -> dict[str, Any]:
    """The days in one call, from dew point and wind at three metres, beside refet and pyet."""
    told = weather()
    vapour = 0.6108 * np.exp(17.27 * told["Tdew"] / (told["Tdew"] + 237.3))
    wind = told["Wndsp"] * (4.87 / np.log(67.8 * 3 - 5.42))
    number = told["DOY"].astype(int)

    def ours() -> Values:
        days = et.Days(told["Tmax"], told["Tmin"], vapour, told["Srad"], wind)
        return et.eto_penman_monteith_days(
            days, latitude_deg=LATITUDE, elevation_m=ELEVATION_M, day_of_year=number
        )

    def theirs() -> Values:
        found: Values = refet.Daily(
            tmin=told["Tmin"],
            tmax=told["Tmax"],
            ea=vapour,
            rs=told["Srad"],
            uz=wind,
            zw=2,
            elev=ELEVATION_M,
            lat=LATITUDE,
            doy=number,
            method="asce",
        ).eto()
        return found

    result: dict[str, Any] = {
        "what": "evapotranspiration",
        "days": len(number),
        "measured": "ETref" in told,
        "ours_ms": seconds_of(ours) * 1000,
        "refet_ms": seconds_of(theirs) * 1000,
        "rmse_to_refet_mm": float(np.sqrt(np.mean((ours() - theirs()) ** 2))),
    }
    if "ETref" in told:
        result["rmse_to_file_mm"] = float(np.sqrt(np.mean((ours() - told["ETref"]) ** 2)))
    result |= _pyet(told, vapour, wind, ours())
    rivals = [result[name] for name in ("refet_ms", "pyet_ms") if name in result]
    return {**result, "reached": result["ours_ms"] <= min(rivals)}


def _pyet(told: dict[str, Values], vapour: Values, wind: Values, ours: Values) -> dict[str, float]:
    days = pandas.DatetimeIndex(
        [
            date(year, 1, 1) + timedelta(int(n) - 1)
            for year, n in zip(_years(told["DOY"]), told["DOY"], strict=True)
        ]
    )
    column = {name: pandas.Series(values, index=days) for name, values in told.items()}
    ea, u2 = pandas.Series(vapour, index=days), pandas.Series(wind, index=days)

    def theirs() -> Any:
        return pyet.pm_fao56(
            (column["Tmax"] + column["Tmin"]) / 2,
            u2,
            rs=column["Srad"],
            elevation=ELEVATION_M,
            lat=np.radians(LATITUDE),
            tmax=column["Tmax"],
            tmin=column["Tmin"],
            ea=ea,
        )

    off = float(np.sqrt(np.mean((ours - np.asarray(theirs())) ** 2)))
    return {"pyet_ms": seconds_of(theirs) * 1000, "rmse_to_pyet_mm": off}


def _years(day_of_year: Values) -> list[int]:
    turns = np.concatenate([[0], np.cumsum(np.diff(day_of_year) < 0)])
    return [2003 + int(turn) for turn in turns]


def zones() -> list[ZoneNeed]:
    """Zones of all devices, soils and needs, with a fixed seed."""
    chance = np.random.default_rng(11)
    soils = sorted(SOILS)

    def zone(count: int) -> ZoneNeed:
        device = ("spray", "micro_spray", "rotor", "bubbler", "drip")[count % 5]
        is_point = device in ("bubbler", "drip")
        return ZoneNeed(
            station=count % ZONES_OF_A_CONTROLLER + 1,
            device=device,
            plant_factor=float(chance.choice([0.1, 0.3, 0.5, 0.8])),
            microclimate=float(chance.uniform(0.6, 1.2)),
            area_ft2=float(chance.uniform(30, 1500)),
            root_depth_in=float(chance.uniform(6, 30)),
            depletion=float(chance.uniform(0.35, 0.6)),
            soil=soils[count % len(soils)],
            precipitation_in_h=None if is_point else float(chance.uniform(0.4, 2.2)),
            emitters=int(chance.integers(10, 120)) if is_point else 0,
            emitter_gph=2.0 if is_point else 0.0,
        )

    return [zone(count) for count in range(ZONES)]


def year_of_programs() -> dict[str, Any]:
    """A year of programs and gallons for every zone, eight on a controller."""
    all_zones, place = zones(), climate("maricopa")
    hours = Hours((0, 1, 2, 3, 4, 5, 6), time(21), time(7))
    start, programs, gallons, conflicts = clocks.perf_counter(), 0, 0.0, 0
    for first in range(0, ZONES, ZONES_OF_A_CONTROLLER):
        some = all_zones[first : first + ZONES_OF_A_CONTROLLER]
        settings = programs_of_a_year(some, place.irrigation_eto_in, hours, rain_by_month=place.rain_in)
        programs += sum(len(setting.program.zones) for setting in settings)
        conflicts += sum(len(setting.program.conflicts) for setting in settings)
        gallons += sum(float(months.sum()) for months in gallons_set(settings).values())
    taken = clocks.perf_counter() - start
    return {
        "what": "a year of programs",
        "zones": ZONES,
        "seconds": taken,
        "ms_a_zone": taken / ZONES * 1000,
        "programs": programs,
        "conflicts_said": conflicts,
        "gallons": round(gallons),
    }


def places() -> list[tuple[float, float, str]]:
    """Places between 60° south and north, in time zones with and without summer time."""
    chance = np.random.default_rng(3)
    names = ("America/Phoenix", "America/Denver", "America/New_York", "Europe/Madrid", "Australia/Sydney")
    latitudes = chance.uniform(-60, 60, PLACES).tolist()
    longitudes = chance.uniform(-115, -75, PLACES).tolist()
    return [
        (latitude, longitude, names[count % len(names)])
        for count, (latitude, longitude) in enumerate(zip(latitudes, longitudes, strict=True))
    ]


def dusk() -> dict[str, Any]:
    """Civil dusk of a year at a thousand places, and how far astral is from it on some of them.

    Civil dusk is geometric, and astral is asked for it so; the solar position algorithm of NREL agrees
    (tests/published/test_sun_position_algorithm.py). As it comes, astral bends light there too, which
    makes more than a minute where the sun sinks by less than 0.055 degrees a minute: told apart.
    """
    first, everywhere = date(2026, 1, 1), places()
    ours_s = seconds_of(lambda: sun.dusk_of_places(first, 365, everywhere), rounds=5) / PLACES
    ours = sun.dusk_of_places(first, 365, everywhere)
    some = range(0, PLACES, PLACES // PLACES_BESIDE_ASTRAL)
    start = clocks.perf_counter()
    bent = np.array([_astral_year(everywhere[row], first, is_bent=True) for row in some])
    astral_s = (clocks.perf_counter() - start) / len(some)
    geometric = np.array([_astral_year(everywhere[row], first, is_bent=False) for row in some])
    off_s, bent_s = (_seconds_apart(ours[list(some)], theirs) for theirs in (geometric, bent))
    return {
        "what": "civil dusk",
        "places": PLACES,
        "seconds": ours_s * PLACES,
        "ours_ms_a_place": ours_s * 1000,
        "astral_ms_a_place": astral_s * 1000,
        "times_faster": round(astral_s / ours_s, 1),
        "worst_seconds_off": round(float(off_s.max()), 2),
        "worst_seconds_off_as_astral_bends_light": round(float(bent_s.max()), 1),
        "evenings_over_a_minute_as_astral_bends_light": float((bent_s > GOAL_SECONDS_OFF).mean()),
        "reached": astral_s / ours_s >= GOAL_TIMES_ASTRAL and float(off_s.max()) <= GOAL_SECONDS_OFF,
    }


def _seconds_apart(ours: Values, theirs: Values) -> Values:
    apart = np.abs((ours - theirs + 720) % 1440 - 720) * 60
    return np.asarray(apart[np.isfinite(apart)], dtype=np.float64)


def _astral_year(place: tuple[float, float, str], first: date, *, is_bent: bool) -> Values:
    latitude, longitude, time_zone = place
    observer, tz = Observer(latitude, longitude), ZoneInfo(time_zone)
    minutes = np.full(365, np.nan)
    for count in range(365):
        moment = astral_sun.time_of_transit(
            observer, first + timedelta(count), 96.0, SunDirection.SETTING, with_refraction=is_bent
        ).astimezone(tz)
        minutes[count] = moment.hour * 60 + moment.minute + (moment.second + moment.microsecond / 1e6) / 60
    return minutes


def main() -> None:
    """Measure and print."""
    for measure in (evapotranspiration, year_of_programs, dusk):
        print(json.dumps(measure()))


if __name__ == "__main__":
    main()
