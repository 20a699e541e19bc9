"""What measured and forecast weather asks for: frost, heat and storm, each named by facts that stay.

Limits are common practice. A spell is named by the week of its first day, so that a forecast that
shifts by a day renames nothing; what was measured counts before what had been forecast.
"""

from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from landscape_care.almanac.climate import Climate
from landscape_care.care.observations import FREEZE_F, STORM_GUST_MPH, DayObserved
from landscape_care.care.weather_limits import Ahead

# Pipes and assemblies above ground burst in a hard freeze.
HARD_FREEZE_F = 28.0
# A heat spell: hot in itself, and unusual beside the mean high of the month at the place.
HOT_F, ABOVE_USUAL_F = 95.0, 8.0
QUIET_DAYS_BETWEEN = 2
# After so many days nobody walks out for a storm, and nobody covers or waters for a day that passed.
DAYS_TO_WALK, DAYS_TO_ACT = 7, 2
_A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Happening:
    """Something of the weather that rules follow: its kind, the day care counts from, and its name."""

    kind: str
    on: date
    name: str


@dataclass(frozen=True, slots=True)
class Known:
    """The days measured at a station, on which day each came in where it was later, and the days forecast."""

    climate: Climate
    observed: Mapping[date, DayObserved] = field(default_factory=dict)
    known_on: Mapping[date, date] = field(default_factory=dict)
    forecast: Ahead = field(default_factory=dict)

    def acted_on(self, day: date, within_days: int) -> date | None:
        """The day on which somebody could act on a measured day; None where it came too late."""
        known_on = max(self.known_on.get(day, day), day)
        return known_on if (known_on - day).days <= within_days else None


def happenings(known: Known) -> Iterator[Happening]:
    """Everything that asks for care, kind by kind in order of days."""
    yield from _storms(known)
    yield from _storms_ahead(known)
    yield from _freezes(known)
    yield from _hard_freezes(known)
    yield from _heat(known)


def spells(days: Iterable[date]) -> list[list[date]]:
    """The days of each spell; one ends with more than two days between."""
    found: list[list[date]] = []
    for day in sorted(days):
        if found and (day - found[-1][-1]).days <= QUIET_DAYS_BETWEEN:
            found[-1].append(day)
        else:
            found.append([day])
    return found


def spell_name(day: date) -> str:
    """The name of a spell: the week of its first day."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


def _storms(known: Known) -> Iterator[Happening]:
    for day in sorted(known.observed):
        gust_mph = known.observed[day].gust_mph or 0.0
        if gust_mph >= STORM_GUST_MPH and known.acted_on(day, DAYS_TO_WALK):
            yield Happening("storm", day, day.isoformat())


def _storms_ahead(known: Known) -> Iterator[Happening]:
    days = (day for day, each in known.forecast.items() if (each.gust_mph or 0.0) >= STORM_GUST_MPH)
    for spell in spells(days):
        yield Happening("storm_ahead", spell[0] - _A_DAY, spell_name(spell[0]))


def _freezes(known: Known) -> Iterator[Happening]:
    """Covered the evening before a morning that was forecast; else as soon as one is known."""
    lows_f = {day: each.tmin_f for day, each in known.forecast.items() if each.tmin_f is not None}
    told = {day for day, low_f in lows_f.items() if low_f <= FREEZE_F}
    lows_f |= {day: each.tmin_f for day, each in known.observed.items()}
    for spell in spells(day for day, low_f in lows_f.items() if low_f <= FREEZE_F):
        if (on := _first_to_act_on(known, spell, told)) is not None:
            yield Happening("freeze", on - _A_DAY if on in told else on, spell_name(spell[0]))


def _first_to_act_on(known: Known, spell: Iterable[date], told: Container[date]) -> date | None:
    """The first day of a spell that was forecast, or came in while somebody could still act on it."""
    days = (day if day in told else known.acted_on(day, DAYS_TO_ACT) for day in spell)
    return next((day for day in days if day is not None), None)


def _hard_freezes(known: Known) -> Iterator[Happening]:
    """The first hard freeze of each winter that came in time."""
    winters: set[str] = set()
    for day in sorted(known.observed):
        name = winter_name(day, southern=known.climate.latitude_deg < 0)
        hard = known.observed[day].tmin_f <= HARD_FREEZE_F and known.acted_on(day, DAYS_TO_WALK)
        if hard and name not in winters:
            winters.add(name)
            yield Happening("hard_freeze", day, name)


def winter_name(day: date, *, southern: bool = False) -> str:
    """The winter a day belongs to, such as 2026-27-winter; south of the equator the year alone."""
    if southern:
        return f"{day.year}-winter"
    first = day.year if day.month >= 7 else day.year - 1
    return f"{first}-{(first + 1) % 100:02d}-winter"


def _heat(known: Known) -> Iterator[Happening]:
    highs_f = {day: each.tmax_f for day, each in known.forecast.items() if each.tmax_f is not None}
    told = set(highs_f)
    highs_f |= {day: each.tmax_f for day, each in known.observed.items()}
    for spell in spells(day for day, high_f in highs_f.items() if is_hot(known.climate, day, high_f)):
        if (on := _first_to_act_on(known, spell, told)) is not None:
            yield Happening("heat", on, spell_name(spell[0]))


def is_hot(climate: Climate, day: date, high_f: float) -> bool:
    """Whether a high is hot in itself and unusual for the month at the place."""
    return high_f >= max(HOT_F, climate.tmax_f[day.month - 1] + ABOVE_USUAL_F)
