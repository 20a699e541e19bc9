"""Numbers and words that are computed for a care task: program, timer, plants, gallons, sand.

`NUMBERS` are added to tasks whose days a rule decides otherwise; `COMPUTED` also decide the days.
Rules name them in their fields `details` and `computed`.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from functools import lru_cache
from types import MappingProxyType
from typing import Any, TypeVar

from landscape_care.almanac.anchors import windows_in_year
from landscape_care.almanac.climate import DAYS_IN_MONTH, Climate, irrigation_eto_in_on
from landscape_care.almanac.dates import month_starts, say_clock
from landscape_care.care.zone_needs import Needs, needs_of, program
from landscape_care.trades.irrigation import ControllerProgram, ZoneProgram
from landscape_care.trades.kinds import (
    AsBuilt,
    Bed,
    Controller,
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
from landscape_care.trades.lighting import TimerSetting, timer_resets
from landscape_care.trades.paving import joint_sand_lb
from landscape_care.trades.planting import cubic_yards, fertiliser_lb, flats, plants, plants_triangular
from landscape_care.trades.turf import infill_lb
from landscape_care.trades.water_feature import backwash_gallons, evaporation_gal_day

T = TypeVar("T", bound=Thing)
Details = dict[str, Any]
# The names of the days on a controller's sheet, Monday first.
WEEKDAYS = {
    "en": ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su"),
    "es": ("lu", "ma", "mi", "ju", "vi", "sá", "do"),
}
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
TIMER_TOLERANCE_MIN = 20.0
# Longer than any stretch of one timer setting, so that the end of the horizon changes none.
TIMER_LOOK_AHEAD_DAYS = 400
WATER_OFF = "irrigation_winterize.end..irrigation_spring_start.start"
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
        return planting_area_ft2(thing) if unit == "ft2" else float(plant_count(thing))
    return thing.amounts()[unit]


def tended_area_ft2(as_built: AsBuilt) -> float:
    """Beds, turf, paving and gravel that stand today together, sq ft."""
    tended = (Bed, Turf, Paving, Gravel)
    return sum(t.area_ft2 for t in as_built.things if isinstance(t, tended) and t.removed_on is None)


def plant_count(planting: Planting) -> int:
    """Plants of a planting: as counted, or as many as fill its area in triangles."""
    if planting.quantity:
        return planting.quantity
    return max(1, round(plants_triangular(planting.area_ft2 or 0.0, _spacing_in(planting, planting.plant))))


def planting_area_ft2(planting: Planting) -> float:
    """Ground of a planting, sq ft: as measured, or what its plants fill in triangles."""
    if planting.area_ft2:
        return planting.area_ft2
    return planting.quantity / plants_triangular(1.0, _spacing_in(planting, planting.plant))


def hours_per_day(scene: Scene, thing: Thing) -> float:
    """Hours a day that a pump or a light runs."""
    if isinstance(thing, Pump):
        return thing.hours_per_day
    if isinstance(thing, Fixture):
        transformer = scene.as_built.thing(thing.transformer_id)
        return night_hours(transformer.set_on, transformer.set_off) if transformer else USUAL_NIGHT_H
    raise ValueError(f"kind {thing.kind!r}: hours are known of a pump or a fixture")


def night_hours(on: time | None, off: time | None) -> float:
    """Hours from one clock time to the next, past midnight where need be; six where a time is missing."""
    if on is None or off is None or on == off:
        return USUAL_NIGHT_H
    return ((off.hour * 60 + off.minute - on.hour * 60 - on.minute) % 1440) / 60


# --- Numbers for tasks whose day is known ---


def colour_swap_to_cool(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Plants, flats and compost for the change to cool-season colour."""
    return _colour_swap(thing, "annual_cool")


def colour_swap_to_warm(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Plants, flats and compost for the change to warm-season colour."""
    return _colour_swap(thing, "annual_warm")


def _colour_swap(thing: Thing, group: str) -> Details:
    pocket = _as(Planting, thing)
    incoming = _of_group(pocket, group)
    area_ft2 = planting_area_ft2(pocket)
    spacing_in = _spacing_in(pocket, incoming or pocket.plant)
    # As many as were counted; where only the area is known, as many as fill it.
    count = pocket.quantity or max(1, round(plants_triangular(area_ft2, spacing_in)))
    trays, compost_yd3 = flats(count, PLANTS_PER_FLAT), cubic_yards(area_ft2, COMPOST_IN)
    en, es = _names(incoming)
    return notes(
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


def feed_light(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Fertiliser for one light feed of annuals."""
    return _feed(thing, LIGHT_FEED_LB, LIGHT_PRODUCT_PCT)


def feed_full(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Fertiliser for the one feed of the year."""
    return _feed(thing, FULL_FEED_LB, FULL_PRODUCT_PCT)


def _feed(thing: Thing, nitrogen_lb: float, product_pct: float) -> Details:
    pounds = fertiliser_lb(planting_area_ft2(_as(Planting, thing)), nitrogen_lb, product_pct)
    return notes(
        {"fertiliser_lb": pounds},
        [f"{pounds:.1f} lb of a product with {product_pct:g} % nitrogen; the label comes first"],
        [f"{pounds:.1f} lb de un producto con {product_pct:g} % de nitrógeno; la etiqueta va primero"],
    )


def mulch_top_up(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Mulch that brings a bed back to its recorded depth."""
    bed = _as(Bed, thing)
    volume_yd3 = cubic_yards(bed.area_ft2, bed.mulch_depth_in) * MULCH_LOST
    return notes(
        {"mulch_yd3": volume_yd3},
        [f"about {volume_yd3:.2f} yd³ to come back to {bed.mulch_depth_in:g} in"],
        [f"unas {volume_yd3:.2f} yd³ para volver a {bed.mulch_depth_in:g} pulgadas"],
    )


def gravel_top_up(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Gravel that fills bare spots."""
    gravel = _as(Gravel, thing)
    volume_yd3 = cubic_yards(gravel.area_ft2, gravel.depth_in) * GRAVEL_LOST
    return notes(
        {"gravel_yd3": volume_yd3},
        [f"at most {volume_yd3:.2f} yd³ of gravel"],
        [f"cuando mucho {volume_yd3:.2f} yd³ de grava"],
    )


def joint_sand(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Sand for a yearly top-up of joints: a quarter of what fills them anew."""
    paving = _as(Paving, thing)
    pounds = joint_sand_lb(paving.area_ft2, min(paving.joint_width_in, 1.0)) * SAND_LOST
    return notes(
        {"sand_lb": pounds}, [f"about {pounds:.0f} lb of joint sand"], [f"unas {pounds:.0f} lb de arena"]
    )


def turf_infill(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Infill that wore off in a year."""
    pounds = infill_lb(_as(Turf, thing).area_ft2)
    return notes(
        {"infill_lb": pounds}, [f"about {pounds:.0f} lb of infill"], [f"unas {pounds:.0f} lb de relleno"]
    )


def backwash(_scene: Scene, thing: Thing, _day: date) -> Details:
    """Flow, minutes and gallons of a backwash, and the pressure at which it is due."""
    sand = _as(Filter, thing)
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
    water = _as(WaterFeature, thing)
    middle = day.replace(day=15)
    gallons = evaporation_gal_day(irrigation_eto_in_on(scene.climate, middle), water.surface_ft2)
    return notes(
        {"expected_gal_day": gallons, "leak_from_gal_day": gallons * 1.5},
        [f"the air takes {gallons:.0f} gal a day this month; above {gallons * 1.5:.0f} look for a leak"],
        [f"el aire toma unos {gallons:.0f} gal por día este mes; sobre {gallons * 1.5:.0f} busque una fuga"],
    )


def zone_flow(_scene: Scene, thing: Thing, _day: date) -> Details:
    """The flow a zone should have by its record."""
    flow_gpm = _as(Zone, thing).gallons_per_minute
    span = (flow_gpm * 0.85, flow_gpm * 1.15)
    return notes(
        {"recorded_gpm": flow_gpm},
        [f"by the record {flow_gpm:.2f} gal/min; good from {span[0]:.2f} to {span[1]:.2f}"],
        [f"según el registro {flow_gpm:.2f} gal/min; bien de {span[0]:.2f} a {span[1]:.2f}"],
    )


def establishment(scene: Scene, thing: Thing, day: date) -> Details:
    """How often new plants of a zone are watered in these weeks."""
    zone = _as(Zone, thing)
    plantings = [scene.as_built.thing(uid) for uid in zone.planting_ids]
    planted_on = max(each.installed_on for each in plantings if each and each.installed_on <= day)
    age_days = (day - planted_on).days
    span = next((span for until, span in ESTABLISHMENT if age_days < until), None)
    if span is None:
        return notes({}, ["back to the month's program"], ["de vuelta al programa del mes"])
    return notes({}, [f"water new plants every {span} days"], [f"riegue las plantas nuevas cada {span} días"])


def lamp_life(scene: Scene, thing: Thing, _day: date) -> Details:
    """Rated hours, hours a night and lamps of a fixture."""
    light = _as(Fixture, thing)
    hours = hours_per_day(scene, light)
    return notes(
        {"lamps": light.quantity, "watts": light.watts, "hours_per_night": hours},
        [f"{light.quantity} lamps of {light.watts:g} W, rated {light.rated_hours} h, {hours:g} h a night"],
        [f"{light.quantity} lámparas de {light.watts:g} W, {light.rated_hours} h, {hours:g} h por noche"],
    )


def transformer_load(scene: Scene, thing: Thing, day: date) -> Details:
    """Connected load against 80 % of the rating."""
    transformer = _as(Transformer, thing)
    lights = [f for f in scene.as_built.of_kind(Fixture) if f.transformer_id == transformer.uid]
    load_va = sum(light.watts * light.quantity for light in lights if light.stands_on(day))
    limit_va = transformer.capacity_va * 0.8
    return notes(
        {"connected_va": load_va, "limit_va": limit_va},
        [f"by the record {load_va:.0f} VA on it; at most {limit_va:.0f} VA"],
        [f"según el registro {load_va:.0f} VA conectados; máximo {limit_va:.0f} VA"],
    )


# --- Computations that decide the days as well ---


def irrigation_program(scene: Scene, thing: Thing, *, start: date, through: date) -> Iterator[Computed]:
    """The program of each month that differs from the month before; none while the water is off."""
    controller = _as(Controller, thing)
    before = None
    for month in month_starts(start, through) if start <= through else []:
        needs, planned = _month_program(scene, controller, month)
        if planned is None:
            before = None
        elif planned.zones != before:  # words on what the hours do not allow are nothing to set
            yield Computed(f"{month:%Y-%m}", month, _program_notes(scene, month, needs, planned))
            before = planned.zones


def _month_program(
    scene: Scene, controller: Controller, month: date
) -> tuple[Needs, ControllerProgram | None]:
    place, needs = scene.as_built, needs_of(scene.as_built, controller, month)
    if not needs.zones or _water_is_off(scene.climate, month):
        return needs, None
    hours = (place.watering_opens, place.watering_closes)
    planned = program(needs.zones, _eto_in_per_day(scene.climate, month), place.watering_weekdays, hours)
    return needs, planned


def _eto_in_per_day(climate: Climate, month: date) -> float:
    return climate.irrigation_eto_in[month.month - 1] / DAYS_IN_MONTH[month.month - 1]


@lru_cache(maxsize=4096)
def _water_is_off(climate: Climate, day: date) -> bool:
    spans = [span for year in (day.year - 1, day.year) for span in windows_in_year(WATER_OFF, climate, year)]
    return any(opens <= day < closes for opens, closes in spans)


def _program_notes(scene: Scene, month: date, needs: Needs, planned: ControllerProgram) -> Details:
    tag_of = dict(zip((need.station for need in needs.zones), needs.tags, strict=True))
    gallons = sum(zone.gallons_per_week for zone in planned.zones)
    numbers = {"eto_in_per_day": _eto_in_per_day(scene.climate, month), "gallons_per_week": gallons}
    told = notes(
        numbers,
        [_zone_line(tag_of[zone.station], zone, "en") for zone in planned.zones],
        [_zone_line(tag_of[zone.station], zone, "es") for zone in planned.zones],
    )
    told["settings"] = {tag_of[zone.station]: _zone_settings(zone) for zone in planned.zones}
    _add_conflicts(told, needs, planned)
    return told


def _zone_settings(zone: ZoneProgram) -> dict[str, Any]:
    return {
        "set_minutes": zone.run_minutes,
        "set_weekdays": "".join(str(day + 1) for day in zone.weekdays),
        "set_start": f"{zone.start:%H:%M}",
    }


def _zone_line(tag: str, zone: ZoneProgram, language: str) -> str:
    off, station, soak, weeks = {
        "en": ("off", "station", "min apart", "every {} weeks"),
        "es": ("apagada", "estación", "min entre ciclos", "cada {} semanas"),
    }[language]
    head = f"{tag} ({station} {zone.station})"
    if zone.is_off:
        return f"{head}: {off}"
    days = " ".join(WEEKDAYS[language][day] for day in zone.weekdays)
    if zone.interval_days >= 14:
        days += f" {weeks.format(zone.interval_days // 7)}"
    cycles = (
        f" = {zone.cycles} × {zone.cycle_minutes} min, {zone.soak_minutes} {soak}" if zone.cycles > 1 else ""
    )
    return f"{head}: {zone.run_minutes} min{cycles}, {days}, {say_clock(language, zone.start)}"


def _add_conflicts(told: Details, needs: Needs, planned: ControllerProgram) -> None:
    lines = told["lines"]
    lines["en"] += planned.conflicts
    programmed = {zone.station for zone in planned.zones}
    for need in needs.zones:
        if need.station not in programmed:
            lines["es"].append(
                f"Estación {need.station}: no cabe en los días y horas permitidos; no se programa."
            )
        elif any(words.startswith(f"Station {need.station}:") for words in planned.conflicts):
            lines["es"].append(
                f"Estación {need.station}: los días y horas permitidos la dejan corta de agua."
            )
    for tag in needs.unclear:
        lines["en"].append(
            f"{tag}: the record does not say what it waters; set it by eye and tell the office."
        )
        lines["es"].append(f"{tag}: el registro no dice qué riega; ajústela a ojo y avise a la oficina.")


def timer_reset(scene: Scene, thing: Thing, *, start: date, through: date) -> Iterator[Computed]:
    """Each new on time of a plain timer that follows dusk; a clock change brings one of its own."""
    if start > through:
        return
    place = scene.as_built
    days = (through - start).days + TIMER_LOOK_AHEAD_DAYS
    # Neighbours and the nights of a year share what was computed: a tenth of a degree is 12 seconds of sun.
    nearby = (round(place.latitude_deg, 1), round(place.longitude_deg, 1))
    for setting in _timer_settings(nearby, place.time_zone, start, years=days // 366 + 1):
        if setting.first_day > through:
            return
        # Early is wrong by an hour where the clock changes that day.
        told = _timer_notes(thing.tag, setting)
        yield Computed(setting.first_day.isoformat(), setting.first_day, told, may_be_early=False)


@lru_cache(maxsize=256)
def _timer_settings(
    nearby: tuple[float, float], time_zone: str, start: date, *, years: int
) -> tuple[TimerSetting, ...]:
    return tuple(timer_resets(*nearby, time_zone, start, years * 366, TIMER_TOLERANCE_MIN))


def _timer_notes(tag: str, setting: TimerSetting) -> Details:
    until = setting.last_day + timedelta(days=1)
    told = notes(
        {"on_minutes": setting.on.hour * 60 + setting.on.minute},
        [f"{tag}: on at {say_clock('en', setting.on)}"],
        [f"{tag}: enciende a las {say_clock('es', setting.on)}"],
    )
    told["settings"] = {tag: {"set_on": f"{setting.on:%H:%M}"}}
    told["until"] = until.isoformat()
    return told


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
COMPUTED: Mapping[str, Callable[..., Iterator[Computed]]] = MappingProxyType(
    {each.__name__: each for each in (irrigation_program, timer_reset)}
)
# Numbers that hang on the day of the task; all others are computed once for a thing.
BY_DAY = frozenset({"expected_loss", "establishment", "transformer_load"})


def _as(cls: type[T], thing: Thing) -> T:
    if not isinstance(thing, cls):
        raise TypeError(f"{thing.tag} is a {thing.kind}: wanted a {cls.kind}")
    return thing


def _of_group(pocket: Planting, group: str) -> str:
    catalog = plants()
    names = (pocket.plant, pocket.partner)
    return next((name for name in names if name in catalog and catalog[name].group == group), "")


def _names(key: str) -> tuple[str, str]:
    if plant := plants().get(key):
        return plant.common, plant.common_es
    return "plants of the office's choice", "plantas que elija la oficina"


def _spacing_in(planting: Planting, key: str) -> float:
    if planting.spacing_in:
        return planting.spacing_in
    plant = plants().get(key)
    return plant.spacing_in if plant else USUAL_SPACING_IN
