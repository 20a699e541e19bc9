"""Line and bar charts as numbers in drawing units. Pure; templates turn them into SVG and a table."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

WIDTH, HEIGHT = 480.0, 200.0
# Round steps of ruled lines: decimal ones from a tenth up, and those of a clock in minutes.
DECIMAL_STEPS = tuple(m * 10.0**power for power in range(-1, 5) for m in (1, 2, 5))
CLOCK_STEPS = (15.0, 30.0, 60.0, 120.0, 240.0)
LEFT, RIGHT, TOP, BOTTOM = 44.0, 8.0, 16.0, 24.0


@dataclass(frozen=True)
class Line:
    """One series of a line chart: what it is, its values, and where they lie."""

    name: str
    number: int
    values: tuple[float | None, ...]
    points: tuple[tuple[float, float], ...]

    @property
    def path(self) -> str:
        """The polyline."""
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in self.points)


@dataclass(frozen=True)
class Bar:
    """One part of a stacked bar."""

    number: int
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Chart:
    """A drawn chart: the ruled lines with their values, the labels below, and the series."""

    rules: tuple[tuple[float, float], ...]
    labels: tuple[tuple[float, str], ...]
    lines: tuple[Line, ...] = ()
    bars: tuple[Bar, ...] = ()
    tops: tuple[tuple[float, float, float], ...] = ()
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right_edge: float = WIDTH - RIGHT
    base: float = HEIGHT - BOTTOM


def lines(
    labels: Sequence[str],
    series: Sequence[tuple[str, Sequence[float | None]]],
    *,
    from_zero: bool = True,
    steps: Sequence[float] = DECIMAL_STEPS,
) -> Chart:
    """Draw series over equal steps; a missing value leaves its point out."""
    known = [value for _, values in series for value in values if value is not None]
    lowest = 0.0 if from_zero else min(known, default=0.0)
    low, high, step = scale(lowest, max(known, default=1.0), steps)
    xs = [LEFT + (i + 0.5) * (WIDTH - LEFT - RIGHT) / len(labels) for i in range(len(labels))]
    drawn = tuple(
        Line(
            name,
            number,
            tuple(values),
            tuple((x, height_of(v, low, high)) for x, v in zip(xs, values, strict=True) if v is not None),
        )
        for number, (name, values) in enumerate(series, start=1)
    )
    return Chart(_rules(low, high, step), tuple(zip(xs, labels, strict=True)), lines=drawn)


def stacked(labels: Sequence[str], series: Sequence[Sequence[float]]) -> Chart:
    """Draw bars that stack the series from the base."""
    totals = [sum(values) for values in zip(*series, strict=True)]
    low, high, step = scale(0.0, max(totals, default=1.0))
    slot = (WIDTH - LEFT - RIGHT) / len(labels)
    xs = [LEFT + (i + 0.5) * slot for i in range(len(labels))]
    bars = []
    for i, x in enumerate(xs):
        below = 0.0
        for number, values in enumerate(series, start=1):
            if values[i] > 0:
                top, bottom = height_of(below + values[i], low, high), height_of(below, low, high)
                bars.append(Bar(number, x - 0.31 * slot, top, 0.62 * slot, bottom - top))
            below += values[i]
    tops = tuple(
        (x, height_of(total, low, high) - 4, total) for x, total in zip(xs, totals, strict=True) if total
    )
    return Chart(_rules(low, high, step), tuple(zip(xs, labels, strict=True)), bars=tuple(bars), tops=tops)


def scale(
    low: float, high: float, steps: Sequence[float] = DECIMAL_STEPS, rules: int = 4
) -> tuple[float, float, float]:
    """Round bounds and one of the round steps, so that there are about so many ruled lines."""
    rough = max(high - low, 1e-6) / rules
    step = next((step for step in steps if step >= rough * 0.999), steps[-1])
    bottom = floor(low / step) * step
    return bottom, max(ceil(high / step) * step, bottom + step), step


def height_of(value: float, low: float, high: float) -> float:
    """Where a value lies above the base, in drawing units from the top."""
    return HEIGHT - BOTTOM - (value - low) / (high - low) * (HEIGHT - TOP - BOTTOM)


def _rules(low: float, high: float, step: float) -> tuple[tuple[float, float], ...]:
    count = round((high - low) / step)
    values = [low + i * step for i in range(count + 1)]
    return tuple((height_of(value, low, high), value) for value in values)
