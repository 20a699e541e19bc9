"""A refused input, in both languages."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landscape_care.almanac.bounds import OutOfBounds
from landscape_care.trades.limits import Problem


@dataclass(frozen=True)
class Wrong(Problem):
    """One input that is not taken, with what would be right in English and Spanish."""

    wanted_es: str = ""


def bounds_in_words(low: float, high: float | None, *, is_open: bool) -> tuple[str, str]:
    """Say between which numbers an input lies, in English and Spanish."""
    if high is not None:
        return f"a number from {low:g} to {high:g}", f"un número de {low:g} a {high:g}"
    if is_open:
        return f"a number above {low:g}", f"un número mayor que {low:g}"
    return f"a number of {low:g} or more", f"un número de {low:g} o más"


def out_of_bounds(refused: OutOfBounds, names: Iterable[str]) -> Wrong:
    """The input that a function refused by its bounds."""
    english, spanish = bounds_in_words(refused.low, refused.high, is_open=refused.is_open)
    return Wrong(_field(refused.field, names), refused.value, english, spanish)


def refused_in_words(refused: ValueError, names: Iterable[str], given: dict[str, object]) -> Wrong:
    """The input that a function refused in a sentence of its own."""
    field = _field(str(refused), names)
    wanted = str(refused).rpartition(": ")[2]
    return Wrong(field, given.get(field), wanted, _WANTED_ES.get(field, wanted))


# What a function asks for in a sentence of its own, in Spanish, by the input it is about.
_WANTED_ES: Mapping[str, str] = MappingProxyType(
    {
        "allowed_weekdays": "cifras de 1 (lunes) a 7 (domingo)",
        "eto_by_month": "doce sumas, ninguna menor que 0, en pulgadas",
        "expression": "una temporada, un ancla o un intervalo que se conozca, como perennial_cutback",
        "first_frost_md": "mes y día como 12-12",
        "last_frost_md": "mes y día como 02-07",
        "month_day": "mes y día como 02-07",
        "precipitation_in_h": "un gasto: la tasa de precipitación, o goteros y su gasto",
        "rain_by_month": "doce sumas, ninguna menor que 0, en pulgadas",
        "rh_min_pct": "también la humedad máxima",
        "sunset": "al menos dos horas después de la salida del sol",
        "surface_storage_in": "más agua en la superficie: ningún ciclo es tan corto",
        "time_zone": "un nombre IANA como America/Denver",
        "tmean": "doce medias, una por mes",
        "water_ds_m": "agua menos salada, o una planta que tolere más sal",
        "wet_bulb_c": "una temperatura más alta: ningún aire es tan seco",
        "window_opens": "otra hora que la del final",
    }
)


def _field(said: str, names: Iterable[str]) -> str:
    known = set(names)
    return next(
        (word for word in re.findall(r"[a-z][a-z0-9_]*", said) if word in known),
        said.split(" ", maxsplit=1)[0],
    )
