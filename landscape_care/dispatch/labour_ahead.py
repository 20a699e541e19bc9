"""Work and driving of a month without planning it, for a look a year ahead. Pure.

Driving follows the continuous approximation of vehicle routing (C. F. Daganzo, 'The distance traveled to
visit N points with a maximum of C stops per vehicle', Transportation Science 18 (1984) 331-350, after
Beardwood, Halton and Hammersley, 'The shortest path through many points', 1959; both from memory): a
crew day drives out to its stops and back, and from stop to stop 0.57 times the root of the area that
each has to itself. Where months were solved, their driving tells by how much the streets differ.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, cos, radians, sqrt
from statistics import median

from landscape_care.dispatch.travel import (
    CIRCUITY,
    CITY_SPEED_MPH,
    EARTH_RADIUS_MILES,
    Place,
    great_circle_miles,
)

BETWEEN_STOPS = 0.57  # of the root of area over stops; Daganzo 1984
LEAST_FACTOR, MOST_FACTOR = 0.2, 5.0  # outside it the months that were solved are not like these
ROUNDS = 20


@dataclass(frozen=True, slots=True)
class Territory:
    """Where the gardens of a depot lie: the mean way out, and the area they spread over."""

    way_out_miles: float
    area_mi2: float


@dataclass(frozen=True, slots=True)
class MonthOfWork:
    """What a month asks for: visits, hours of work by all people, and days on which crews work."""

    visits: int
    work_hours: float
    working_days: int
    crew_people: float  # of a crew on average
    crew_hours: float  # of a shift without its break, on average

    def __post_init__(self) -> None:
        """Refuse less than nothing."""
        for name in ("visits", "work_hours", "working_days", "crew_people", "crew_hours"):
            if not 0 <= getattr(self, name) < 1e9:
                raise ValueError(f"{name} {getattr(self, name)}, wanted 0 or more")


@dataclass(frozen=True, slots=True)
class Driving:
    """Driving of a month: crew days, miles and hours of a vehicle, and of all people in it."""

    crew_days: int
    miles: float
    hours: float
    person_hours: float


def territory(depot: Place, gardens: Sequence[Place]) -> Territory:
    """The ways out and the area of some gardens; the area is that of their convex hull."""
    if not gardens:
        return Territory(0.0, 0.0)
    miles = great_circle_miles([depot, *gardens])[0, 1:]
    return Territory(float(miles.mean()), hull_area_mi2(gardens))


def hull_area_mi2(places: Sequence[Place]) -> float:
    """Area of the convex hull of some places, square miles, on a plane (A. M. Andrew, 1979)."""
    middle = radians(sum(p.latitude_deg for p in places) / len(places))
    scale = radians(1) * EARTH_RADIUS_MILES
    points = sorted({(p.longitude_deg * cos(middle) * scale, p.latitude_deg * scale) for p in places})
    corners = [*_chain(points), *_chain(points[::-1])]
    return (
        abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*corners, corners[0]]))) / 2
        if corners
        else 0.0
    )


Point = tuple[float, float]


def _chain(points: Iterable[Point]) -> list[Point]:
    """Half of a hull, without its last corner."""
    chain: list[Point] = []
    for point in points:
        while len(chain) > 1 and _turn(chain[-2], chain[-1], point) <= 0:
            chain.pop()
        chain.append(point)
    return chain[:-1]


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


@dataclass(frozen=True, slots=True)
class Streets:
    """What solved months tell of a depot: driving over what is estimated of it, and further crew days.

    Crew days are more than hours ask for, because skills and windows send two crews where hours need one.
    """

    factor: float = 1.0
    more_crew_days: int = 0


def driving(where: Territory, month: MonthOfWork, streets: Streets) -> Driving:
    """Driving of a month in a territory."""
    if month.visits == 0 or month.crew_people == 0 or month.crew_hours == 0 or month.working_days == 0:
        return Driving(0, 0.0, 0.0, 0.0)
    crew_days = 1
    # Driving takes time from the shift, so crew days follow from it and it from them.
    for _ in range(ROUNDS):
        miles = streets.factor * miles_on(where, month, crew_days)
        hours = miles / CITY_SPEED_MPH
        filled = max(1, ceil((month.work_hours / month.crew_people + hours) / month.crew_hours))
        wanted = min(filled + streets.more_crew_days, max(filled, month.visits))
        if wanted == crew_days:
            break
        crew_days = wanted
    return Driving(crew_days, miles, hours, hours * month.crew_people)


def miles_on(where: Territory, month: MonthOfWork, crew_days: int) -> float:
    """Miles of a month on so many crew days: ways out and back, and from stop to stop of the same day."""
    if not month.visits:
        return 0.0
    days = min(month.working_days, crew_days)
    area_of_a_stop = where.area_mi2 * days / month.visits
    return CIRCUITY * (
        2 * where.way_out_miles * crew_days + month.visits * BETWEEN_STOPS * sqrt(area_of_a_stop)
    )


@dataclass(frozen=True, slots=True)
class Solved:
    """A month that was solved: what it had to serve, its crew days, and the hours it drives."""

    month: MonthOfWork
    crew_days: int
    drive_hours: float


def streets_from(where: Territory, solved: Sequence[Solved]) -> Streets:
    """What solved months tell: medians of driving over estimate, and of crew days over those filled."""
    known = [one for one in solved if one.crew_days and miles_on(where, one.month, one.crew_days) > 0]
    if not known:
        return Streets()
    ratios = [one.drive_hours * CITY_SPEED_MPH / miles_on(where, one.month, one.crew_days) for one in known]
    factor = min(max(median(ratios), LEAST_FACTOR), MOST_FACTOR)
    more = median(one.crew_days - driving(where, one.month, Streets(factor)).crew_days for one in known)
    return Streets(factor, max(0, round(more)))
