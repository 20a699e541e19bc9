"""Labour and driving ahead: what the next months ask for, beside the hours that crews work."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from landscape_care.care.catalog import SKILLS
from landscape_care.care.models import CareTask, TaskState
from landscape_care.dispatch import queries
from landscape_care.dispatch.labour_ahead import (
    Driving,
    MonthOfWork,
    Solved,
    Streets,
    Territory,
    driving,
    streets_from,
    territory,
)
from landscape_care.dispatch.models import Crew, MonthPlan, PlanState
from landscape_care.dispatch.routing import CrewShift
from landscape_care.dispatch.travel import Place
from landscape_care.dispatch.what_if_changes import hours_of
from landscape_care.properties.models import Depot, Property
from landscape_care.visits.bundling import slot_of
from landscape_care.visits.queries import DEFAULT_CADENCE

MONTHS = 12
SOLVED_MONTHS = 6  # the newest that tell how streets drive


@dataclass(frozen=True)
class SkillHours:
    """Hours of work that ask for a skill, beside the hours of all crews that have it."""

    skill: str
    work_hours: float
    hours_available: float

    @property
    def short(self) -> bool:
        """Whether even all crews with the skill, doing nothing else, have too few hours."""
        return self.work_hours > self.hours_available


@dataclass(frozen=True)
class MonthAhead:
    """One month: hours of work and driving of all people, visits, and the hours that crews work."""

    month: date
    visits: int
    work_hours: float
    driving: Driving
    hours_available: float
    skills: tuple[SkillHours, ...]

    @property
    def share(self) -> float | None:
        """The share of the hours that work and driving take."""
        return (
            (self.work_hours + self.driving.person_hours) / self.hours_available
            if self.hours_available
            else None
        )

    @property
    def short(self) -> bool:
        """Whether there are fewer hours than work and driving take, or none with some skill."""
        taken = self.work_hours + self.driving.person_hours
        return taken > self.hours_available or any(skill.short for skill in self.skills)


@dataclass(frozen=True)
class Ahead:
    """The months ahead of a depot; `streets` is what its solved months tell of driving."""

    depot: Depot
    months: tuple[MonthAhead, ...]
    streets: Streets
    solved: tuple[date, ...]

    @property
    def skills(self) -> tuple[str, ...]:
        """The skills that are asked for in some month, in the order of the catalog."""
        asked = {skill.skill for month in self.months for skill in month.skills}
        return tuple(skill for skill in SKILLS if skill in asked)


def ahead(depot: Depot, *, today: date, months: int = MONTHS) -> Ahead:
    """What the care that is planned asks for, month by month from today on."""
    firsts = [_first(today, count) for count in range(months)]
    where = _territory(depot)
    crews = list(Crew.objects.select_related("depot").filter(depot=depot, active=True))
    solved = list(_solved(depot))
    streets = streets_from(where, [_solved_month(crews, plan) for plan in solved])
    asked = _asked(depot, firsts[0], queries.month_days(firsts[-1])[-1], today)
    found = (_month(first, asked.get(first, _Asked()), crews, today) for first in firsts)
    return Ahead(
        depot,
        tuple(_with_driving(where, one, streets) for one in found),
        streets,
        tuple(plan.month for plan in solved),
    )


def _first(today: date, count: int) -> date:
    number = today.year * 12 + today.month - 1 + count
    return date(number // 12, number % 12 + 1, 1)


def _territory(depot: Depot) -> Territory:
    rows = Property.objects.filter(depot=depot).values_list("latitude_deg", "longitude_deg")
    return territory(Place(depot.latitude_deg, depot.longitude_deg), [Place(*row) for row in rows])


# --- What is asked --------------------------------------------------------------------------------------


@dataclass
class _Asked:
    """What a month asks for: minutes of all people by skill, and stretches of agreements with care."""

    minutes: dict[str, int]
    stretches: set[tuple[int, str]]

    def __init__(self) -> None:
        self.minutes, self.stretches = defaultdict(int), set()


def _asked(depot: Depot, first: date, last: date, today: date) -> Mapping[date, _Asked]:
    """Open care by the month it is due in; late care is due this month.

    A garden is visited about once in each stretch of its agreement in which care is due.
    """
    tasks = CareTask.objects.filter(property__depot=depot, state=TaskState.OPEN, due_on__lte=last)
    rows = tasks.values_list(
        "property_id", "property__agreement__cadence", "due_on", "closes_on", "skill", "minutes", "people"
    )
    found: dict[date, _Asked] = defaultdict(_Asked)
    for place, cadence, due_on, closes_on, skill, minutes, people in rows.iterator(2000):
        day = max(due_on, first) if closes_on >= first else today
        month = found[max(day, today).replace(day=1)]
        month.minutes[skill] += minutes * people
        month.stretches.add((place, slot_of(max(day, today), cadence or DEFAULT_CADENCE)))
    return found


def _month(first: date, asked: _Asked, crews: Sequence[Crew], today: date) -> "_Month":
    days = [day for day in queries.month_days(first) if day >= today]
    shifts = queries.crew_shifts(crews, days)
    skills = tuple(
        SkillHours(
            skill,
            round(asked.minutes[skill] / 60, 1),
            round(hours_of([shift for shift in shifts if skill in shift.skills]), 1),
        )
        for skill in SKILLS
        if asked.minutes.get(skill)
    )
    work_hours = sum(asked.minutes.values()) / 60
    return _Month(first, skills, hours_of(shifts), _of_work(len(asked.stretches), work_hours, shifts))


@dataclass(frozen=True)
class _Month:
    first: date
    skills: tuple[SkillHours, ...]
    hours_available: float
    work: MonthOfWork


def _of_work(visits: int, work_hours: float, shifts: Sequence[CrewShift]) -> MonthOfWork:
    days = {day for shift in shifts for day in shift.days}
    crew_days = sum(len(shift.days) for shift in shifts)
    people = sum(shift.people * len(shift.days) for shift in shifts)
    return MonthOfWork(
        visits,
        work_hours,
        working_days=len(days),
        crew_people=people / crew_days if crew_days else 0.0,
        crew_hours=hours_of(shifts) / people if people else 0.0,
    )


def _with_driving(where: Territory, one: _Month, streets: Streets) -> MonthAhead:
    drive = driving(where, one.work, streets)
    return MonthAhead(one.first, one.work.visits, one.work.work_hours, drive, one.hours_available, one.skills)


# --- What solved months tell ----------------------------------------------------------------------------


def _solved(depot: Depot) -> QuerySet[MonthPlan]:
    """The newest published months of a depot."""
    rows = MonthPlan.objects.filter(depot=depot, state=PlanState.PUBLISHED, summary__driving_minutes__gt=0)
    return rows.order_by("-month")[:SOLVED_MONTHS]


def _solved_month(crews: Sequence[Crew], plan: MonthPlan) -> Solved:
    """What a solved month had to serve, and what it drives."""
    stops = list(plan.stops.values_list("crew_id", "day", "visit__minutes"))
    # Days gone by before the month was planned are not in it.
    first = min((day for _, day, _ in stops), default=plan.month)
    days = [day for day in queries.month_days(plan.month) if day >= first]
    hours = sum(minutes for *_, minutes in stops) / 60
    work = _of_work(len(stops), hours, queries.crew_shifts(crews, days))
    crew_days = len({(crew, day) for crew, day, _ in stops})
    return Solved(work, crew_days, float(plan.summary["driving_minutes"]) / 60)
