"""What crews measure on site, and when a measured value asks for care."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from types import MappingProxyType

from landscape_care.trades.kinds import Filter, Thing, WaterFeature, Zone
from landscape_care.trades.limits import Problem, Refused


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measurable quantity: its unit, the plausible span of its values, and its names."""

    unit: str
    low: float
    high: float
    en: str
    es: str


QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {
        "filter_pressure_psi": Quantity("psi", 0, 100, "Filter pressure", "Presión del filtro"),
        "flow_gpm": Quantity("gal/min", 0, 500, "Flow of the zone", "Caudal de la zona"),
        "far_end_pressure_psi": Quantity("psi", 0, 150, "Pressure at the far end", "Presión en el extremo"),
        "last_fixture_v": Quantity("V", 0, 30, "Voltage at the last light", "Voltaje en la última luz"),
        "load_va": Quantity("VA", 0, 5000, "Load of the transformer", "Carga del transformador"),
        "trip_in": Quantity("in", 0, 12, "Height of the step at a joint", "Altura del escalón en una junta"),
        "makeup_gal_day": Quantity("gal/day", 0, 100_000, "Water added a day", "Agua añadida por día"),
        "water_ph": Quantity("pH", 0, 14, "Acidity of the water", "Acidez del agua"),
        "water_level_drop_in": Quantity("in", 0, 60, "Drop of the water level", "Descenso del nivel de agua"),
        "pump_current_a": Quantity("A", 0, 100, "Current of the pump", "Corriente de la bomba"),
    }
)


@dataclass(frozen=True, slots=True)
class Measured:
    """One value read from a thing on a day."""

    taken_on: date
    value: float


def check_reading(quantity: str, value: float, unit: str) -> None:
    """Refuse a quantity nobody knows, a unit that is not its own, and a value no gauge shows."""
    known = QUANTITIES.get(quantity)
    if known is None:
        raise Refused([Problem("quantity", quantity, f"one of {', '.join(QUANTITIES)}")])
    if unit != known.unit:
        raise Refused([Problem("unit", unit, f"{known.unit} for {quantity}")])
    if not known.low <= value <= known.high:
        raise Refused([Problem("value", value, f"{known.low:g} to {known.high:g} {known.unit}")])


@dataclass(frozen=True, slots=True)
class Threshold:
    """The measured value at which care is due; exactly one bound is given.

    `above_clean` counts from the filter's clean pressure, `off_by_percent` from the recorded flow,
    `times_evaporation` from what the air takes from open water in that month.
    """

    quantity: str
    at_least: float | None = None
    at_most: float | None = None
    outside: tuple[float, float] | None = None
    above_clean: float | None = None
    off_by_percent: float | None = None
    times_evaporation: float | None = None

    def __post_init__(self) -> None:
        if self.quantity not in QUANTITIES:
            raise ValueError(
                f"quantity of reading is {self.quantity!r}: wanted one of {', '.join(QUANTITIES)}"
            )
        given = [f.name for f in fields(self) if f.name != "quantity" and getattr(self, f.name) is not None]
        if len(given) != 1:
            raise ValueError(f"bound of reading is {given or 'missing'}: wanted exactly one")
        if self.outside is not None:
            object.__setattr__(self, "outside", _span(self.outside))

    def is_met(self, value: float, thing: Thing, *, evaporation_gal_day: float | None = None) -> bool:
        """Whether a value asks for care; never where there is nothing to compare it with."""
        if self.times_evaporation is not None:
            air = evaporation_gal_day if isinstance(thing, WaterFeature) else None
            return air is not None and value > air * self.times_evaporation
        if self.at_least is not None:
            return value >= self.at_least
        if self.at_most is not None:
            return value <= self.at_most
        if self.outside is not None:
            return not self.outside[0] <= value <= self.outside[1]
        return self._is_met_beside(value, thing)

    def _is_met_beside(self, value: float, thing: Thing) -> bool:
        if self.above_clean is not None and isinstance(thing, Filter):
            return thing.clean_psi is not None and value >= thing.clean_psi + self.above_clean
        if self.off_by_percent is not None and isinstance(thing, Zone):
            recorded = thing.gallons_per_minute
            return recorded > 0 and abs(value - recorded) > recorded * self.off_by_percent / 100
        return False


def _span(bounds: tuple[float, float]) -> tuple[float, float]:
    low, high = bounds
    if not low < high:
        raise ValueError(f"outside is {bounds!r}: wanted a low and a higher bound")
    return (low, high)
