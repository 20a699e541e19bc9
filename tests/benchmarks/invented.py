"""An invented company of any size, and what a careful office plans by hand for it.

Gardens lie in neighbourhoods around depots; agreements send somebody twice a week, weekly, every two
weeks or once; some visits need a skill that few crews have. All of it follows from a seed.
"""

import random
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate
from math import atan2

from landscape_care.dispatch.routing import (
    CrewShift,
    Order,
    RouteAnswer,
    RouteProblem,
    RouteVisit,
    answer,
    nearest_route,
)
from landscape_care.dispatch.travel import Place, estimate

MONDAY = date(2027, 3, 1)
DEPOTS = (Place(35.10, -106.62), Place(35.24, -106.66), Place(35.00, -106.72), Place(35.13, -106.50))
RARE_SKILLS = ("irrigation_tech", "water_feature_tech", "arborist")


@dataclass(frozen=True)
class Company:
    """Routes to plan, and which garden each visit is for, in the order the gardens signed up."""

    problem: RouteProblem
    garden_of: Mapping[int, int]
    places: tuple[Place, ...]


def company(gardens: int, crews: int, *, days: int = 21, depots: int = 1, seed: int = 1) -> Company:
    """A company with so many gardens and crews over so many days from a Monday on."""
    chance = random.Random(seed)
    working = [day for n in range(days) if (day := MONDAY + timedelta(n)).weekday() < 5]
    hoods = [_near(chance.choice(DEPOTS[:depots]), chance, 0.07) for _ in range(max(4, gardens // 16))]
    places = [_near(chance.choice(hoods), chance, 0.012) for _ in range(gardens)]
    visits: list[RouteVisit] = []
    garden_of: dict[int, int] = {}
    for garden in range(gardens):
        for visit in _visits(garden, working, chance, first_uid=len(visits) + 1):
            visits.append(visit)
            garden_of[visit.uid] = garden
    rows = tuple(depots + garden_of[visit.uid] for visit in visits)
    shifts = tuple(_crew(uid, depots, working, chance) for uid in range(1, crews + 1))
    travel = estimate([*DEPOTS[:depots], *places])
    problem = RouteProblem(shifts, tuple(visits), travel, depots=depots, places=rows)
    return Company(problem, garden_of, tuple(places))


def _near(place: Place, chance: random.Random, spread_deg: float) -> Place:
    north, east = chance.gauss(0, spread_deg), chance.gauss(0, spread_deg * 1.2)
    return Place(place.latitude_deg + north, place.longitude_deg + east)


def _crew(uid: int, depots: int, working: Sequence[date], chance: random.Random) -> CrewShift:
    skills = {"gardener", RARE_SKILLS[uid % 3]}
    off = {day for day in working if chance.random() < 0.01}
    return CrewShift(
        uid=uid,
        people=3 if uid % 4 == 0 else 2,
        skills=frozenset(skills),
        opens_minute=7 * 60,
        closes_minute=15 * 60 + 30,
        break_minutes=30,
        days=frozenset(working) - off,
        depot=uid % depots,
        payload_lb=1500,
    )


def _visits(
    garden: int, working: Sequence[date], chance: random.Random, *, first_uid: int
) -> Iterator[RouteVisit]:
    """The garden visits of a cadence, and now and then one by a specialist."""
    closed = chance.randrange(5) if chance.random() < 0.25 else None
    opens, closes = chance.choice(((7, 17), (7, 17), (8, 17), (8, 12), (9, 15), (12, 17)))
    minutes = chance.randrange(30, 90)
    windows = list(_windows(working, chance.choices((2, 1, 0.5, 0), (30, 55, 10, 5))[0]))
    skills = ["gardener"] * len(windows)
    if chance.random() < 0.35:
        first = chance.randrange(len(working) - 7)
        windows.append(working[first : first + 8])
        skills.append(chance.choice(RARE_SKILLS))
    for number, (window, skill) in enumerate(zip(windows, skills, strict=True)):
        work = minutes if skill == "gardener" else chance.randrange(40, 180)
        yield RouteVisit(
            uid=first_uid + number,
            days=frozenset(day for day in window if day.weekday() != closed),
            grace_days=frozenset(_week_after(window[-1], working, closed)),
            opens_minute=opens * 60,
            closes_minute=closes * 60,
            person_minutes=work,
            longest_task_minutes=work // 3,
            people=1,
            skills=frozenset({skill}),
            preferred_crew=None,
            load_lb=chance.choice((0, 0, 0, 80, 200)),
        )


def _week_after(last: date, working: Sequence[date], closed: int | None) -> Iterator[date]:
    for day in working:
        if last < day <= last + timedelta(7) and day.weekday() != closed:
            yield day


def _windows(working: Sequence[date], a_week: float) -> Iterator[Sequence[date]]:
    for first in range(0, len(working), 5):
        week = working[first : first + 5]
        if a_week == 2:
            yield from (week[:3], week[3:])
        elif a_week == 1:
            yield week
    if a_week == 0.5:
        yield working[:10]
    if a_week == 0:
        yield working


# --- What an office plans by hand ---------------------------------------------------------------------


def fixed_weekday(given: Company) -> RouteAnswer:
    """Every garden keeps its weekday, chosen at sign-up where least was to do; then always the nearest stop.

    What a full day leaves over waits for the next day that its window allows.
    """
    return _by_hand(given, _weekdays_by_load(given), {})


def by_district(given: Company) -> RouteAnswer:
    """The same with more thought: every crew and weekday has its corner of the town around the depot."""
    return _by_hand(given, *_districts(given))


def _by_hand(given: Company, weekday_of: Mapping[int, int], crew_of: Mapping[int, int]) -> RouteAnswer:
    problem = given.problem
    planned = {visit.uid: _day_on(visit, weekday_of[given.garden_of[visit.uid]]) for visit in problem.visits}
    own = {visit.uid: crew_of.get(given.garden_of[visit.uid]) for visit in problem.visits}
    order: Order = {}
    waiting: dict[int, RouteVisit] = {}
    for day in sorted({day for crew in problem.crews for day in crew.days}):
        waiting |= {uid: problem.visit(uid) for uid, its_day in planned.items() if its_day == day}
        keys = [(crew.uid, day) for crew in problem.crews if day in crew.days]
        for key in keys if crew_of else ():
            mine = {uid: visit for uid, visit in waiting.items() if own[uid] == key[0]}
            order[key] = nearest_route(problem, key, mine)
            waiting = {uid: visit for uid, visit in waiting.items() if uid not in order[key]}
        for key in keys:
            order[key] = nearest_route(problem, key, waiting, order.get(key, ()))
            waiting = {uid: visit for uid, visit in waiting.items() if uid not in order[key]}
    return answer(problem, order)


def _weekdays_by_load(given: Company) -> dict[int, int]:
    load = dict.fromkeys(range(5), 0)
    chosen: dict[int, int] = {}
    for garden, visits in _by_garden(given).items():
        free = [day for day in range(5) if any(day == its.weekday() for its in visits[0].days)]
        chosen[garden] = min(free, key=lambda day: (load[day], day))
        for visit in visits:
            load[_day_on(visit, chosen[garden]).weekday()] += visit.person_minutes
    return chosen


def _districts(given: Company) -> tuple[dict[int, int], dict[int, int]]:
    """Sweep the town around the depot: an even share for each crew, in it one for each weekday."""
    problem, gardens = given.problem, _by_garden(given)
    work = {garden: sum(visit.person_minutes for visit in visits) for garden, visits in gardens.items()}
    share = sum(work.values()) / sum(crew.people for crew in problem.crews)
    edges = list(accumulate(crew.people * share for crew in problem.crews))
    weekday_of, crew_of, swept = {}, {}, 0.0
    for garden in sorted(gardens, key=lambda garden: _angle(given.places[garden])):
        number = min(bisect_right(edges, swept), len(edges) - 1)
        crew = problem.crews[number]
        width = crew.people * share
        crew_of[garden] = crew.uid
        weekday_of[garden] = min(4, int((swept - edges[number] + width) / width * 5))
        swept += work[garden]
    return weekday_of, crew_of


def _angle(place: Place) -> float:
    return atan2(place.latitude_deg - DEPOTS[0].latitude_deg, place.longitude_deg - DEPOTS[0].longitude_deg)


def _by_garden(given: Company) -> dict[int, list[RouteVisit]]:
    rows: dict[int, list[RouteVisit]] = {}
    for visit in given.problem.visits:
        rows.setdefault(given.garden_of[visit.uid], []).append(visit)
    return rows


def _day_on(visit: RouteVisit, weekday: int) -> date:
    """The first day of a visit on a weekday, or the allowed day nearest to it."""
    return min(visit.days, key=lambda day: (abs(day.weekday() - weekday), day))
