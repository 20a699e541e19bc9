"""The numbers a care task carries, against figures of the trade."""

from dataclasses import replace
from datetime import date, time
from typing import Any

import pytest

from landscape_care.almanac.climate import climate
from landscape_care.care.details import (
    NUMBERS,
    Scene,
    amount,
    hours_per_day,
    night_hours,
    plant_count,
    planting_area_ft2,
)
from landscape_care.care.measures import Threshold, check_reading
from landscape_care.trades.kinds import (
    Bed,
    Filter,
    Fixture,
    Paving,
    Thing,
    Transformer,
    Turf,
    WaterFeature,
    Zone,
)
from landscape_care.trades.plants import PlantBook, plants
from landscape_care.trades.zone_needs import program, zone_need
from tests.unit.care_garden import courtyard, of_rule, planting, tasks

JUNE = date(2027, 6, 10)


def numbers(name: str, thing: Thing, place: str = "maricopa", *others: Thing) -> dict[str, float]:
    garden = courtyard(place, things=(thing, *others))
    found: dict[str, Any] = NUMBERS[name](Scene(garden, climate(place)), thing, JUNE)
    return dict(found["numbers"])


def pocket(**values: Any) -> Any:
    return planting(1, "P1", "viola-x-wittrockiana", "seasonal_colour", partner="zinnia-elegans", **values)


def test_a_hundred_and_sixteen_plants_come_in_four_flats_of_thirty_six() -> None:
    # Handbook of planting arithmetic: 116 plants are 4 flats of 36.
    found = numbers("colour_swap_to_cool", pocket(quantity=116))
    assert (found["plants"], found["flats"]) == (116, 4)


def test_plants_for_an_area_follow_the_published_spacing_table() -> None:
    # Published spacing tables: 10 in on centre in triangles are 1.66 plants for a square foot.
    found = numbers("colour_swap_to_warm", pocket(area_ft2=100.0, spacing_in=10.0))
    assert found["plants"] == pytest.approx(166, abs=1)


def test_an_inch_of_compost_on_324_square_feet_is_a_cubic_yard() -> None:
    # Geometry: 324 sq ft an inch deep.
    assert numbers("colour_swap_to_cool", pocket(area_ft2=324.0))["compost_yd3"] == 1.0


def test_each_swap_brings_in_the_plant_of_its_season() -> None:
    garden = courtyard("maricopa", things=(pocket(area_ft2=40.0),))
    scene, thing = Scene(garden, climate("maricopa")), garden.things[0]
    cool = NUMBERS["colour_swap_to_cool"](scene, thing, JUNE)["lines"]
    warm = NUMBERS["colour_swap_to_warm"](scene, thing, JUNE)["lines"]
    assert "pansy" in cool["en"][0]
    assert "zinnia" in warm["en"][0]
    assert cool["es"] != cool["en"]


def test_a_pound_of_nitrogen_on_a_thousand_square_feet() -> None:
    # Extension formula: area / 1000 x rate / share of nitrogen.
    assert numbers("feed_full", pocket(area_ft2=1000.0))["fertiliser_lb"] == pytest.approx(1 / 0.14, abs=0.01)


def test_the_backwash_of_a_small_tank_sends_seventy_to_ninety_five_gallons_away_and_the_rinse_more() -> None:
    # Common practice for a 1.9 sq ft tank: 28 to 38 gal/min for 2.5 min are 70 to 95 gal, then a 30 s rinse.
    found = numbers("backwash", Filter(uid=1, tag="F", medium="sand", area_ft2=1.9, clean_psi=9.0))
    assert found["backwash_gpm"] == pytest.approx(28.5)
    assert 70 <= found["backwash_gpm"] * found["backwash_minutes"] <= 95
    assert found["backwash_gal"] == pytest.approx(28.5 * 3, abs=0.01)


def test_open_water_in_the_low_desert_loses_twenty_two_gallons_a_day_in_june() -> None:
    # FAO-56 table 12 (1.05 ETo) with the AZMET Maricopa mean of June: 22.6 gal/day for 100 sq ft.
    pond = WaterFeature(uid=1, tag="W", surface_ft2=100.0, volume_gal=900.0)
    assert numbers("expected_loss", pond)["expected_gal_day"] == pytest.approx(22.6, rel=0.03)


def test_joint_sand_stays_under_what_new_joints_take() -> None:
    # Common practice: 15 to 25 lb for 100 sq ft of joints an eighth of an inch wide, when filled anew.
    found = numbers("joint_sand", Paving(uid=1, tag="P", stone="flagstone", area_ft2=100.0))
    assert 0 < found["sand_lb"] < 15


def test_turf_is_given_back_what_wears_off_in_a_year() -> None:
    # Common practice: 0.1 to 0.3 lb for a square foot and year.
    assert 30 <= numbers("turf_infill", Turf(uid=1, tag="T", area_ft2=300.0))["infill_lb"] <= 90


def test_mulch_is_renewed_with_less_than_the_whole_layer() -> None:
    # Geometry: 450 sq ft 3 in deep hold 4.17 yd3.
    bed = Bed(uid=1, tag="B", area_ft2=450.0, exposure="shade", mulch_depth_in=3.0)
    assert 0 < numbers("mulch_top_up", bed)["mulch_yd3"] < 4.17


def test_the_load_of_a_transformer_is_set_against_eighty_percent() -> None:
    transformer = Transformer(uid=1, tag="T", capacity_va=300.0, timer="plain")
    light = Fixture(uid=2, tag="L", transformer_id=1, watts=20.0, quantity=10)
    found = numbers("transformer_load", transformer, "maricopa", light)
    assert found == {"connected_va": 200.0, "limit_va": 240.0}


def test_lamps_of_fifty_thousand_hours_are_replaced_after_twenty_years_of_six_hour_nights() -> None:
    # L70 hours over hours a year: 50,000 h at 6 h a night are 22.8 years; nine tenths are 20.5.
    timer = Transformer(uid=1, tag="T", capacity_va=300.0, timer="plain")
    light = Fixture(uid=2, tag="L", transformer_id=1, watts=4.0, rated_hours=50_000)
    garden = courtyard("phoenix", things=(timer, light))
    [due] = [w.window.due for w in of_rule(tasks(garden, through=date(2048, 1, 1)), "lamp-replacement")]
    assert (due - garden.care_starts_on).days / 365.25 == pytest.approx(0.9 * 22.8, abs=0.05)


def test_the_night_of_a_timer_may_pass_midnight() -> None:
    assert night_hours(time(18), time(23, 30)) == 5.5
    assert night_hours(time(19), time(1)) == 6
    assert night_hours(time(19), None) == 6
    garden = courtyard()
    with pytest.raises(ValueError, match="'turf'"):
        hours_per_day(Scene(garden, climate("maricopa")), Turf(uid=1, tag="T", area_ft2=3.0))


def test_count_and_area_of_a_planting_follow_from_one_another() -> None:
    by_area = pocket(area_ft2=50.0, spacing_in=12.0)
    # Published: 1.155 plants a square foot at 12 in.
    assert plant_count(by_area, PlantBook()) == round(50 * 1.155)
    by_count = pocket(quantity=58, spacing_in=12.0)
    assert planting_area_ft2(by_count, PlantBook()) == pytest.approx(50.2, abs=0.1)
    scene = Scene(courtyard(), climate("albuquerque"))
    assert amount(scene, by_area, "plant") == plant_count(by_area, PlantBook())
    assert amount(scene, None, "ft2") == 120 + 90 + 300 + 400 + 250


def test_annuals_on_micro_spray_in_the_june_desert_run_about_ten_minutes_a_day() -> None:
    # Worked case of the trade: PF 0.8, 2.1 gal/min on 100 sq ft, DU 0.65, ETo 10.36 in of June: 10.5 min.
    bed = Bed(uid=1, tag="B", area_ft2=100.0, exposure="full_sun", amended_depth_in=6.0)
    colour = planting(2, "P", "zinnia-elegans", "seasonal_colour", bed_id=1, area_ft2=100.0)
    zone = Zone(
        uid=3,
        tag="Z",
        controller_id=4,
        station=1,
        device="micro_spray",
        area_ft2=100.0,
        flow_gpm=2.1,
        distribution_uniformity=0.65,
        planting_ids=(2,),
    )
    need = zone_need(courtyard("maricopa", things=(bed, colour, zone)), zone, JUNE)
    assert need is not None
    assert need.plant_factor == 0.8
    [planned] = program((need,), 10.36 / 30, tuple(range(7)), (time(4), time(9))).zones
    assert len(planned.weekdays) == 7
    assert planned.run_minutes == pytest.approx(10.5, abs=1)


def test_the_thirstiest_planting_of_a_valve_sets_its_need() -> None:
    # SLIDE rule 3: one valve serves its thirstiest plants.
    garden = courtyard("maricopa")
    both = replace(garden.thing(11), planting_ids=(3, 6))  # annuals at 0.8, a desert shrub well below
    need = zone_need(garden, both, JUNE)
    assert need is not None
    assert need.plant_factor == plants()["viola-x-wittrockiana"].plant_factor
    assert need.plant_factor > plants()["leucophyllum-frutescens"].plant_factor


def test_details_are_asked_of_the_right_kind() -> None:
    with pytest.raises(TypeError, match="wanted a filter"):
        numbers("backwash", Turf(uid=1, tag="T", area_ft2=3.0))


# --- Readings ---


@pytest.mark.parametrize(
    ("quantity", "value", "unit", "said"),
    [
        ("mood", 3.0, "psi", "quantity is 'mood'"),
        ("filter_pressure_psi", 12.0, "bar", "unit is 'bar'"),
        ("filter_pressure_psi", 900.0, "psi", "value is 900"),
        ("filter_pressure_psi", float("nan"), "psi", "value is nan"),
    ],
)
def test_a_reading_no_gauge_shows_is_refused(quantity: str, value: float, unit: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        check_reading(quantity, value, unit)


def test_thresholds_compare_as_they_say() -> None:
    turf = Turf(uid=1, tag="T", area_ft2=3.0)
    assert Threshold("trip_in", at_least=0.5).is_met(0.5, turf)
    assert not Threshold("trip_in", at_least=0.5).is_met(0.49, turf)
    assert Threshold("water_ph", at_most=6.5).is_met(6.5, turf)
    outside = Threshold("last_fixture_v", outside=(10.8, 15.0))
    assert [outside.is_met(volts, turf) for volts in (10.7, 10.8, 15.0, 15.1)] == [True, False, False, True]
    assert not Threshold("filter_pressure_psi", above_clean=8).is_met(99, turf)
    with pytest.raises(ValueError, match="low and a higher"):
        Threshold("last_fixture_v", outside=(15.0, 10.8))
