"""The fewest settings for a row of daily values: stretches of days that one setting fits.

A stretch that fits a setting still fits when cut short, so taking each as long as it goes uses
the fewest of them.
"""

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

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
        self._values, self._fits = np.asarray(values, dtype=np.float64), fits
        self._gaps = [*np.flatnonzero(np.isnan(self._values)).tolist(), len(values)]

    def __missing__(self, start: int) -> int:
        self[start] = end = self._end(start)
        return end

    def _end(self, start: int) -> int:
        gap = self._gaps[bisect_left(self._gaps, start)]
        if gap == start:
            return start + 1
        low = np.minimum.accumulate(self._values[start:gap])
        high = np.maximum.accumulate(self._values[start:gap])
        # Longer stretches only spread further, so the first that does not fit is found by halving.
        shortest_misfit = bisect_left(
            range(1, len(low)), 1, key=lambda last: not self._fits(float(low[last]), float(high[last]))
        )
        return start + 1 + shortest_misfit


def _cut(values: Sequence[float], ends: _Ends, days: range) -> list[range]:
    cuts = [days.start]
    while cuts[-1] < days.stop:
        cuts.append(min(ends[cuts[-1]], days.stop))
    return [range(start, stop) for start, stop in pairwise(cuts) if not math.isnan(values[start])]
