"""What weather asked for a care, or moved it, in both languages with its figures."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from landscape_care.almanac.dates import Window
from landscape_care.care.catalog import Event
from landscape_care.care.season_reasons import Pair, say_day

_FIGURES: Mapping[str, tuple[str, str, str, str]] = {
    # What is forecast in English and Spanish, then how its bound is said.
    "gust_mph": ("gusts of {} mph", "ráfagas de {} mph", "over {} mph", "sobre {} mph"),
    "tmax_f": ("a high of {} °F", "una máxima de {} °F", "over {} °F", "sobre {} °F"),
    "tmin_f": ("a low of {} °F", "una mínima de {} °F", "under {} °F", "bajo {} °F"),
    "rain_in": (
        "{} in of rain",
        "{} pulgadas de lluvia",
        "with more than {} in",
        "con más de {} pulgadas",
    ),
    "rain_percent": (
        "a chance of rain of {} %",
        "una probabilidad de lluvia de {} %",
        "over {} %",
        "sobre {} %",
    ),
}
_CAUSES: Mapping[str, Pair] = {
    "hard_freeze": (
        "The first morning of 28 °F or less of this winter was {}.",
        "La primera mañana de 28 °F o menos de este invierno fue el {}.",
    ),
    "heat": (
        "Unusual heat is forecast or was measured about {}.",
        "Se espera o se midió un calor poco común hacia el {}.",
    ),
}


def weather_cause(event: Event, occurrence: str, due: date) -> Pair:
    """Why care that follows the weather is there; `due` is its day as it was counted."""
    _, _, after = occurrence.partition("+")
    on = due - timedelta(int(after or event.days_after[0]))
    if event.on in _CAUSES:
        day, (en, es) = say_day(on), _CAUSES[event.on]
        return en.format(day[0]), es.format(day[1])
    if event.on == "storm_ahead":
        day = say_day(on + timedelta(1))
        return (
            f"Gusts of 45 mph or more are forecast for {day[0]}; it is made ready the day before.",
            f"Se esperan ráfagas de 45 mph o más el {day[1]}; se prepara el día anterior.",
        )
    day = say_day(on)
    return (
        f"A freeze is forecast or was measured: nights of 34 °F or less begin about {day[0]}.",
        f"Se espera o se midió helada: noches de 34 °F o menos desde el {day[1]}.",
    )


def weather_sentence(weather: Mapping[str, Any], window: Window) -> Pair:
    """What of the forecast took days from a window, and where the care went."""
    day = say_day(date.fromisoformat(weather["day"]))
    figure, bound = f"{weather['value']:g}", f"{weather['bound']:g}"
    said, said_es, over, over_es = _FIGURES[weather["measured"]]
    cause = (
        f"For {day[0]} {said.format(figure)} is forecast, and it is not done {over.format(bound)}",
        f"Para el {day[1]} se espera {said_es.format(figure)} y no se hace {over_es.format(bound)}",
    )
    if weather["nowhere"]:
        return f"{cause[0]}; no day that is left is better.", f"{cause[1]}; ningún día restante es mejor."
    opens, closes = say_day(window.opens), say_day(window.closes)
    if weather["usual_due"] == window.due.isoformat():
        return (
            f"{cause[0]}, so its days are {opens[0]} to {closes[0]}.",
            f"{cause[1]}; por eso sus días van del {opens[1]} al {closes[1]}.",
        )
    due = say_day(window.due)
    return (
        f"{cause[0]}, so it is due on {due[0]}, between {opens[0]} and {closes[0]}.",
        f"{cause[1]}; por eso toca el {due[1]}, entre el {opens[1]} y el {closes[1]}.",
    )
