"""Weather of which only a part is measured, against the examples of FAO-56 chapter 3.

FAO Irrigation and Drainage Paper 56 (Allen and others 1998); examples from memory, each recomputed.
"""

from typing import Any

import pytest

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac import weather
from landscape_care.almanac.weather import Measured, Place

LYON_IN_JULY = Place(45.7167, 200, 196)
UCCLE = Place(50.8, 100, 187)
UCCLE_6_JULY: dict[str, Any] = {"tmax_c": 21.5, "tmin_c": 12.3, "wind_m_s": 2.78, "wind_height_m": 10.0}


def test_lyon_in_july_from_its_temperatures_alone() -> None:
    """Example 20: 4.56 mm/d by Penman-Monteith with everything else estimated."""
    lyon = Measured(tmax_c=26.6, tmin_c=14.8)
    assert weather.eto_mm(lyon, LYON_IN_JULY) == pytest.approx(4.56, abs=0.01)
    assert weather.complete(lyon, LYON_IN_JULY).estimated == ("humidity", "radiation", "wind")


def test_uccle_from_what_its_station_reads() -> None:
    """Example 18: 3.88 mm/d from both humidities, 9.25 hours of sun and wind at ten metres."""
    uccle = Measured(**UCCLE_6_JULY, rh_max_pct=84, rh_min_pct=63, sunshine_h=9.25)
    assert weather.eto_mm(uccle, UCCLE) == pytest.approx(3.88, abs=0.01)
    assert weather.complete(uccle, UCCLE).estimated == ()
    assert weather.solar_mj_m2(uccle, UCCLE) == pytest.approx(22.07, abs=0.02)


def test_a_psychrometer_tells_the_vapour_pressure() -> None:
    """Example 4: 25.6 °C dry, 19.5 °C wet at 1200 m give 1.91 kPa."""
    pressure = et.pressure_kpa(1200)
    assert et.actual_vapour_pressure_from_wet_bulb(25.6, 19.5, pressure_kpa=pressure) == pytest.approx(
        1.91, abs=0.005
    )


def test_humidities_tell_the_vapour_pressure_each_in_its_way() -> None:
    """Example 5: 18 to 25 °C, 82 and 54 % give 1.70 kPa; the mean of 68 % gives 1.78."""
    both = et.actual_vapour_pressure_from_rh(25, 18, rh_max_pct=82, rh_min_pct=54)
    assert both == pytest.approx(1.70, abs=0.005)
    assert et.actual_vapour_pressure_from_rh_mean(25, 18, rh_mean_pct=68) == pytest.approx(1.78, abs=0.005)
    # 2.064 kPa at 18 °C (table 2.3) times 82 %.
    assert et.actual_vapour_pressure_from_rh_max(18, 82) == pytest.approx(1.69, abs=0.005)


def test_rio_in_may_sends_out_its_heat() -> None:
    """Example 11: 25.1 and 19.1 °C, 2.1 kPa, 14.5 of 18.8 MJ give 3.5 MJ m⁻² d⁻¹."""
    rio = et.DayWeather(25.1, 19.1, 2.1, 14.5, 2)
    assert et.net_longwave_radiation(rio, 18.8) == pytest.approx(3.5, abs=0.05)


def test_april_in_algiers_warms_its_soil() -> None:
    """Example 13: means 14.1, 16.1, 18.8 °C give 0.33 from both neighbours, 0.28 from March alone."""
    assert et.soil_heat_flux_between(14.1, 18.8) == pytest.approx(0.33, abs=0.005)
    assert et.soil_heat_flux_monthly(14.1, 16.1) == pytest.approx(0.28, abs=0.005)


def test_arid_air_is_drier_than_its_coldest_hour() -> None:
    """Chapter 3: the dew point of arid air lies two to three degrees under the minimum."""
    humid = Measured(tmax_c=41, tmin_c=19.4, solar_mj_m2=31.32, wind_m_s=2.118)
    arid = Measured(tmax_c=41, tmin_c=19.4, solar_mj_m2=31.32, wind_m_s=2.118, is_arid=True)
    assert weather.vapour_pressure_kpa(arid) == et.actual_vapour_pressure_from_dew(19.4 - 2.5)
    maricopa = Place(33.069, 361, 170)
    assert weather.eto_mm(arid, maricopa) > weather.eto_mm(humid, maricopa)


@pytest.mark.parametrize(
    ("readings", "vapour_kpa"),
    [
        ({"dew_point_c": 12.0, "rh_max_pct": 10, "rh_min_pct": 5}, 1.403),
        ({"rh_max_pct": 84, "rh_min_pct": 63, "rh_mean_pct": 10}, 1.409),
        ({"rh_max_pct": 84, "rh_mean_pct": 10}, 1.202),
        ({"rh_mean_pct": 70}, 1.398),
        ({}, 1.431),
    ],
)
def test_the_best_reading_of_humidity_counts(readings: dict[str, Any], vapour_kpa: float) -> None:
    """Order of chapter 3: dew point, both humidities, the night's, the mean, the minimum."""
    found = weather.vapour_pressure_kpa(Measured(tmax_c=21.5, tmin_c=12.3, **readings))
    assert found == pytest.approx(vapour_kpa, abs=0.001)


def test_the_coast_is_brighter_than_the_land_for_the_same_temperatures() -> None:
    """Equation 50: 0.19 at the coast, 0.16 inland."""
    inland, coast = (
        weather.solar_mj_m2(Measured(tmax_c=22, tmin_c=14, is_coast=is_coast), LYON_IN_JULY)
        for is_coast in (False, True)
    )
    assert coast / inland == pytest.approx(0.19 / 0.16)


def test_on_a_small_island_the_sea_makes_the_range_so_radiation_comes_from_above_alone() -> None:
    """Equation 51, for islands up to 100 m: 0.7 Ra − 4, whatever the temperatures (from memory)."""
    barbados = Place(13.1, 20, 105)
    above = et.extraterrestrial_radiation(13.1, 105)
    for high in (28, 31):
        found = weather.solar_mj_m2(Measured(tmax_c=high, tmin_c=24, is_island=True), barbados)
        assert found == pytest.approx(0.7 * above - 4)
    with pytest.raises(ValueError, match="elevation_m"):
        weather.solar_mj_m2(Measured(tmax_c=30, tmin_c=24, is_island=True), Place(13.1, 400, 105))
    assert et.solar_radiation_on_island(3) == 0


def test_a_year_of_months_takes_its_soil_heat_round_the_year() -> None:
    """Equation 43 by hand for January (December before it) and December (January after it)."""
    means = [5, 6, 9, 13, 18, 22, 25, 24, 20, 14, 9, 6]
    months = [et.DayWeather(mean + 6, mean - 6, 0.6, 12, 2) for mean in means]
    found = et.eto_of_months(months, latitude_deg=40, elevation_m=500)
    january = et.eto_penman_monteith(
        months[0], latitude_deg=40, elevation_m=500, day_of_year=15, soil_heat_flux_mj_m2=0.07 * (6 - 6)
    )
    december = et.eto_penman_monteith(
        months[11], latitude_deg=40, elevation_m=500, day_of_year=349, soil_heat_flux_mj_m2=0.07 * (5 - 9)
    )
    assert (found[0], found[11]) == pytest.approx((january, december))
    assert [et.middle_day(month) for month in (1, 4, 7, 12)] == [15, 106, 197, 349]


def test_months_are_twelve() -> None:
    with pytest.raises(ValueError, match="twelve"):
        et.eto_of_months([], latitude_deg=40, elevation_m=500)
