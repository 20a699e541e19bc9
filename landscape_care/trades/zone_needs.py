"""What the zones of a controller need, read from the as-built record.

The thirstiest planting of a zone sets its plant factor, as one valve cannot water two ways (rule 3
of the simplified landscape irrigation demand estimation, SLIDE).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, time
from functools import lru_cache

from landscape_care.almanac.anchors import windows_in_year
from landscape_care.almanac.climate import DAYS_IN_MONTH, Climate
from landscape_care.trades.irrigation import (
    ONLY_ONE_VALVE,
    ControllerProgram,
    Supply,
    ZoneNeed,
    canopy_area_ft2,
    controller_program,
)
from landscape_care.trades.kinds import AsBuilt, Bed, Controller, Planting, Zone
from landscape_care.trades.plants import Plant

# Microclimate by exposure, UC ANR landscape coefficient method: shade 0.5 to 0.8 (from memory).
MICROCLIMATE = {"full_sun": 1.0, "filtered_shade": 0.8, "shade": 0.6}
# Share of the stored water that may be used before the next run, by role (common practice).
DEPLETION = {"seasonal_colour": 0.4, "fern": 0.4, "succulent": 0.6, "tree": 0.5, "palm": 0.5}
USUAL_DEPLETION = 0.5
# Plants whose roots keep to the soil that was dug and amended for them (common practice).
SHALLOW_ROLES = ("seasonal_colour", "perennial", "ground_cover", "fern", "grass")
LEAST_ROOTS_IN = 4.0
UNPLANTED_SOIL = "sandy_loam"
WATER_OFF = "irrigation_winterize.end..irrigation_spring_start.start"


@dataclass(frozen=True, slots=True)
class Served:
    """A planting that a zone waters, with its catalog plant and its bed."""

    planting: Planting
    plant: Plant
    bed: Bed | None

    @property
    def microclimate(self) -> float:
        """How much more or less the place asks for than the open."""
        return MICROCLIMATE[self.bed.exposure] if self.bed else 1.0

    @property
    def thirst(self) -> float:
        """Share of reference evapotranspiration the planting wants."""
        return self.plant.plant_factor * self.microclimate

    @property
    def root_depth_in(self) -> float:
        """How deep the roots draw water, inches."""
        if self.bed and self.planting.role in SHALLOW_ROLES:
            amended_in = max(self.bed.amended_depth_in, LEAST_ROOTS_IN)
            return min(self.plant.root_depth_in, amended_in)
        return self.plant.root_depth_in

    @property
    def area_ft2(self) -> float:
        """Ground that the planting covers, sq ft."""
        if self.planting.area_ft2:
            return self.planting.area_ft2
        return self.planting.quantity * canopy_area_ft2(self.planting.canopy_ft or self.plant.width_ft)


@dataclass(frozen=True, slots=True)
class Needs:
    """The zones of a controller that can be computed, and the tags of those that cannot."""

    zones: tuple[ZoneNeed, ...]
    tags: tuple[str, ...]
    unclear: tuple[str, ...]


def needs_of(as_built: AsBuilt, controller: Controller, day: date) -> Needs:
    """What each zone of a controller needs as the garden stands on a day."""
    zones = sorted(_zones(as_built, controller, day), key=lambda zone: (zone.station, zone.tag))
    # Of two zones on a station the first is programmed; a finding tells of both.
    firsts = list({zone.station: zone for zone in reversed(zones)}.values())[::-1]
    found = [(zone, need) for zone in firsts if (need := zone_need(as_built, zone, day))]
    known = {zone.uid for zone, _ in found}
    return Needs(
        tuple(need for _, need in found),
        tuple(zone.tag for zone, _ in found),
        tuple(zone.tag for zone in zones if zone.uid not in known),
    )


def zone_need(as_built: AsBuilt, zone: Zone, day: date) -> ZoneNeed | None:
    """What a zone needs; None where the record does not say what it waters or how much flows."""
    served = served_by(as_built, zone, day)
    area_ft2 = _area_ft2(zone, served)
    if not served or not area_ft2 or zone.gallons_per_minute <= 0:
        return None
    thirstiest = max(served, key=lambda each: (each.thirst, -each.root_depth_in))
    return ZoneNeed(
        station=zone.station,
        device=zone.device,
        plant_factor=thirstiest.plant.plant_factor,
        microclimate=thirstiest.microclimate,
        area_ft2=area_ft2,
        root_depth_in=thirstiest.root_depth_in,
        depletion=DEPLETION.get(thirstiest.planting.role, USUAL_DEPLETION),
        soil=thirstiest.bed.soil if thirstiest.bed else UNPLANTED_SOIL,
        precipitation_in_h=zone.precipitation_in_h,
        gallons_per_minute=zone.gallons_per_minute,
        distribution_uniformity=zone.distribution_uniformity,
        emitters=zone.emitters,
        emitter_gph=zone.emitter_gph or 0.0,
    )


def served_by(as_built: AsBuilt, zone: Zone, day: date) -> list[Served]:
    """The plantings a zone waters that stand on a day and are in the plant catalog."""
    found = []
    for uid in zone.planting_ids:
        planting = as_built.thing(uid)
        plant = as_built.plants.get(planting.plant) if planting else None
        if plant and planting.stands_on(day):
            found.append(Served(planting, plant, as_built.thing(planting.bed_id)))
    return found


@lru_cache(maxsize=4096)
def program(
    zones: tuple[ZoneNeed, ...],
    eto_in_per_day: float,
    weekdays: tuple[int, ...],
    hours: tuple[time, time],
    supply: Supply = ONLY_ONE_VALVE,
) -> ControllerProgram:
    """The controller's program for zones on days of so much reference evapotranspiration, inches."""
    return controller_program(
        zones,
        eto_in_per_day=eto_in_per_day,
        allowed_weekdays=weekdays,
        window_opens=hours[0],
        window_closes=hours[1],
        supply=supply,
    )


def program_on_supply(
    as_built: AsBuilt, controller: Controller, needs: Needs, *, day: date, eto_in_per_day: float
) -> ControllerProgram:
    """A controller's program beside those of the controllers before it, which share the supply.

    They take their hours in the order of their tags; where the record knows no flow of the supply, no
    two valves of the property are open at once. Evapotranspiration in inches a day.
    """
    hours = (as_built.watering_opens, as_built.watering_closes)
    others: tuple[ControllerProgram, ...] = ()
    for other in controllers_on(as_built, day):
        if other.tag >= controller.tag:
            break
        zones = needs_of(as_built, other, day).zones
        supply = Supply(as_built.supply_gpm, others)
        others += (program(zones, eto_in_per_day, as_built.watering_weekdays, hours, supply),)
    supply = Supply(as_built.supply_gpm, others)
    return program(needs.zones, eto_in_per_day, as_built.watering_weekdays, hours, supply)


def controllers_on(as_built: AsBuilt, day: date) -> tuple[Controller, ...]:
    """The controllers that stand on a day, in the order in which they take their hours."""
    return tuple(each for each in as_built.of_kind(Controller) if each.stands_on(day))


def eto_in_per_day(climate: Climate, month: date) -> float:
    """Reference evapotranspiration to water by on a day of a month, inches."""
    return _eto_by_month(climate)[month.month - 1]


def peak_eto_in_per_day(climate: Climate) -> float:
    """Reference evapotranspiration to water by on a day of the thirstiest month, inches."""
    return max(_eto_by_month(climate))


@lru_cache(maxsize=4096)
def water_is_off(climate: Climate, day: date) -> bool:
    """Tell whether the water is off for the winter on a day, where winters are cold."""
    spans = [span for year in (day.year - 1, day.year) for span in windows_in_year(WATER_OFF, climate, year)]
    return any(opens <= day < closes for opens, closes in spans)


@lru_cache(maxsize=256)
def _eto_by_month(climate: Climate) -> tuple[float, ...]:
    """Inches of an average day of each month, January first."""
    months = zip(climate.irrigation_eto_in, DAYS_IN_MONTH, strict=True)
    return tuple(eto_in / days for eto_in, days in months)


def _zones(as_built: AsBuilt, controller: Controller, day: date) -> Iterator[Zone]:
    for thing in as_built.things:
        if isinstance(thing, Zone) and thing.controller_id == controller.uid and thing.stands_on(day):
            yield thing


def _area_ft2(zone: Zone, served: Sequence[Served]) -> float:
    # Drip waters under canopies, sprays water the whole bed.
    canopies_ft2 = sum(each.area_ft2 for each in served)
    if zone.device in ("drip", "bubbler"):
        return canopies_ft2 or zone.area_ft2 or 0.0
    return zone.area_ft2 or canopies_ft2
