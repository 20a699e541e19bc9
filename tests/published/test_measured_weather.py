"""Evapotranspiration of real days against the program of record, where the file is given.

AZMET Maricopa AZ, daily 2003-2020 (USDA ARS, CC0), columns Year, DOY, Srad, Tmax, Tmin, Tdew,
Wndsp at 3 m and ETref, the ASCE short reference in mm/d by REF-ET. Name the file in the
environment variable AZMET_MARICOPA_DAILY.
"""

import csv
import math
import os
from pathlib import Path

import numpy as np
import pytest

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac import weather
from landscape_care.almanac.climate import DAYS_IN_MONTH, climate
from landscape_care.almanac.evapotranspiration import Values

AZMET_FILE = os.environ.get("AZMET_MARICOPA_DAILY", "")


def _columns() -> dict[str, Values]:
    with Path(AZMET_FILE).open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    names = ("DOY", "Srad", "Tmax", "Tmin", "Tdew", "Wndsp", "ETref")
    return {name: np.array([float(row[name]) for row in rows], dtype=np.float64) for name in names}


def _one_by_one(told: dict[str, Values]) -> list[float]:
    maricopa = {day: weather.Place(33.069, 361, day) for day in range(1, 367)}
    columns = (told[name].tolist() for name in ("Tmax", "Tmin", "Tdew", "Srad", "Wndsp", "DOY"))
    return [
        weather.eto_mm(
            weather.Measured(
                tmax_c=high, tmin_c=low, dew_point_c=dew, solar_mj_m2=solar, wind_m_s=wind, wind_height_m=3
            ),
            maricopa[int(number)],
        )
        for high, low, dew, solar, wind, number in zip(*columns, strict=True)
    ]


@pytest.mark.skipif(not AZMET_FILE, reason="AZMET_MARICOPA_DAILY names no file of daily weather")
def test_eighteen_desert_years_agree_with_the_program_of_record() -> None:
    told = _columns()
    errors = np.array(_one_by_one(told)) - told["ETref"]
    assert len(errors) > 6000
    # The file is rounded to hundredths, which alone makes 0.0029.
    assert math.sqrt(np.mean(errors**2)) <= 0.003
    assert np.abs(errors).max() < 0.02


@pytest.mark.skipif(not AZMET_FILE, reason="AZMET_MARICOPA_DAILY names no file of daily weather")
def test_all_days_in_one_call_are_the_days_one_by_one() -> None:
    told = _columns()
    vapour = np.array([et.actual_vapour_pressure_from_dew(dew) for dew in told["Tdew"].tolist()])
    wind = told["Wndsp"] * et.wind_at_2m(1, 3)
    days = et.Days(told["Tmax"], told["Tmin"], vapour, told["Srad"], wind)
    at_once = et.eto_penman_monteith_days(
        days, latitude_deg=33.069, elevation_m=361, day_of_year=told["DOY"].astype(int)
    )
    assert at_once == pytest.approx(_one_by_one(told))


def test_the_radiation_balance_of_bangkok_in_april_is_that_of_the_example() -> None:
    """FAO-56 example 17: Rnl 3.11 and Rn 14.33 MJ m⁻² d⁻¹ (from memory, recomputed)."""
    above = et.extraterrestrial_radiation(13.7333, 105)
    weather = et.DayWeather(34.8, 25.6, 2.85, 22.651, 2.0)
    longwave = et.net_longwave_radiation(weather, et.clear_sky_radiation(above, 2))
    assert longwave == pytest.approx(3.11, abs=0.01)
    assert 0.77 * 22.651 - longwave == pytest.approx(14.33, abs=0.02)


def test_hargreaves_gives_the_july_of_lyon() -> None:
    """FAO-56 example 20: 5.0 mm/d from 26.6 and 14.8 °C at 45.72 N (from memory)."""
    eto_mm = et.eto_hargreaves(26.6, 14.8, latitude_deg=45.7167, day_of_year=196)
    assert eto_mm == pytest.approx(5.0, abs=0.05)


def test_hargreaves_reads_low_in_a_windy_desert_so_it_is_not_the_default() -> None:
    """Monthly airport normals of Phoenix give about 65 in a year; 74 are measured near by."""
    phoenix = climate("phoenix")
    middles = [15 + 30.4 * month for month in range(12)]
    inches = sum(
        days
        * et.eto_hargreaves(
            (high - 32) / 1.8, (low - 32) / 1.8, latitude_deg=phoenix.latitude_deg, day_of_year=round(middle)
        )
        / et.MM_PER_INCH
        for days, high, low, middle in zip(
            DAYS_IN_MONTH, phoenix.tmax_f, phoenix.tmin_f, middles, strict=True
        )
    )
    assert inches == pytest.approx(65, abs=1.5)
    assert inches < sum(climate("maricopa").eto_in)
