"""The sheet on which outlines are drawn: feet on the ground as units of the drawing, north up.

Pure. A sheet is as wide as what is drawn on it and leaves room around, at least a small courtyard.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

Outline = Sequence[Sequence[float]]
LEAST_FT, ROOM_FT, GRID_FT = 60.0, 10.0, 10.0


@dataclass(frozen=True)
class Shape:
    """An outline on the sheet: its tag, its corners as SVG has them, and where its tag stands."""

    tag: str
    points: str
    label_x: float
    label_y: float


@dataclass(frozen=True)
class Table:
    """A sheet: its left and upper edge in feet, its size, what is on it and the lines of its grid."""

    left_ft: float
    top_ft: float
    width_ft: float
    height_ft: float
    shapes: tuple[Shape, ...]

    @property
    def view_box(self) -> str:
        """The window of the drawing; down is positive in SVG, so north is negative."""
        return f"{self.left_ft:g} {-self.top_ft:g} {self.width_ft:g} {self.height_ft:g}"

    @property
    def upright(self) -> list[float]:
        """Where the grid stands, feet east."""
        return _steps(self.left_ft, self.left_ft + self.width_ft)

    @property
    def level(self) -> list[float]:
        """Where the grid lies, in the drawing's own downward feet."""
        return _steps(-self.top_ft, -self.top_ft + self.height_ft)

    @property
    def right_ft(self) -> float:
        """The right edge."""
        return self.left_ft + self.width_ft

    @property
    def bottom(self) -> float:
        """The lower edge in the drawing's own downward feet."""
        return self.height_ft - self.top_ft


def table(outlines: Mapping[str, Outline]) -> Table:
    """The sheet for some outlines by tag."""
    corners = [corner for outline in outlines.values() for corner in outline] or [(0.0, 0.0)]
    left, right = _span([corner[0] for corner in corners])
    low, high = _span([corner[1] for corner in corners])
    shapes = tuple(shape(tag, outline) for tag, outline in sorted(outlines.items()) if outline)
    return Table(left, high, right - left, high - low, shapes)


def shape(tag: str, outline: Outline) -> Shape:
    """An outline as SVG has it."""
    points = " ".join(f"{x:g},{-y:g}" for x, y in outline)
    count = len(outline)
    return Shape(tag, points, sum(x for x, _ in outline) / count, -sum(y for _, y in outline) / count)


def _span(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values) - ROOM_FT, max(values) + ROOM_FT
    low, high = low // GRID_FT * GRID_FT, -(-high // GRID_FT) * GRID_FT
    return (low, max(high, low + LEAST_FT))


def _steps(first: float, last: float) -> list[float]:
    step = GRID_FT
    while (last - first) / step > 40:
        step *= 5
    start = int(-(-first // step))
    return [number * step for number in range(start, int(last // step) + 1)]
