"""Work that turns up after a visit was told: whether it can be done on that visit, or needs another trip.

A wanted visit in the slot of one that people know would be an extra trip. It is spared when each of its
tasks may be done on the told day, the crew has the skills and the people, and the work fits into the
time that was told. Then only the contents of the told visit change, never its day or its hour.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from landscape_care.visits.bundling import Bundle, OpenTask

# What a crew makes good in a day without keeping anybody waiting, for each stop (common practice).
GRACE_MINUTES = 15


@dataclass(frozen=True, slots=True)
class ToldVisit:
    """A visit that people know: its slot and day, its crew, and how long the crew is there.

    `minutes` are the person-minutes of what it holds already, `series` the care that is on it.
    """

    slot: str
    day: date
    stay_minutes: int
    people: int
    skills: frozenset[str]
    minutes: int
    series: frozenset[str] = frozenset()

    @property
    def left_minutes(self) -> int:
        """Person-minutes of further work that the crew can do."""
        return (self.stay_minutes + GRACE_MINUTES) * self.people - self.minutes

    def and_also(self, tasks: Iterable[OpenTask]) -> "ToldVisit":
        """The same visit with more work."""
        more = tuple(tasks)
        minutes = self.minutes + sum(task.person_minutes for task in more)
        return replace(self, minutes=minutes, series=self.series | {task.series for task in more})


@dataclass(frozen=True, slots=True)
class Joined:
    """Tasks that are done on told visits, by slot, and the visits that are still wanted."""

    onto: Mapping[str, tuple[str, ...]]
    left: tuple[Bundle, ...]


def join(
    wanted: Iterable[Bundle], tasks: Mapping[str, OpenTask], told: Iterable[ToldVisit], *, today: date
) -> Joined:
    """Put wanted visits as a whole onto told ones of their slot that are still to come, where they fit.

    A wanted visit that comes beside a told one keeps the day of that one and why it was no help.
    """
    coming = [visit for visit in sorted(told, key=lambda visit: visit.day) if visit.day > today]
    onto: dict[str, tuple[str, ...]] = {}
    left: list[Bundle] = []
    for one in wanted:
        work = [tasks[key] for key in one.task_keys]
        beside = [number for number, visit in enumerate(coming) if _slot(visit.slot) == _slot(one.slot)]
        reasons = {number: reason_against(coming[number], work, today=today) for number in beside}
        fits = next((number for number, reason in reasons.items() if not reason), None)
        if fits is not None:
            coming[fits] = coming[fits].and_also(work)
            slot = coming[fits].slot
            onto[slot] = (*onto.get(slot, ()), *one.task_keys)
            continue
        told_one = (coming[beside[0]].day, reasons[beside[0]]) if beside else None
        left.append(replace(one, beside=told_one))
    return Joined(onto, tuple(left))


def reason_against(visit: ToldVisit, work: Iterable[OpenTask], *, today: date) -> str:
    """Why work cannot be done on a told visit: days, series, skill, people or minutes; empty where it can."""
    for task in work:
        # Late work is welcome on any day that comes.
        closes_on = max(task.closes_on, visit.day) if task.closes_on < today else task.closes_on
        if not task.opens_on <= visit.day <= closes_on:
            return "days"
        if task.series in visit.series:
            return "series"
        if task.skill not in visit.skills:
            return "skill"
        if task.people > visit.people:
            return "people"
    return "minutes" if sum(task.person_minutes for task in work) > visit.left_minutes else ""


def _slot(name: str) -> str:
    """The stretch of the agreement that a name of a visit stands for."""
    return name.partition(".")[0]
