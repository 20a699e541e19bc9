"""The list of reckonings: a function each, with titles, formula and source from reckonings.toml."""

import inspect
import math
import tomllib
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, time
from functools import lru_cache
from importlib import resources
from itertools import groupby
from types import MappingProxyType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from landscape_care.almanac.bounds import OutOfBounds
from landscape_care.almanac.climate import climates
from landscape_care.trades import limits
from landscape_care.trades.hydraulics import TUBING
from landscape_care.trades.irrigation import DEVICES, PLANT_FACTORS, SOILS
from landscape_care.trades.lighting import OHM_PER_KFT
from landscape_care.trades.planting import LB_PER_YD3
from landscape_care.trades.reckoning.functions import FUNCTIONS

_KINDS: Mapping[Any, str] = MappingProxyType(
    {float: "number", int: "whole", bool: "flag", str: "text", date: "day", time: "clock"}
)


@dataclass(frozen=True)
class Input:
    """One input of a reckoning. `kind` is number, whole, flag, text, choice, day, clock, numbers or pairs.

    A bound of None is none; `is_open` says that the lower bound itself is not taken.
    """

    name: str
    kind: str
    unit: str
    label_en: str
    label_es: str
    low: float | None = None
    high: float | None = None
    is_open: bool = False
    choices: tuple[str, ...] = ()
    default: object = inspect.Parameter.empty
    example: object = None

    @property
    def is_required(self) -> bool:
        """Whether the function has no value of its own for it."""
        return self.default is inspect.Parameter.empty


@dataclass(frozen=True)
class Reckoning:
    """A public computation: what it is called, what goes in, what comes out, and where it is from."""

    name: str
    craft: str
    title_en: str
    title_es: str
    unit: str
    formula_en: str
    formula_es: str
    source_en: str
    source_es: str
    about: str
    inputs: tuple[Input, ...]
    function: Callable[..., Any]

    @property
    def example(self) -> dict[str, object]:
        """Inputs that make sense together."""
        return {each.name: each.example for each in self.inputs if each.example is not None}


def reckoning(name: str) -> Reckoning:
    """Return the reckoning of a name."""
    known = reckonings()
    if name not in known:
        raise ValueError(f"reckoning {name!r} is unknown: use one of {', '.join(sorted(known))}")
    return known[name]


def by_craft() -> list[tuple[str, list[Reckoning]]]:
    """Return the reckonings, those of a craft together."""
    return [(craft, list(each)) for craft, each in groupby(reckonings().values(), key=lambda r: r.craft)]


@lru_cache(maxsize=1)
def reckonings() -> Mapping[str, Reckoning]:
    """Return every reckoning by its name, craft by craft."""
    path = resources.files("landscape_care.trades").joinpath("data", "reckonings.toml")
    texts = tomllib.loads(path.read_text(encoding="utf-8"))
    functions = {function.__name__: function for function in FUNCTIONS}
    if set(functions) != set(texts["reckonings"]):
        odd = ", ".join(sorted(set(functions) ^ set(texts["reckonings"])))
        raise ValueError(f"reckonings.toml and the functions differ in {odd}: each needs the other")
    return MappingProxyType(
        {name: _read(functions[name], row, texts) for name, row in texts["reckonings"].items()}
    )


def words_for(name: str) -> tuple[str, str, str]:
    """Return the label of an input or result in English and Spanish, and its unit."""
    known = _words().get(name)
    if known is None:
        return name.replace("_", " "), name.replace("_", " "), unit_of(name)
    return known[0], known[1], known[2] if len(known) > 2 else unit_of(name)


@lru_cache(maxsize=1)
def _words() -> Mapping[str, Sequence[str]]:
    path = resources.files("landscape_care.trades").joinpath("data", "reckonings.toml")
    words: Mapping[str, Sequence[str]] = tomllib.loads(path.read_text(encoding="utf-8"))["words"]
    return words


def unit_of(name: str) -> str:
    """Return the unit that a name ends in, such as ft² for `area_ft2`."""
    ends = (ending for ending in UNITS if name == ending or name.endswith(f"_{ending}"))
    return UNITS[max(ends, key=len, default="")]


UNITS: Mapping[str, str] = MappingProxyType(
    {
        "": "",
        "c": "°C",
        "f": "°F",
        "days": "d",
        "deg": "°",
        "ds_m": "dS/m",
        "fps": "ft/s",
        "ft": "ft",
        "ft2": "ft²",
        "gal": "gal",
        "gallons": "gal",
        "gallons_per_minute": "gal/min",
        "gallons_per_run": "gal",
        "gallons_per_week": "gal",
        "gph": "gal/h",
        "gpm": "gal/min",
        "h": "h",
        "hours": "h",
        "hours_per_night": "h",
        "hp": "hp",
        "in": "in",
        "in_h": "in/h",
        "in_per_day": "in/d",
        "in_per_ft": "in/ft",
        "kpa": "kPa",
        "lb": "lb",
        "lb_ft2": "lb/ft²",
        "m": "m",
        "m_s": "m/s",
        "minutes": "min",
        "mj_m2": "MJ/m² d",
        "mm": "mm",
        "mph": "mph",
        "pct": "%",
        "percent": "%",
        "points": "%",
        "psi": "psi",
        "v": "V",
        "va": "VA",
        "watts": "W",
        "yd3": "yd³",
    }
)


def _choices(name: str) -> tuple[str, ...]:
    known: Mapping[str, Collection[object]] = {
        "awg": OHM_PER_KFT,
        "climate_key": climates(),
        "device": DEVICES,
        "soil": SOILS,
        "texture": SOILS,
        "tubing": TUBING,
        "material": LB_PER_YD3,
        "water_class": PLANT_FACTORS,
    }
    return tuple(map(str, known.get(name, ())))


def _read(function: Callable[..., Any], row: Mapping[str, Any], texts: Mapping[str, Any]) -> Reckoning:
    source_en, source_es = _source(row["source"], texts["sources"])
    return Reckoning(
        name=function.__name__,
        craft=row["craft"],
        title_en=row["en"],
        title_es=row["es"],
        unit=row["unit"],
        formula_en=row["formula"],
        # A formula of signs alone is the same in every language.
        formula_es=row.get("formula_es", row["formula"]),
        source_en=source_en,
        source_es=source_es,
        about=inspect.cleandoc(function.__doc__ or ""),
        inputs=tuple(_bounded(function, row["example"], _inputs(function, row["example"]))),
        function=function,
    )


def _source(written: str, sources: Mapping[str, Sequence[str]]) -> tuple[str, str]:
    """Read sources such as `fao56 eq. 7; geometry` in both languages."""
    english, spanish = [], []
    for part in written.split("; "):
        key, _, where = part.partition(" ")
        one, other = sources[key]
        english.append(f"{one}, {where}" if where else one)
        own = where.replace("eq.", "ec.").replace("table", "tabla").replace("chapter", "capítulo")
        spanish.append(f"{other}, {own}" if where else other)
    return "; ".join(english), "; ".join(spanish)


def _inputs(function: Callable[..., Any], example: Mapping[str, object]) -> Iterator[Input]:
    hints = get_type_hints(function)
    for name, parameter in inspect.signature(function).parameters.items():
        english, spanish, unit = words_for(name)
        choices = _choices(name)
        yield Input(
            name=name,
            kind="choice" if choices else _kind(hints[name]),
            unit=unit,
            label_en=english,
            label_es=spanish,
            choices=choices,
            default=parameter.default,
            example=example.get(name),
        )


def _kind(hint: Any) -> str:
    origin = get_origin(hint)
    if origin in (Union, UnionType):
        return _kind(next(each for each in get_args(hint) if each is not type(None)))
    if origin is None:
        return _KINDS[hint]
    return "pairs" if get_origin(get_args(hint)[0]) is tuple else "numbers"


def _bounded(
    function: Callable[..., Any], example: Mapping[str, object], inputs: Iterator[Input]
) -> Iterator[Input]:
    """Give each number the bounds that its function keeps, found by handing it what is no number."""
    for each in inputs:
        if each.kind in ("number", "whole"):
            whole = _typed(example)
            needed = {name: whole[name] for name in whole if name in _required(function)}
            # A better reading in the example may hide this one, so it is tried without as well.
            tried = (
                _bounds(function, {**given, each.name: math.nan}, each.name) for given in (whole, needed)
            )
            yield replace(each, **next(filter(None, tried), {}))
        else:
            yield each


def _required(function: Callable[..., Any]) -> set[str]:
    parameters = inspect.signature(function).parameters.values()
    return {each.name for each in parameters if each.default is inspect.Parameter.empty}


def _bounds(function: Callable[..., Any], given: Mapping[str, object], name: str) -> dict[str, Any]:
    try:
        function(**given)
    except OutOfBounds as refused:
        if refused.field.split(" ")[0] == name:
            return {"low": refused.low, "high": refused.high, "is_open": refused.is_open}
    except (ValueError, TypeError, ArithmeticError):
        pass
    return {}


def _typed(example: Mapping[str, object]) -> dict[str, object]:
    return {name: tuple(map(_tupled, v)) if isinstance(v, list) else v for name, v in example.items()}


def _tupled(value: object) -> object:
    return tuple(value) if isinstance(value, list) else value


def limit_of(each: Input) -> limits.Limit:
    """Return an input's bounds in the form that records and forms use."""
    return limits.Limit(each.kind, each.unit, each.low, each.high, each.choices)
