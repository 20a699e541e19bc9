"""The fewest settings for a row of daily values: stretches of days that one setting fits.

A stretch that fits a setting still fits when cut short, so taking each as long as it goes uses
the fewest of them.
"""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

Fits = Callable[[float, float], bool]


def stretches(values: Sequence[float], fits: Fits) -> list[range]:
    """Return the fewest stretches over all values; `fits` says whether a lowest and highest agree.

    A value that is nan belongs to no stretch.
    """
    return _cut(values, _Ends(values, fits), range(len(values)))


def fewest_stretches(values: Sequence[float], fits: Fits, *, span: int) -> list[range]:
    """Return the fewest stretches that cover so many values in a row, from the best of the first `span`.

    For a year that comes round again: give two of them.
    """
    if len(values) < 2 * span:
        raise ValueError(f"span is {span}: it must be at most half of the {len(values)} values")
    ends = _Ends(values, fits)
    cuts = (_cut(values, ends, range(start, start + span)) for start in range(span))
    return min(cuts, key=len)


class _Ends(dict[int, int]):
    """Where the longest stretch that begins with a value ends, found when first asked for."""

    def __init__(self, values: Sequence[float], fits: Fits) -> None:
        super().__init__()
        self._values, self._fits = values, fits

    def __missing__(self, start: int) -> int:
        self[start] = end = _end(self._values, start, self._fits)
        return end


def _end(values: Sequence[float], start: int, fits: Fits) -> int:
    low = high = values[start]
    if math.isnan(low):
        return start + 1
    for index in range(start + 1, len(values)):
        low, high = min(low, values[index]), max(high, values[index])
        if math.isnan(values[index]) or not fits(low, high):
            return index
    return len(values)


def _cut(values: Sequence[float], ends: _Ends, days: range) -> list[range]:
    cuts = [days.start]
    while cuts[-1] < days.stop:
        cuts.append(min(ends[cuts[-1]], days.stop))
    return [range(start, stop) for start, stop in pairwise(cuts) if not math.isnan(values[start])]
