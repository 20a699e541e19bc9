"""Evapotranspiration beside four libraries, on random years and on hourly weather that pvlib ships.

- pyet 1.4 and pyfao56 1.4 write the same equation; only constants in their fifth digit differ.
- refet 0.5 follows ASCE 2005: other digits of pressure, declination, latent heat and clear sky, up to
  a hundredth in all.
- The weather is typical years of the US government: Greensboro NC and Sand Point AK (TMY3), Miami FL
  (TMY2). Days are made from the hours here: extremes, mean dew point and wind, sum of the sun.

Tolerances: 1e-6 mm/d where constants are the same (the last bits of 64-bit floats and sums of terms of
a hundred MJ), 0.002 mm/d for pyfao56 (Stefan-Boltzmann 4.901 for 4.903, slope 2503 for 4098 · 0.6108),
0.05 mm/d or 1 % for refet. Over a year the root of the mean squared difference stays within 0.003 mm/d
beside each of them.
"""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas
import pvlib
import pyet
import pytest
import refet
from hypothesis import given, settings
from hypothesis import strategies as st
from pyfao56 import refet as pyfao56

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac import weather
from landscape_care.almanac.evapotranspiration import Values

GIVEN = Path(pvlib.__file__).parent / "data"
PLACES = ("greensboro", "sand_point", "miami")
MJ_PER_WH = 0.0036

Site = tuple[float, float]


class Year:
    """Daily weather at a place, and what each code makes of it, mm/d."""

    def __init__(self, days: et.Days, day_of_year: Any, latitude_deg: float, elevation_m: float) -> None:
        self.days, self.numbers = days, day_of_year.astype(int)
        self.latitude_deg, self.elevation_m = latitude_deg, elevation_m

    def ours(self) -> Values:
        return et.eto_penman_monteith_days(
            self.days, latitude_deg=self.latitude_deg, elevation_m=self.elevation_m, day_of_year=self.numbers
        )

    def pyet(self) -> Values:
        # Any common year has these days, and pandas counts them.
        index = pandas.DatetimeIndex(
            [pandas.Timestamp(2021, 1, 1) + pandas.Timedelta(days=n - 1) for n in self.numbers]
        )
        high, low, ea, solar, wind = (
            pandas.Series(values, index)
            for values in (
                self.days.tmax_c,
                self.days.tmin_c,
                self.days.vapour_pressure_kpa,
                self.days.solar_mj_m2,
                self.days.wind_2m_m_s,
            )
        )
        found = pyet.pm_fao56(
            (high + low) / 2,
            wind,
            rs=solar,
            elevation=self.elevation_m,
            lat=float(np.radians(self.latitude_deg)),
            tmax=high,
            tmin=low,
            ea=ea,
            clip_zero=False,
        )
        return np.asarray(found, dtype=np.float64)

    def refet(self) -> Values:
        found = refet.Daily(
            tmin=self.days.tmin_c,
            tmax=self.days.tmax_c,
            ea=self.days.vapour_pressure_kpa,
            rs=self.days.solar_mj_m2,
            uz=self.days.wind_2m_m_s,
            zw=2,
            elev=self.elevation_m,
            lat=self.latitude_deg,
            doy=self.numbers,
            method="asce",
        ).eto()
        return np.asarray(found, dtype=np.float64)

    def pyfao56(self) -> Values:
        d = self.days
        columns = (d.tmax_c, d.tmin_c, d.vapour_pressure_kpa, d.solar_mj_m2, d.wind_2m_m_s)
        return np.array(
            [
                pyfao56.ascedaily(
                    "S", self.elevation_m, self.latitude_deg, n, rs, high, low, vapr=ea, wndsp=u2
                )
                for n, high, low, ea, rs, u2 in zip(
                    self.numbers.tolist(), *(column.tolist() for column in columns), strict=True
                )
            ]
        )


# What a code may differ by, and where: mm/d, and a share of the value.
BESIDE: list[tuple[Callable[[Year], Values], float, float]] = [
    (Year.pyet, 1e-6, 0.0),
    (Year.pyfao56, 0.002, 0.0005),
    (Year.refet, 0.05, 0.01),
]
NAMED = pytest.mark.parametrize(
    ("theirs", "most_mm", "share"), BESIDE, ids=[each.__name__ for each, *_ in BESIDE]
)


@cache
def _hours(place: str) -> tuple[Any, float, float]:
    """Hourly temp_air, temp_dew in °C, ghi in W/m², wind in m/s at ten metres; latitude, height."""
    if place == "miami":
        told, about = pvlib.iotools.read_tmy2(GIVEN / "12839.tm2")
        told = told.rename(columns={"GHI": "ghi", "Wspd": "wind_speed"})
        told["temp_air"], told["temp_dew"] = told["DryBulb"] / 10, told["DewPoint"] / 10
        told["wind_speed"] /= 10
    else:
        name = {"greensboro": "723170TYA.CSV", "sand_point": "703165TY.csv"}[place]
        told, about = pvlib.iotools.read_tmy3(GIVEN / name, map_variables=True, coerce_year=1990)
    return told, float(about["latitude"]), float(about["altitude"])


def _typical_year(place: str) -> Year:
    hours, latitude_deg, elevation_m = _hours(place)
    by_day = hours.reset_index(drop=True).groupby(np.arange(8760) // 24)
    high, low = by_day["temp_air"].max().to_numpy(), by_day["temp_air"].min().to_numpy()
    dew = np.minimum(by_day["temp_dew"].mean().to_numpy(), high)
    vapour = 0.6108 * np.exp(17.27 * dew / (dew + 237.3))
    wind = by_day["wind_speed"].mean().to_numpy() * et.wind_at_2m(1, 10)
    solar = by_day["ghi"].sum().to_numpy() * MJ_PER_WH
    return Year(et.Days(high, low, vapour, solar, wind), np.arange(1, 366), latitude_deg, elevation_m)


@NAMED
@pytest.mark.parametrize("place", PLACES)
def test_a_typical_year_of_hourly_weather_agrees(
    place: str, theirs: Callable[[Year], Values], most_mm: float, share: float
) -> None:
    year = _typical_year(place)
    ours, reference = year.ours(), theirs(year)
    assert len(ours) == 365
    assert ours == pytest.approx(reference, abs=most_mm, rel=share)
    rmse_mm = float(np.sqrt(np.mean((ours - reference) ** 2)))
    assert rmse_mm <= 0.003


@pytest.mark.parametrize(("place", "inches"), [("greensboro", 44.5)])
def test_a_typical_year_sums_to_what_other_code_found(place: str, inches: float) -> None:
    """44.5 in a year from the same hours, computed with other code."""
    year_in = float(_typical_year(place).ours().sum()) / et.MM_PER_INCH
    assert year_in == pytest.approx(inches, abs=1.0)


@NAMED
@given(
    seed=st.integers(0, 2**32 - 1),
    latitude_deg=st.floats(-65, 65),
    elevation_m=st.floats(-100, 3500),
)
@settings(deadline=None, max_examples=12)
def test_thousands_of_random_days_agree(
    seed: int,
    latitude_deg: float,
    elevation_m: float,
    theirs: Callable[[Year], Values],
    most_mm: float,
    share: float,
) -> None:
    """Twelve random places of a year each: 4,380 days beside every code."""
    year = _random_year(np.random.default_rng(seed), latitude_deg, elevation_m)
    above = np.array([et.extraterrestrial_radiation(latitude_deg, int(each)) for each in year.numbers])
    # Where the sun hardly rises the share of clear sky is a quotient of rounding errors.
    bright = above > 5
    assert year.ours()[bright] == pytest.approx(theirs(year)[bright], abs=most_mm, rel=share)


def _random_year(chance: np.random.Generator, latitude_deg: float, elevation_m: float) -> Year:
    low = chance.uniform(-20, 28, 365)
    high = low + chance.uniform(1, 22, 365)
    vapour = chance.uniform(0.1, 1, 365) * 0.6108 * np.exp(17.27 * low / (low + 237.3))
    above = np.array([et.extraterrestrial_radiation(latitude_deg, day) for day in range(1, 366)])
    solar, wind = chance.uniform(0.2, 0.75, 365) * above, chance.uniform(0, 9, 365)
    return Year(et.Days(high, low, vapour, solar, wind), np.arange(1, 366), latitude_deg, elevation_m)


@given(seed=st.integers(0, 2**32 - 1), latitude_deg=st.floats(-66, 66), elevation_m=st.floats(0, 3000))
@settings(deadline=None, max_examples=12)
def test_a_year_from_humidity_sunshine_and_wind_agrees_with_pyet(
    seed: int, latitude_deg: float, elevation_m: float
) -> None:
    """The ways of chapter 3: vapour pressure from humidities (equation 17), sun from hours (35).

    Hargreaves to a thirtieth: pyet lets latent heat depend on temperature where FAO-56 takes 0.408.
    """
    chance, days = np.random.default_rng(seed), pandas.date_range("2021-01-01", "2021-12-31")
    low = chance.uniform(-10, 25, 365)
    high = low + chance.uniform(2, 20, 365)
    moist = chance.uniform(50, 100, 365)
    dry, wind = moist * chance.uniform(0.2, 1, 365), chance.uniform(0.5, 8, 365)
    bright = np.array([et.daylight_hours(latitude_deg, day) for day in range(1, 366)]) * chance.uniform(0, 1)
    column = {
        name: pandas.Series(values, days)
        for name, values in (("tmax", high), ("tmin", low), ("rhmax", moist), ("rhmin", dry), ("n", bright))
    }
    mean, place = (column["tmax"] + column["tmin"]) / 2, {"lat": np.radians(latitude_deg)}
    theirs = pyet.pm_fao56(
        mean, pandas.Series(wind, days), elevation=elevation_m, clip_zero=False, **place, **column
    )
    ours = [
        weather.eto_mm(
            weather.Measured(
                tmax_c=float(high[row]),
                tmin_c=float(low[row]),
                rh_max_pct=float(moist[row]),
                rh_min_pct=float(dry[row]),
                sunshine_h=float(bright[row]),
                wind_m_s=float(wind[row]),
            ),
            weather.Place(latitude_deg, elevation_m, row + 1),
        )
        for row in range(365)
    ]
    assert ours == pytest.approx(np.asarray(theirs), abs=1e-6)
    hargreaves = pyet.hargreaves(mean, column["tmax"], column["tmin"], place["lat"], clip_zero=True)
    warm = [
        et.eto_hargreaves(float(high[row]), float(low[row]), latitude_deg=latitude_deg, day_of_year=row + 1)
        for row in range(365)
    ]
    assert warm == pytest.approx(np.asarray(hargreaves), rel=0.033, abs=0.01)


@given(
    seed=st.integers(0, 2**32 - 1),
    latitude_deg=st.floats(-65, 65),
    elevation_m=st.floats(0, 3000),
    reading=st.sampled_from(["dew", "humidities", "night", "wind_at_ten"]),
)
@settings(deadline=None, max_examples=40)
def test_each_way_of_measuring_agrees_with_pyfao56(
    seed: int, latitude_deg: float, elevation_m: float, reading: str
) -> None:
    """Dew point (ASCE 2005 equation 8), both humidities (11), the night's (12), wind at ten metres (33)."""
    chance = np.random.default_rng(seed)
    for number in chance.integers(1, 366, 25).tolist():
        above = et.extraterrestrial_radiation(latitude_deg, number)
        if above < 5:
            continue
        low = float(chance.uniform(-15, 26))
        day: dict[str, Any] = {"tmax_c": low + float(chance.uniform(2, 20)), "tmin_c": low}
        solar, moist = 0.6 * above, float(chance.uniform(40, 100))
        ways: dict[str, tuple[dict[str, Any], dict[str, float]]] = {
            "dew": ({"dew_point_c": low - 4}, {"tdew": low - 4}),
            "humidities": (
                {"rh_max_pct": moist, "rh_min_pct": moist / 2},
                {"rhmax": moist, "rhmin": moist / 2},
            ),
            "night": ({"rh_max_pct": moist}, {"rhmax": moist}),
            "wind_at_ten": (
                {"dew_point_c": low - 4, "wind_m_s": 5.0, "wind_height_m": 10.0},
                {"tdew": low - 4, "wndsp": 5.0, "wndht": 10.0},
            ),
        }
        mine, theirs = ways[reading]
        ours = weather.eto_mm(
            weather.Measured(**day, **mine, solar_mj_m2=solar),
            weather.Place(latitude_deg, elevation_m, number),
        )
        reference = pyfao56.ascedaily(
            "S", elevation_m, latitude_deg, number, solar, day["tmax_c"], low, **theirs
        )
        assert ours == pytest.approx(reference, abs=0.002, rel=0.0005)
