"""What the formulas refuse: each names the field that is wrong."""

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pytest

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac.heat import heat_index_f
from landscape_care.almanac.weather import Measured, Place
from landscape_care.trades import hydraulics, lighting, paving, planting, turf, water_feature, water_need

MAY, A_DAY = date(2027, 5, 1), timedelta(1)
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
        ("emitters", lambda: water_need.drip_minutes(10, 0, emitter_gph=2)),
        ("species", lambda: water_need.landscape_coefficient(0)),
        ("microclimate", lambda: water_need.landscape_coefficient(0.5, 1, microclimate=2)),
        ("efficiency", lambda: water_need.gallons_per_day(0.3, 0.5, area_ft2=20, efficiency=0)),
        ("too salty", lambda: water_need.leaching_requirement(10, 2)),
        ("surface_storage_in", lambda: water_need.longest_cycle_minutes(1, 0.3, surface_storage_in=-0.1)),
        ("rate_lb_ft2", lambda: turf.infill_lb(100, -1)),
        ("wet_bulb_c", lambda: et.actual_vapour_pressure_from_wet_bulb(20, 25, pressure_kpa=90)),
        ("no air is so dry", lambda: et.actual_vapour_pressure_from_wet_bulb(40, 0, pressure_kpa=90)),
        ("rh_max_pct", lambda: et.actual_vapour_pressure_from_rh_max(20, 101)),
        ("rh_mean_pct", lambda: et.actual_vapour_pressure_from_rh_mean(30, 20, rh_mean_pct=-1)),
        ("rh_max_pct", lambda: Measured(tmax_c=30, tmin_c=20, rh_max_pct=101)),
        ("rh_min_pct", lambda: Measured(tmax_c=30, tmin_c=20, rh_min_pct=30)),
        ("latitude_deg", lambda: Place(95, 0, 1)),
        ("eto_by_month", lambda: water_need.settings_per_year([NAN] * 12, 10)),
        ("leaching_share", lambda: water_need.gross_for_leaching_in(1, 1)),
        ("needed_gal", lambda: water_need.share_of_need(10, 1, needed_gal=0)),
        ("filter_area_ft2", lambda: water_feature.flow_for_filter_gpm(0)),
        ("rise", lambda: water_feature.level_loss([(MAY, 3.0), (MAY + A_DAY, 2.0)], 0.3)),
        ("levels", lambda: water_feature.level_loss([(MAY, 3.0)], 0.3)),
        ("below_in", lambda: water_feature.level_loss([(MAY, NAN), (MAY + A_DAY, 2.0)], 0.3)),
        ("material", lambda: planting.truck_loads(3, "snow")),
        ("spacing_in", lambda: planting.rows_square(10, 4, spacing_in=0)),
        ("timer", lambda: lighting.resets_of("sundial", [])),
        ("rating_va", lambda: lighting.load_share(100, 0)),
        ("joint_width_in", lambda: paving.joint_sand_lb(100, 2)),
    ],
)
def test_nonsense_is_refused_by_the_name_of_its_field(field: str, call: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match=field):
        call()


def test_a_leak_is_suspected_only_after_three_dry_days_and_half_again_the_usual_loss() -> None:
    usual_in = 1.05 * 0.3 * 4
    assert water_feature.leak_suspected(1.6 * usual_in, 0.3 * 4, dry_days=4)
    assert not water_feature.leak_suspected(1.4 * usual_in, 0.3 * 4, dry_days=4)
    assert not water_feature.leak_suspected(10, 0.6, dry_days=2)


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


def test_many_days_with_one_that_cannot_be_name_its_place() -> None:
    good = np.full(5, 20.0)
    hot = np.array([20.0, 20, 99, 20, 20])
    with pytest.raises(ValueError, match=r"tmax_c\[2\]"):
        et.Days(hot, good - 5, good / 20, good, good / 10)
    with pytest.raises(ValueError, match=r"wind_2m_m_s\[0\]"):
        et.Days(good, good - 5, good / 20, good, np.full(5, np.nan))
    with pytest.raises(ValueError, match=r"tmax_c above tmin_c\[4\]"):
        et.Days(good, np.array([1.0, 1, 1, 1, 21]), good / 20, good, good / 10)


def test_a_basin_that_falls_twice_as_fast_as_the_air_takes_leaks() -> None:
    """1.5 times 1.05 ETo over at least three dry days, common practice."""
    spell = [(MAY, 1.0), (MAY + 2 * A_DAY, 2.2), (MAY + 4 * A_DAY, 3.5)]
    leaking, sound = water_feature.level_loss(spell, 1.2), water_feature.level_loss(spell, 2.0)
    assert (leaking.loss_in, leaking.days, leaking.is_leak_suspected) == (2.5, 4, True)
    assert not sound.is_leak_suspected


def test_make_up_is_what_left_and_what_is_let_go() -> None:
    """Three cycles let go half the evaporation; what splashes out is let go already."""
    assert water_feature.make_up_gal(22.6) == pytest.approx(33.9)
    assert water_feature.make_up_gal(22.6, 11.3) == pytest.approx(33.9)
    assert water_feature.make_up_gal(22.6, 20) == pytest.approx(42.6)
    assert water_feature.carrier_gal_day(8.34) == pytest.approx(24)


def test_rows_of_plants_stay_half_a_spacing_from_the_edge() -> None:
    """Counted by hand: 12 by 4 ft at 12 in: 12 x 4 on a square; 12, 11, 12, 11 in staggered rows."""
    assert planting.rows_square(12, 4, spacing_in=12) == 48
    assert planting.rows_triangular(12, 4, spacing_in=12) == 46
    assert planting.rows_triangular(12, 0.9, spacing_in=12) == 0
    assert planting.rows_square(0.5, 0.5, spacing_in=12) == 0


def test_moist_soil_fills_a_small_truck_by_its_weight_and_bark_by_its_volume() -> None:
    """Common practice: 1,500 lb and 2 yd³; soil 2,200 lb/yd³ is 0.68 yd³ a load, bark fills the bed."""
    assert planting.truck_loads(5.56, "soil") == 9
    assert planting.truck_loads(4.0, "bark") == 2


def test_astronomic_timers_and_photocells_need_no_reset() -> None:
    plain = lighting.timer_resets(33.45, -112.07, "America/Phoenix", 2026)
    assert lighting.resets_of("plain", plain) == plain
    assert lighting.resets_of("astronomic", plain) == lighting.resets_of("photocell", plain) == []
