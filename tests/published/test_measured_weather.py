"""Evapotranspiration of real days against the program of record, where the file is given.

AZMET Maricopa AZ, daily 2003-2020 (USDA ARS, CC0), columns Year, DOY, Srad, Tmax, Tmin, Tdew,
Wndsp at 3 m and ETref, the ASCE short reference in mm/d by REF-ET. Name the file in the
environment variable AZMET_MARICOPA_DAILY.
"""

import csv
import math
import os
from pathlib import Path

import pytest

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac.climate import DAYS_IN_MONTH, climate

AZMET_FILE = os.environ.get("AZMET_MARICOPA_DAILY", "")


def _error_mm(row: dict[str, str]) -> float:
    weather = et.DayWeather(
        tmax_c=float(row["Tmax"]),
        tmin_c=float(row["Tmin"]),
        vapour_pressure_kpa=et.actual_vapour_pressure_from_dew(float(row["Tdew"])),
        solar_mj_m2=float(row["Srad"]),
        wind_2m_m_s=et.wind_at_2m(float(row["Wndsp"]), 3),
    )
    ours = et.eto_penman_monteith(weather, latitude_deg=33.069, elevation_m=361, day_of_year=int(row["DOY"]))
    return ours - float(row["ETref"])


@pytest.mark.skipif(not AZMET_FILE, reason="AZMET_MARICOPA_DAILY names no file of daily weather")
def test_eighteen_desert_years_agree_with_the_program_of_record() -> None:
    with Path(AZMET_FILE).open(encoding="utf-8") as lines:
        errors = [_error_mm(row) for row in csv.DictReader(lines)]
    assert len(errors) > 6000
    assert math.sqrt(sum(error**2 for error in errors) / len(errors)) < 0.005
    assert max(map(abs, errors)) < 0.02


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
