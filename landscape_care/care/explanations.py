"""Why a care task is there, in a sentence or two of English and Spanish."""

from dataclasses import dataclass
from datetime import date

from landscape_care.care.catalog import Rule
from landscape_care.care.generation import FOLLOW_UP

Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Reason:
    """What is known of a task when somebody asks why."""

    series: str
    occurrence: str
    opens_on: date
    closes_on: date
    last_on: date | None


def explain(rule: Rule | None, reason: Reason, *, care_starts_on: date, late_days: int) -> Pair:
    """The reason for a task, and how many days it is late."""
    said = [_cause(rule, reason, care_starts_on)]
    if late_days > 0:
        said.append(_lateness(late_days))
    return " ".join(pair[0] for pair in said), " ".join(pair[1] for pair in said)


def _cause(rule: Rule | None, reason: Reason, care_starts_on: date) -> Pair:
    if reason.series.endswith(FOLLOW_UP):
        return "A crew asked for it.", "Lo pidió una cuadrilla."
    if rule is None:
        return "Its rule is no longer in use.", "Su regla ya no está en uso."
    if rule.repeats:
        return _repeats(rule, reason, care_starts_on)
    if rule.season is not None:
        return _in_season(reason)
    return _otherwise(rule, reason)


def _repeats(rule: Rule, reason: Reason, care_starts_on: date) -> Pair:
    en, es = _rhythm(rule)
    if reason.last_on is None:
        return (
            f"{en}; counted from {care_starts_on}, or from the day it was installed.",
            f"{es}; contado desde {care_starts_on}, o desde el día en que se instaló.",
        )
    return f"{en}; last on {reason.last_on}.", f"{es}; la última vez el {reason.last_on}."


def _rhythm(rule: Rule) -> Pair:
    if rule.every_days is None:
        return "By hours of running", "Según horas de marcha"
    days = max(rule.every_days, rule.at_least_days)
    en, es = f"Every {days} days", f"Cada {days} días"
    if rule.at_least_days > rule.every_days:
        en, es = f"{en} by the agreement", f"{es} según el acuerdo"
    if rule.within:
        en, es = f"{en} in its season", f"{es} en su temporada"
    if rule.reading:
        return f"{en}, sooner when a reading asks for it", f"{es}, antes si una lectura lo pide"
    return en, es


def _in_season(reason: Reason) -> Pair:
    span = f"{reason.opens_on} – {reason.closes_on}"
    return (
        f"The season of this place for it: {span}.",
        f"La temporada de este lugar para hacerlo: {span}.",
    )


def _otherwise(rule: Rule, reason: Reason) -> Pair:
    if rule.computed is not None:
        return (
            f"Computed for {reason.occurrence}: the setting changes.",
            f"Calculado para {reason.occurrence}: cambia el ajuste.",
        )
    if rule.event is not None and rule.event.on == "clock_change":
        return f"Clocks change on {reason.occurrence}.", f"La hora cambia el {reason.occurrence}."
    if rule.event is not None:
        return f"Planted on {reason.occurrence[:10]}.", f"Plantado el {reason.occurrence[:10]}."
    return (
        f"A reading of {reason.occurrence} was out of bounds.",
        f"Una lectura del {reason.occurrence} salió de su rango.",
    )


def _lateness(days: int) -> Pair:
    if days == 1:
        return "One day late.", "Un día de retraso."
    return f"{days} days late.", f"{days} días de retraso."
