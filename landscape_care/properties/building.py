"""Making a checked record out of given values, with the wrong ones named."""

from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any, TypeVar

from landscape_care.trades.limits import Limit, Problem, Refused, is_required, limits_of

R = TypeVar("R")


def build(record_class: type[R], values: Mapping[str, Any]) -> R:
    """A record of a class; `Refused` names values that are wrong, missing or unknown to the class.

    Single values are looked at first, so that the class may compare them with each other.
    """
    problems = [
        *_unknown(record_class, values),
        *_missing(record_class, values),
        *_wrong(record_class, values),
    ]
    if problems:
        raise Refused(problems)
    return record_class(**values)


def _unknown(record_class: Any, values: Mapping[str, Any]) -> Iterator[Problem]:
    limits = limits_of(record_class)
    for name in values.keys() - limits.keys():
        yield Problem(name, values[name], "no such field; known are " + ", ".join(limits))


def _missing(record_class: Any, values: Mapping[str, Any]) -> Iterator[Problem]:
    for name, limit in limits_of(record_class).items():
        if name not in values and is_required(record_class, name):
            yield Problem(name, None, limit.wanted())


def _wrong(record_class: Any, values: Mapping[str, Any]) -> Iterator[Problem]:
    for f in fields(record_class):
        limit = f.metadata.get("limit")
        if limit is None or f.name not in values or (values[f.name] is None and f.default is None):
            continue
        if not _accepts(limit, values[f.name]):
            yield Problem(f.name, values[f.name], limit.wanted())


def _accepts(limit: Limit, value: object) -> bool:
    try:
        return limit.accepts(value)
    except TypeError:  # such as a list where a word is wanted
        return False
