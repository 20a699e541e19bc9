"""Evapotranspiration against pyet, where that library and pandas are installed.

The same equation with the same constants, so the two agree to the last digits; Hargreaves to a
thirtieth, because pyet lets the latent heat depend on temperature where FAO-56 takes 0.408.
"""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac import weather

pandas: Any = pytest.importorskip("pandas")
pyet: Any = pytest.importorskip("pyet")


@given(seed=st.integers(0, 2**32 - 1), latitude_deg=st.floats(-66, 66), elevation_m=st.floats(0, 3000))
@settings(deadline=None, max_examples=15)
def test_a_year_from_humidity_sunshine_and_wind_agrees_with_pyet(
    seed: int, latitude_deg: float, elevation_m: float
) -> None:
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
    hargreaves = pyet.hargreaves(mean, column["tmax"], column["tmin"], place["lat"], clip_zero=False)
    warm = [
        et.eto_hargreaves(float(high[row]), float(low[row]), latitude_deg=latitude_deg, day_of_year=row + 1)
        for row in range(365)
    ]
    assert warm == pytest.approx(np.asarray(hargreaves), rel=0.033, abs=0.01)
