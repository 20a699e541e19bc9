"""Invented months of routes for tests: places around a depot, crews with skills, visits with windows."""

import random
from datetime import date, timedelta

from landscape_care.dispatch.routing import CrewShift, RouteProblem, RouteVisit
from landscape_care.dispatch.travel import Place, estimate

FIRST = date(2027, 3, 1)
SKILL_SETS = (("gardener",), ("gardener", "arborist"), ("gardener", "irrigation_tech"), ("mason",))


def workdays(count: int) -> list[date]:
    days = (FIRST + timedelta(number) for number in range(2 * count + 7))
    return [day for day in days if day.weekday() < 5][:count]


def crews(days: list[date]) -> tuple[CrewShift, ...]:
    skills = ({"gardener", "arborist"}, {"gardener", "irrigation_tech"}, {"gardener"})
    return tuple(
        CrewShift(number, people, frozenset(known), 7 * 60, 15 * 60 + 30, 30, frozenset(days))
        for number, (people, known) in enumerate(zip((2, 3, 2), skills, strict=True), start=1)
    )


def month(visits: int, *, seed: int, days: int = 22) -> RouteProblem:
    """A month with a property for about every five visits."""
    chance = random.Random(seed)
    working = workdays(days)
    depot = Place(35.1, -106.6)
    gardens = [_near(depot, chance) for _ in range(max(1, visits // 5))]
    rows = tuple(_visit(uid, working, chance) for uid in range(1, visits + 1))
    places = [depot, *(chance.choice(gardens) for _ in rows)]
    return RouteProblem(crews(working), rows, estimate(places))


def _near(depot: Place, chance: random.Random) -> Place:
    return Place(depot.latitude_deg + chance.gauss(0, 0.06), depot.longitude_deg + chance.gauss(0, 0.07))


def _visit(uid: int, working: list[date], chance: random.Random) -> RouteVisit:
    first = chance.randrange(len(working))
    work = chance.randrange(40, 400)
    return RouteVisit(
        uid=uid,
        days=frozenset(working[first : first + chance.randrange(1, 12)]),
        opens_minute=8 * 60,
        closes_minute=chance.choice((12, 16, 17)) * 60,
        person_minutes=work,
        longest_task_minutes=min(work, chance.randrange(20, 120)),
        people=chance.choice((1, 1, 2)),
        skills=frozenset(chance.choice(SKILL_SETS[:3] if chance.random() < 0.97 else SKILL_SETS)),
        late=chance.random() < 0.1,
    )
