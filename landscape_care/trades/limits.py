"""What a value of the as-built record may be, said once and used by record, spreadsheet and form.

A record class lists its fields with `number`, `choice`, `text`, `flag`, `day`, `clock` or
`reference`; `refuse_nonsense` then compares an instance with them and raises `Refused`, which
lists every wrong field with its value and what would be right.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import MISSING, dataclass, field, fields
from datetime import date, time
from typing import Any

from landscape_care.almanac.refusals import Problem, Refused

__all__ = [
    "Limit",
    "Problem",
    "Refused",
    "choice",
    "clock",
    "day",
    "flag",
    "is_required",
    "limits_of",
    "months",
    "number",
    "problems_of",
    "reference",
    "references",
    "refuse_nonsense",
    "text",
    "whole",
]


@dataclass(frozen=True)
class Limit:
    """What one field may hold.

    `kind` is number, whole, choice, text, flag, day, clock, months, reference or many.
    """

    kind: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    refers_to: str = ""
    help: str = ""

    def wanted(self) -> str:
        """What would be right, in words."""
        if self.kind in ("number", "whole"):
            span = f"from {self.low:g} to {self.high:g}" if self.high is not None else f"{self.low:g} or more"
            return f"a {'whole ' if self.kind == 'whole' else ''}number {span} {self.unit}".strip()
        if self.kind == "choice":
            return "one of " + ", ".join(choice for choice in self.choices if choice)
        if self.kind == "text":
            return f"text of at most {self.high:g} characters"
        if self.kind in ("reference", "many"):
            return f"the tag of a {self.refers_to.replace('_', ' ')} on this property"
        if self.kind == "months":
            return f"twelve numbers {self.unit}, January first".replace("  ", " ")
        return {"flag": "yes or no", "day": "a date", "clock": "a clock time"}[self.kind]

    def accepts(self, value: object) -> bool:
        """Whether a present (not None) value is within this limit."""
        checks: dict[str, Callable[[Any], bool]] = {
            "number": self._number,
            "whole": lambda v: isinstance(v, int) and self._number(v),
            "choice": lambda v: v in self.choices,
            "text": lambda v: isinstance(v, str) and len(v) <= (self.high or 0),
            "flag": lambda v: isinstance(v, bool),
            "day": lambda v: isinstance(v, date),
            "clock": lambda v: isinstance(v, time),
            "reference": lambda v: isinstance(v, int),
            "many": lambda v: isinstance(v, tuple),
            "months": lambda v: isinstance(v, tuple) and all(map(_is_number, v)),
        }
        return checks[self.kind](value)

    def _number(self, value: Any) -> bool:
        if not _is_number(value):
            return False
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _field(limit: Limit, default: Any) -> Any:
    if default is MISSING:
        return field(metadata={"limit": limit})
    return field(default=default, metadata={"limit": limit})


def number(low: float, high: float, unit: str = "", *, default: Any = MISSING, help: str = "") -> Any:
    """A measured value between two bounds, both included."""
    return _field(Limit("number", unit, low, high, help=help), default)


def whole(low: int, high: int, unit: str = "", *, default: Any = MISSING, help: str = "") -> Any:
    """A count between two bounds, both included."""
    return _field(Limit("whole", unit, low, high, help=help), default)


def choice(*choices: str, default: Any = MISSING, help: str = "") -> Any:
    """One of a fixed list of words."""
    return _field(Limit("choice", choices=choices, help=help), default)


def text(length: int, *, default: Any = "", help: str = "") -> Any:
    """Free text up to a length."""
    return _field(Limit("text", high=length, help=help), default)


def flag(*, default: bool = False, help: str = "") -> Any:
    """Yes or no."""
    return _field(Limit("flag", help=help), default)


def day(*, default: Any = None, help: str = "") -> Any:
    """A calendar date."""
    return _field(Limit("day", help=help), default)


def clock(*, default: Any = None, help: str = "") -> Any:
    """A local clock time."""
    return _field(Limit("clock", help=help), default)


def months(unit: str, *, default: Any = MISSING, help: str = "") -> Any:
    """A number for each month, January first; their bounds are those of a climate."""
    return _field(Limit("months", unit, help=help), default)


def reference(kind: str, *, default: Any = MISSING, help: str = "") -> Any:
    """Another installed thing of the property, held by its number and written by its tag."""
    return _field(Limit("reference", refers_to=kind, help=help), default)


def references(kind: str, *, help: str = "") -> Any:
    """Several other installed things, held by number and written as tags with commas."""
    return _field(Limit("many", refers_to=kind, help=help), ())


def limits_of(record_class: Any) -> dict[str, Limit]:
    """The limit of each field that has one, in the order of the class."""
    return {f.name: f.metadata["limit"] for f in fields(record_class) if "limit" in f.metadata}


def is_required(record_class: Any, name: str) -> bool:
    """Whether a field must be given."""
    return next(f for f in fields(record_class) if f.name == name).default is MISSING


def problems_of(record: Any) -> Iterator[Problem]:
    """Every field of a record whose value is outside its limit; None passes where it is the default."""
    for f in fields(record):
        limit, value = f.metadata.get("limit"), getattr(record, f.name)
        if limit is None or (value is None and f.default is None):
            continue
        if not limit.accepts(value):
            yield Problem(f.name, value, limit.wanted())


def refuse_nonsense(record: Any, further: Iterable[Problem] = ()) -> None:
    """Raise `Refused` when any field is outside its limit or a further problem is given."""
    problems = [*problems_of(record)]
    wrong = {problem.field for problem in problems}
    problems += [problem for problem in further if problem.field not in wrong]
    if problems:
        raise Refused(problems)
