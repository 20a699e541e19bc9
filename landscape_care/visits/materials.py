"""What a crew loads for its care tasks: countable material added up, and the rest by name."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class Material:
    """A countable material: its names, its unit, to what step it is rounded up, and what one unit loads.

    Pounds and cubic yards of a unit are common practice: a one-gallon plant, a flat of 18 small pots,
    soils and mulch as suppliers deliver them, moist.
    """

    en: str
    es: str
    unit: str
    unit_es: str
    step: float = 1.0
    lb: float = 1.0
    yd3: float = 0.0


# Names of numbers in the details of care tasks that are something to load.
MATERIALS: Mapping[str, Material] = MappingProxyType(
    {
        "plants": Material("Plants", "Plantas", "plants", "plantas", lb=6.0, yd3=0.012),
        "flats": Material("Flats of plants", "Charolas de plantas", "flats", "charolas", lb=20.0, yd3=0.04),
        "compost_yd3": Material("Compost", "Composta", "yd³", "yd³", 0.1, lb=1200.0, yd3=1.0),
        "mulch_yd3": Material("Mulch", "Mantillo", "yd³", "yd³", 0.1, lb=700.0, yd3=1.0),
        "gravel_yd3": Material("Gravel", "Grava", "yd³", "yd³", 0.1, lb=2800.0, yd3=1.0),
        "fertiliser_lb": Material("Fertiliser", "Fertilizante", "lb", "lb", 0.5, yd3=0.0006),
        "infill_lb": Material("Turf infill", "Relleno para césped", "lb", "lb", 5.0, yd3=0.0004),
        "sand_lb": Material("Sand", "Arena", "lb", "lb", 5.0, yd3=0.0004),
        "lamps": Material("Lamps", "Lámparas", "lamps", "lámparas"),
    }
)


@dataclass(frozen=True, slots=True)
class Needs:
    """What one care task needs: numbers by name, and further materials in words by language."""

    numbers: Mapping[str, float] = field(default_factory=dict)
    further_en: str = ""
    further_es: str = ""


@dataclass(frozen=True, slots=True)
class LoadLine:
    """One line of a load list; `amount` is None for what is only named."""

    en: str
    es: str
    amount: float | None = None
    unit: str = ""
    unit_es: str = ""


def load_list(tasks: Iterable[Needs]) -> tuple[LoadLine, ...]:
    """Add up what all tasks need: counted materials first, then each named thing once."""
    needs = list(tasks)
    return (*_counted(needs), *_named(needs))


class Load(NamedTuple):
    """What a vehicle carries: pounds and cubic yards."""

    lb: float
    yd3: float


def load_of(tasks: Iterable[Needs]) -> Load:
    """Weight and room of the counted materials of some tasks."""
    amounts = [
        (material, float(one.numbers.get(name, 0))) for one in tasks for name, material in MATERIALS.items()
    ]
    lb = sum(material.lb * max(0.0, amount) for material, amount in amounts)
    yd3 = sum(material.yd3 * max(0.0, amount) for material, amount in amounts)
    return Load(round(lb, 2), round(yd3, 4))


def _counted(needs: Sequence[Needs]) -> Iterable[LoadLine]:
    for name, material in MATERIALS.items():
        amount = sum(float(one.numbers.get(name, 0)) for one in needs)
        if amount > 0:
            yield LoadLine(
                material.en, material.es, _rounded_up(amount, material.step), material.unit, material.unit_es
            )


def _rounded_up(amount: float, step: float) -> float:
    # A whole number of steps that came out of arithmetic a hair too large stays what it is.
    steps = -int(-(amount / step - 1e-9) // 1)
    return round(steps * step, 3)


def _named(needs: Sequence[Needs]) -> Iterable[LoadLine]:
    pairs = dict.fromkeys(pair for one in needs for pair in _pairs(one))
    yield from (LoadLine(en, es) for en, es in pairs)


def _pairs(one: Needs) -> Iterable[tuple[str, str]]:
    english, spanish = _parts(one.further_en), _parts(one.further_es)
    if len(english) == len(spanish):
        return zip(english, spanish, strict=True)
    # Lists that were not written side by side are not torn apart.
    return [(one.further_en, one.further_es or one.further_en)] if one.further_en else []


def _parts(words: str) -> list[str]:
    return [part.strip() for part in words.split(",") if part.strip()]
