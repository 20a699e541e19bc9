"""Comparing the care tasks that should exist with those that are stored."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from landscape_care.care.generation import FOLLOW_UP, Wanted


@dataclass(frozen=True, slots=True)
class Stored:
    """A stored care task: its key, what people see of it, and whether planning may touch it.

    A `fixed` task is settled, held by the office, or in a visit that people were told about. One that
    is fixed only because people were told goes when nothing asks for it any more; `told_for` is the
    day they were told.
    """

    row: Any
    key: str
    series: str
    shown: tuple[object, ...]
    fixed: bool
    withdrawn: bool
    told: bool = False
    told_for: date | None = None


@dataclass(frozen=True, slots=True)
class Changes:
    """What must be written: new tasks, stored ones with what they become, and stored ones to withdraw.

    `elsewhere` are told ones with the days that would be right now; they stay, and the office is shown.
    """

    add: tuple[Wanted, ...]
    move: tuple[tuple[Stored, Wanted], ...]
    withdraw: tuple[Stored, ...]
    elsewhere: tuple[tuple[Stored, Wanted], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.add or self.move or self.withdraw)


def reconcile(wanted: Iterable[Wanted], stored: Iterable[Stored]) -> Changes:
    """The least that makes the stored tasks say what is wanted.

    Fixed tasks are not moved. A withdrawn task that is wanted again is taken up under its old
    key. Follow-ups that a crew asked for are wanted by nobody else and stay.
    """
    by_key = {task.key: task for task in stored}
    add, move, elsewhere, kept = [], [], [], set()
    for want in wanted:
        have = by_key.get(want.key)
        if have is None:
            add.append(want)
            continue
        kept.add(want.key)
        if not have.fixed and (have.withdrawn or have.shown != want.shown()):
            move.append((have, want))
        elif have.told and _is_elsewhere(have, want):
            elsewhere.append((have, want))
    withdraw = (task for task in by_key.values() if task.key not in kept and _may_go(task))
    return Changes(tuple(add), tuple(move), tuple(withdraw), tuple(elsewhere))


def _is_elsewhere(have: Stored, want: Wanted) -> bool:
    """Whether the day that people were told is none that planning would take now."""
    window, weather = want.window, want.details.get("weather")
    if have.told_for is None or (weather and weather["nowhere"]):
        return have.told_for is not None
    moved = have.shown[:3] != (window.opens, window.due, window.closes)
    return moved and not window.contains(have.told_for)


def _may_go(task: Stored) -> bool:
    stays = task.fixed and not task.told
    return not (stays or task.withdrawn or task.series.endswith(FOLLOW_UP))
