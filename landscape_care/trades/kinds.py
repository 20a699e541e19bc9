"""The kinds of installed things, as plain checked values.

The database tables, the intake spreadsheets and the forms take their fields, limits and
defaults from these classes, so a thing is described once. Measures are US customary.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, time
from typing import Any, ClassVar, TypeVar

from landscape_care.trades.limits import (
    Problem,
    choice,
    clock,
    day,
    flag,
    number,
    reference,
    references,
    refuse_nonsense,
    text,
    whole,
)
from landscape_care.trades.plants import PlantBook

T = TypeVar("T", bound="Thing")

EXPOSURES = ("full_sun", "filtered_shade", "shade")
SOIL_TEXTURES = ("sand", "loamy_sand", "sandy_loam", "loam", "clay_loam", "clay")
ROLES = (
    "seasonal_colour",
    "perennial",
    "grass",
    "ground_cover",
    "fern",
    "succulent",
    "shrub",
    "rose",
    "vine",
    "tree",
    "palm",
)
SPRAY_DEVICES = ("spray", "micro_spray", "rotor", "bubbler")
DEVICES = (*SPRAY_DEVICES, "drip")
FILTER_TYPES = ("sand", "cartridge", "de", "bead", "biological")
TUBING_SIZES = ("quarter_inch", "half_inch", "three_quarter_inch")
EMITTER_KINDS = ("unknown", "compensating", "non_compensating")
TIMERS = ("plain", "astronomic", "photocell")


@dataclass(frozen=True, kw_only=True)
class Thing:
    """Anything installed on a property: a tag on the plan, and the days it came and went."""

    kind: ClassVar[str] = ""
    stem: ClassVar[str] = ""

    uid: int = 0
    tag: str = text(20, help="Short mark on the plan, unique on the property, such as B1 or Z3")
    name: str = text(80, help="What people call it")
    installed_on: date = day(default=date(2000, 1, 1), help="The day it was put in")
    removed_on: date | None = day(help="The day it went; empty while it stands")
    note: str = text(2000, help="What else is worth knowing")

    def __post_init__(self) -> None:
        refuse_nonsense(self, (*self._dates(), *self.further_problems()))

    def _dates(self) -> Iterator[Problem]:
        if not self.tag.strip():
            yield Problem("tag", self.tag, "a short mark such as B1")
        if self.removed_on and self.installed_on and self.removed_on < self.installed_on:
            yield Problem("removed_on", self.removed_on, f"{self.installed_on} (installed) or later")

    def further_problems(self) -> Iterator[Problem]:
        """Problems that involve more than one field."""
        yield from ()

    def stands_on(self, today: date) -> bool:
        """Whether it is installed on a day."""
        return self.installed_on <= today and (self.removed_on is None or today < self.removed_on)

    def traits(self) -> Mapping[str, object]:
        """What a care rule may filter on."""
        return {}

    def amounts(self) -> Mapping[str, float]:
        """How much of it there is, by labour unit; `each` is always one."""
        return {}


@dataclass(frozen=True, kw_only=True)
class Bed(Thing):
    """A planting bed: soil, exposure and mulch."""

    kind: ClassVar[str] = "bed"
    stem: ClassVar[str] = "planting"

    area_ft2: float = number(1, 200_000, "sq ft")
    exposure: str = choice(*EXPOSURES)
    soil: str = choice(*SOIL_TEXTURES, default="sandy_loam")
    amended_depth_in: float = number(0, 48, "in", default=12.0)
    mulch: str = choice("none", "organic", "rock", default="organic")
    mulch_depth_in: float = number(0, 12, "in", default=2.0)

    def traits(self) -> Mapping[str, object]:
        return {"exposure": self.exposure, "mulch": self.mulch, "soil": self.soil}

    def amounts(self) -> Mapping[str, float]:
        return {"ft2": self.area_ft2}


@dataclass(frozen=True, kw_only=True)
class Planting(Thing):
    """Plants of one kind in a bed, or a pocket of colour that is changed each season.

    `plant` is what stands there; in a pocket `partner` is the kind of the other season.
    """

    kind: ClassVar[str] = "planting"
    stem: ClassVar[str] = "planting"

    bed_id: int | None = reference("bed", default=None)
    plant: str = text(80, default="", help="Catalog plant, botanical or common name")
    partner: str = text(80, help="For seasonal colour: the plant of the other season")
    role: str = choice(*ROLES)
    quantity: int = whole(0, 20_000, "plants", default=0)
    area_ft2: float | None = number(0.5, 200_000, "sq ft", default=None)
    spacing_in: float | None = number(2, 600, "in", default=None)
    canopy_ft: float | None = number(0.2, 100, "ft across", default=None)
    staked: bool = flag(help="Tied to stakes or straps")
    # Filled from the plant catalog when the record is read, so that rules can filter on them.
    group: str = field(default="")
    frost_tender: bool = field(default=False)
    reseeds: bool = field(default=False)
    winter_cut: str = field(default="")

    def further_problems(self) -> Iterator[Problem]:
        if not self.plant.strip():
            yield Problem("plant", self.plant, "a plant of the catalog")
        if self.quantity == 0 and self.area_ft2 is None:
            yield Problem("quantity", self.quantity, "a count of plants, or an area with a spacing")
        if self.partner and self.role != "seasonal_colour":
            yield Problem("partner", self.partner, "nothing, unless the role is seasonal_colour")

    def traits(self) -> Mapping[str, object]:
        return {
            "role": self.role,
            "staked": self.staked,
            "plant": self.plant,
            "group": self.group,
            "frost_tender": self.frost_tender,
            "reseeds": self.reseeds,
            "winter_cut": self.winter_cut,
        }

    def amounts(self) -> Mapping[str, float]:
        return {"ft2": self.area_ft2 or 0.0, "plant": float(self.quantity)}


@dataclass(frozen=True, kw_only=True)
class Controller(Thing):
    """An irrigation controller with its stations."""

    kind: ClassVar[str] = "controller"
    stem: ClassVar[str] = "irrigation"

    stations: int = whole(1, 96, "stations")
    battery: bool = flag(default=True, help="Has a back-up battery")
    zones: int = field(default=0)

    def traits(self) -> Mapping[str, object]:
        return {"battery": self.battery}

    def amounts(self) -> Mapping[str, float]:
        return {"zone": float(self.zones)}


@dataclass(frozen=True, kw_only=True)
class Zone(Thing):
    """One valve of a controller: sprays by precipitation rate or flow, drip by emitters."""

    kind: ClassVar[str] = "zone"
    stem: ClassVar[str] = "irrigation"

    controller_id: int | None = reference("controller", default=None)
    station: int = whole(1, 96)
    device: str = choice(*DEVICES)
    area_ft2: float | None = number(1, 200_000, "sq ft", default=None)
    precipitation_in_h: float | None = number(0.05, 10, "in/h", default=None)
    flow_gpm: float | None = number(0.01, 200, "gal/min", default=None)
    emitters: int = whole(0, 20_000, "emitters", default=0)
    emitter_gph: float | None = number(0.1, 30, "gal/h", default=None)
    distribution_uniformity: float | None = number(0.2, 1.0, "(0 to 1)", default=None)
    tubing: str = choice("unknown", *TUBING_SIZES, default="unknown", help="Drip tubing that feeds the zone")
    line_ft: float | None = number(1, 5000, "ft", default=None, help="Length of its longest line of tubing")
    lines: int = whole(1, 100, "lines", default=1, help="Lines of tubing that share the flow")
    slope_ft: float | None = number(
        0, 300, "ft", default=None, help="How far its longest line rises or falls along its way"
    )
    emitter_kind: str = choice(
        *EMITTER_KINDS, default="unknown", help="Compensating emitters keep their flow at any pressure"
    )
    regulator_psi: float | None = number(
        0, 150, "psi", default=None, help="What its pressure regulator holds; 0 where it has none"
    )
    planting_ids: tuple[int, ...] = references("planting")
    set_minutes: int | None = whole(0, 1440, "min", default=None, help="Minutes now set on the controller")
    set_weekdays: str = text(7, help="Days now set, 1 Monday to 7 Sunday, such as 135")
    set_start: time | None = clock(help="Start time now set")

    def further_problems(self) -> Iterator[Problem]:
        if self.device == "drip" and not (self.emitters and self.emitter_gph):
            yield Problem("emitters", self.emitters, "a count and a flow (emitter_gph) for a drip zone")
        if self.device in SPRAY_DEVICES and not (
            self.flow_gpm or (self.precipitation_in_h and self.area_ft2)
        ):
            yield Problem("flow_gpm", self.flow_gpm, "a flow, or a precipitation rate with an area")
        if self.set_weekdays.strip("1234567"):
            yield Problem("set_weekdays", self.set_weekdays, "digits 1 (Monday) to 7 (Sunday)")

    @property
    def gallons_per_minute(self) -> float:
        """Flow while the valve is open, gal/min (1 in/h on 96.25 sq ft is 1 gal/min)."""
        if self.device == "drip":
            return self.emitters * (self.emitter_gph or 0.0) / 60
        return self.flow_gpm or (self.precipitation_in_h or 0.0) * (self.area_ft2 or 0.0) / 96.25

    def traits(self) -> Mapping[str, object]:
        return {"device": self.device, "drip": self.device == "drip"}

    def amounts(self) -> Mapping[str, float]:
        return {"ft2": self.area_ft2 or 0.0}


@dataclass(frozen=True, kw_only=True)
class ValveBox(Thing):
    """A box in the ground with valves and splices."""

    kind: ClassVar[str] = "valve_box"
    stem: ClassVar[str] = "irrigation"

    valves: int = whole(1, 24, default=1)


@dataclass(frozen=True, kw_only=True)
class Sensor(Thing):
    """A rain, freeze or soil moisture sensor."""

    kind: ClassVar[str] = "sensor"
    stem: ClassVar[str] = "irrigation"

    measures: str = choice("rain", "freeze", "soil_moisture", default="rain")


@dataclass(frozen=True, kw_only=True)
class Backflow(Thing):
    """A backflow prevention assembly on the irrigation supply."""

    kind: ClassVar[str] = "backflow"
    stem: ClassVar[str] = "irrigation"

    size_in: float = number(0.25, 12, "in", default=1.0)
    serial: str = text(40)


@dataclass(frozen=True, kw_only=True)
class WaterFeature(Thing):
    """A fountain, basin, pond or stream."""

    kind: ClassVar[str] = "water_feature"
    stem: ClassVar[str] = "water_feature"

    surface_ft2: float = number(0.5, 200_000, "sq ft")
    volume_gal: float = number(1, 2_000_000, "gal")
    fall_ft: float = number(0, 60, "ft", default=0.0)
    fish: bool = flag()

    def traits(self) -> Mapping[str, object]:
        return {"fish": self.fish}

    def amounts(self) -> Mapping[str, float]:
        return {"ft2": self.surface_ft2, "gal": self.volume_gal}


@dataclass(frozen=True, kw_only=True)
class Pump(Thing):
    """The pump of a water feature."""

    kind: ClassVar[str] = "pump"
    stem: ClassVar[str] = "water_feature"

    water_feature_id: int | None = reference("water_feature", default=None)
    power_hp: float = number(0.01, 50, "hp")
    flow_gpm: float | None = number(0.1, 2000, "gal/min", default=None)
    head_ft: float | None = number(0.5, 300, "ft", default=None)
    hours_per_day: float = number(0, 24, "h/day", default=12.0)
    baskets: int = whole(0, 12, default=1)

    def traits(self) -> Mapping[str, object]:
        return {"has_basket": self.baskets > 0}

    def amounts(self) -> Mapping[str, float]:
        return {"basket": float(self.baskets)}


@dataclass(frozen=True, kw_only=True)
class Filter(Thing):
    """The filter of a water feature, with the pressure it shows when clean."""

    kind: ClassVar[str] = "filter"
    stem: ClassVar[str] = "water_feature"

    water_feature_id: int | None = reference("water_feature", default=None)
    medium: str = choice(*FILTER_TYPES)
    area_ft2: float | None = number(0.1, 500, "sq ft", default=None)
    clean_psi: float | None = number(0.5, 60, "psi", default=None)

    def further_problems(self) -> Iterator[Problem]:
        if self.medium in ("sand", "cartridge", "de") and self.area_ft2 is None:
            yield Problem("area_ft2", self.area_ft2, f"the filter area of a {self.medium} filter")

    def traits(self) -> Mapping[str, object]:
        return {"medium": self.medium}


@dataclass(frozen=True, kw_only=True)
class Transformer(Thing):
    """A low-voltage lighting transformer with its timer."""

    kind: ClassVar[str] = "transformer"
    stem: ClassVar[str] = "lighting"

    capacity_va: float = number(10, 5000, "VA")
    volts: float = number(6, 24, "V", default=12.0)
    timer: str = choice(*TIMERS)
    set_on: time | None = clock(help="On time now set on a plain timer")
    set_off: time | None = clock(help="Off time now set")

    def traits(self) -> Mapping[str, object]:
        return {"timer": self.timer}


@dataclass(frozen=True, kw_only=True)
class WireRun(Thing):
    """A low-voltage cable from a transformer."""

    kind: ClassVar[str] = "wire_run"
    stem: ClassVar[str] = "lighting"

    transformer_id: int | None = reference("transformer", default=None)
    awg: int = whole(8, 18, "AWG")
    length_ft: float = number(1, 2000, "ft")

    def further_problems(self) -> Iterator[Problem]:
        if self.awg % 2:
            yield Problem("awg", self.awg, "8, 10, 12, 14, 16 or 18 AWG")

    def amounts(self) -> Mapping[str, float]:
        return {"ft": self.length_ft}


@dataclass(frozen=True, kw_only=True)
class Fixture(Thing):
    """One or several equal lights at one place of a wire run."""

    kind: ClassVar[str] = "fixture"
    stem: ClassVar[str] = "lighting"

    transformer_id: int | None = reference("transformer", default=None)
    wire_run_id: int | None = reference("wire_run", default=None)
    distance_ft: float | None = number(0, 2000, "ft along the run", default=None)
    watts: float = number(0.1, 500, "W each")
    quantity: int = whole(1, 500, default=1)
    rated_hours: int | None = whole(100, 200_000, "h", default=None)
    hung_in_tree: bool = flag()

    def traits(self) -> Mapping[str, object]:
        return {"hung_in_tree": self.hung_in_tree, "rated": self.rated_hours is not None}

    def amounts(self) -> Mapping[str, float]:
        return {"fixture": float(self.quantity)}


@dataclass(frozen=True, kw_only=True)
class Turf(Thing):
    """An area of artificial turf."""

    kind: ClassVar[str] = "turf"
    stem: ClassVar[str] = "turf"

    area_ft2: float = number(1, 200_000, "sq ft")
    infill: str = choice("silica_sand", "coated_sand", "zeolite", "none", default="silica_sand")

    def traits(self) -> Mapping[str, object]:
        return {"infill": self.infill}

    def amounts(self) -> Mapping[str, float]:
        return {"ft2": self.area_ft2}


@dataclass(frozen=True, kw_only=True)
class Paving(Thing):
    """Flagstone, pavers or slabs, with their joints and steps."""

    kind: ClassVar[str] = "paving"
    stem: ClassVar[str] = "paving"

    stone: str = choice("flagstone", "brick", "concrete_paver", "concrete_slab", "tile")
    area_ft2: float = number(1, 200_000, "sq ft")
    joint: str = choice("sand", "polymeric_sand", "mortar", "none", default="polymeric_sand")
    joint_width_in: float = number(0, 4, "in", default=0.125)
    steps: int = whole(0, 200, default=0)
    sealed: bool = flag()

    def traits(self) -> Mapping[str, object]:
        return {
            "stone": self.stone,
            "sealed": self.sealed,
            "joint": self.joint,
            "loose_joint": self.joint in ("sand", "polymeric_sand"),
        }

    def amounts(self) -> Mapping[str, float]:
        return {"ft2": self.area_ft2}


@dataclass(frozen=True, kw_only=True)
class Gravel(Thing):
    """Gravel or decomposed granite ground."""

    kind: ClassVar[str] = "gravel"
    stem: ClassVar[str] = "paving"

    area_ft2: float = number(1, 500_000, "sq ft")
    depth_in: float = number(0.5, 24, "in", default=2.0)
    material: str = choice("gravel", "decomposed_granite", default="gravel")

    def traits(self) -> Mapping[str, object]:
        return {"material": self.material}

    def amounts(self) -> Mapping[str, float]:
        return {"ft2": self.area_ft2}


@dataclass(frozen=True, kw_only=True)
class Boundary(Thing):
    """A wall, fence or hedge line, with its gates."""

    kind: ClassVar[str] = "boundary"
    stem: ClassVar[str] = "structure"

    material: str = choice("stone", "adobe", "block", "wood", "steel", default="block")
    length_ft: float = number(1, 20_000, "ft")
    gates: int = whole(0, 50, default=0)

    def traits(self) -> Mapping[str, object]:
        return {"material": self.material, "masonry": self.material in ("stone", "adobe", "block")}

    def amounts(self) -> Mapping[str, float]:
        return {"ft": self.length_ft, "gate": float(self.gates)}


@dataclass(frozen=True, kw_only=True)
class Structure(Thing):
    """A pergola, ramada, bench, trellis or the like."""

    kind: ClassVar[str] = "structure"
    stem: ClassVar[str] = "structure"

    form: str = choice("pergola", "ramada", "trellis", "bench", "planter", "other", default="pergola")
    material: str = choice("wood", "steel", "masonry", default="wood")

    def traits(self) -> Mapping[str, object]:
        return {"form": self.form, "material": self.material}


@dataclass(frozen=True, kw_only=True)
class Fireplace(Thing):
    """An outdoor fireplace or fire pit."""

    kind: ClassVar[str] = "fireplace"
    stem: ClassVar[str] = "structure"

    fuel: str = choice("wood", "gas", default="wood")

    def traits(self) -> Mapping[str, object]:
        return {"fuel": self.fuel}


@dataclass(frozen=True, kw_only=True)
class Drain(Thing):
    """Drain grates and the pipe behind them."""

    kind: ClassVar[str] = "drain"
    stem: ClassVar[str] = "drainage"

    grates: int = whole(1, 200, default=1)

    def amounts(self) -> Mapping[str, float]:
        return {"grate": float(self.grates)}


KINDS: Mapping[str, type[Thing]] = {
    cls.kind: cls
    for cls in (
        Bed,
        Planting,
        Controller,
        Zone,
        ValveBox,
        Sensor,
        Backflow,
        WaterFeature,
        Pump,
        Filter,
        Transformer,
        WireRun,
        Fixture,
        Turf,
        Paving,
        Gravel,
        Boundary,
        Structure,
        Fireplace,
        Drain,
    )
}
STEMS = tuple(dict.fromkeys(cls.stem for cls in KINDS.values()))


@dataclass(frozen=True, kw_only=True)
class AsBuilt:
    """The as-built record of one property as plain values: the place, the supply and the things."""

    uid: int
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    time_zone: str
    climate: str
    care_starts_on: date
    watering_weekdays: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6)
    watering_opens: time = time(4, 0)
    watering_closes: time = time(9, 0)
    static_pressure_psi: float | None = None
    supply_gpm: float | None = None
    things: tuple[Thing, ...] = ()
    # What is known of the kinds of plants that stand here, the company's own among them.
    plants: PlantBook = field(default=PlantBook(), repr=False)
    _by_uid: dict[int, Thing] = field(default_factory=dict, compare=False, repr=False)

    def __post_init__(self) -> None:
        self._by_uid.update({thing.uid: thing for thing in self.things})

    def thing(self, uid: int | None) -> Any:
        """The thing with a number, or None; typed loosely because the kind is the caller's knowledge."""
        return self._by_uid.get(uid) if uid is not None else None

    def of_kind(self, cls: type[T]) -> tuple[T, ...]:
        """All things of one kind, in tag order."""
        return tuple(sorted((t for t in self.things if isinstance(t, cls)), key=lambda t: t.tag))
