"""Outlines of areas on the plan: corners in feet east and north of a point of the property.

Pure. The area is the shoelace formula (Gauss); an outline that crosses itself has no area anybody means.
"""

import math
import re
from collections.abc import Iterator, Sequence

from landscape_care.trades.limits import Problem, Refused
from landscape_care.trades.reckoning.wrong import Wrong

Corner = tuple[float, float]
FARTHEST_FT = 5000.0
LEAST_CORNERS, MOST_CORNERS = 3, 60
LEAST_AREA_FT2 = 0.5
_LINE = re.compile(r"\s*([-+]?\d+(?:\.\d+)?)\s*[,;\s]\s*([-+]?\d+(?:\.\d+)?)\s*")


def read_corners(text: str) -> tuple[Corner, ...]:
    """Read corners, one a line: feet east, feet north. Empty lines are left out; nothing is no outline."""
    corners, problems = [], []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        found = _LINE.fullmatch(line)
        if found:
            corners.append((float(found[1]), float(found[2])))
        else:
            wanted = f"two numbers on line {number}, such as 12.5, 40"
            problems.append(
                _problem(line.strip()[:40], wanted, f"dos números en la línea {number}, como 12.5, 40")
            )
    if problems:
        raise Refused(problems)
    return tuple(corners)


def written(corners: Sequence[Sequence[float]]) -> str:
    """Corners as they are read."""
    return "\n".join(f"{x:g}, {y:g}" for x, y in corners)


def checked(corners: Sequence[Sequence[float]]) -> tuple[Corner, ...]:
    """Corners of an area that can be, or none at all; `Refused` otherwise."""
    found = tuple((float(x), float(y)) for x, y in corners)
    problems = list(_problems(found)) if found else []
    if problems:
        raise Refused(problems)
    return found


def area_ft2(corners: Sequence[Sequence[float]]) -> float:
    """The area inside an outline, sq ft (shoelace formula)."""
    pairs = zip(corners, [*corners[1:], *corners[:1]], strict=True)
    return abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2


def _problems(corners: Sequence[Corner]) -> Iterator[Problem]:
    if not LEAST_CORNERS <= len(corners) <= MOST_CORNERS:
        yield _problem(
            len(corners),
            f"{LEAST_CORNERS} to {MOST_CORNERS} corners",
            f"de {LEAST_CORNERS} a {MOST_CORNERS} esquinas",
        )
    elif any(not math.isfinite(value) or abs(value) > FARTHEST_FT for corner in corners for value in corner):
        yield _problem(
            "far away",
            f"corners within {FARTHEST_FT:,.0f} ft",
            f"esquinas a no más de {FARTHEST_FT:,.0f} pies",
        )
    elif crosses_itself(corners):
        yield _problem(
            "crossing", "an outline that does not cross itself", "un contorno que no se cruce consigo mismo"
        )
    elif area_ft2(corners) < LEAST_AREA_FT2:
        yield _problem(
            round(area_ft2(corners), 2),
            "corners that are not all on one line",
            "esquinas que no estén todas en una línea",
        )


def crosses_itself(corners: Sequence[Corner]) -> bool:
    """Whether two sides that are not neighbours meet."""
    count = len(corners)
    sides = [(corners[at], corners[(at + 1) % count]) for at in range(count)]
    return any(
        _meet(sides[one], sides[other])
        for one in range(count)
        for other in range(one + 2, count)
        if (other + 1) % count != one
    )


def _meet(one: tuple[Corner, Corner], other: tuple[Corner, Corner]) -> bool:
    turns = (_turn(*one, other[0]), _turn(*one, other[1]), _turn(*other, one[0]), _turn(*other, one[1]))
    if turns[0] * turns[1] < 0 and turns[2] * turns[3] < 0:
        return True
    ends = ((one, other[0]), (one, other[1]), (other, one[0]), (other, one[1]))
    return any(turn == 0 and _between(*side, point) for turn, (side, point) in zip(turns, ends, strict=True))


def _turn(start: Corner, end: Corner, point: Corner) -> float:
    return (end[0] - start[0]) * (point[1] - start[1]) - (end[1] - start[1]) * (point[0] - start[0])


def _between(start: Corner, end: Corner, point: Corner) -> bool:
    return all(min(start[i], end[i]) <= point[i] <= max(start[i], end[i]) for i in (0, 1))


def _problem(value: object, wanted: str, wanted_es: str) -> Problem:
    return Wrong("corners", value, wanted, wanted_es)
