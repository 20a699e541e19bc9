"""Known climates, the nearest of them, and their daily curves."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from landscape_care.almanac.climate import (
    DAYS_IN_MONTH,
    climate,
    climates,
    distance_km,
    eto_curve_in,
    eto_in_on,
    irrigation_eto_in_on,
    nearest_climate,
    smooth_days,
    tmean_f_on,
)

ALBUQUERQUE = climate("albuquerque")


def test_every_climate_says_where_its_figures_come_from() -> None:
    for place in climates().values():
        assert place.temperature_provenance
        assert place.eto_provenance
        assert place.frost_provenance


def test_an_unknown_climate_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match=r"'santa_fe' is unknown.*albuquerque.*tucson"):
        climate("santa_fe")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"latitude_deg": 91}, "latitude_deg"),
        ({"longitude_deg": -181}, "longitude_deg"),
        ({"elevation_m": 9000}, "elevation_m"),
        ({"time_zone": "Mountain"}, "time_zone"),
        ({"tmax_f": (60.0,) * 11}, "tmax_f of albuquerque has 11 values"),
        ({"tmin_f": (120.0,) * 12}, "tmin_f"),
        ({"tmin_f": (50.0,) * 12}, "above tmax_f"),
        ({"rain_in": (-0.1,) * 12}, "rain_in"),
        ({"eto_in": (float("nan"),) * 12}, "eto_in"),
        ({"last_frost": None}, "both dates or neither"),
        ({"first_frost": "10-32"}, "no such day"),
    ],
)
def test_a_climate_that_cannot_be_is_refused(change: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replace(ALBUQUERQUE, **change)  # type: ignore[arg-type]


def test_airport_evapotranspiration_counts_nine_tenths_for_irrigation() -> None:
    assert ALBUQUERQUE.irrigation_eto_in[5] == pytest.approx(0.9 * ALBUQUERQUE.eto_in[5])
    assert climate("maricopa").irrigation_eto_in == climate("maricopa").eto_in
    day = date(2027, 6, 15)
    assert irrigation_eto_in_on(ALBUQUERQUE, day) == pytest.approx(0.9 * eto_in_on(ALBUQUERQUE, day))


def test_the_same_climate_in_the_south_keeps_its_band() -> None:
    half_a_year_on = {
        name: getattr(ALBUQUERQUE, name)[6:] + getattr(ALBUQUERQUE, name)[:6]
        for name in ("tmax_f", "tmin_f", "rain_in", "eto_in")
    }
    south = replace(
        ALBUQUERQUE, latitude_deg=-35.0, last_frost="10-14", first_frost="04-30", **half_a_year_on
    )
    assert (ALBUQUERQUE.band, south.band) == ("cold", "cold")


def test_a_place_near_the_airport_gets_its_climate() -> None:
    assert nearest_climate(35.11, -106.62).key == "albuquerque"
    assert nearest_climate(32.22, -110.97, 728).key == "tucson"


def test_a_place_far_from_every_climate_is_refused_with_the_nearest_named() -> None:
    with pytest.raises(ValueError, match=r"Denver.*km away and 150 km is the limit"):
        nearest_climate(41.26, -95.93)


def test_height_decides_between_two_climates_that_are_near() -> None:
    """Between Phoenix and Maricopa the flat distance decides, as both lie equally high."""
    assert nearest_climate(33.43, -111.99, 340).key == "phoenix"
    assert nearest_climate(33.08, -111.97, 340).key == "maricopa"


def test_a_degree_of_latitude_is_111_km() -> None:
    assert distance_km((35, -106), (36, -106)) == pytest.approx(111.2, abs=0.1)
    assert distance_km((0, 179.5), (0, -179.5)) == pytest.approx(111.2, abs=0.1)


@pytest.mark.parametrize("key", sorted(climates()))
def test_the_daily_curve_keeps_every_monthly_sum_and_has_no_jump(key: str) -> None:
    curve = eto_curve_in(climate(key))
    common_year = np.delete(curve, 59)
    sums = [days.sum() for days in np.split(common_year, np.cumsum(DAYS_IN_MONTH)[:-1])]
    assert sums == pytest.approx(list(climate(key).eto_in), abs=1e-9)
    steps = np.abs(np.diff(curve, append=curve[0]))
    assert steps.max() < 0.02 * curve.max()
    assert curve.min() > 0


def test_a_month_of_nothing_beside_a_month_of_much_never_goes_below_nothing() -> None:
    sums = (0.0, 0.0, 6.0, 6.0, 0.0, 0.0, 0.0, 9.0, 0.0, 0.0, 0.0, 0.0)
    days = smooth_days(sums)
    assert days.min() >= 0
    monthly = [month.sum() for month in np.split(days, np.cumsum(DAYS_IN_MONTH)[:-1])]
    assert monthly == pytest.approx(list(sums), abs=1e-9)


def test_the_curve_handed_out_cannot_be_changed_by_its_reader() -> None:
    with pytest.raises(ValueError, match="read-only"):
        eto_curve_in(ALBUQUERQUE)[0] = 1


def test_the_mean_of_the_fifteenth_is_that_of_the_month() -> None:
    for month in range(1, 13):
        assert tmean_f_on(ALBUQUERQUE, date(2027, month, 15)) == pytest.approx(ALBUQUERQUE.tmean_f[month - 1])


def test_a_day_reads_the_same_in_a_leap_year_and_a_common_one() -> None:
    assert eto_in_on(ALBUQUERQUE, date(2027, 12, 31)) == eto_in_on(ALBUQUERQUE, date(2028, 12, 31))
    assert tmean_f_on(ALBUQUERQUE, date(2028, 2, 29)) == tmean_f_on(ALBUQUERQUE, date(2027, 2, 28))
