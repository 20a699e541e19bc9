"""What a what-if changes beside the months as they are: gardens, crews, cadence, shift. Pure."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, time
from typing import Any, NamedTuple

from landscape_care.dispatch.refusals import both, misfit
from landscape_care.dispatch.routing import OVERTIME_MINUTES, CrewShift
from landscape_care.trades.limits import Problem, Refused
from landscape_care.visits.bundling import CADENCES

MOST_GARDENS, MOST_CREWS = 500, 20


@dataclass(frozen=True, kw_only=True)
class Changes:
    """More gardens, crews that are left out or added, another cadence for those of one, another shift.

    An added garden is the copy of one that there is, halfway between it and another; an added crew is
    the copy of the crew with the most skills.
    """

    gardens_added: int = 0
    crews_out: tuple[str, ...] = ()
    crews_added: int = 0
    cadence_from: str = ""
    cadence_to: str = ""
    shift_opens: time | None = None
    shift_closes: time | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be, and what changes nothing, naming every wrong field."""
        if problems := [*self._counts(), *self._cadence(), *self._shift()]:
            raise Refused(problems)
        if self == _nothing():
            raise Refused([misfit("changes", "", both("something that changes", "algo que cambie"))])

    def _counts(self) -> Iterator[Problem]:
        for name, most in (("gardens_added", MOST_GARDENS), ("crews_added", MOST_CREWS)):
            if not 0 <= getattr(self, name) <= most:
                wanted = both("0 to {most}", "de 0 a {most}", most=most)
                yield misfit(name, getattr(self, name), wanted)

    def _cadence(self) -> Iterator[Problem]:
        for name in ("cadence_from", "cadence_to"):
            if getattr(self, name) not in ("", *CADENCES):
                known = ", ".join(CADENCES)
                yield misfit(name, getattr(self, name), both("one of {known}", "uno de {known}", known=known))
        if bool(self.cadence_from) != bool(self.cadence_to) or (
            self.cadence_from and self.cadence_from == self.cadence_to
        ):
            wanted = both("another cadence for those of one", "otra frecuencia para las de una")
            yield misfit("cadence_to", self.cadence_to, wanted)

    def _shift(self) -> Iterator[Problem]:
        opens, closes = self.shift_opens, self.shift_closes
        if (opens is None) != (closes is None):
            yield misfit("shift_closes", closes, both("start and end", "inicio y fin"))
        elif opens and closes and closes <= opens:
            wanted = both("a time after {opens}", "una hora posterior a {opens}", opens=f"{opens:%H:%M}")
            yield misfit("shift_closes", closes, wanted)
        elif closes and _minute(closes) + OVERTIME_MINUTES >= 1440:
            yield misfit("shift_closes", closes, both("a time before 23:30", "una hora anterior a las 23:30"))

    def as_row(self) -> dict[str, Any]:
        """As a row keeps it."""
        row = asdict(self) | {"crews_out": list(self.crews_out)}
        return {name: f"{value:%H:%M}" if isinstance(value, time) else value for name, value in row.items()}


def _nothing() -> Changes:
    made = object.__new__(Changes)
    for name, field in Changes.__dataclass_fields__.items():
        object.__setattr__(made, name, field.default)
    return made


def from_row(row: Mapping[str, Any]) -> Changes:
    """The changes that a row keeps."""
    clocks = {n: time.fromisoformat(row[n]) for n in ("shift_opens", "shift_closes") if row.get(n)}
    return Changes(**{**row, "crews_out": tuple(row.get("crews_out", ())), **clocks})


# --- Crews ----------------------------------------------------------------------------------------------


class NamedShift(NamedTuple):
    """A crew as a plain value, with its code."""

    code: str
    shift: CrewShift


def crews_with(changes: Changes | None, crews: Sequence[NamedShift]) -> tuple[CrewShift, ...]:
    """The crews after the changes; added ones have numbers below zero."""
    if changes is None:
        return tuple(crew.shift for crew in crews)
    stay = [crew for crew in crews if crew.code not in changes.crews_out]
    shifts = [_with_hours(crew.shift, changes) for crew in stay]
    if not shifts:
        return ()
    # The fullest of those that stay; among equals the first by code.
    most = max(range(len(stay)), key=lambda n: (len(stay[n].shift.skills), stay[n].shift.people, -n))
    return (*shifts, *(replace(shifts[most], uid=-n) for n in range(1, changes.crews_added + 1)))


def _with_hours(shift: CrewShift, changes: Changes) -> CrewShift:
    if changes.shift_opens is None or changes.shift_closes is None:
        return shift
    opens, closes = _minute(changes.shift_opens), _minute(changes.shift_closes)
    rest = min(shift.break_minutes, closes - opens - 1)
    return replace(shift, opens_minute=opens, closes_minute=closes, break_minutes=rest, other_hours={})


def hours_of(crews: Sequence[CrewShift]) -> float:
    """Hours of all people of some crews on their working days, breaks left out."""
    return sum(_person_minutes(crew, day) for crew in crews for day in crew.days) / 60


def _person_minutes(crew: CrewShift, day: date) -> int:
    on = crew.on(day)
    return on.people * (on.shift_minutes - on.break_minutes)


def _minute(clock: time) -> int:
    return clock.hour * 60 + clock.minute
