"""Cells of a spreadsheet as values: what people write and what spreadsheet programs make of it."""

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any

from landscape_care.trades.limits import Limit

YES = ("yes", "y", "true", "x", "1", "si", "sí", "s")
NO = ("no", "n", "false", "0", "-")

_THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?")
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_US_DATE = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})")
_CLOCK = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d))?\s*([ap]\.?m\.?)?", re.IGNORECASE)
_DAY_ZERO = date(1900, 1, 1)
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_WANTED = {
    "day": "a date such as 2024-03-11 or 3/11/2024",
    "clock": "a clock time such as 5:30 or 17:30",
    "flag": "yes or no",
}


class Unclear(ValueError):
    """A cell that cannot be read as what its column holds."""


def value_of(cell: object, limit: Limit) -> Any:
    """The value of a filled cell for a column; `Unclear` when it is nothing of the kind."""
    try:
        return _READERS[limit.kind](cell)
    except (ValueError, OverflowError):
        raise Unclear(wanted(limit)) from None


def wanted(limit: Limit) -> str:
    """What would be right in a column, in words."""
    return _WANTED.get(limit.kind) or limit.wanted()


def _number(cell: object) -> float:
    if isinstance(cell, bool):
        raise ValueError(cell)
    if isinstance(cell, int | float):
        return float(cell)
    written = _text(cell).strip()
    if _THOUSANDS.fullmatch(written):
        written = written.replace(",", "")
    if not _PLAIN_NUMBER.fullmatch(written):
        raise ValueError(cell)
    return float(written)


def _whole(cell: object) -> int | float:
    value = _number(cell)
    # A broken count stays broken, so that the limit can refuse it by name.
    return int(value) if value.is_integer() else value


def _text(cell: object) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, str | int | float):
        return _without_surprises(str(cell))
    if isinstance(cell, datetime | date | time):
        return cell.isoformat()
    raise ValueError(cell)


def _without_surprises(written: str) -> str:
    if _CONTROL.search(written):
        raise ValueError(written)
    return written.strip()


def _choice(cell: object) -> str:
    return "_".join(_text(cell).casefold().replace("-", " ").replace("_", " ").split())


def _flag(cell: object) -> bool:
    if isinstance(cell, bool):
        return cell
    word = _text(cell).casefold()
    if word in YES:
        return True
    if word in NO:
        return False
    raise ValueError(cell)


def _day(cell: object) -> date:
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    written = _text(cell) if isinstance(cell, str) else ""
    if us := _US_DATE.fullmatch(written):
        month, day, year = map(int, us.groups())
        return date(year, month, day)
    return date.fromisoformat(written.split("T")[0].split(" ")[0])


def _clock(cell: object) -> time:
    if isinstance(cell, datetime):
        # Some programs store a clock time as a moment of the spreadsheet's day zero.
        if cell.date() > _DAY_ZERO:
            raise ValueError(cell)
        return cell.time()
    if isinstance(cell, time):
        return cell
    if isinstance(cell, timedelta):
        return _clock_of_span(cell)
    found = _CLOCK.fullmatch(_text(cell) if isinstance(cell, str) else "")
    if not found:
        raise ValueError(cell)
    hour, minute, second, half = found.groups()
    return time(_hour(int(hour), half), int(minute), int(second or 0))


def _clock_of_span(span: timedelta) -> time:
    if not timedelta() <= span < timedelta(days=1):
        raise ValueError(span)
    minutes, second = divmod(int(span.total_seconds()), 60)
    return time(minutes // 60, minutes % 60, second)


def _hour(hour: int, half: str | None) -> int:
    if half is None:
        return hour
    if not 1 <= hour <= 12:
        raise ValueError(hour)
    return hour % 12 + (12 if half[0] in "pP" else 0)


def _tags(cell: object) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(tag for tag in (part.strip() for part in re.split("[,;\n]", _text(cell))) if tag)
    )


_READERS: Mapping[str, Callable[[object], Any]] = {
    "number": _number,
    "whole": _whole,
    "text": _text,
    "choice": _choice,
    "flag": _flag,
    "day": _day,
    "clock": _clock,
    "reference": _text,
    "many": _tags,
}
