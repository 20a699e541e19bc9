"""Bounds a number must keep before it enters a calculation."""

from typing import Any

import numpy as np
import numpy.typing as npt

# Nothing in a garden is larger or, where it is divided by, smaller: quotients and powers stay finite.
MOST = 1e12
LEAST = 1e-9
_LONGEST_QUOTE = 60


class OutOfBounds(ValueError):  # noqa: N818 - a refusal reads as a sentence
    """A number that no calculation takes: the field, the value, and the bounds it must keep.

    A bound of None is none. `is_open` says that the lower bound itself is refused too.
    """

    def __init__(self, field: str, value: object, *, low: float, high: float | None, is_open: bool) -> None:
        self.field, self.value, self.low, self.high, self.is_open = field, value, low, high, is_open
        super().__init__(f"{field} is {_quoted(value)}: it must be {self.wanted}")

    @property
    def wanted(self) -> str:
        """What would be right, in words."""
        if self.high is not None:
            return f"between {self.low:g} and {self.high:g}"
        return f"above {self.low:g}" if self.is_open else f"{self.low:g} or more"


class NotWhole(OutOfBounds):
    """A count that is no whole number, or outside its bounds."""

    @property
    def wanted(self) -> str:
        """What would be right, in words."""
        return f"a whole number {super().wanted}"


def check(field: str, value: float, low: float, high: float) -> None:
    """Refuse a value that is no number or lies outside low to high, both included."""
    if not (_is_number(value) and low <= value <= high):
        raise OutOfBounds(field, value, low=low, high=high, is_open=False)


def check_whole(field: str, value: float, low: int, high: int) -> None:
    """Refuse a value that is no whole number or lies outside low to high, both included."""
    if not (_is_number(value) and low <= value <= high and value == int(value)):
        raise NotWhole(field, value, low=low, high=high, is_open=False)


def check_positive(field: str, value: float) -> None:
    """Refuse a value that is not a number above zero, or so small or large that nothing measures it."""
    if not (_is_number(value) and value > 0):
        raise OutOfBounds(field, value, low=0, high=None, is_open=True)
    if not LEAST <= value <= MOST:
        raise OutOfBounds(field, value, low=LEAST, high=MOST, is_open=False)


def check_not_negative(field: str, value: float) -> None:
    """Refuse a value that is not a number of at least zero, or so large that nothing measures it."""
    if _is_number(value) and value > MOST:
        raise OutOfBounds(field, value, low=0, high=MOST, is_open=False)
    if not (_is_number(value) and value >= 0):
        raise OutOfBounds(field, value, low=0, high=None, is_open=False)


def check_all(field: str, values: npt.NDArray[np.float64], low: float, high: float) -> None:
    """Refuse values of which one is no number or lies outside low to high, naming its place."""
    within = (values >= low) & (values <= high)
    if not within.all():
        index = int(np.argmin(within.ravel()))
        place = f"{field}[{index}]" if values.ndim else field
        raise OutOfBounds(place, float(values.ravel()[index]), low=low, high=high, is_open=False)


def numbers(field: str, values: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return values as an array of numbers; refuse what cannot be one, by its field."""
    try:
        return np.asarray(values, dtype=np.float64)
    except (ValueError, TypeError, OverflowError) as error:
        raise ValueError(f"{field} is {_quoted(values)}: it must be a row of numbers") from error


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float | np.integer | np.floating) and not isinstance(value, bool)


def _quoted(value: object) -> str:
    # Numbers of NumPy are told as plain ones.
    said = repr(value.item() if isinstance(value, np.generic) else value)
    return said if len(said) <= _LONGEST_QUOTE else f"{said[:_LONGEST_QUOTE]}…"
