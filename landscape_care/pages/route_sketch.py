"""The sketch of a route: depot, stops in their order, and straight legs between them. Pure.

North is up and distances are true, but for marks that would cover each other: those stand apart.
Roads are not drawn; the ordered list beside the sketch says how long each drive is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, pi, radians, sin

from landscape_care.dispatch.travel import EARTH_RADIUS_MILES, Place
from landscape_care.pages.paper import Box, Drawing, Stroke, Words

WIDTH, HEIGHT = 480.0, 280.0
MARGIN, MARK = 24.0, 10.0
LEAST_SPAN_MILES = 0.2
BARS_MILES = (50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.25, 0.1)
ROUNDS = 60
HEAD = 6.0

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Mark:
    """A stop in the sketch; the numbers of stops at the same place stand together."""

    x: float
    y: float
    label: str


@dataclass(frozen=True, slots=True)
class Leg:
    """A drive, with the two strokes of an arrow in its middle."""

    start: Point
    end: Point
    head: tuple[Point, Point, Point]


@dataclass(frozen=True, slots=True)
class Sketch:
    """A route in drawing units from the upper left corner."""

    depot: Point
    marks: tuple[Mark, ...]
    legs: tuple[Leg, ...]
    bar_miles: float
    bar_width: float
    width: float = WIDTH
    height: float = HEIGHT


def sketch(depot: Place, stops: Sequence[Place]) -> Sketch | None:
    """Draw a day from the depot over its stops and back; nothing where there is no stop."""
    if not stops:
        return None
    places = list(dict.fromkeys(stops))
    flat = _flat([depot, *places])
    unit = _units_per_mile(flat)
    points = _apart(_centred(flat, unit))
    at = dict(zip(places, points[1:], strict=True))
    way = [points[0], *(at[place] for place in stops), points[0]]
    marks = tuple(
        Mark(*at[place], ", ".join(str(n) for n, stop in enumerate(stops, start=1) if stop == place))
        for place in places
    )
    legs = tuple(_leg(start, end) for start, end in pairwise(way) if start != end)
    bar = next((miles for miles in BARS_MILES if miles * unit <= WIDTH / 4), BARS_MILES[-1])
    return Sketch(points[0], marks, legs, bar, bar * unit)


def _flat(places: Sequence[Place]) -> list[Point]:
    """Miles east and south of the first place, on a plane (equirectangular projection)."""
    first = places[0]
    across = EARTH_RADIUS_MILES * cos(radians(first.latitude_deg))
    return [
        (
            across * radians((place.longitude_deg - first.longitude_deg + 180) % 360 - 180),
            -EARTH_RADIUS_MILES * radians(place.latitude_deg - first.latitude_deg),
        )
        for place in places
    ]


def _units_per_mile(flat: Sequence[Point]) -> float:
    wide, high = (max(max(values) - min(values), LEAST_SPAN_MILES) for values in zip(*flat, strict=True))
    return float(min((WIDTH - 2 * MARGIN) / wide, (HEIGHT - 2 * MARGIN) / high))


def _centred(flat: Sequence[Point], unit: float) -> list[Point]:
    middle = [(max(values) + min(values)) / 2 for values in zip(*flat, strict=True)]
    return [(WIDTH / 2 + (x - middle[0]) * unit, HEIGHT / 2 + (y - middle[1]) * unit) for x, y in flat]


def _apart(points: Sequence[Point]) -> list[Point]:
    """Push marks that would cover each other apart, each by half, and keep them in the drawing."""
    moved = list(points)
    for _ in range(ROUNDS):
        pushed = sum(_push(moved, a, b) for a in range(len(moved)) for b in range(a))
        if not pushed:
            break
        moved = [(_inside(x, WIDTH), _inside(y, HEIGHT)) for x, y in moved]
    return moved


def _push(points: list[Point], a: int, b: int) -> bool:
    (ax, ay), (bx, by) = points[a], points[b]
    far = hypot(ax - bx, ay - by)
    lacking = 2 * MARK + 2 - far
    if lacking <= 0.01:
        return False
    # Marks on one point leave it in directions that differ with their numbers.
    angle = a * 2 * pi / 7
    along = ((ax - bx) / far, (ay - by) / far) if far > 0.01 else (cos(angle), sin(angle))
    points[a] = (ax + along[0] * lacking / 2, ay + along[1] * lacking / 2)
    points[b] = (bx - along[0] * lacking / 2, by - along[1] * lacking / 2)
    return True


def _inside(value: float, size: float) -> float:
    return min(max(value, MARK + 2), size - MARK - 2)


def _leg(start: Point, end: Point) -> Leg:
    far = hypot(end[0] - start[0], end[1] - start[1])
    along = ((end[0] - start[0]) / far, (end[1] - start[1]) / far)
    tip = ((start[0] + end[0]) / 2 + along[0] * HEAD / 2, (start[1] + end[1]) / 2 + along[1] * HEAD / 2)
    back = (tip[0] - along[0] * HEAD, tip[1] - along[1] * HEAD)
    side = (-along[1] * HEAD / 2, along[0] * HEAD / 2)
    return Leg(
        start, end, ((back[0] + side[0], back[1] + side[1]), tip, (back[0] - side[0], back[1] - side[1]))
    )


# --- On paper -------------------------------------------------------------------------------------------


def drawing(found: Sketch, *, depot_name: str, miles: str) -> Drawing:
    """The same sketch for paper."""
    strokes: list[Box | Stroke | Words] = []
    for leg in found.legs:
        strokes += [Stroke((leg.start, leg.end), "soft", 0.9), Stroke(leg.head, "ink", 0.9)]
    for mark in found.marks:
        strokes += _square(mark.x, mark.y, MARK + 4 * (len(mark.label) > 2))
        strokes.append(Words(mark.x, mark.y + 4, mark.label, 11, "middle"))
    x, y = found.depot
    strokes.append(Box(x - MARK / 2, y - MARK / 2, MARK, MARK, "ink"))
    strokes.append(Words(x, y - MARK, depot_name, 10, "middle"))
    return Drawing(found.width, found.height, (*strokes, *_scale_bar(found, miles)))


def _scale_bar(found: Sketch, miles: str) -> tuple[Stroke, Words]:
    left, right, base = MARK, MARK + found.bar_width, found.height - 6
    ends = ((left, base - 4), (left, base), (right, base), (right, base - 4))
    return Stroke(ends, "ink", 0.75), Words(right + 6, base, miles, 10)


def _square(x: float, y: float, half: float) -> list[Box | Stroke | Words]:
    corners = ((x - half, y - MARK), (x + half, y - MARK), (x + half, y + MARK), (x - half, y + MARK))
    return [Box(x - half, y - MARK, 2 * half, 2 * MARK, "tint"), Stroke((*corners, corners[0]), "ink", 0.75)]
