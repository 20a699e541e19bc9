"""Bounds a number must keep before it enters a calculation."""

import math

import numpy as np
import numpy.typing as npt


class OutOfBounds(ValueError):  # noqa: N818 - a refusal reads as a sentence
    """A number that no calculation takes: the field, the value, and the bounds it must keep.

    A bound of None is none. `is_open` says that the lower bound itself is refused too.
    """

    def __init__(self, field: str, value: object, *, low: float, high: float | None, is_open: bool) -> None:
        self.field, self.value, self.low, self.high, self.is_open = field, value, low, high, is_open
        super().__init__(f"{field} is {value!r}: it must be {self.wanted}")

    @property
    def wanted(self) -> str:
        """What would be right, in words."""
        if self.high is not None:
            return f"between {self.low:g} and {self.high:g}"
        return f"above {self.low:g}" if self.is_open else f"{self.low:g} or more"


def check(field: str, value: float, low: float, high: float) -> None:
    """Refuse a value that is no number or lies outside low to high, both included."""
    if not low <= value <= high:
        raise OutOfBounds(field, value, low=low, high=high, is_open=False)


def check_positive(field: str, value: float) -> None:
    """Refuse a value that is not a finite number above zero."""
    if not (math.isfinite(value) and value > 0):
        raise OutOfBounds(field, value, low=0, high=None, is_open=True)


def check_not_negative(field: str, value: float) -> None:
    """Refuse a value that is not a finite number of at least zero."""
    if not (math.isfinite(value) and value >= 0):
        raise OutOfBounds(field, value, low=0, high=None, is_open=False)


def check_all(field: str, values: npt.NDArray[np.float64], low: float, high: float) -> None:
    """Refuse values of which one is no number or lies outside low to high, naming its place."""
    within = (values >= low) & (values <= high)
    if not within.all():
        index = int(np.argmin(within.ravel()))
        place = f"{field}[{index}]" if values.ndim else field
        raise OutOfBounds(place, float(values.ravel()[index]), low=low, high=high, is_open=False)
