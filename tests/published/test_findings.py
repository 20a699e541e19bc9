"""Faults of the record against the numbers that the trade and the standards give.

Each case names where its number comes from. 'Common practice' has no single source; 'from memory'
means that the document was not at hand.
"""

from datetime import date
from typing import Any

import pytest

from landscape_care.almanac.climate import climate
from landscape_care.properties.findings import LOOKS, WATCH, WRONG, Finding, findings
from landscape_care.trades.kinds import (
    AsBuilt,
    Bed,
    Controller,
    Filter,
    Fixture,
    Planting,
    Pump,
    Thing,
    Transformer,
    WaterFeature,
    WireRun,
    Zone,
)
from landscape_care.trades.plants import plants

ALBUQUERQUE = climate("albuquerque")


def place(*things: Thing, **values: Any) -> AsBuilt:
    where: dict[str, Any] = {
        "latitude_deg": 35.1,
        "longitude_deg": -106.6,
        "elevation_m": 1600.0,
        "time_zone": "America/Denver",
    }
    return AsBuilt(
        uid=1, climate="albuquerque", care_starts_on=date(2026, 11, 25), things=things, **(where | values)
    )


def found(*things: Thing, at: str = "albuquerque", **values: Any) -> list[tuple[str, str, str]]:
    return [(f.tag, f.severity, f.look) for f in findings(place(*things, **values), climate(at))]


# --- Lighting ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("watts", "severity"),
    # 80 % of the rating: common practice for low-voltage transformers, after the continuous-load
    # rule of NEC 210.20(A), from memory. 150 VA carry 120 W.
    [(119.0, None), (120.0, None), (121.0, WATCH), (150.0, WATCH), (151.0, WRONG)],
)
def test_a_transformer_carries_at_most_80_percent_of_its_rating(watts: float, severity: str | None) -> None:
    transformer = Transformer(uid=1, tag="T1", capacity_va=150, timer="plain")
    light = Fixture(uid=2, tag="X1", transformer_id=1, watts=watts)
    expected = [] if severity is None else [("T1", severity, "transformer-load")]
    assert found(transformer, light) == expected


def test_lights_count_whether_they_name_the_transformer_or_its_cable_and_only_once() -> None:
    transformer = Transformer(uid=1, tag="T1", capacity_va=100, timer="plain")
    run = WireRun(uid=2, tag="L1", transformer_id=1, awg=8, length_ft=1)
    both = Fixture(uid=3, tag="X1", transformer_id=1, wire_run_id=2, watts=8, quantity=5)
    by_cable = Fixture(uid=4, tag="X2", wire_run_id=2, watts=8, quantity=5)
    assert found(transformer, run, both, by_cable) == []
    assert found(transformer, run, both, by_cable, Fixture(uid=5, tag="X3", wire_run_id=2, watts=1)) == [
        ("T1", WATCH, "transformer-load")
    ]


@pytest.mark.parametrize(
    ("length_ft", "watts", "dim"),
    # NEC Chapter 9 Table 8, stranded uncoated copper, 75 °C, from memory: 12 AWG 1.98 ohm/kft.
    # 100 ft with 30 W at the end lose 2 x 0.1 x 1.98 x 2.5 = 0.99 V; 1.2 V are a tenth of 12 V.
    [(100, 30, False), (120, 30, False), (122, 30, True), (100, 36, False), (100, 37, True)],
)
def test_a_cable_whose_last_light_gets_less_than_10_8_volts_is_named(
    length_ft: float, watts: float, dim: bool
) -> None:
    transformer = Transformer(uid=1, tag="T1", capacity_va=300, timer="plain")
    run = WireRun(uid=2, tag="L1", transformer_id=1, awg=12, length_ft=length_ft)
    light = Fixture(uid=3, tag="X1", wire_run_id=2, watts=watts)
    assert found(transformer, run, light) == ([("L1", WATCH, "voltage")] if dim else [])


def test_lights_spread_along_a_cable_lose_less_than_all_of_them_at_its_end() -> None:
    """Four of 10 W every 25 ft on 12 AWG lose 0.825 V by NEC Chapter 9 Table 8; at the end 1.32 V."""
    transformer = Transformer(uid=1, tag="T1", capacity_va=300, timer="plain")
    run = WireRun(uid=2, tag="L1", transformer_id=1, awg=12, length_ft=100)
    spread = [
        Fixture(uid=3 + n, tag=f"X{n}", wire_run_id=2, watts=10, distance_ft=25 * (n + 1)) for n in range(4)
    ]
    at_the_end = Fixture(uid=9, tag="X9", wire_run_id=2, watts=40)
    assert found(transformer, run, *spread) == []
    assert found(transformer, run, at_the_end) == [("L1", WATCH, "voltage")]


# --- Water features ---------------------------------------------------------------------------


def basin(flow_gpm: float, medium: str, area_ft2: float | None) -> tuple[Thing, ...]:
    return (
        WaterFeature(uid=1, tag="W1", surface_ft2=30, volume_gal=1000),
        Pump(uid=2, tag="Q1", water_feature_id=1, power_hp=2, flow_gpm=flow_gpm),
        Filter(uid=3, tag="F1", water_feature_id=1, medium=medium, area_ft2=area_ft2),
    )


@pytest.mark.parametrize(
    ("flow_gpm", "severity"),
    # Published filter guidance: 15 gpm a square foot is the design rate of a sand filter, 20 the usual
    # limit; a tank of 1.9 sq ft takes 28 gpm by design and 38 at most.
    [(28, None), (29, WATCH), (38, WATCH), (39, WRONG), (60, WRONG)],
)
def test_a_sand_filter_takes_15_gpm_a_square_foot_and_20_at_most(
    flow_gpm: float, severity: str | None
) -> None:
    expected = [] if severity is None else [("F1", severity, "filter-rate")]
    assert found(*basin(flow_gpm, "sand", 1.9)) == expected


def test_two_pumps_on_one_filter_add_up() -> None:
    second = Pump(uid=4, tag="Q2", water_feature_id=1, power_hp=2, flow_gpm=15)
    assert found(*basin(15, "sand", 1.9), second) == [("F1", WATCH, "filter-rate")]


def test_a_filter_of_beads_has_no_rate_on_the_record() -> None:
    assert found(*basin(60, "bead", None)) == []


@pytest.mark.parametrize(
    ("power_hp", "weak"),
    # Hydraulic Institute definition of water horsepower: 35 gpm x 30 ft / 3960 = 0.265 hp; at an
    # efficiency of 0.55 (common practice for small pumps) the shaft takes 0.48 hp.
    [(0.5, False), (0.47, True)],
)
def test_a_pump_too_weak_for_its_flow_and_head_is_named(power_hp: float, weak: bool) -> None:
    pump = Pump(uid=1, tag="Q1", power_hp=power_hp, flow_gpm=35, head_ft=30)
    assert found(pump) == ([("Q1", WATCH, "pump-power")] if weak else [])


@pytest.mark.parametrize(("fish", "flow_gpm", "slow"), [(True, 8, True), (True, 9, False), (False, 8, False)])
def test_water_with_fish_turns_over_within_two_hours(fish: bool, flow_gpm: float, slow: bool) -> None:
    """Common practice for fish: 1 to 2 hours; 1,000 gal in 2 h are 8.33 gpm."""
    feature = WaterFeature(uid=1, tag="W1", surface_ft2=100, volume_gal=1000, fish=fish)
    pump = Pump(uid=2, tag="Q1", water_feature_id=1, power_hp=2, flow_gpm=flow_gpm)
    assert found(feature, pump) == ([("W1", WATCH, "turnover")] if slow else [])


# --- Irrigation -------------------------------------------------------------------------------


def valve(uid: int, device: str, *plantings: int, **values: Any) -> Zone:
    flow: dict[str, Any] = {"emitters": 10, "emitter_gph": 1.0} if device == "drip" else {"flow_gpm": 2.0}
    chosen: dict[str, Any] = (
        {"controller_id": 100, "station": uid, "device": device, "planting_ids": plantings} | flow | values
    )
    return Zone(uid=uid, tag=f"Z{uid}", **chosen)


CONTROLLER = Controller(uid=100, tag="C1", stations=6)


def plant(uid: int, key: str, role: str, **values: Any) -> Planting:
    return Planting(uid=uid, tag=f"P{uid}", plant=key, role=role, quantity=3, **values)


@pytest.mark.parametrize(
    ("flow_gpm", "severity"),
    # Common practice: a valve draws at most 75 % of what the supply gives at working pressure.
    [(9.0, None), (9.1, WATCH), (12.0, WATCH), (12.1, WRONG)],
)
def test_a_zone_draws_at_most_three_quarters_of_the_supply(flow_gpm: float, severity: str | None) -> None:
    expected = [] if severity is None else [("Z1", severity, "zone-flow")]
    assert found(CONTROLLER, valve(1, "spray", flow_gpm=flow_gpm), supply_gpm=12.0) == expected
    assert found(CONTROLLER, valve(1, "spray", flow_gpm=flow_gpm)) == []


def test_flow_of_a_drip_zone_is_the_sum_of_its_emitters() -> None:
    """A count times gal/h over 60: 600 emitters of 1 gal/h draw 10 gal/min."""
    drip = valve(1, "drip", emitters=600, emitter_gph=1.0)
    assert ("Z1", WATCH, "zone-flow") in found(CONTROLLER, drip, supply_gpm=13.0)
    assert ("Z1", WATCH, "zone-flow") not in found(CONTROLLER, drip, supply_gpm=13.4)


@pytest.mark.parametrize(("emitters", "said"), [(100, False), (101, True)])
def test_a_half_inch_line_of_drip_carries_200_gallons_an_hour(emitters: int, said: bool) -> None:
    """Common practice ("200 feet and 200 gallons an hour"); 5 ft/s in 0.600 in is 264 gal/h."""
    drip = valve(1, "drip", emitters=emitters, emitter_gph=2.0)
    assert found(CONTROLLER, drip) == ([("Z1", WATCH, "drip-tubing")] if said else [])


@pytest.mark.parametrize(
    ("values", "severity"),
    # Common practice: half-inch 200 ft and 200 gal/h, three-quarter 480 and 480, quarter-inch 30 and
    # 30; 5 ft/s is 264 gal/h in 0.600 in and 21 in 0.170 in (v = 0.4085 gpm/d², geometry).
    [
        ({"tubing": "half_inch", "emitters": 100}, None),
        ({"tubing": "half_inch", "emitters": 120}, WATCH),
        ({"tubing": "half_inch", "emitters": 134}, WRONG),
        ({"tubing": "half_inch", "emitters": 134, "lines": 2}, None),
        ({"tubing": "half_inch", "emitters": 50, "line_ft": 201}, WATCH),
        ({"tubing": "three_quarter_inch", "emitters": 134, "line_ft": 480}, None),
        ({"tubing": "quarter_inch", "emitters": 10}, None),
        ({"tubing": "quarter_inch", "emitters": 16}, WRONG),
    ],
)
def test_drip_tubing_carries_what_the_trade_lets_it(values: dict[str, Any], severity: str | None) -> None:
    drip = valve(1, "drip", emitter_gph=2.0, **values)
    assert found(CONTROLLER, drip) == ([("Z1", severity, "drip-tubing")] if severity else [])


def test_a_long_line_says_what_it_loses_to_friction() -> None:
    """9.44 psi by Hazen-Williams in 200 ft of 200 gal/h, 300 ft of it times 0.356 for a hundred outlets."""
    drip = valve(1, "drip", emitters=100, emitter_gph=2.0, tubing="half_inch", line_ft=300)
    (finding,) = findings(place(CONTROLLER, drip), ALBUQUERQUE)
    assert "loses 5.0 psi in 300 ft" in finding.message_en


@pytest.mark.parametrize(
    ("device", "static_psi", "expected"),
    # Common practice at the head: drip from 15 psi, rotors from 40; losses between take a fifth.
    [
        ("drip", 19, []),
        ("drip", 18, [("Z1", WATCH, "low-pressure")]),
        ("drip", 14, [("Z1", WRONG, "low-pressure")]),
        ("rotor", 50, []),
        ("rotor", 49, [("Z1", WATCH, "low-pressure")]),
        ("rotor", 39, [("Z1", WRONG, "low-pressure")]),
        # 80 psi: plumbing codes ask for a regulator above it (from memory).
        ("rotor", 80, []),
        ("rotor", 81, [("C1", WATCH, "high-pressure")]),
    ],
)
def test_the_supply_pressure_suits_the_heads(
    device: str, static_psi: float, expected: list[tuple[str, str, str]]
) -> None:
    assert found(CONTROLLER, valve(1, device), static_pressure_psi=static_psi) == expected


def test_more_than_two_emitter_flows_on_a_planting_are_named() -> None:
    """Common practice: emitters of one flow, more of them on a larger plant."""
    shrub = plant(10, "leucophyllum-frutescens", "shrub")
    zones = [valve(n, "drip", 10, station=n, emitter_gph=flow) for n, flow in ((1, 0.5), (2, 1.0), (3, 2.0))]
    assert found(CONTROLLER, shrub, *zones) == [("P10", WATCH, "emitter-mix")]
    assert found(CONTROLLER, shrub, *zones[:2]) == []


@pytest.mark.parametrize(("head_ft", "said"), [(8, True), (9, True), (10, False)])
def test_a_pump_lifts_water_higher_than_it_falls(head_ft: float, said: bool) -> None:
    """Head is height of water (definition): with less than the fall nothing arrives at the top."""
    feature = WaterFeature(uid=1, tag="W1", surface_ft2=30, volume_gal=300, fall_ft=9)
    pump = Pump(uid=2, tag="Q1", water_feature_id=1, power_hp=1, flow_gpm=10, head_ft=head_ft)
    assert found(feature, pump) == ([("Q1", WRONG, "pump-head")] if said else [])


def test_the_light_from_which_a_cable_is_dim_is_named() -> None:
    """50 W at 200 ft of 12 AWG lose 3.3 V, 54 W over the first 20 ft 0.36 V (NEC Chapter 9 Table 8)."""
    transformer = Transformer(uid=1, tag="T1", capacity_va=300, timer="plain")
    run = WireRun(uid=2, tag="L1", transformer_id=1, awg=12, length_ft=200)
    near = Fixture(uid=3, tag="X1", wire_run_id=2, watts=4, distance_ft=20)
    far = Fixture(uid=4, tag="X2", wire_run_id=2, watts=50, distance_ft=200)
    (finding,) = findings(place(transformer, run, near, far), ALBUQUERQUE)
    assert "dim from X2 on" in finding.message_en


def test_flow_of_sprays_without_a_meter_follows_from_their_rate() -> None:
    """One inch an hour on 96.25 sq ft is 1 gal/min (231 cubic inches a gallon, geometry)."""
    sprays = valve(1, "spray", flow_gpm=None, precipitation_in_h=2.0, area_ft2=481.25)
    assert found(CONTROLLER, sprays, supply_gpm=13.0) == [("Z1", WATCH, "zone-flow")]


def test_sprays_and_drip_on_one_planting_are_wrong() -> None:
    """Irrigation Association practice, from memory: one kind of emission device for a plant or valve."""
    shrub = plant(10, "leucophyllum-frutescens", "shrub")
    assert found(CONTROLLER, shrub, valve(1, "spray", 10), valve(2, "drip", 10)) == [
        ("P10", WRONG, "two-devices")
    ]
    assert found(CONTROLLER, shrub, valve(1, "drip", 10), valve(2, "drip", 10)) == []


def test_seasonal_colour_and_shrubs_on_one_valve_are_wrong() -> None:
    """Ten minutes bring a shrub with two 2 gal/h emitters 0.67 gal of the 8 it needs (common practice)."""
    colour, shrub = plant(10, "viola-x-wittrockiana", "seasonal_colour"), plant(11, "rosa-hybrid-tea", "rose")
    named = found(CONTROLLER, colour, shrub, valve(1, "micro_spray", 10, 11))
    assert named == [("Z1", WRONG, "shared-valve")]


def test_plants_two_classes_of_water_need_apart_on_one_valve_are_named() -> None:
    """Classes as in WUCOLS IV (very low, low, moderate, high); a valve serves its thirstiest plant."""
    for key, apart in (("agave-parryi", True), ("hesperaloe-parviflora", False)):
        moderate, other = plant(10, "rosa-hybrid-tea", "rose"), plant(11, key, "succulent")
        named = found(CONTROLLER, moderate, other, valve(1, "drip", 10, 11))
        assert named == ([("Z1", WATCH, "unlike-needs")] if apart else [])


def test_a_station_that_does_not_exist_or_holds_two_zones_or_none_is_named() -> None:
    assert found(CONTROLLER, valve(1, "drip", station=7)) == [("Z1", WRONG, "station")]
    both = found(CONTROLLER, valve(1, "drip"), valve(2, "drip", station=1))
    assert both == [("Z1", WATCH, "station"), ("Z2", WATCH, "station")]
    assert found(valve(1, "drip")) == [("Z1", WRONG, "no-controller")]


def test_a_planting_that_no_valve_waters_is_named_where_there_are_valves() -> None:
    rose, cactus = plant(10, "rosa-hybrid-tea", "rose"), plant(11, "agave-parryi", "succulent")
    assert found(CONTROLLER, rose, cactus, valve(1, "drip")) == [("P10", WATCH, "unwatered")]
    assert found(rose, cactus) == []


# --- Plants -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "exposure", "severity"),
    # Light as nursery catalogs print it, from memory: hosta shade, zinnia sun, boxwood part shade.
    [
        ("hosta-hybrids", "full_sun", WRONG),
        ("hosta-hybrids", "filtered_shade", WATCH),
        ("hosta-hybrids", "shade", None),
        ("zinnia-elegans", "shade", WRONG),
        ("zinnia-elegans", "filtered_shade", WATCH),
        ("zinnia-elegans", "full_sun", None),
        ("buxus-microphylla-var-japonica", "full_sun", WATCH),
        ("salvia-greggii", "filtered_shade", None),
    ],
)
def test_a_plant_in_the_wrong_light_is_named(key: str, exposure: str, severity: str | None) -> None:
    bed = Bed(uid=1, tag="B1", area_ft2=50, exposure=exposure)
    role = "seasonal_colour" if plants()[key].group.startswith("annual") else "perennial"
    expected = [] if severity is None else [("P2", severity, "light")]
    assert found(bed, plant(2, key, role, bed_id=1)) == expected


def test_the_partner_of_a_colour_pocket_must_bear_the_light_too() -> None:
    bed = Bed(uid=1, tag="B1", area_ft2=50, exposure="shade")
    pocket = plant(2, "primula-x-polyantha", "seasonal_colour", bed_id=1, partner="zinnia-elegans")
    assert found(bed, pocket) == [("P2", WRONG, "light")]


@pytest.mark.parametrize(
    ("key", "at", "severity"),
    # Hardiness as nursery catalogs print it, from memory, plus or minus 5 °F; January mean minimum
    # (NOAA 1991-2020 normals, from memory): Albuquerque 27, Denver 19, Phoenix 46 °F.
    [
        ("bougainvillea-la-jolla", "albuquerque", WRONG),
        ("bougainvillea-la-jolla", "phoenix", None),
        ("salvia-greggii", "albuquerque", None),
        ("salvia-greggii", "denver", WATCH),
        ("rosmarinus-officinalis-salvia-rosmarinus", "albuquerque", WATCH),
        ("echinacea-purpurea", "denver", None),
        ("agave-americana", "denver", WATCH),
    ],
)
def test_a_plant_in_too_cold_a_place_is_named(key: str, at: str, severity: str | None) -> None:
    expected = [] if severity is None else [("P2", severity, "cold")]
    assert found(plant(2, key, "shrub"), at=at) == expected


def test_seasonal_colour_is_not_held_against_the_winter() -> None:
    assert found(plant(2, "zinnia-elegans", "seasonal_colour"), at="denver") == []


def test_a_plant_that_left_the_catalog_is_named() -> None:
    assert found(plant(2, "unobtainium", "shrub")) == [("P2", WATCH, "unknown-plant")]


# --- All of them ------------------------------------------------------------------------------


def test_what_is_gone_is_not_judged_and_what_hangs_on_it_is() -> None:
    bed = Bed(uid=1, tag="B1", area_ft2=50, exposure="full_sun", removed_on=date(2026, 1, 1))
    hosta = plant(2, "hosta-hybrids", "perennial", bed_id=1)
    assert found(bed, hosta) == [("P2", WATCH, "belongs-to-gone")]
    record = place(bed, hosta)
    assert [f.look for f in findings(record, ALBUQUERQUE, today=date(2025, 12, 31))] == ["light"]


def test_an_empty_record_has_no_fault() -> None:
    assert findings(place(), ALBUQUERQUE) == ()


def faulty() -> AsBuilt:
    """A record on which every look finds something."""
    lights = (
        Transformer(uid=20, tag="T1", capacity_va=60, timer="plain"),
        WireRun(uid=21, tag="L1", transformer_id=20, awg=18, length_ft=300),
        Fixture(uid=22, tag="X1", wire_run_id=21, watts=80),
    )
    water = (
        WaterFeature(uid=30, tag="W1", surface_ft2=30, volume_gal=9000, fall_ft=40, fish=True),
        Pump(uid=31, tag="Q1", water_feature_id=30, power_hp=0.1, flow_gpm=60, head_ft=30),
        Filter(uid=32, tag="F1", water_feature_id=30, medium="sand", area_ft2=1.9),
    )
    garden = (
        Bed(uid=1, tag="B1", area_ft2=50, exposure="full_sun"),
        Bed(uid=5, tag="B2", area_ft2=50, exposure="shade", removed_on=date(2026, 1, 1)),
        plant(2, "hosta-hybrids", "perennial", bed_id=1),
        plant(3, "bougainvillea-la-jolla", "shrub", bed_id=5),
        plant(4, "viola-x-wittrockiana", "seasonal_colour"),
        plant(6, "unobtainium", "shrub"),
        plant(7, "agave-parryi", "succulent"),
        valve(10, "spray", 2, 3, 4, 7, station=9, flow_gpm=30.0),
        valve(11, "drip", 2, controller_id=None, station=2, emitters=300),
        valve(
            12,
            "drip",
            2,
            controller_id=None,
            station=3,
            emitter_gph=0.5,
            emitter_kind="compensating",
            regulator_psi=8.0,
        ),
        valve(
            13,
            "drip",
            2,
            controller_id=None,
            station=4,
            emitter_gph=4.0,
            emitter_kind="non_compensating",
            slope_ft=30.0,
        ),
        CONTROLLER,
    )
    return place(*lights, *water, *garden, supply_gpm=12.0, static_pressure_psi=20.0)


def test_every_look_can_find_something() -> None:
    from landscape_care.properties.findings.finding import Record

    record = Record(faulty(), ALBUQUERQUE, None)
    silent = [look.__name__ for look in LOOKS if not list(look(record))]
    assert silent == []


def test_findings_come_wrong_ones_first_and_speak_both_languages() -> None:
    named = findings(faulty(), ALBUQUERQUE)
    assert [f.severity for f in named] == sorted((f.severity for f in named), reverse=True)
    for f in named:
        assert f.message_en != f.message_es
        assert f.remedy_en != f.remedy_es
        assert all(text.endswith(".") for text in (f.message_en, f.message_es, f.remedy_en, f.remedy_es))


def test_electrical_remedies_defer_to_a_licensed_electrician() -> None:
    loads = [f for f in findings(faulty(), ALBUQUERQUE) if f.look == "transformer-load"]
    assert loads
    assert all("licensed electrician" in f.remedy_en and "licencia" in f.remedy_es for f in loads)


def test_a_severity_that_nobody_knows_is_refused() -> None:
    with pytest.raises(ValueError, match="must be watch or wrong"):
        Finding("B1", "grave", "a.", "b.", "c.", "d.")


# --- Pressure at the emitters -----------------------------------------------------------------


def drip_line(**values: Any) -> Zone:
    return valve(1, "drip", **{"emitters": 50, "emitter_gph": 1.0, "tubing": "half_inch", **values})


@pytest.mark.parametrize(
    ("values", "static_psi", "severity"),
    # Common practice: emitters that compensate work at 15 to 50 psi, others at 15 to 30.
    [
        ({"regulator_psi": 25.0}, 70.0, None),
        ({"regulator_psi": 8.0}, 70.0, WRONG),
        ({"regulator_psi": 40.0}, 70.0, WATCH),
        ({"regulator_psi": 40.0, "emitter_kind": "compensating"}, 70.0, None),
        ({"regulator_psi": 0.0}, 70.0, WATCH),
        ({"regulator_psi": 0.0}, 35.0, None),
        ({}, 70.0, None),
    ],
)
def test_a_regulator_holds_what_the_emitters_work_at(
    values: dict[str, Any], static_psi: float, severity: str | None
) -> None:
    said = found(CONTROLLER, drip_line(**values), static_pressure_psi=static_psi)
    assert said == ([("Z1", severity, "regulator")] if severity else [])


def test_friction_and_slope_starve_the_last_emitter_that_does_not_compensate() -> None:
    """By hand: 25 psi; 23.1 ft of rise take 10.0 psi; what is left is 15.0, and 1 - √(15/25) is 22.5 %.

    Orifice law; a fifth is the limit of ASABE EP405, from memory. 1 psi is 2.31 ft of water.
    """
    plain = drip_line(emitter_kind="non_compensating", regulator_psi=25.0, slope_ft=23.1)
    finding = findings(place(CONTROLLER, plain), ALBUQUERQUE)[0]
    assert (finding.severity, finding.look) == (WRONG, "uneven-emission")
    assert "23% less" in finding.message_en
    assert "10.0 of 25 psi" in finding.message_en


@pytest.mark.parametrize(
    ("slope_ft", "said"),
    [(8.0, []), (14.0, [("Z1", WATCH, "uneven-emission")]), (46.2, [("Z1", WATCH, "end-of-line")])],
)
def test_more_slope_is_worse_and_emitters_that_compensate_bear_it(
    slope_ft: float, said: list[tuple[str, str, str]]
) -> None:
    plain = drip_line(emitter_kind="non_compensating", regulator_psi=25.0, slope_ft=slope_ft)
    kept = drip_line(emitter_kind="compensating", regulator_psi=25.0, slope_ft=slope_ft)
    looks = found(CONTROLLER, plain)
    assert [each for each in looks if each in said] == said
    assert (looks == []) == (said == [])
    assert [each for each in found(CONTROLLER, kept) if each[2] == "uneven-emission"] == []


def test_a_long_lateral_of_emitters_that_do_not_compensate_is_uneven() -> None:
    """Hazen-Williams and Christiansen: 200 gal/h over 200 ft of half-inch lose 3.5 psi of 15."""
    line = drip_line(
        emitters=100, emitter_gph=2.0, line_ft=200, emitter_kind="non_compensating", regulator_psi=15.0
    )
    assert ("Z1", WATCH, "uneven-emission") in found(CONTROLLER, line)
    assert found(CONTROLLER, drip_line(line_ft=60, emitter_kind="non_compensating", regulator_psi=25.0)) == []


def test_two_kinds_of_emitters_on_one_planting_drift_apart() -> None:
    """Flow of the one grows with pressure, of the other it does not (handbooks of drip irrigation)."""
    shrubs = Planting(uid=5, tag="P1", plant="Nandina domestica", role="shrub", quantity=3)
    one = valve(1, "drip", emitters=10, emitter_gph=1.0, planting_ids=(5,), emitter_kind="compensating")
    other = valve(2, "drip", emitters=10, emitter_gph=1.0, planting_ids=(5,), emitter_kind="non_compensating")
    looks = {look for _, _, look in found(CONTROLLER, shrubs, one, other)}
    assert "emitter-kinds" in looks
