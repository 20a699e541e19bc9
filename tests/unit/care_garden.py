"""A made-up courtyard that has one of nearly everything, for tests of care."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from landscape_care.almanac.climate import climate
from landscape_care.care.catalog import Rule, catalog
from landscape_care.care.generation import History, Wanted, generate
from landscape_care.trades.kinds import (
    AsBuilt,
    Backflow,
    Bed,
    Boundary,
    Controller,
    Drain,
    Filter,
    Fireplace,
    Fixture,
    Gravel,
    Paving,
    Planting,
    Pump,
    Sensor,
    Structure,
    Thing,
    Transformer,
    Turf,
    ValveBox,
    WaterFeature,
    WireRun,
    Zone,
)
from landscape_care.trades.plants import plants

START = date(2026, 11, 2)
A_YEAR_ON = date(2027, 12, 3)
PLACES: Mapping[str, tuple[str, float, float, float]] = {
    "albuquerque": ("America/Denver", 35.08, -106.65, 1550.0),
    "tucson": ("America/Phoenix", 32.22, -110.95, 750.0),
    "phoenix": ("America/Phoenix", 33.45, -112.0, 340.0),
    "maricopa": ("America/Phoenix", 33.07, -111.97, 361.0),
    "sacramento": ("America/Los_Angeles", 38.58, -121.49, 10.0),
}


def planting(uid: int, tag: str, plant: str, role: str, **values: Any) -> Planting:
    """A planting with what the catalog adds to it."""
    known = plants()[plant]
    return Planting(
        uid=uid,
        tag=tag,
        plant=plant,
        role=role,
        group=known.group,
        frost_tender=known.frost_tender,
        winter_cut=known.winter_cut,
        reseeds=known.reseeds,
        **values,
    )


def courtyard_things() -> tuple[Thing, ...]:
    """Everything that is installed in the courtyard."""
    return (*_planted(), *_watered(), *_lit(), *_built())


def _planted() -> tuple[Thing, ...]:
    return (
        Bed(uid=1, tag="B1", area_ft2=120.0, exposure="full_sun"),
        Bed(uid=2, tag="B2", area_ft2=90.0, exposure="shade", mulch="none"),
        planting(
            3,
            "P1",
            "viola-x-wittrockiana",
            "seasonal_colour",
            bed_id=1,
            partner="zinnia-elegans",
            area_ft2=40.0,
        ),
        planting(4, "P2", "salvia-greggii", "perennial", bed_id=1, quantity=8),
        planting(5, "P3", "bougainvillea-la-jolla", "shrub", bed_id=1, quantity=3),
        planting(6, "P4", "leucophyllum-frutescens", "shrub", bed_id=1, quantity=5),
        planting(7, "P5", "chilopsis-linearis", "tree", bed_id=1, quantity=1, staked=True),
        planting(8, "P6", "polystichum-munitum", "fern", bed_id=2, quantity=12),
    )


def _watered() -> tuple[Thing, ...]:
    return (
        Controller(uid=10, tag="C1", stations=6, zones=3),
        Zone(
            uid=11,
            tag="Z1",
            controller_id=10,
            station=1,
            device="micro_spray",
            area_ft2=40.0,
            flow_gpm=0.9,
            planting_ids=(3,),
        ),
        Zone(
            uid=12,
            tag="Z2",
            controller_id=10,
            station=2,
            device="drip",
            emitters=32,
            emitter_gph=2.0,
            planting_ids=(5, 6, 7),
        ),
        Zone(
            uid=13,
            tag="Z3",
            controller_id=10,
            station=3,
            device="micro_spray",
            area_ft2=90.0,
            flow_gpm=1.4,
            planting_ids=(8,),
        ),
        Backflow(uid=14, tag="BF1"),
        ValveBox(uid=15, tag="VB1", valves=3),
        Sensor(uid=16, tag="RS1"),
        WaterFeature(uid=20, tag="W1", surface_ft2=80.0, volume_gal=900.0, fish=True),
        Pump(uid=21, tag="PU1", water_feature_id=20, power_hp=0.5, hours_per_day=12.0),
        Filter(uid=22, tag="F1", water_feature_id=20, medium="sand", area_ft2=1.9, clean_psi=10.0),
    )


def _lit() -> tuple[Thing, ...]:
    return (
        Transformer(uid=30, tag="T1", capacity_va=300.0, timer="plain"),
        Transformer(uid=31, tag="T2", capacity_va=150.0, timer="astronomic"),
        WireRun(uid=32, tag="WR1", transformer_id=30, awg=12, length_ft=100.0),
        Fixture(
            uid=33, tag="L1", transformer_id=30, watts=4.0, quantity=12, rated_hours=50_000, hung_in_tree=True
        ),
    )


def _built() -> tuple[Thing, ...]:
    return (
        Turf(uid=40, tag="TU1", area_ft2=300.0),
        Paving(uid=41, tag="PV1", stone="flagstone", area_ft2=400.0),
        Gravel(uid=42, tag="G1", area_ft2=250.0),
        Boundary(uid=43, tag="WL1", material="adobe", length_ft=60.0, gates=1),
        Structure(uid=44, tag="ST1"),
        Fireplace(uid=45, tag="FP1"),
        Drain(uid=46, tag="D1", grates=2),
    )


def courtyard(
    place: str = "albuquerque",
    *,
    things: tuple[Thing, ...] | None = None,
    start: date = START,
    **values: Any,
) -> AsBuilt:
    """The courtyard in one of a few places."""
    time_zone, latitude_deg, longitude_deg, elevation_m = PLACES[place]
    return AsBuilt(
        uid=1,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
        time_zone=time_zone,
        climate=place,
        care_starts_on=start,
        things=courtyard_things() if things is None else things,
        **values,
    )


def tasks(
    garden: AsBuilt,
    rules: Mapping[str, Rule] | None = None,
    *,
    history: History | None = None,
    today: date = START,
    through: date = A_YEAR_ON,
) -> list[Wanted]:
    """The care tasks of a garden."""
    return generate(
        garden,
        climate(garden.climate),
        catalog() if rules is None else rules,
        history or History(),
        today=today,
        through=through,
    )


def of_rule(found: list[Wanted], rule: str, tag_uid: int | None = None) -> list[Wanted]:
    """Those of one rule, and of one thing where it is given."""
    return [want for want in found if want.rule == rule and tag_uid in (None, want.thing_uid)]
