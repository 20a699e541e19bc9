"""Public holidays of a place, as its country or state keeps them.

The dates come from the open `holidays` library, which cites the law of each place; this module is its
only door. A region is written as in ISO 3166-2, such as US-NM, or as a country alone, such as US.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from functools import lru_cache
from types import MappingProxyType

import holidays

OBSERVED = " (observed)"


@lru_cache(maxsize=256)
def holidays_of(region: str, year: int) -> Mapping[date, str]:
    """Days of a year that a region keeps, with their English names; a weekend's holiday on its substitute.

    Raises `ValueError` for a region that is not known.
    """
    country, _, part = region.partition("-")
    try:
        found = holidays.country_holidays(country, subdiv=part or None, years=year, language="en_US")
    except NotImplementedError:
        raise ValueError(f"region {region!r}, wanted a country or state such as US-NM (ISO 3166-2)") from None
    return MappingProxyType(dict(sorted(found.items())))


def kept_on(region: str, days: Iterable[date], worked: Iterable[str] = ()) -> dict[date, str]:
    """The holidays among some days that are kept, that is, whose names are not among those worked."""
    if not region:
        return {}
    names = {name.strip().casefold() for name in worked}
    found = {day: holidays_of(region, day.year).get(day) for day in days}
    return {day: name for day, name in found.items() if name and not _is_worked(name, names)}


def _is_worked(name: str, worked: set[str]) -> bool:
    return all(part.removesuffix(OBSERVED).strip().casefold() in worked for part in name.split("; "))


def names_in(region: str, year: int) -> tuple[str, ...]:
    """The names of a region's holidays in a year, in order, each once."""
    parts = (part for name in holidays_of(region, year).values() for part in name.split("; "))
    return tuple(dict.fromkeys(part.removesuffix(OBSERVED).strip() for part in parts))
