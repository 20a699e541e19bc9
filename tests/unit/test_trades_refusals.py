"""What the formulas refuse: each names the field that is wrong."""

from collections.abc import Callable

import pytest

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac.heat import heat_index_f
from landscape_care.trades import hydraulics, lighting, paving, turf, water_feature, water_need

NAN = float("nan")
INFINITE = float("inf")


@pytest.mark.parametrize(
    ("field", "call"),
    [
        ("elevation_m", lambda: et.pressure_kpa(NAN)),
        ("temperature_c", lambda: et.saturation_vapour_pressure_kpa(80)),
        ("tmin_c", lambda: et.mean_saturation_vapour_pressure_kpa(10, 20)),
        ("rh_min_pct", lambda: et.actual_vapour_pressure_from_rh(30, 20, rh_max_pct=40, rh_min_pct=60)),
        ("day_of_year", lambda: et.extraterrestrial_radiation(35, 367)),
        ("latitude_deg", lambda: et.daylight_hours(95, 1)),
        ("sunshine_h", lambda: et.solar_radiation_from_sunshine(20, 35, day_of_year=1)),
        ("height_m", lambda: et.wind_at_2m(3, 0.05)),
        ("vapour_pressure_kpa", lambda: et.DayWeather(20, 10, 5, 20, 2)),
        ("wind_2m_m_s", lambda: et.DayWeather(20, 10, 1, 20, -2)),
        ("humidity_pct", lambda: heat_index_f(90, 101)),
        ("temperature_f", lambda: heat_index_f(NAN, 50)),
        ("inside_diameter_in", lambda: hydraulics.velocity_fps(5, 0)),
        ("gallons_per_minute", lambda: hydraulics.velocity_fps(INFINITE, 1)),
        ("length_ft", lambda: hydraulics.hazen_williams_psi(5, 1, length_ft=-1)),
        ("outlets", lambda: hydraulics.christiansen_factor(0)),
        ("pressure_psi", lambda: hydraulics.orifice_flow(2, 0, at_psi=15)),
        ("emitters", lambda: hydraulics.zone_gpm(-1, 2)),
        ("depth_ft", lambda: water_feature.round_basin_gal(10, 0)),
        ("pump_efficiency", lambda: water_feature.brake_hp(35, 30, pump_efficiency=0)),
        ("filter_area_ft2", lambda: water_feature.filter_rate_gpm_ft2(30, 0)),
        ("cycles_of_concentration", lambda: water_feature.bleed_gal(20, 1)),
        ("pressure_psi", lambda: water_feature.backwash_due(-1, 10)),
        ("hours_per_night", lambda: lighting.lamp_life_years(50_000, 25)),
        ("power_factor", lambda: lighting.transformer_within_80_percent(100, 300, power_factor=0)),
        ("temperature_c", lambda: lighting.resistance_at(1.98, 500)),
        ("distribution_uniformity", lambda: water_need.scheduling_multiplier(65)),
        ("precipitation_in_h", lambda: water_need.spray_minutes(0.3, 0)),
        ("emitters", lambda: water_need.drip_minutes(10, 0, 2)),
        ("species", lambda: water_need.landscape_coefficient(0)),
        ("microclimate", lambda: water_need.landscape_coefficient(0.5, 1, 2)),
        ("efficiency", lambda: water_need.gallons_per_day(0.3, 0.5, 20, 0)),
        ("too salty", lambda: water_need.leaching_requirement(10, 2)),
        ("surface_storage_in", lambda: water_need.longest_cycle_minutes(1, 0.3, -0.1)),
        ("rate_lb_ft2", lambda: turf.infill_lb(100, -1)),
        ("joint_width_in", lambda: paving.joint_sand_lb(100, 2)),
    ],
)
def test_nonsense_is_refused_by_the_name_of_its_field(field: str, call: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match=field):
        call()


def test_a_leak_is_suspected_only_after_three_dry_days_and_half_again_the_usual_loss() -> None:
    usual_in = 1.05 * 0.3 * 4
    assert water_feature.leak_suspected(1.6 * usual_in, 0.3 * 4, 4)
    assert not water_feature.leak_suspected(1.4 * usual_in, 0.3 * 4, 4)
    assert not water_feature.leak_suspected(10, 0.6, 2)


def test_an_ornamental_basin_turns_over_in_an_hour() -> None:
    assert water_feature.turnover_gpm(1200) == pytest.approx(20)
    assert water_feature.rectangular_basin_gal(10, 5, depth_ft=2) == pytest.approx(748.05, abs=0.01)


def test_dew_adds_nothing_to_a_basin() -> None:
    loss = water_feature.evaporation_carrier_lb_h(100, 50, vapour_pressure_kpa=3, wind_mph=5)
    assert loss == 0


def test_infill_and_joint_sand_grow_with_the_area() -> None:
    """Common practice: 0.1 to 0.3 lb/ft² of infill a year, 15 to 25 lb of sand for 100 ft²."""
    assert 0.1 <= turf.infill_lb(1) <= 0.3
    assert 15 <= paving.joint_sand_lb(100) <= 25
    assert paving.joint_sand_lb(100, 1 / 4) == pytest.approx(2 * paving.joint_sand_lb(100))


def test_a_zone_of_emitters_and_heads_adds_up() -> None:
    assert hydraulics.zone_gpm(30, 2, heads_gpm=1.5) == pytest.approx(2.5)


def test_sprays_slower_than_the_soil_drinks_need_no_pause() -> None:
    split = water_need.cycle_and_soak(40, 0.3, infiltration_in_h=0.4, surface_storage_in=0.3)
    assert (split.cycles, split.soak_minutes) == (1, 0)
