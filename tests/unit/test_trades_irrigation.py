"""The program of a controller, by example, and what it refuses."""

from dataclasses import replace
from datetime import time

import pytest

from landscape_care.trades.irrigation import (
    ControllerProgram,
    ZoneNeed,
    controller_program,
    plant_factor,
    settings_per_year,
    soil,
)

BED = ZoneNeed(
    station=1,
    device="micro_spray",
    plant_factor=0.8,
    microclimate=1.0,
    area_ft2=100,
    root_depth_in=8,
    depletion=0.4,
    soil="sandy_loam",
    precipitation_in_h=2.0,
    distribution_uniformity=0.65,
)
SHRUBS = ZoneNeed(
    station=2,
    device="drip",
    plant_factor=0.5,
    microclimate=1.0,
    area_ft2=120,
    root_depth_in=18,
    depletion=0.5,
    soil="sandy_loam",
    emitters=12,
    emitter_gph=2.0,
)
LAWN_ON_CLAY = ZoneNeed(
    station=3,
    device="spray",
    plant_factor=0.6,
    microclimate=1.0,
    area_ft2=800,
    root_depth_in=6,
    depletion=0.5,
    soil="clay",
    precipitation_in_h=1.6,
)
CACTI = ZoneNeed(
    station=4,
    device="bubbler",
    plant_factor=0.1,
    microclimate=1.0,
    area_ft2=50,
    root_depth_in=10,
    depletion=0.6,
    soil="loam",
    gallons_per_minute=1.0,
)


def _program(
    *zones: ZoneNeed,
    eto_in: float = 0.3,
    days: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6),
    opens: time = time(4),
    closes: time = time(10),
    rain_in: float = 0,
) -> ControllerProgram:
    return controller_program(
        zones,
        eto_in_per_day=eto_in,
        allowed_weekdays=days,
        window_opens=opens,
        window_closes=closes,
        rain_in_per_day=rain_in,
    )


def test_a_week_of_water_is_a_week_of_need() -> None:
    """Net need 0.24 in/d over 100 ft² is 105 gal a week; the dry spots ask for 1.27 times that."""
    zone = _program(BED).zones[0]
    net_gal = 7 * 0.3 * 0.8 * 100 * 0.6234
    assert zone.gallons_per_week == pytest.approx(net_gal * 1.266, rel=0.06)


def test_drip_gives_its_need_over_its_emission_uniformity() -> None:
    zone = _program(SHRUBS).zones[0]
    net_gal = 7 * 0.3 * 0.5 * 120 * 0.6234
    assert zone.gallons_per_week == pytest.approx(net_gal / 0.85, rel=0.02)
    assert zone.cycles == 1


def test_sprays_on_clay_are_split_into_cycles_with_time_to_soak_in() -> None:
    zone = _program(LAWN_ON_CLAY).zones[0]
    assert zone.cycles > 1
    assert zone.run_minutes == zone.cycles * zone.cycle_minutes
    assert zone.cycle_minutes <= 60 * 0.20 / (1.6 - 0.10)
    assert zone.soak_minutes >= 30


def test_stations_run_one_after_another_from_the_opening_of_the_hours() -> None:
    zones = _program(BED, SHRUBS, eto_in=0.2).zones
    assert zones[0].start == time(4)
    assert zones[1].start >= time(4, zones[0].run_minutes)


def test_cacti_wait_weeks_and_say_so() -> None:
    zone = _program(CACTI).zones[0]
    assert len(zone.weekdays) == 1
    assert zone.interval_days % 7 == 0
    assert zone.interval_days >= 14
    assert zone.gallons_per_week == pytest.approx(zone.gallons_per_run * 7 / zone.interval_days)


def test_one_allowed_day_in_summer_is_a_conflict_and_no_flood() -> None:
    program = _program(BED, days=(2,))
    assert program.zones[0].weekdays == (2,)
    held_in = 1.4 * 8 / 12 * 0.4
    assert program.zones[0].gallons_per_run <= held_in * 100 * 0.6234 * 1.266 * 1.06
    assert "Station 1" in program.conflicts[0]
    assert "7 days between runs" in program.conflicts[0]


def test_roots_too_shallow_for_a_day_are_a_conflict_even_when_every_day_is_allowed() -> None:
    program = _program(replace(BED, root_depth_in=3))
    assert len(program.zones[0].weekdays) == 7
    assert "a run every day leaves it short" in program.conflicts[0]


def test_no_allowed_day_is_a_conflict_for_each_station() -> None:
    program = _program(BED, SHRUBS, days=())
    assert program.zones == ()
    assert [text[:9] for text in program.conflicts] == ["Station 1", "Station 2"]


def test_a_run_longer_than_the_hours_is_a_conflict() -> None:
    program = _program(replace(SHRUBS, emitters=2), closes=time(4, 30))
    assert program.zones == ()
    assert "between 04:00 and 04:30" in program.conflicts[0]


def test_long_runs_move_to_more_days_when_the_hours_are_short() -> None:
    roomy, tight = _program(SHRUBS).zones[0], _program(SHRUBS, closes=time(5, 15)).zones[0]
    assert len(tight.weekdays) > len(roomy.weekdays)
    assert tight.run_minutes <= 75


def test_hours_past_midnight_never_carry_a_run_over_it() -> None:
    zones = _program(BED, SHRUBS, LAWN_ON_CLAY, opens=time(22), closes=time(6)).zones
    assert len(zones) == 3
    for zone in zones:
        start = zone.start.hour * 60 + zone.start.minute
        end = start + zone.run_minutes + (zone.cycles - 1) * zone.soak_minutes
        assert (start >= 22 * 60 and end <= 24 * 60) or end <= 6 * 60


def test_rain_that_covers_the_need_closes_the_station() -> None:
    zone = _program(CACTI, eto_in=0.1, rain_in=0.1).zones[0]
    assert zone.is_off
    assert (zone.run_minutes, zone.gallons_per_week) == (0, 0)


def test_a_quarter_of_the_rain_is_counted() -> None:
    """EPA WaterSense: 0.2 in of rain a day take 0.05 in off the 0.24 in a day that the bed needs."""
    dry, wet = _program(BED).zones[0], _program(BED, rain_in=0.2).zones[0]
    assert wet.gallons_per_week / dry.gallons_per_week == pytest.approx(0.19 / 0.24, abs=0.08)


def test_a_flow_may_stand_for_a_precipitation_rate() -> None:
    by_flow = replace(BED, precipitation_in_h=None, gallons_per_minute=100 * 2.0 / 96.25)
    assert _program(by_flow).zones == _program(BED).zones


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"device": "sprinkler"}, "device is 'sprinkler'"),
        ({"plant_factor": 2}, "plant_factor"),
        ({"microclimate": 0.4}, "microclimate"),
        ({"area_ft2": 0}, "area_ft2"),
        ({"root_depth_in": 0}, "root_depth_in"),
        ({"depletion": 1}, "depletion"),
        ({"soil": "peat"}, "soil is 'peat'"),
        ({"precipitation_in_h": None}, "has no flow"),
        ({"distribution_uniformity": 1.1}, "distribution_uniformity"),
        ({"wetted_share": 0}, "wetted_share"),
        ({"station": 0}, "station"),
    ],
)
def test_a_zone_that_cannot_be_watered_is_refused(change: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replace(BED, **change)  # type: ignore[arg-type]


def test_a_station_given_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="station 1 is given twice"):
        _program(BED, BED)


def test_hours_of_no_length_are_refused() -> None:
    with pytest.raises(ValueError, match="must differ"):
        _program(BED, opens=time(4), closes=time(4))


def test_an_eighth_weekday_is_refused() -> None:
    with pytest.raises(ValueError, match="allowed_weekdays"):
        _program(BED, days=(7,))


def test_unknown_water_classes_and_soils_are_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="VL, L, M, H"):
        plant_factor("medium")
    with pytest.raises(ValueError, match="sandy_loam"):
        soil("sandy loam")


def test_seasonal_settings_follow_one_another_round_the_year() -> None:
    settings = settings_per_year((2.4, 2.9, 5.1, 6.8, 8.6, 9.9, 9.7, 9.0, 6.7, 5.1, 3.2, 2.1), 12.5)
    assert max(setting.percent for setting in settings) <= 100
    assert len({setting.first_day for setting in settings}) == len(settings)


def test_a_year_without_evapotranspiration_is_refused() -> None:
    with pytest.raises(ValueError, match="eto_by_month"):
        settings_per_year((0.0,) * 12, 12.5)
