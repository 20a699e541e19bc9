"""The heat index and what a crew does about it.

The index is for shade and light wind; full sun adds up to 15 °F. In dry air it stays below the
thermometer, so the advice also looks at the air temperature.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from landscape_care.almanac.bounds import check

INITIAL_INDEX_F = 80.0
HIGH_INDEX_F = 90.0
DANGER_INDEX_F = 103.0
EXTREME_INDEX_F = 125.0
INITIAL_AIR_F = 80.0
HIGH_AIR_F = 95.0
# Common practice: at this air temperature heavy work waits, however dry the air is.
DANGER_AIR_F = 105.0

_TERMS = (
    (-42.379, 0, 0),
    (2.04901523, 1, 0),
    (10.14333127, 0, 1),
    (-0.22475541, 1, 1),
    (-6.83783e-3, 2, 0),
    (-5.481717e-2, 0, 2),
    (1.22874e-3, 2, 1),
    (8.5282e-4, 1, 2),
    (-1.99e-6, 2, 2),
)

Line = tuple[str, str]


@dataclass(frozen=True)
class HeatAdvice:
    """How hot it is for people at work, and what to do, line by line in English and Spanish."""

    level: str
    index_f: float
    lines: list[Line]


def heat_index_f(temperature_f: float, humidity_pct: float) -> float:
    """Return the heat index in °F from air temperature in °F and relative humidity in %.

    Equation of the US National Weather Service (Rothfusz, SR 90-23) with its adjustments for dry
    and for humid air; the simple formula where the result stays under 80 °F.
    """
    check("temperature_f", temperature_f, -60, 140)
    check("humidity_pct", humidity_pct, 0, 100)
    simple = _simple_index_f(temperature_f, humidity_pct)
    if simple < INITIAL_INDEX_F:
        return simple
    regression = sum(
        factor * temperature_f**t_power * humidity_pct**rh_power for factor, t_power, rh_power in _TERMS
    )
    return regression + _adjustment_f(temperature_f, humidity_pct)


def heat_advice(temperature_f: float, humidity_pct: float) -> HeatAdvice:
    """Return the advice for work outdoors: level 'usual', 'water', 'rest', 'put_off' or 'stop'.

    Index triggers 80 and 90 °F as in the proposed federal rule 89 FR 70698, air triggers 80 and
    95 °F as in 8 CCR 3395, danger from an index of 103 and extreme danger from 125 °F as in the
    weather service's bands; the danger trigger of 105 °F in the air is common practice.
    """
    index_f = heat_index_f(temperature_f, humidity_pct)
    reached = [level for level, is_reached in _TRIGGERS if is_reached(index_f, temperature_f)]
    lines = [line for level in reached for line in _LINES[level]]
    return HeatAdvice(
        level=reached[-1] if reached else "usual",
        index_f=index_f,
        lines=[*lines, _CLOSING] if lines else [],
    )


def _simple_index_f(temperature_f: float, humidity_pct: float) -> float:
    steadman = 0.5 * (temperature_f + 61 + (temperature_f - 68) * 1.2 + humidity_pct * 0.094)
    return (steadman + temperature_f) / 2


def _adjustment_f(temperature_f: float, humidity_pct: float) -> float:
    if humidity_pct < 13 and 80 <= temperature_f <= 112:
        return -(13 - humidity_pct) / 4 * math.sqrt((17 - abs(temperature_f - 95)) / 17)
    if humidity_pct > 85 and 80 <= temperature_f <= 87:
        return (humidity_pct - 85) / 10 * (87 - temperature_f) / 5
    return 0.0


_TRIGGERS: tuple[tuple[str, Callable[[float, float], bool]], ...] = (
    ("water", lambda index_f, air_f: index_f >= INITIAL_INDEX_F or air_f >= INITIAL_AIR_F),
    ("rest", lambda index_f, air_f: index_f >= HIGH_INDEX_F or air_f >= HIGH_AIR_F),
    ("put_off", lambda index_f, air_f: index_f >= DANGER_INDEX_F or air_f >= DANGER_AIR_F),
    ("stop", lambda index_f, _air_f: index_f >= EXTREME_INDEX_F),
)

_LINES: dict[str, tuple[Line, ...]] = {
    "water": (
        (
            "Keep cool water within reach: about a quart an hour for each person.",
            "Tenga agua fresca a la mano: más o menos un litro por hora para cada persona.",
        ),
        (
            "Have shade ready. New and returning people start with short days for a week or two.",
            "Tenga sombra lista. Quien empieza o regresa trabaja días cortos una o dos semanas.",
        ),
    ),
    "rest": (
        (
            "Start at first light and do the heavy work first.",
            "Empiece con la primera luz y haga primero el trabajo pesado.",
        ),
        (
            "Rest 15 minutes in the shade every 2 hours and watch one another for signs of illness.",
            "Descanse 15 minutos a la sombra cada 2 horas y cuídense unos a otros.",
        ),
    ),
    "put_off": (
        (
            "Put off heavy work. Nobody works alone.",
            "Deje el trabajo pesado para otro día. Nadie trabaja a solas.",
        ),
        (
            "Confusion, fainting or hot skin: call 911, move to shade, cool with water at once.",
            "Confusión, desmayo o piel caliente: llame al 911, lleve a la sombra y enfríe con agua.",
        ),
    ),
    "stop": (
        (
            "Extreme danger: stop work outdoors.",
            "Peligro extremo: pare el trabajo al aire libre.",
        ),
    ),
}

_CLOSING: Line = (
    "Local rules come first; this note does not replace them.",
    "Las reglas locales van primero; esta nota no las reemplaza.",
)
