"""Numbers and words that are computed for a care task: program, timer, plants, gallons, sand.

`NUMBERS` are added to tasks whose days a rule decides otherwise; rules name them in `details`.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time
from types import MappingProxyType
from typing import Any, TypeVar

from landscape_care.almanac.climate import Climate, irrigation_eto_in_on
from landscape_care.care.colour_swaps import Swap, swap_of
from landscape_care.trades.kinds import (
    AsBuilt,
    Bed,
    Filter,
    Fixture,
    Gravel,
    Paving,
    Planting,
    Pump,
    Thing,
    Transformer,
    Turf,
    WaterFeature,
    Zone,
)
from landscape_care.trades.paving import joint_sand_lb
from landscape_care.trades.planting import cubic_yards, fertiliser_lb, flats, plants_triangular
from landscape_care.trades.plants import Plant, PlantBook
from landscape_care.trades.turf import infill_lb
from landscape_care.trades.water_feature import backwash_gallons, evaporation_gal_day

T = TypeVar("T", bound=Thing)
Details = dict[str, Any]
# Usual flat of bedding plants, and the layer of compost worked in at a swap (common practice).
PLANTS_PER_FLAT, COMPOST_IN = 36, 1.0
USUAL_SPACING_IN = 10.0
# Nitrogen for one feed, lb for 1,000 sq ft, and the share of nitrogen in the usual product, percent.
LIGHT_FEED_LB, FULL_FEED_LB, LIGHT_PRODUCT_PCT, FULL_PRODUCT_PCT = 0.25, 1.0, 15.0, 14.0
# Share of a layer that is lost between renewals (common practice).
MULCH_LOST, SAND_LOST, GRAVEL_LOST = 0.5, 0.25, 0.1
# Backwash flow through sand: 15 to 20 gal/min a square foot; minutes of backwash (published guidance).
BACKWASH_GPM_FT2, BACKWASH_MINUTES = 15.0, 2.5
USUAL_NIGHT_H = 6.0
# City advice for new plants (published): days between waterings by weeks since planting.
ESTABLISHMENT = ((14, "3-4"), (28, "6-7"), (42, "7-10"), (56, "10-14"))


@dataclass(frozen=True, slots=True)
class Scene:
    """The garden and its usual year."""

    as_built: AsBuilt
    climate: Climate


@dataclass(frozen=True, slots=True)
class Computed:
    """A task that a computation asks for: its name, its day, what it carries, and if it may be early."""

    occurrence: str
    day: date
    details: Details
    may_be_early: bool = True


def notes(numbers: Mapping[str, float], en: Sequence[str], es: Sequence[str]) -> Details:
    """Numbers by name with lines in English and Spanish, ready to be stored."""
    rounded = {name: round(value, 2) for name, value in numbers.items()}
    return {"numbers": rounded, "lines": {"en": list(en), "es": list(es)}}


def amount(scene: Scene, thing: Thing | None, unit: str) -> float:
    """How much of a labour unit there is; a planting's area and count follow from one another."""
    if unit == "each":
        return 1.0
    if thing is None:
        return tended_area_ft2(scene.as_built)
    if isinstance(thing, Planting):
        plants = scene.as_built.plants
        return planting_area_ft2(thing, plants) if unit == "ft2" else float(plant_count(thing, plants))
    return thing.amounts()[unit]


def tended_area_ft2(as_built: AsBuilt) -> float:
    """Beds, turf, paving and gravel that stand today together, sq ft."""
    tended = (Bed, Turf, Paving, Gravel)
    return sum(t.area_ft2 for t in as_built.things if isinstance(t, tended) and t.removed_on is None)


def plant_count(planting: Planting, plants: PlantBook) -> int:
    """Plants of a planting: as counted, or as many as fill its area in triangles."""
    if planting.quantity:
        return planting.quantity
    spacing_in = _spacing_in(planting, plants.get(planting.plant))
    return max(1, round(plants_triangular(planting.area_ft2 or 0.0, spacing_in)))


def planting_area_ft2(planting: Planting, plants: PlantBook) -> float:
    """Ground of a planting, sq ft: as measured, or what its plants fill in triangles."""
    if planting.area_ft2:
        return planting.area_ft2
    return planting.quantity / plants_triangular(1.0, _spacing_in(planting, plants.get(planting.plant)))


def hours_per_day(scene: Scene, thing: Thing) -> float:
    """Hours a day that a pump or a light runs."""
    if isinstance(thing, Pump):
        return thing.hours_per_day
    if isinstance(thing, Fixture):
        transformer = scene.as_built.thing(thing.transformer_id)
        return night_hours(transformer.set_on, transformer.set_off) if transformer else USUAL_NIGHT_H
    raise ValueError(f"kind {thing.kind!r}: hours are known of a pump or a fixture")


def air_takes_gal_day(scene: Scene, thing: Thing | None, day: date) -> float | None:
    """What the air takes from open water in the month of a day, gal/day; None of anything else."""
    if not isinstance(thing, WaterFeature):
        return None
    middle = day.replace(day=15)
    return evaporation_gal_day(irrigation_eto_in_on(scene.climate, middle), thing.surface_ft2)


def night_hours(on: time | None, off: time | None) -> float:
    """Hours from one clock time to the next, past midnight where need be; six where a time is missing."""
    if on is None or off is None or on == off:
        return USUAL_NIGHT_H
    return ((off.hour * 60 + off.minute - on.hour * 60 - on.minute) % 1440) / 60


# --- Numbers for tasks whose day is known ---


def colour_swap_to_cool(scene: Scene, thing: Thing, _day: date) -> Details:
    """What goes out and comes in at the change to cool-season colour, with flats and compost."""
    return _colour_swap(scene, thing, "annual_cool")


def colour_swap_to_warm(scene: Scene, thing: Thing, _day: date) -> Details:
    """What goes out and comes in at the change to warm-season colour, with flats and compost."""
    return _colour_swap(scene, thing, "annual_warm")


def _colour_swap(scene: Scene, thing: Thing, group: str) -> Details:
    pocket, plants = of_class(Planting, thing), scene.as_built.plants
    swap = swap_of(pocket, group, scene.as_built)
    en, es = (list(lines) for lines in zip(*swap.lines(), strict=True)) if any(swap.lines()) else ([], [])
    numbers: dict[str, float] = {"plants": 0, "flats": 0}
    if swap.brings_plants:
        spacing_in = _spacing_in(pocket, swap.incoming or plants.get(pocket.plant))
        numbers, more_en, more_es = _new_colour(pocket, swap, planting_area_ft2(pocket, plants), spacing_in)
        en, es = [*more_en, *en], [*more_es, *es]
    return notes(numbers, en, es) | {"colour": swap.facts()}


def _new_colour(
    pocket: Planting, swap: Swap, area_ft2: float, spacing_in: float
) -> tuple[dict[str, float], list[str], list[str]]:
    """Numbers and lines of what comes in; as many as were counted, or as many as fill the area."""
    count = pocket.quantity or max(1, round(plants_triangular(area_ft2, spacing_in)))
    trays, compost_yd3 = flats(count, PLANTS_PER_FLAT), cubic_yards(area_ft2, COMPOST_IN)
    en, es = swap.incoming_names
    return (
        {"plants": count, "flats": trays, "spacing_in": spacing_in, "compost_yd3": compost_yd3},
        [
            f"{count} {en}, {trays} flats of {PLANTS_PER_FLAT}, {spacing_in:g} in apart",
            f"{compost_yd3:.2f} yd³ of compost",
        ],
        [
            f"{count} {es}, {trays} charolas de {PLANTS_PER_FLAT}, a {spacing_in:g} pulgadas",
            f"{compost_yd3:.2f} yd³ de composta",
        ],
    )


def feed_light(scene: Scene, thing: Thing, _day: date) -> Details:
    """Fertiliser for one light feed of annuals."""
    return _feed(scene, thing, LIGHT_FEED_LB, LIGHT_PRODUCT_PCT)


def feed_full(scene: Scene, thing: Thing, _day: date) -> Details:
    """Fertiliser for the one feed of the year."""
    return _feed(scene, thing, FULL_FEED_LB, FULL_PRODUCT_PCT)


def _feed(scene: Scene, thing: Thing, nitrogen_lb: float, product_pct: float) -> Details:
    area_ft2 = planting_area_ft2(of_class(Planting, thing), scene.as_built.plants)
    pounds = fertiliser_lb(area_ft2, nitrogen_lb, nitrogen_pct=product_pct)
    return notes(
        {"fertiliser_lb": pounds},
        [f"{pounds:.1f} lb of a product with {product_pct:g} % nitrogen; the label comes first"],
        [f"{pounds:.1f} lb de un producto con {product_pct:g} % de nitrógeno; la etiqueta va primero"],
    )


def mulch_top_up(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Mulch that brings a bed back to its recorded depth."""
    bed = of_class(Bed, thing)
    volume_yd3 = cubic_yards(bed.area_ft2, bed.mulch_depth_in) * MULCH_LOST
    return notes(
        {"mulch_yd3": volume_yd3},
        [f"about {volume_yd3:.2f} yd³ to come back to {bed.mulch_depth_in:g} in"],
        [f"unas {volume_yd3:.2f} yd³ para volver a {bed.mulch_depth_in:g} pulgadas"],
    )


def gravel_top_up(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Gravel that fills bare spots."""
    gravel = of_class(Gravel, thing)
    volume_yd3 = cubic_yards(gravel.area_ft2, gravel.depth_in) * GRAVEL_LOST
    return notes(
        {"gravel_yd3": volume_yd3},
        [f"at most {volume_yd3:.2f} yd³ of gravel"],
        [f"cuando mucho {volume_yd3:.2f} yd³ de grava"],
    )


def joint_sand(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Sand for a yearly top-up of joints: a quarter of what fills them anew."""
    paving = of_class(Paving, thing)
    pounds = joint_sand_lb(paving.area_ft2, min(paving.joint_width_in, 1.0)) * SAND_LOST
    return notes(
        {"sand_lb": pounds}, [f"about {pounds:.0f} lb of joint sand"], [f"unas {pounds:.0f} lb de arena"]
    )


def turf_infill(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Infill that wore off in a year."""
    pounds = infill_lb(of_class(Turf, thing).area_ft2)
    return notes(
        {"infill_lb": pounds}, [f"about {pounds:.0f} lb of infill"], [f"unas {pounds:.0f} lb de relleno"]
    )


def backwash(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Flow, minutes and gallons of a backwash, and the pressure at which it is due."""
    sand = of_class(Filter, thing)
    flow_gpm = (sand.area_ft2 or 0.0) * BACKWASH_GPM_FT2
    gallons = backwash_gallons(flow_gpm, BACKWASH_MINUTES)
    numbers = {"backwash_gpm": flow_gpm, "backwash_minutes": BACKWASH_MINUTES, "backwash_gal": gallons}
    en = [f"{flow_gpm:.0f} gal/min for {BACKWASH_MINUTES:g} min: {gallons:.0f} gal to waste with the rinse"]
    es = [f"{flow_gpm:.0f} gal/min por {BACKWASH_MINUTES:g} min: {gallons:.0f} gal al desagüe con enjuague"]
    if sand.clean_psi is not None:
        numbers["clean_psi"] = sand.clean_psi
        en.append(f"clean {sand.clean_psi:g} psi; due from {sand.clean_psi + 8:g} psi")
        es.append(f"limpio {sand.clean_psi:g} psi; toca desde {sand.clean_psi + 8:g} psi")
    return notes(numbers, en, es)


def expected_loss(scene: Scene, thing: Thing, day: date) -> Details:
    """What open water should lose a day in that month, and from where a leak is likely."""
    gallons = air_takes_gal_day(scene, of_class(WaterFeature, thing), day) or 0.0
    return notes(
        {"expected_gal_day": gallons, "leak_from_gal_day": gallons * 1.5},
        [f"the air takes {gallons:.0f} gal a day this month; above {gallons * 1.5:.0f} look for a leak"],
        [f"el aire toma unos {gallons:.0f} gal por día este mes; sobre {gallons * 1.5:.0f} busque una fuga"],
    )


def zone_flow(_scene: Scene, thing: Thing, _day: date) -> Details:
    """The flow a zone should have by its record."""
    flow_gpm = of_class(Zone, thing).gallons_per_minute
    span = (flow_gpm * 0.85, flow_gpm * 1.15)
    return notes(
        {"recorded_gpm": flow_gpm},
        [f"by the record {flow_gpm:.2f} gal/min; good from {span[0]:.2f} to {span[1]:.2f}"],
        [f"según el registro {flow_gpm:.2f} gal/min; bien de {span[0]:.2f} a {span[1]:.2f}"],
    )


def establishment(scene: Scene, thing: Thing, day: date) -> Details:
    """How often new plants of a zone are watered in these weeks."""
    zone = of_class(Zone, thing)
    plantings = [scene.as_built.thing(uid) for uid in zone.planting_ids]
    planted_on = max(each.installed_on for each in plantings if each and each.installed_on <= day)
    age_days = (day - planted_on).days
    span = next((span for until, span in ESTABLISHMENT if age_days < until), None)
    if span is None:
        return notes({}, ["back to the month's program"], ["de vuelta al programa del mes"])
    return notes({}, [f"water new plants every {span} days"], [f"riegue las plantas nuevas cada {span} días"])


def lamp_life(scene: Scene, thing: Thing, _day: date) -> Details:
    """Rated hours, hours a night and lamps of a fixture."""
    light = of_class(Fixture, thing)
    hours = hours_per_day(scene, light)
    return notes(
        {"lamps": light.quantity, "watts": light.watts, "hours_per_night": hours},
        [f"{light.quantity} lamps of {light.watts:g} W, rated {light.rated_hours} h, {hours:g} h a night"],
        [f"{light.quantity} lámparas de {light.watts:g} W, {light.rated_hours} h, {hours:g} h por noche"],
    )


def transformer_load(scene: Scene, thing: Thing, day: date) -> Details:
    """Connected load against 80 % of the rating."""
    transformer = of_class(Transformer, thing)
    lights = [f for f in scene.as_built.of_kind(Fixture) if f.transformer_id == transformer.uid]
    load_va = sum(light.watts * light.quantity for light in lights if light.stands_on(day))
    limit_va = transformer.capacity_va * 0.8
    return notes(
        {"connected_va": load_va, "limit_va": limit_va},
        [f"by the record {load_va:.0f} VA on it; at most {limit_va:.0f} VA"],
        [f"según el registro {load_va:.0f} VA conectados; máximo {limit_va:.0f} VA"],
    )


NUMBERS: Mapping[str, Callable[[Scene, Thing, date], Details]] = MappingProxyType(
    {
        each.__name__: each
        for each in (
            colour_swap_to_cool,
            colour_swap_to_warm,
            feed_light,
            feed_full,
            mulch_top_up,
            gravel_top_up,
            joint_sand,
            turf_infill,
            backwash,
            expected_loss,
            zone_flow,
            establishment,
            lamp_life,
            transformer_load,
        )
    }
)
# Numbers that hang on the day of the task; all others are computed once for a thing.
BY_DAY = frozenset({"expected_loss", "establishment", "transformer_load"})


def of_class(cls: type[T], thing: Thing) -> T:
    """The thing as one of a kind; a rule that names a computation for another kind is a mistake."""
    if not isinstance(thing, cls):
        raise TypeError(f"{thing.tag} is a {thing.kind}: wanted a {cls.kind}")
    return thing


def _spacing_in(planting: Planting, plant: Plant | None) -> float:
    return planting.spacing_in or (plant.spacing_in if plant else USUAL_SPACING_IN)
