"""The as-built plan as a drawing: surveyed outlines where they exist, else areas in true proportion.

Pure: takes plain things, answers shapes in drawing units. Templates turn them into SVG.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from landscape_care.trades.kinds import Bed, Gravel, Paving, Planting, Thing, Turf, WaterFeature

WIDTH, HEIGHT = 600.0, 400.0
MARGIN, GAP = 10.0, 5.0
BOX_WIDTH, BOX_HEIGHT = 46.0, 22.0
BALLOON = 13.0

FILLS = {
    "full_sun": ("area-sun", "dots"),
    "filtered_shade": ("area-filtered", "sparse"),
    "shade": ("area-shade", "dense"),
    "turf": ("area-turf", "blades"),
    "paving": ("area-stone", "courses"),
    "gravel": ("area-stone", "grains"),
    "water_feature": ("area-water", "waves"),
}


@dataclass(frozen=True)
class Rect:
    """A rectangle in drawing units, measured from the upper left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def middle(self) -> tuple[float, float]:
        """The centre."""
        return self.x + self.width / 2, self.y + self.height / 2

    def shrunk(self, by: float) -> "Rect":
        """The same rectangle with a margin taken away on each side."""
        by = min(by, self.width / 3, self.height / 3)
        return Rect(self.x + by, self.y + by, self.width - 2 * by, self.height - 2 * by)


@dataclass(frozen=True)
class Patch:
    """An area of ground on the plan."""

    tag: str
    kind: str
    points: str
    fill: str
    hatch: str
    label_x: float
    label_y: float


@dataclass(frozen=True)
class Balloon:
    """A tag on the plan: a circle for what grows or holds water, a box for equipment."""

    tag: str
    x: float
    y: float
    round: bool

    @property
    def left(self) -> float:
        """Left edge of the box."""
        return self.x - BOX_WIDTH / 2

    @property
    def top(self) -> float:
        """Upper edge of the box."""
        return self.y - BOX_HEIGHT / 2


@dataclass(frozen=True)
class Drawing:
    """Everything to draw, and whether its positions were surveyed."""

    width: float
    height: float
    patches: tuple[Patch, ...]
    balloons: tuple[Balloon, ...]
    equipment_y: float
    surveyed: bool

    @property
    def legend(self) -> list[tuple[str, str, str]]:
        """What the hatchings used here mean: fill, hatching, and the key of its name."""
        used = {(patch.fill, patch.hatch) for patch in self.patches}
        return [(*pair, name) for name, pair in FILLS.items() if pair in used]


def draw(things: Sequence[Thing], outlines: Mapping[str, Sequence[Sequence[float]]]) -> Drawing:
    """Draw a property: `outlines` holds corners in feet by tag, for things that were surveyed."""
    ground = [thing for thing in things if area_ft2(thing) > 0]
    surveyed = [thing for thing in ground if len(outlines.get(thing.tag, ())) >= 3]
    complete = bool(surveyed) and len(surveyed) == len(ground)
    patches = tuple(_surveyed(surveyed, outlines) if complete else _schematic(ground))
    placed = {patch.tag for patch in patches}
    rest = [thing for thing in things if thing.tag not in placed]
    growing = tuple(_in_beds([thing for thing in rest if isinstance(thing, Planting)], things, patches))
    drawn = placed | {balloon.tag for balloon in growing}
    boxes = tuple(_in_rows([thing for thing in rest if thing.tag not in drawn], HEIGHT + 34))
    bottom = max((box.y for box in boxes), default=HEIGHT - BOX_HEIGHT) + BOX_HEIGHT
    return Drawing(WIDTH, bottom, patches, growing + boxes, HEIGHT + 16, complete)


def area_ft2(thing: Thing) -> float:
    """The ground a thing covers, sq ft; 0 for what stands on other ground."""
    match thing:
        case Bed() | Turf() | Paving() | Gravel():
            return thing.area_ft2
        case WaterFeature():
            return thing.surface_ft2
        case _:
            return 0.0


# --- Ground -----------------------------------------------------------------------------------


def _schematic(ground: Sequence[Thing]) -> Iterator[Patch]:
    """Lay areas out in proportion, the largest first; positions mean nothing."""
    ordered = sorted(ground, key=lambda thing: (-area_ft2(thing), thing.tag))
    # A fountain of a square foot beside a large lawn would vanish, so the smallest keep a visible share.
    least = 0.02 * sum(area_ft2(thing) for thing in ordered)
    sizes = [max(area_ft2(thing), least) for thing in ordered]
    for thing, rect in zip(ordered, squarified(sizes, Rect(0, 0, WIDTH, HEIGHT).shrunk(MARGIN)), strict=True):
        inner = rect.shrunk(GAP / 2)
        yield _patch(thing, _corners(inner), inner.middle)


def _surveyed(ground: Sequence[Thing], outlines: Mapping[str, Sequence[Sequence[float]]]) -> Iterator[Patch]:
    """Draw measured outlines, north up, scaled to the sheet."""
    corners = [corner for thing in ground for corner in outlines[thing.tag]]
    left, right = min(c[0] for c in corners), max(c[0] for c in corners)
    low, high = min(c[1] for c in corners), max(c[1] for c in corners)
    scale = min((WIDTH - 2 * MARGIN) / max(right - left, 1e-9), (HEIGHT - 2 * MARGIN) / max(high - low, 1e-9))
    for thing in ground:
        points = [(MARGIN + (x - left) * scale, MARGIN + (high - y) * scale) for x, y in outlines[thing.tag]]
        middle = (sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points))
        yield _patch(thing, points, middle)


def _patch(thing: Thing, points: Sequence[tuple[float, float]], middle: tuple[float, float]) -> Patch:
    fill, hatch = FILLS[thing.exposure if isinstance(thing, Bed) else thing.kind]
    written = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return Patch(thing.tag, thing.kind, written, fill, hatch, *middle)


def _corners(rect: Rect) -> list[tuple[float, float]]:
    right, bottom = rect.x + rect.width, rect.y + rect.height
    return [(rect.x, rect.y), (right, rect.y), (right, bottom), (rect.x, bottom)]


def squarified(sizes: Sequence[float], room: Rect) -> list[Rect]:
    """Fill a rectangle with one for each size, in proportion and as square as rows allow.

    Sizes come largest first. Method: Bruls, Huizing and van Wijk, Squarified Treemaps (2000).
    """
    unit = room.width * room.height / sum(sizes) if sizes else 0.0
    left = [size * unit for size in sizes]
    made: list[Rect] = []
    while left:
        side = min(room.width, room.height)
        count = 1
        while count < len(left) and _worst(left[: count + 1], side) <= _worst(left[:count], side):
            count += 1
        row, left = left[:count], left[count:]
        made += _row(row, room)
        room = _without(room, sum(row))
    return made


def _worst(row: Sequence[float], side: float) -> float:
    total = sum(row)
    return max(side**2 * max(row) / total**2, total**2 / (side**2 * min(row)))


def _row(row: Sequence[float], room: Rect) -> Iterator[Rect]:
    """One row along the shorter side of the room."""
    thickness = sum(row) / min(room.width, room.height)
    passed = 0.0
    for size in row:
        length = size / thickness
        if room.width >= room.height:
            yield Rect(room.x, room.y + passed, thickness, length)
        else:
            yield Rect(room.x + passed, room.y, length, thickness)
        passed += length


def _without(room: Rect, used: float) -> Rect:
    thickness = used / min(room.width, room.height)
    if room.width >= room.height:
        return Rect(room.x + thickness, room.y, room.width - thickness, room.height)
    return Rect(room.x, room.y + thickness, room.width, room.height - thickness)


# --- Tags -------------------------------------------------------------------------------------


def _in_beds(
    plantings: Sequence[Planting], things: Sequence[Thing], patches: Sequence[Patch]
) -> Iterator[Balloon]:
    """Set the tags of plantings around the tag of their bed."""
    tags = {thing.uid: thing.tag for thing in things if isinstance(thing, Bed)}
    room = {patch.tag: patch for patch in patches}
    for bed in sorted(set(tags.values()) & set(room)):
        standing = [planting for planting in plantings if tags.get(planting.bed_id or 0) == bed]
        yield from _around(room[bed], standing)


def _around(patch: Patch, plantings: Sequence[Planting]) -> Iterator[Balloon]:
    """Rows of tags below the bed's own tag, as many as its drawn area holds."""
    xs, ys = zip(*(map(float, point.split(",")) for point in patch.points.split(" ")), strict=True)
    step_x, step_y = 2.5 * BALLOON, 2.2 * BALLOON
    across = max(int((max(xs) - min(xs) - BALLOON) / step_x), 1)
    deep = int((max(ys) - patch.label_y - BALLOON) / step_y)
    for place, planting in enumerate(sorted(plantings, key=lambda p: p.tag)[: across * deep]):
        row, column = divmod(place, across)
        in_row = min(across, len(plantings) - row * across)
        x = patch.label_x + (column - (in_row - 1) / 2) * step_x
        yield Balloon(planting.tag, x, patch.label_y + (row + 1) * step_y, round=True)


def _in_rows(things: Sequence[Thing], top: float) -> Iterator[Balloon]:
    """Boxes in rows below the ground: equipment whose place on the ground is not recorded."""
    across = int((WIDTH - 2 * MARGIN) // (BOX_WIDTH + GAP))
    for place, thing in enumerate(sorted(things, key=lambda t: (t.stem, t.kind, natural(t.tag)))):
        row, column = divmod(place, across)
        x = MARGIN + column * (BOX_WIDTH + GAP) + BOX_WIDTH / 2
        y = top + row * (BOX_HEIGHT + GAP) + BOX_HEIGHT / 2
        yield Balloon(thing.tag, x, y, round=isinstance(thing, Planting))


def natural(tag: str) -> tuple[str, int, str]:
    """Order tags as people count: P2 before P10."""
    letters = tag.rstrip("0123456789")
    digits = tag[len(letters) :]
    return letters, int(digits or 0), tag
