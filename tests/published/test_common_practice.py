"""What the formulas give where the trade has its rules of thumb and cities their advice."""

from datetime import time

import pytest

from landscape_care.almanac.climate import climate
from landscape_care.almanac.heat import heat_advice, heat_index_f
from landscape_care.trades import hydraulics, irrigation, water_feature
from landscape_care.trades.irrigation import (
    ZoneNeed,
    ZoneProgram,
    controller_program,
    cycle_and_soak,
    interval_days,
)
from landscape_care.trades.lighting import timer_resets
from landscape_care.trades.water_need import share_of_need

JUNE_ETO_IN = climate("maricopa").eto_in[5] / 30


def _june(zone: ZoneNeed) -> ZoneProgram:
    program = controller_program(
        [zone],
        eto_in_per_day=JUNE_ETO_IN,
        allowed_weekdays=range(7),
        window_opens=time(3),
        window_closes=time(9),
    )
    assert program.conflicts == ()
    return program.zones[0]


def test_annuals_in_the_low_desert_get_about_ten_minutes_of_micro_spray_a_day() -> None:
    """Common practice: 10 min a day, 3 either way, in the warm season."""
    bed = ZoneNeed(
        station=1,
        device="micro_spray",
        plant_factor=0.8,
        microclimate=1.0,
        area_ft2=100,
        root_depth_in=6,
        depletion=0.4,
        soil="sandy_loam",
        precipitation_in_h=2.0,
        distribution_uniformity=0.65,
    )
    program = _june(bed)
    assert program.run_minutes == pytest.approx(10, abs=3)
    assert program.interval_days == 1


def test_a_shrub_on_two_emitters_gets_two_hours_two_or_three_times_a_week() -> None:
    """Common practice: 2 h a run, half an hour either way; two or three runs a week."""
    shrub = ZoneNeed(
        station=2,
        device="drip",
        plant_factor=0.5,
        microclimate=1.0,
        area_ft2=28.27,
        root_depth_in=18,
        depletion=0.5,
        soil="sandy_loam",
        distribution_uniformity=0.9,
        emitters=2,
        emitter_gph=2.0,
        wetted_share=0.5,
    )
    program = _june(shrub)
    assert program.run_minutes == pytest.approx(120, abs=30)
    assert len(program.weekdays) in (2, 3)


def test_one_valve_for_bed_and_shrub_serves_both_badly() -> None:
    """Common practice says never; how badly: a tenth for the shrub, or fourteen times for the bed.

    A 5 ft shrub needs 2.35 gal a day and 7.05 in a three-day interval; two emitters of 2 gal/h give
    it 0.67 in the bed's ten minutes. Its own two hours would put 4 in on a bed that needs 0.276.
    """
    shrub_gpm = hydraulics.zone_gpm(2, 2)
    shrub_gal = 3 * irrigation.gallons_per_day(
        0.345, 0.5, area_ft2=irrigation.canopy_area_ft2(5), efficiency=0.9
    )
    assert 10 * shrub_gpm == pytest.approx(0.67, abs=0.01)
    assert share_of_need(10, shrub_gpm, needed_gal=shrub_gal) == pytest.approx(0.095, abs=0.002)
    bed_gpm = 2.0 * 100 / 96.25
    bed_gal = irrigation.gallons_per_day(0.345, 0.8, area_ft2=100)
    assert share_of_need(120, bed_gpm, needed_gal=bed_gal) == pytest.approx(14.5, abs=0.1)


def test_a_half_horse_pump_suits_a_sand_tank_of_nineteen_tenths() -> None:
    """Common practice and NSF/ANSI 50: 15 gal/min for a square foot, 20 at most; ½ hp lifts 35 by 30 ft."""
    assert water_feature.flow_for_filter_gpm(1.9) == pytest.approx(28.5)
    most_gpm = water_feature.flow_for_filter_gpm(1.9, water_feature.SAND_MOST_RATE)
    assert most_gpm == pytest.approx(38)
    assert 28.5 < 35 < most_gpm
    assert water_feature.brake_hp(35, 30, pump_efficiency=0.55) < 0.5


def test_a_thirsty_shrub_with_its_whole_root_zone_wetted_waits_five_to_seven_days() -> None:
    """Arizona arboretum page on water use, summer: shrubs of high water need every 5 to 7 days."""
    days = interval_days(1.4, 18, depletion=0.5, need_in_per_day=JUNE_ETO_IN * 0.5)
    assert 5 <= days <= 7


def test_annuals_in_june_wait_one_to_three_days() -> None:
    """City of Avondale AZ, monthly water tips, June: annuals every 1 to 3 days."""
    for root_depth_in in (6, 8, 10, 12):
        days = interval_days(1.4, root_depth_in, depletion=0.4, need_in_per_day=JUNE_ETO_IN * 0.8)
        assert 1 <= days <= 3


def test_twelve_minutes_in_las_vegas_become_three_times_four() -> None:
    """Southern Nevada Water Authority in the press, 2025: 12 min a day as 3 x 4 min."""
    split = cycle_and_soak(12, 1.75, infiltration_in_h=0.5, surface_storage_in=0.1)
    assert split.cycles == 3
    assert split.cycle_minutes == pytest.approx(4)


def test_a_backwash_is_due_eight_to_ten_psi_over_the_clean_gauge() -> None:
    """Pool trade guidance, several public pages."""
    assert not water_feature.backwash_due(17.9, 10)
    assert water_feature.backwash_due(18, 10)
    assert water_feature.backwash_due(20, 10)


def test_a_backwash_of_a_small_sand_tank_takes_70_to_115_gallons() -> None:
    """15 to 20 gpm/ft² on 1.9 ft² for 2.5 min is 70 to 95 gal, then half a minute of rinse."""
    low, high = (water_feature.backwash_gallons(rate * 1.9) for rate in (15, 20))
    assert low == pytest.approx(71 + 14, abs=1)
    assert high == pytest.approx(95 + 19, abs=1)


@pytest.mark.parametrize(("temperature_f", "humidity_pct", "chart_f"), [(82, 95, 94.0), (84, 100, 103.6)])
def test_humid_air_gets_the_adjustment_that_the_printed_chart_leaves_out(
    temperature_f: float, humidity_pct: float, chart_f: float
) -> None:
    """NWS heat index equation, WPC page: chart 93 and 103, equation 94.0 and 103.6."""
    assert heat_index_f(temperature_f, humidity_pct) == pytest.approx(chart_f, abs=0.05)


# Rows of relative humidity in the NWS chart as recomputed with its equation, whole degrees.
HEAT_TABLE = {
    5: "79 79 80 81 83 84 86 87 89 91 93 94 96 98 100 101",
    10: "79 79 81 82 84 85 87 89 90 92 94 96 98 100 102 104",
    20: "79 80 81 83 85 86 88 90 93 95 97 100 103 106 109 112",
    30: "80 80 82 84 86 88 90 93 96 99 102 106 110 114 118 122",
    40: "80 81 83 85 88 91 94 97 101 105 109 114 119 124 130 136",
    50: "81 83 85 88 91 95 99 103 108 113 118 124 131 137 144 152",
    60: "82 84 88 91 95 100 105 110 116 123 129 137 145 153 162 171",
    70: "83 86 90 95 100 106 112 119 126 134 143 152 161 172 182 194",
}


@pytest.mark.parametrize("humidity_pct", HEAT_TABLE)
def test_a_row_of_the_heat_index_table_is_met(humidity_pct: int) -> None:
    """NWS heat index equation, WPC page, tabulated at 80 to 110 °F every 2 °F."""
    expected = [int(cell) for cell in HEAT_TABLE[humidity_pct].split()]
    ours = [heat_index_f(temperature_f, humidity_pct) for temperature_f in range(80, 112, 2)]
    # Half a degree for rounding; at the join of the two formulas one cell may fall either way.
    assert all(abs(mine - cell) <= 0.8 for mine, cell in zip(ours, expected, strict=True)), ours


@pytest.mark.parametrize(
    ("temperature_f", "humidity_pct", "level"),
    [
        (79, 40, "usual"),
        (80, 10, "water"),  # 8 CCR 3395: shade from 80 °F in the air
        (80, 60, "water"),  # 89 FR 70698, proposed: initial trigger at an index of 80 °F
        (90, 40, "rest"),  # 89 FR 70698, proposed: high trigger at an index of 90 °F
        (95, 5, "rest"),  # 8 CCR 3395: high heat from 95 °F in the air
        (96, 50, "put_off"),  # weather service: danger from an index of 103 °F
        (108, 10, "put_off"),  # common practice: index 102, but 108 °F in the air
        (110, 40, "stop"),  # weather service: extreme danger from an index of 125 °F
    ],
)
def test_heat_advice_follows_the_published_triggers(
    temperature_f: float, humidity_pct: float, level: str
) -> None:
    assert heat_advice(temperature_f, humidity_pct).level == level


@pytest.mark.parametrize(
    ("place", "counts"),
    [
        ((33.45, -112.07, "America/Phoenix"), (8, 6, 4)),
        ((36.17, -115.14, "America/Los_Angeles"), (10, 7, 6)),
        ((35.08, -106.65, "America/Denver"), (10, 7, 6)),
        ((38.58, -121.49, "America/Los_Angeles"), (10, 9, 6)),
        ((39.74, -104.99, "America/Denver"), (12, 9, 6)),
        ((33.75, -84.39, "America/New_York"), (10, 7, 6)),
    ],
)
def test_a_plain_timer_needs_as_few_settings_as_the_table_says(
    place: tuple[float, float, str], counts: tuple[int, int, int]
) -> None:
    """Fewest settings a year within 15, 20 and 30 min of sunset, worked out with other code."""
    found = tuple(len(timer_resets(*place, 2025, tolerance_minutes=minutes)) for minutes in (15, 20, 30))
    assert found == counts
