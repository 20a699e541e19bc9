"""What a season hangs on at a place: frosts and mean temperatures with their days, in both languages."""

import re
from datetime import date

from landscape_care.almanac.anchors import (
    ALGAE_GROWS_F,
    ANNUALS_GROW_F,
    COOL_ANNUALS_BELOW_F,
    PERENNIALS_STIR_F,
    WARM_ANNUALS_ABOVE_F,
    windows_in_year,
)
from landscape_care.almanac.climate import Climate
from landscape_care.care.catalog import WATERING_SEASON

Pair = tuple[str, str]
_MONTHS = {
    "en": ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"],
    "es": ["ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"],
}
_LAST, _FIRST = "last_frost_50", "first_frost_50"
_MEAN = re.compile(r"mean_(rises|falls)_(\d+)F")
_WORD = re.compile(r"[a-z][a-z_]*\w*")


def say_day(day: date) -> Pair:
    """A day as people write it, in English and Spanish."""
    return (
        f"{_MONTHS['en'][day.month - 1]} {day.day}, {day.year}",
        f"{day.day} {_MONTHS['es'][day.month - 1]} {day.year}",
    )


def climate_sentence(expression: str, climate: Climate, year: int) -> Pair | None:
    """What of the usual year at a place decides a season; None where the calendar alone does."""
    found = [said for point in _points(expression, climate) if (said := _say(point, climate, year))]
    if not found:
        return None
    en, es = " and ".join(pair[0] for pair in found), " y ".join(pair[1] for pair in found)
    return f"By the usual year of {climate.name}, {en}.", f"En el año usual de {climate.name}, {es}."


def _points(expression: str, climate: Climate) -> list[str]:
    """The frosts and means that an expression hangs on, each once."""
    words = _WORD.findall(expression)
    points = [point for word in words for point in _points_of(word, climate)]
    return list(dict.fromkeys(points))


def _points_of(word: str, climate: Climate) -> tuple[str, ...]:
    if word in (_LAST, _FIRST) or _MEAN.fullmatch(word):
        return (word,)
    return {
        "annual_swap_to_cool": (f"mean_falls_{COOL_ANNUALS_BELOW_F[climate.band]:.0f}F",),
        "annual_swap_to_warm": (_LAST, f"mean_rises_{WARM_ANNUALS_ABOVE_F[climate.band]:.0f}F"),
        "perennial_cutback": (_LAST, f"mean_rises_{PERENNIALS_STIR_F:.0f}F"),
        "frost_tender_prune": (_LAST,),
        "rose_hard_prune": (_LAST,),
        "frost_protection_ready": (_FIRST,),
        "irrigation_winterize": (_FIRST,),
        "irrigation_spring_start": (_LAST,),
        "algae_season": (f"mean_rises_{ALGAE_GROWS_F:.0f}F", f"mean_falls_{ALGAE_GROWS_F:.0f}F"),
        "annual_season": (f"mean_rises_{ANNUALS_GROW_F:.0f}F", f"mean_falls_{ANNUALS_GROW_F:.0f}F"),
        "growing_season": (_LAST, _FIRST),
        WATERING_SEASON: (_LAST, _FIRST) if climate.band == "cold" else (),
    }.get(word, ())


def _say(point: str, climate: Climate, year: int) -> Pair | None:
    mean = _MEAN.fullmatch(point)
    if mean and mean[1] == "rises" and min(climate.tmean_f) >= float(mean[2]):
        return (
            f"no month is colder than a mean of {mean[2]} °F",
            f"ningún mes es más frío que {mean[2]} °F de media",
        )
    days = windows_in_year(point, climate, year)
    if not days:
        return None
    en, es = say_day(days[0][0])
    if mean is None:
        which = ("last", "última") if point == _LAST else ("first", "primera")
        return f"the {which[0]} frost is about {en}", f"la {which[1]} helada es hacia el {es}"
    way = ("warm", "suben") if mean[1] == "rises" else ("cool", "bajan")
    return (
        f"days {way[0]} to a mean of {mean[2]} °F about {en}",
        f"los días {way[1]} a {mean[2]} °F de media hacia el {es}",
    )
