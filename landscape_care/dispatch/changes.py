"""What differs between what people know and what a plan says, visit by visit, with the reason.

Pure: places come in as plain values. A change is told to owners when the day moves, the hour moves
or the visit is taken back; to crews also when the crew changes.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, time
from enum import StrEnum

from landscape_care.dispatch.refusals import Words


class Sort(StrEnum):
    """How a visit changes, the gravest first."""

    TAKEN_BACK = "taken_back"
    OTHER_DAY = "other_day"
    OTHER_CREW = "other_crew"
    OTHER_HOUR = "other_hour"
    NEW = "new"


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a visit is: day, crew and hours."""

    day: date
    crew: str
    arrives_at: time
    leaves_at: time


@dataclass(frozen=True, slots=True)
class Change:
    """One visit that is somewhere else than before, and why."""

    visit_id: int
    was: Spot | None
    now: Spot | None
    why: Words

    def __post_init__(self) -> None:
        """Refuse a change from nowhere to nowhere."""
        if self.was is None and self.now is None:
            raise ValueError(f"visit {self.visit_id}: was and now are both None, wanted one of them")

    @property
    def sort(self) -> Sort:
        """How the visit changes."""
        if self.now is None:
            return Sort.TAKEN_BACK
        if self.was is None:
            return Sort.NEW
        if self.was.day != self.now.day:
            return Sort.OTHER_DAY
        return Sort.OTHER_CREW if self.was.crew != self.now.crew else Sort.OTHER_HOUR

    @property
    def days(self) -> tuple[date, ...]:
        """The days that the change touches."""
        return tuple(dict.fromkeys(spot.day for spot in (self.was, self.now) if spot))

    @property
    def crews(self) -> tuple[str, ...]:
        """The crews that the change touches."""
        return tuple(dict.fromkeys(spot.crew for spot in (self.was, self.now) if spot))


@dataclass(frozen=True, slots=True)
class Reasons:
    """Why visits change: those that were hit, those without a place, and what the others make way for."""

    hit: Mapping[int, Words]
    unserved: Mapping[int, Words]
    gave_way: Words
    other_hour: Words
    new: Words

    def of(self, visit_id: int, was: Spot | None, now: Spot | None) -> Words:
        """The reason of one visit's change."""
        if now is None:
            hit, no_room = self.hit.get(visit_id), self.unserved.get(visit_id, self.gave_way)
            return Words(f"{hit.en}. {no_room.en}", f"{hit.es}. {no_room.es}") if hit else no_room
        if visit_id in self.hit:
            return self.hit[visit_id]
        if was is None:
            return self.new
        moved = (was.day, was.crew) != (now.day, now.crew)
        return self.gave_way if moved else self.other_hour


def changes(before: Mapping[int, Spot], after: Mapping[int, Spot], reasons: Reasons) -> tuple[Change, ...]:
    """Every visit whose place differs, the gravest changes first, then by day and hour."""
    found = (
        Change(uid, before.get(uid), after.get(uid), reasons.of(uid, before.get(uid), after.get(uid)))
        for uid in before.keys() | after.keys()
        if before.get(uid) != after.get(uid)
    )
    return tuple(sorted(found, key=_order))


def _order(change: Change) -> tuple[int, date, time, int]:
    spot = change.was or change.now
    assert spot is not None  # noqa: S101 - a change has one of them
    return list(Sort).index(change.sort), spot.day, spot.arrives_at, change.visit_id


def counts(found: Iterable[Change]) -> dict[str, int]:
    """How many visits change in which way; every way is named."""
    sums = dict.fromkeys((str(sort) for sort in Sort), 0)
    for change in found:
        sums[change.sort] += 1
    return sums
