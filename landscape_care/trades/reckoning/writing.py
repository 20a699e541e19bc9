"""Reckonings and their answers as plain values for programs, and as lines for people."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass
from datetime import date, datetime, time
from types import MappingProxyType
from typing import Any

from landscape_care.trades.reckoning.answering import Answer
from landscape_care.trades.reckoning.register import Input, Reckoning, words_for

CRAFTS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "weather": ("Weather and evapotranspiration", "Clima y evapotranspiración"),
        "sun": ("Sun and seasons", "Sol y temporadas"),
        "heat": ("Heat at work", "Calor en el trabajo"),
        "water": ("Water need and run times", "Necesidad de agua y tiempos de riego"),
        "pipes": ("Flow and pressure", "Caudal y presión"),
        "water_feature": ("Water features", "Fuentes y estanques"),
        "lighting": ("Garden lights", "Luces de jardín"),
        "planting": ("Planting and soil", "Plantación y suelo"),
        "ground": ("Turf and paving", "Césped artificial y pavimento"),
    }
)
_WORDS = MappingProxyType(
    {
        "every day": ("every day", "cada día"),
        "yes": ("yes", "sí"),
        "no": ("no", "no"),
        "none": ("none: it does not happen", "ninguno: no ocurre"),
        "endless": ("without end", "sin límite"),
        "nothing": ("nothing", "nada"),
        "humidity": ("humidity", "humedad"),
        "radiation": ("radiation", "radiación"),
        "wind": ("wind", "viento"),
        "usual": ("usual care", "cuidado usual"),
        "water": ("water and shade", "agua y sombra"),
        "rest": ("rest in the shade", "descanso a la sombra"),
        "put_off": ("put off heavy work", "aplazar el trabajo pesado"),
        "stop": ("stop work outdoors", "parar el trabajo al aire libre"),
    }
)
_DAYS = MappingProxyType(
    {
        "en": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
        "es": ("lun", "mar", "mié", "jue", "vie", "sáb", "dom"),
    }
)
# A moment is a day too, so it stands first.
_CLOCKS: tuple[tuple[type[Any], str], ...] = (
    (datetime, "%Y-%m-%d %H:%M:%S"),
    (date, "%Y-%m-%d"),
    (time, "%H:%M"),
)
_MONTHS = MappingProxyType(
    {
        "en": ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
        "es": ("ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"),
    }
)
Line = tuple[str, str]


@dataclass(frozen=True)
class Table:
    """Several like answers, one a row."""

    head: tuple[str, ...]
    rows: list[tuple[str, ...]]


@dataclass(frozen=True)
class Told:
    """An answer for people: single figures with their labels, sentences, and tables."""

    figures: list[Line] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)


def plain(value: Any) -> Any:
    """Return a result as JSON may hold it; what is without end or does not happen is null."""
    if is_dataclass(value) and not isinstance(value, type):
        return {each.name: plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, date | time | datetime):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(name): plain(each) for name, each in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(each) for each in value]
    return value if isinstance(value, str | int | None) else str(value)


def shown(reckoning: Reckoning) -> dict[str, Any]:
    """Return a reckoning as programs read it: titles, formula, source and every input with its bounds."""
    return {
        "name": reckoning.name,
        "craft": reckoning.craft,
        "title": {"en": reckoning.title_en, "es": reckoning.title_es},
        "unit": reckoning.unit,
        "formula": {"en": reckoning.formula_en, "es": reckoning.formula_es},
        "source": {"en": reckoning.source_en, "es": reckoning.source_es},
        "about": reckoning.about,
        "inputs": [_input(each) for each in reckoning.inputs],
        "example": {name: plain(value) for name, value in reckoning.example.items()},
    }


def _input(each: Input) -> dict[str, Any]:
    return {
        "name": each.name,
        "kind": each.kind,
        "unit": each.unit,
        "label": {"en": each.label_en, "es": each.label_es},
        "low": each.low,
        "high": each.high,
        "low_is_refused": each.is_open,
        "choices": list(each.choices),
        "required": each.is_required,
        "default": None if each.is_required else plain(each.default),
    }


def in_words(answer: Answer, language: str) -> Told:
    """Return an answer for people: single figures, sentences, and tables, in English or Spanish."""
    value, own = answer.value, language == "es"
    title = answer.reckoning.title_es if own else answer.reckoning.title_en
    if is_dataclass(value) and not isinstance(value, type):
        return _told_record(value, language)
    if isinstance(value, Mapping):
        return Told([(_label(str(name), own), _said(each, "", language)) for name, each in value.items()])
    if isinstance(value, list | tuple) and value and is_dataclass(value[0]):
        return Told(tables=[_table(value, language)])
    if isinstance(value, list | tuple) and not value:
        return Told([(title, _word("nothing", own))])
    return Told([(title, _said(value, answer.reckoning.unit, language))])


def typed(value: object) -> str:
    """Write a value as somebody would type it."""
    if isinstance(value, list | tuple):
        return ",".join(
            ":".join(map(typed, each)) if isinstance(each, list | tuple) else typed(each) for each in value
        )
    if isinstance(value, time):
        return f"{value:%H:%M}"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _told_record(record: Any, language: str) -> Told:
    told = Told()
    months: dict[str, Sequence[float]] = {}
    for each in fields(record):
        name, value = each.name, getattr(record, each.name)
        label, unit = _label(name, language == "es"), words_for(name)[2]
        if isinstance(value, tuple) and value and is_dataclass(value[0]):
            told.tables.append(_table(value, language))
        elif name.endswith("_by_month_gal"):
            months[f"{label} ({unit})"] = value
        elif isinstance(value, list | tuple) and value and isinstance(value[0], tuple):
            told.sentences.extend(pair[language == "es"] for pair in value)
        elif name == "conflict_stations":
            continue  # the sentences name them
        elif name in ("conflicts", "conflicts_es"):
            told.sentences.extend(value if name == f"conflicts{'_es' * (language == 'es')}" else ())
        else:
            told.figures.append((label, _cell(name, value, language)))
    if months:
        told.tables.append(_by_month(months, language))
    return told


def _table(records: Sequence[Any], language: str) -> Table:
    names = [each.name for each in fields(records[0])]
    head = tuple(_label(name, language == "es") for name in names)
    return Table(
        head, [tuple(_cell(name, getattr(row, name), language) for name in names) for row in records]
    )


def _by_month(columns: Mapping[str, Sequence[float]], language: str) -> Table:
    head = (_label("month", language == "es"), *columns)
    rows = zip(_MONTHS[language], *columns.values(), strict=True)
    return Table(head, [(month, *map(_four_figures, values)) for month, *values in rows])


def _cell(name: str, value: Any, language: str) -> str:
    if name == "weekdays":
        if len(value) == len(_DAYS[language]):
            return _word("every day", language == "es")
        return ", ".join(_DAYS[language][day] for day in value) or "–"
    return _said(value, words_for(name)[2], language)


def _said(value: Any, unit: str, language: str) -> str:
    own = language == "es"
    if isinstance(value, bool) or value is None:
        return _word({True: "yes", False: "no", None: "none"}[value], own)
    if isinstance(value, int | float):
        return _number(value, unit, own)
    if isinstance(value, list | tuple):
        return _series(value, unit, language)
    for kind, form in _CLOCKS:
        if isinstance(value, kind):
            return str(value.strftime(form))
    return _word(str(value), own)


def _series(values: Sequence[Any], unit: str, language: str) -> str:
    return ", ".join(_said(each, unit, language) for each in values) or "–"


def _number(value: float, unit: str, own: bool) -> str:
    if not math.isfinite(value):
        return _word("endless", own)
    written = f"{value:,d}" if isinstance(value, int) else _four_figures(value)
    return f"{written} {unit}".rstrip()


def _four_figures(value: float) -> str:
    """Write so many figures that the number can be checked by hand."""
    decimals = 4 if abs(value) < 1 else 3 if abs(value) < 10 else 2 if abs(value) < 1000 else 1
    if value and abs(value) < 0.001:
        return f"{value:.3g}"
    return f"{value:,.{decimals}f}"


def _word(word: str, own: bool) -> str:
    return _WORDS[word][own] if word in _WORDS else word


def _label(name: str, own: bool) -> str:
    return words_for(name)[own]
