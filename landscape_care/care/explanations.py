"""Why a care task is there and why on these days, in a few sentences of English and Spanish."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from datetime import date, timedelta
from typing import Any

from landscape_care.almanac.climate import Climate
from landscape_care.almanac.dates import Window
from landscape_care.care.catalog import REPORTED, WEATHER, Adjustment, Rule
from landscape_care.care.generation import FOLLOW_UP
from landscape_care.care.measures import QUANTITIES, Measured
from landscape_care.care.season_reasons import Pair, climate_sentence, say_day
from landscape_care.care.settings_due import PROGRAM_BAND, TIMER_TOLERANCE_MIN
from landscape_care.care.weather_reasons import weather_cause, weather_sentence


@dataclass(frozen=True, slots=True)
class LastCare:
    """The care before: which occurrence by number, on which day, done or skipped."""

    number: int
    on: date
    done: bool


@dataclass(frozen=True, slots=True)
class Own:
    """Values that the company set for a rule, everywhere or on this property, and why."""

    values: Adjustment
    reason: str
    everywhere: bool


@dataclass(frozen=True, slots=True)
class OtherDays:
    """The days that planning finds right for care that was told for another, and what made them so."""

    told_for: date
    window: Window
    why: str


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of a task when somebody asks why it is there.

    `starts_on` is the day from which its series is counted, `every_days` the days between two of it.
    """

    series: str
    occurrence: str
    window: Window
    starts_on: date
    installed: bool
    climate: Climate
    every_days: int | None = None
    hours_per_day: float | None = None
    last: LastCare | None = None
    reading: Measured | None = None
    numbers: Mapping[str, float] = field(default_factory=dict)
    own: tuple[Own, ...] = ()
    nothing_set: bool = False
    held: bool = False
    late_days: int = 0
    weather: Mapping[str, Any] | None = None
    other_days: OtherDays | None = None

    @property
    def usual_due(self) -> date:
        """The due day without the weather."""
        return date.fromisoformat(self.weather["usual_due"]) if self.weather else self.window.due

    @property
    def steps(self) -> int:
        """How many times after the last care, or after the start, this one comes."""
        number = int(self.occurrence) if self.occurrence.isdecimal() else 1
        return number - (self.last.number if self.last else 0)

    @property
    def expected_on(self) -> date | None:
        """The day that plain counting gives."""
        counted_from = self.last.on if self.last else self.starts_on
        return counted_from + timedelta(days=self.steps * self.every_days) if self.every_days else None


def explain(rule: Rule | None, plain: Rule | None, facts: Facts) -> Pair:
    """The reasons for a task; `rule` is the rule as it holds, `plain` as the catalog has it."""
    said = [*_causes(rule, facts)]
    if facts.weather is not None:
        said.append(weather_sentence(facts.weather, facts.window))
    if facts.other_days is not None:
        said.append(_elsewhere(facts.other_days))
    if rule is not None and plain is not None:
        said += (_own(own, plain) for own in facts.own)
    if facts.held:
        said.append(("The office holds this window.", "La oficina mantiene estas fechas."))
    if facts.late_days > 0:
        said.append(_lateness(facts.late_days))
    return " ".join(pair[0] for pair in said), " ".join(pair[1] for pair in said)


def _causes(rule: Rule | None, facts: Facts) -> Iterator[Pair]:
    if facts.series.endswith(FOLLOW_UP):
        yield "A crew asked for it.", "Lo pidió una cuadrilla."
    elif rule is None:
        yield "Its rule is no longer in use.", "Su regla ya no está en uso."
    elif rule.repeats:
        yield from _repeats(rule, facts)
    elif rule.season is not None:
        yield from _in_season(rule, facts)
    elif rule.computed is not None:
        yield from _computed(rule.computed, facts)
    else:
        yield _after(rule, facts)


# --- Repeating care ---


def _repeats(rule: Rule, facts: Facts) -> Iterator[Pair]:
    rhythm, since = _rhythm(rule, facts), _since(facts)
    yield f"{rhythm[0]}; {since[0]}.", f"{rhythm[1]}; {since[1]}."
    yield _counted(rule, facts)


def _rhythm(rule: Rule, facts: Facts) -> Pair:
    days = facts.every_days or 0
    if rule.run_hours is not None and facts.hours_per_day:
        hours = f"{facts.hours_per_day:g}"
        return (
            f"Due by hours of running, at {hours} hours a day every {days} days",
            f"Toca según horas de marcha, con {hours} horas por día cada {days} días",
        )
    if rule.every_days is not None and rule.at_least_days > rule.every_days:
        return (
            f"Every {days} days by the agreement, where the rule alone says {rule.every_days}",
            f"Cada {days} días según el acuerdo; la regla sola dice {rule.every_days}",
        )
    return f"Every {days} days", f"Cada {days} días"


def _since(facts: Facts) -> Pair:
    if facts.last is not None:
        en, es = say_day(facts.last.on)
        if facts.last.done:
            return f"last done on {en}", f"la última vez el {es}"
        return f"last skipped on {en}", f"la última se omitió el {es}"
    en, es = say_day(facts.starts_on)
    if facts.installed:
        return f"counted from {en}, when it was installed", f"contado desde el {es}, cuando se instaló"
    return f"counted from {en}, when care began", f"contado desde el {es}, cuando empezó el cuidado"


def _counted(rule: Rule, facts: Facts) -> Pair:
    due = say_day(facts.usual_due)
    if facts.reading is not None and rule.reading is not None:
        return _brought_forward(rule.reading.quantity, facts.reading)
    if facts.usual_due == facts.expected_on:
        times = facts.steps
        later = ("", "") if times == 1 else (f", {times} times on", f", {times} veces después")
        if facts.weather is not None:
            return f"That is {due[0]}{later[0]}.", f"Eso es el {due[1]}{later[1]}."
        early = (facts.window.due - facts.window.opens).days
        return (
            f"That is {due[0]}{later[0]}, {early} days early or late are fine.",
            f"Eso es el {due[1]}{later[1]}; {early} días antes o después están bien.",
        )
    if rule.stays_within:
        return (
            f"To stay in its season it is due on {due[0]}.",
            f"Para quedar en su temporada toca el {due[1]}.",
        )
    return f"It was told for {due[0]} and stays.", f"Se avisó para el {due[1]} y así queda."


def _brought_forward(quantity: str, reading: Measured) -> Pair:
    read = f"{reading.value:g} {QUANTITIES[quantity].unit}"
    on = say_day(reading.taken_on)
    return (
        f"A reading of {read} on {on[0]} brought it forward.",
        f"Una lectura de {read} el {on[1]} lo adelantó.",
    )


# --- Care in a season ---


def _in_season(rule: Rule, facts: Facts) -> Iterator[Pair]:
    if rule.fixed is None:
        because = climate_sentence(rule.season or "", facts.climate, facts.window.opens.year)
        if because is not None:
            yield because
    opens, closes = say_day(facts.window.opens), say_day(facts.window.closes)
    yield (
        f"So its season here is {opens[0]} to {closes[0]}.",
        f"Por eso su temporada aquí va del {opens[1]} al {closes[1]}.",
    )


# --- Computed settings, events and readings ---


_NOTHING_SET: Pair = (
    "No setting from before counts, so it is set anew.",
    "Ningún ajuste anterior vale, así que se pone de nuevo.",
)


def _computed(name: str, facts: Facts) -> Iterator[Pair]:
    if name == "irrigation_program" and "percent_of_peak" in facts.numbers:
        share, band = f"{facts.numbers['percent_of_peak']:.0f}", f"{PROGRAM_BAND * 100:g}"
        yield (
            f"This month asks for {share} % of the water of the peak month.",
            f"Este mes pide {share} % del agua del mes de más riego.",
        )
        yield (
            _NOTHING_SET
            if facts.nothing_set
            else (
                f"A zone is more than {band} points off what was last set.",
                f"Una zona se aparta más de {band} puntos de lo último que se puso.",
            )
        )
    elif name == "timer_reset":
        on, minutes = say_day(facts.window.due), f"{TIMER_TOLERANCE_MIN:g}"
        yield (
            _NOTHING_SET
            if facts.nothing_set
            else (
                f"From {on[0]} on sunset is more than {minutes} minutes off the time before.",
                f"Desde el {on[1]} la puesta del sol se aparta más de {minutes} minutos de la hora anterior.",
            )
        )
    else:
        yield (
            f"Computed for {facts.occurrence}: the setting changes.",
            f"Calculado para {facts.occurrence}: cambia el ajuste.",
        )


_HAPPENED: Mapping[str, Pair] = {
    "clock_change": ("Clocks change on {}.", "La hora cambia el {}."),
    "planting_installed": ("Something was planted on {}.", "Se plantó algo el {}."),
    "storm": ("There was a storm on {}.", "Hubo una tormenta el {}."),
    "owner_request": ("The owner asked for it on {}.", "Lo pidió el propietario el {}."),
    "failed_plants": ("Plants that failed were reported on {}.", "Se avisó de plantas perdidas el {}."),
    "failed_lamps": ("Lamps that failed were reported on {}.", "Se avisó de lámparas fundidas el {}."),
    "large_refill": ("A large refill was reported on {}.", "Se avisó de un relleno grande el {}."),
}


def _after(rule: Rule, facts: Facts) -> Pair:
    if rule.event is not None and rule.event.on in WEATHER:
        return weather_cause(rule.event, facts.occurrence, facts.usual_due)
    day = say_day(date.fromisoformat(facts.occurrence[:10]))
    if rule.event is not None:
        en, es = _HAPPENED[rule.event.on]
        soon = _soon(facts) if rule.event.on in REPORTED else ("", "")
        return en.format(day[0]) + soon[0], es.format(day[1]) + soon[1]
    if facts.reading is not None and rule.reading is not None:
        read = f"{facts.reading.value:g} {QUANTITIES[rule.reading.quantity].unit}"
        return (
            f"A reading of {read} on {day[0]} was out of bounds.{_soon(facts)[0]}",
            f"Una lectura de {read} el {day[1]} salió de su rango.{_soon(facts)[1]}",
        )
    return f"A reading of {day[0]} was out of bounds.", f"Una lectura del {day[1]} salió de su rango."


def _soon(facts: Facts) -> Pair:
    days = (facts.window.closes - facts.window.opens).days
    return f" It is done within {days} days.", f" Se hace dentro de {days} días."


# --- What people were told, what the company set, and lateness ---


_BECAUSE: Mapping[str, Pair] = {
    "weather": ("the weather", "el tiempo"),
    "reading": ("a reading", "una lectura"),
    "record": ("the record, a rule or past care", "el registro, una regla o el cuidado anterior"),
}


def _elsewhere(other: OtherDays) -> Pair:
    told, (en, es) = say_day(other.told_for), _BECAUSE[other.why]
    opens, closes = say_day(other.window.opens), say_day(other.window.closes)
    if other.window.contains(other.told_for):
        return (
            f"People were told {told[0]}; for {en} no day of its window is good, so the office decides.",
            f"Se avisó para el {told[1]}; por {es} ningún día de su plazo es bueno; decide la oficina.",
        )
    return (
        f"People were told {told[0]}; for {en} {opens[0]} to {closes[0]} is better; the office decides.",
        f"Se avisó para el {told[1]}; por {es} conviene del {opens[1]} al {closes[1]}; decide la oficina.",
    )


def _own(own: Own, plain: Rule) -> Pair:
    who = (
        ("The company", "La empresa")
        if own.everywhere
        else ("For this property the company", "Para esta propiedad la empresa")
    )
    values = [_value(f.name, getattr(own.values, f.name), plain) for f in fields(own.values)]
    told = [pair for pair in values if pair is not None]
    en, es = ", ".join(pair[0] for pair in told), ", ".join(pair[1] for pair in told)
    return f"{who[0]} set {en} ({own.reason}).", f"{who[1]} puso {es} ({own.reason})."


def _value(name: str, value: object, plain: Rule) -> Pair | None:
    if value is None:
        return None
    if name == "every_days":
        return f"{value} days instead of {plain.every_days}", f"{value} días en vez de {plain.every_days}"
    if name == "offset_days":
        return f"{value:+} days to its season", f"{value:+} días a su temporada"
    if name == "fixed":
        return f"the days {value} instead of its season", f"los días {value} en vez de su temporada"
    if name == "minutes":
        return f"{value} minutes at work", f"{value} minutos de trabajo"
    return ("that it is done", "que se haga") if value else ("that it is not done", "que no se haga")


def _lateness(days: int) -> Pair:
    if days == 1:
        return "One day late.", "Un día de retraso."
    return f"{days} days late.", f"{days} días de retraso."
