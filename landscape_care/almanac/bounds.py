"""Bounds a number must keep before it enters a calculation."""

import math


def check(field: str, value: float, low: float, high: float) -> None:
    """Refuse a value that is no number or lies outside low to high, both included."""
    if not low <= value <= high:
        raise ValueError(f"{field} is {value!r}: it must be between {low:g} and {high:g}")


def check_positive(field: str, value: float) -> None:
    """Refuse a value that is not a finite number above zero."""
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{field} is {value!r}: it must be above 0")


def check_not_negative(field: str, value: float) -> None:
    """Refuse a value that is not a finite number of at least zero."""
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{field} is {value!r}: it must be 0 or more")
