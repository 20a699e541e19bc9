"""Tables of the as-built record, a module for each stem."""

from collections.abc import Mapping

from landscape_care.properties.models.books import OwnClimate, OwnPlant
from landscape_care.properties.models.client import Client, Depot
from landscape_care.properties.models.drainage import Drain
from landscape_care.properties.models.irrigation import Backflow, Controller, Sensor, ValveBox, Zone
from landscape_care.properties.models.lighting import Fixture, Transformer, WireRun
from landscape_care.properties.models.paving import Gravel, Paving
from landscape_care.properties.models.planting import Bed, Planting
from landscape_care.properties.models.property import Agreement, Cadence, Property
from landscape_care.properties.models.record_check import RecordCheck
from landscape_care.properties.models.structure import Boundary, Fireplace, Structure
from landscape_care.properties.models.thing import InstalledThing, Photo, ThingChange
from landscape_care.properties.models.turf import Turf
from landscape_care.properties.models.water_feature import Filter, Pump, WaterFeature

TABLES: Mapping[str, type[InstalledThing]] = {
    "bed": Bed,
    "planting": Planting,
    "controller": Controller,
    "zone": Zone,
    "valve_box": ValveBox,
    "sensor": Sensor,
    "backflow": Backflow,
    "water_feature": WaterFeature,
    "pump": Pump,
    "filter": Filter,
    "transformer": Transformer,
    "wire_run": WireRun,
    "fixture": Fixture,
    "turf": Turf,
    "paving": Paving,
    "gravel": Gravel,
    "boundary": Boundary,
    "structure": Structure,
    "fireplace": Fireplace,
    "drain": Drain,
}

__all__ = [
    "TABLES",
    "Agreement",
    "Backflow",
    "Bed",
    "Boundary",
    "Cadence",
    "Client",
    "Controller",
    "Depot",
    "Drain",
    "Filter",
    "Fireplace",
    "Fixture",
    "Gravel",
    "InstalledThing",
    "OwnClimate",
    "OwnPlant",
    "Paving",
    "Photo",
    "Planting",
    "Property",
    "Pump",
    "RecordCheck",
    "Sensor",
    "Structure",
    "ThingChange",
    "Transformer",
    "Turf",
    "ValveBox",
    "WaterFeature",
    "WireRun",
    "Zone",
]
