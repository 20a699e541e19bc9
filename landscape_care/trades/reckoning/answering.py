"""Reading what was typed, asking the function, and saying what was refused."""

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, time
from typing import Any

from landscape_care.almanac.bounds import OutOfBounds
from landscape_care.trades.limits import Refused
from landscape_care.trades.reckoning.register import Input, Reckoning
from landscape_care.trades.reckoning.wrong import Wrong, bounds_in_words, out_of_bounds, refused_in_words

_LONGEST_TEXT = 2000


@dataclass(frozen=True)
class Answer:
    """What a reckoning gives for some inputs."""

    reckoning: Reckoning
    given: Mapping[str, object]
    value: Any


def answer(reckoning: Reckoning, given: Mapping[str, object]) -> Answer:
    """Return what a reckoning gives for inputs as typed or as values; every wrong one is told."""
    problems = [*_unknown(reckoning, given)]
    values: dict[str, object] = {}
    for each in reckoning.inputs:
        try:
            values.update(_read(each, given.get(each.name)))
        except _Unreadable as unreadable:
            problems.append(Wrong(each.name, given.get(each.name), *unreadable.wanted))
    if problems:
        raise Refused(problems)
    return Answer(reckoning, values, _asked(reckoning, values))


class _Unreadable(Exception):  # noqa: N818 - a refusal reads as a sentence
    def __init__(self, english: str, spanish: str) -> None:
        super().__init__(english)
        self.wanted = (english, spanish)


def _asked(reckoning: Reckoning, values: dict[str, object]) -> Any:
    names = [each.name for each in reckoning.inputs]
    try:
        return reckoning.function(**values)
    except OutOfBounds as refused:
        raise Refused([out_of_bounds(refused, names)]) from refused
    except ValueError as refused:
        raise Refused([refused_in_words(refused, names, values)]) from refused
    except (OverflowError, ZeroDivisionError) as refused:
        words = ("numbers that a garden has", "números que tiene un jardín")
        raise Refused([Wrong(names[0], values.get(names[0]), *words)]) from refused


def _unknown(reckoning: Reckoning, given: Mapping[str, object]) -> list[Wrong]:
    known = [each.name for each in reckoning.inputs]
    names = ", ".join(known)
    return [
        Wrong(str(name), value, f"one of the inputs {names}", f"una de las entradas {names}")
        for name, value in given.items()
        if name not in known
    ]


def _read(each: Input, given: object) -> dict[str, object]:
    if given is None or given == "":
        if each.is_required:
            raise _Unreadable(*_wanted(each))
        return {}
    if isinstance(given, str) and len(given) > _LONGEST_TEXT:
        raise _Unreadable("something shorter", "algo más corto")
    try:
        value = _READERS[each.kind](given)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise _Unreadable(*_wanted(each)) from error
    if each.choices:
        return {each.name: _chosen(each, value)}
    if _is_outside(each, value):
        raise _Unreadable(*_wanted(each))
    return {each.name: value}


def _is_outside(each: Input, value: object) -> bool:
    # The function would refuse it too, but only one at a time.
    if each.low is None or not isinstance(value, int | float):
        return False
    is_low = value <= each.low if each.is_open else value < each.low
    return is_low or (each.high is not None and value > each.high)


def _chosen(each: Input, value: object) -> object:
    if str(value) not in each.choices:
        raise _Unreadable(*_wanted(each))
    # A wire gauge is chosen from a list and is a number all the same.
    return int(str(value)) if str(value).isdigit() else value


def _wanted(each: Input) -> tuple[str, str]:
    if each.kind == "choice":
        words = ", ".join(each.choices)
        return f"one of {words}", f"una de {words}"
    if each.kind in ("number", "whole") and each.low is not None:
        return bounds_in_words(each.low, each.high, is_open=each.is_open)
    return _WANTED[each.kind]


_WANTED: Mapping[str, tuple[str, str]] = {
    "number": ("a number", "un número"),
    "whole": ("a whole number", "un número entero"),
    "flag": ("yes or no", "sí o no"),
    "text": ("some text", "un texto"),
    "day": ("a day such as 2027-06-21", "un día como 2027-06-21"),
    "clock": ("a clock time such as 04:30", "una hora como 04:30"),
    "numbers": ("numbers with commas between them", "números separados por comas"),
    "pairs": ("pairs such as 25:10,25:10", "pares como 25:10,25:10"),
}
_FLAGS = {"yes": True, "true": True, "1": True, "sí": True, "si": True, "on": True}
_FLAGS |= {"no": False, "false": False, "0": False, "off": False}


def _number(given: object) -> float:
    if isinstance(given, bool):
        raise TypeError
    value = float(given)  # type: ignore[arg-type]
    if not math.isfinite(value):
        raise ValueError
    return value


def _whole(given: object) -> int:
    value = _number(given)
    if value != int(value) or abs(value) > 1e9:
        raise ValueError
    return int(value)


def _flag(given: object) -> bool:
    return given if isinstance(given, bool) else _FLAGS[str(given).strip().lower()]


def _text(given: object) -> str:
    text = str(given).strip()
    if not text.isprintable():
        raise ValueError
    return text


def _day(given: object) -> date:
    day = given if isinstance(given, date) else date.fromisoformat(str(given))
    if not 1900 <= day.year <= 2099:
        raise ValueError
    return day


def _clock(given: object) -> time:
    clock = given if isinstance(given, time) else time.fromisoformat(str(given))
    if clock.tzinfo is not None:
        raise ValueError
    return clock


def _list(given: object) -> list[object]:
    if isinstance(given, str):
        return list(json.loads(given)) if given.lstrip().startswith("[") else list(given.split(","))
    return list(given)  # type: ignore[call-overload, no-any-return]


def _numbers(given: object) -> tuple[float, ...]:
    return tuple(map(_number, _list(given)))


def _pairs(given: object) -> tuple[tuple[float, float], ...]:
    return tuple(_pair(each) for each in _list(given))


def _pair(given: object) -> tuple[float, float]:
    first, second = given.split(":") if isinstance(given, str) else list(given)  # type: ignore[call-overload]
    return _number(first), _number(second)


_READERS: Mapping[str, Callable[[object], object]] = {
    "number": _number,
    "whole": _whole,
    "flag": _flag,
    "text": _text,
    "choice": _text,
    "day": _day,
    "clock": _clock,
    "numbers": _numbers,
    "pairs": _pairs,
}
