"""Known climates, the nearest of them, and their daily curves."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from landscape_care.almanac.climate import (
    DAYS_IN_MONTH,
    ClimateBook,
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
from landscape_care.almanac.refusals import Refused
from landscape_care.almanac.usual_years import DRY_YEAR_IN, estimated_eto_in

ALBUQUERQUE, PHOENIX = climate("albuquerque"), climate("phoenix")


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
        ({"tmax_f": (60.0,) * 11}, "tmax_f is '11 values', wanted twelve"),
        ({"tmin_f": (120.0,) * 12}, "tmin_f"),
        ({"tmin_f": (50.0,) * 12}, "January: not above tmax_f"),
        ({"rain_in": (-0.1,) * 12}, "rain_in"),
        ({"eto_in": (float("nan"),) * 12}, "eto_in"),
        ({"last_frost": None}, "both dates, or neither"),
        ({"first_frost": "10-32"}, "no such day"),
        (
            {"last_frost": "10-30", "first_frost": "04-14"},
            "last_frost is '10-30', wanted the last frost of spring",
        ),
        ({"last_frost": None, "first_frost": None}, "December's usual low is .* so it freezes here"),
        ({"latitude_deg": -35.0}, "at latitude -35 April to September are the colder half"),
        ({"rain_in": (20.0,) * 12}, "240 in a year', wanted at most 150 in a year; millimetres"),
        ({"eto_in": (24.0,) * 12}, "288 in a year', wanted .* by the highs and lows; millimetres"),
    ],
)
def test_a_climate_that_cannot_be_is_refused(change: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replace(ALBUQUERQUE, **change)  # type: ignore[arg-type]


def _phoenix_with(field: str, month: int, value: float) -> dict[str, tuple[float, ...]]:
    months = list(getattr(PHOENIX, field))
    months[month - 1] = value
    return {field: tuple(months)}


def test_a_july_high_in_celsius_is_named_by_its_month_with_what_it_would_be() -> None:
    """A usual July high of 4 in a low desert, whose Junes and Augusts lie over 100 °F."""
    lows = _phoenix_with("tmin_f", 7, 1.0)
    with pytest.raises(Refused) as refused:
        replace(PHOENIX, **_phoenix_with("tmax_f", 7, 4.0), **lows)  # type: ignore[arg-type]
    by_field = {problem.field: problem for problem in refused.value.problems}
    assert set(by_field) == {"tmax_f.7", "tmin_f.7"}
    assert by_field["tmax_f.7"].value == 4.0
    assert "July: within 20 °F" in by_field["tmax_f.7"].wanted
    assert "4 °C would be 39 °F" in by_field["tmax_f.7"].wanted


@pytest.mark.parametrize("key", sorted(climates()))
def test_a_whole_year_in_celsius_is_refused_at_every_place(key: str) -> None:
    """Köppen: no tree grows where the warmest month stays under 10 °C, 50 °F; in °C every July does."""
    place = climate(key)
    celsius = {
        name: tuple(round((value - 32) / 1.8, 1) for value in getattr(place, name))
        for name in ("tmax_f", "tmin_f")
    }
    with pytest.raises(Refused, match=r"tmax_f is .*wanted °F.*if these are °C"):
        replace(place, **celsius)  # type: ignore[arg-type]


@pytest.mark.parametrize("key", sorted(climates()))
def test_lows_alone_in_celsius_are_refused_at_every_place(key: str) -> None:
    place = climate(key)
    lows = tuple(round((value - 32) / 1.8, 1) for value in place.tmin_f)
    with pytest.raises(Refused, match="tmin_f"):
        replace(place, tmin_f=lows)


@pytest.mark.parametrize("key", sorted(climates()))
def test_a_year_that_begins_in_july_is_refused_at_every_place(key: str) -> None:
    place = climate(key)
    moved = {
        name: getattr(place, name)[6:] + getattr(place, name)[:6]
        for name in ("tmax_f", "tmin_f", "rain_in", "eto_in")
    }
    with pytest.raises(Refused, match="January first"):
        replace(place, **moved)


def test_every_wrong_field_is_told_at_once() -> None:
    with pytest.raises(Refused) as refused:
        replace(PHOENIX, latitude_deg=95.0, time_zone="Arizona", **_phoenix_with("rain_in", 3, -0.2))  # type: ignore[arg-type]
    assert [problem.field for problem in refused.value.problems] == ["latitude_deg", "time_zone", "rain_in.3"]


@pytest.mark.parametrize("key", sorted(climates()))
def test_an_estimate_from_highs_and_lows_lies_between_the_published_year_and_five_eighths_of_it(
    key: str,
) -> None:
    """The years were computed with humidity, sun and wind; windy Las Vegas is the farthest off."""
    place = climate(key)
    guess_in = estimated_eto_in(
        place.tmax_f,
        place.tmin_f,
        dry=sum(place.rain_in) < DRY_YEAR_IN,
        latitude_deg=place.latitude_deg,
        elevation_m=place.elevation_m,
    )
    assert 0.6 * sum(place.eto_in) < sum(guess_in) <= 1.02 * sum(place.eto_in)


def test_a_companys_own_climate_is_found_beside_those_that_come_along() -> None:
    own = replace(ALBUQUERQUE, key="own-corrales", name="Corrales", latitude_deg=35.24, longitude_deg=-106.61)
    book = ClimateBook((own,))
    assert book.named("own-corrales") is own
    assert book.named("tucson") is climate("tucson")
    assert book.nearest(35.25, -106.61).key == "own-corrales"
    assert book.nearest(35.04, -106.61).key == "albuquerque"
    assert nearest_climate(35.25, -106.61).key == "albuquerque"


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
    assert nearest_climate(32.22, -110.97, elevation_m=728).key == "tucson"


def test_a_place_far_from_every_climate_is_refused_with_the_nearest_named() -> None:
    with pytest.raises(ValueError, match=r"Denver.*km away and 150 km is the limit"):
        nearest_climate(41.26, -95.93)


def test_height_decides_between_two_climates_that_are_near() -> None:
    """Between Phoenix and Maricopa the flat distance decides, as both lie equally high."""
    assert nearest_climate(33.43, -111.99, elevation_m=340).key == "phoenix"
    assert nearest_climate(33.08, -111.97, elevation_m=340).key == "maricopa"


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
