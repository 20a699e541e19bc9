"""What a planning would change, told task by task and counted by rule, before it is done.

After a newer catalog this is the way to see what it does to a living record.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from landscape_care.care.generation import Wanted
from landscape_care.care.reconciliation import Changes, Stored

Kind = Literal["added", "moved", "changed", "renamed", "taken up again", "withdrawn", "kept as told"]
KINDS: tuple[Kind, ...] = (
    "added",
    "moved",
    "changed",
    "renamed",
    "taken up again",
    "withdrawn",
    "kept as told",
)
# What people see of a task, in the order of `Wanted.shown`, after its three days.
_NAMES = ("rule", "minutes", "people", "skill", "title", "title_es", "cautions", "details")
_LONG = ("cautions", "details")


@dataclass(frozen=True, slots=True)
class Difference:
    """One change of one task: what kind, its key, the rule it counts for, and the change in words."""

    kind: Kind
    key: str
    rule: str
    words: str


def differences(changes: Changes) -> Iterator[Difference]:
    """Every change in order of rule, kind and key; what is told and stays is among them."""
    found = [
        *(Difference("added", want.key, want.rule, _span(want.shown())) for want in changes.add),
        *(_difference(have, want) for have, want in changes.move),
        *(
            Difference("withdrawn", have.key, str(have.shown[3]), _span(have.shown))
            for have in changes.withdraw
        ),
        *(
            Difference("kept as told", have.key, want.rule, _from_to(have, want))
            for have, want in changes.elsewhere
        ),
    ]
    yield from sorted(found, key=lambda each: (each.rule, KINDS.index(each.kind), each.key))


def _difference(have: Stored, want: Wanted) -> Difference:
    kind, words = _kind(have, want), []
    if have.shown[:3] != want.shown()[:3]:
        words.append(_from_to(have, want))
    words += _other_changes(have.shown[3:], want.shown()[3:])
    return Difference(kind, want.key, want.rule, "; ".join(words) or _span(want.shown()))


def _kind(have: Stored, want: Wanted) -> Kind:
    if have.withdrawn:
        return "taken up again"
    if have.shown[3] != want.rule:
        return "renamed"
    return "moved" if have.shown[:3] != want.shown()[:3] else "changed"


def _other_changes(was: Iterable[Any], becomes: Iterable[Any]) -> Iterator[str]:
    for name, before, after in zip(_NAMES, was, becomes, strict=True):
        if before != after:
            yield f"other {name}" if name in _LONG else f"{name} {before} becomes {after}"


def _from_to(have: Stored, want: Wanted) -> str:
    return f"{_span(have.shown)} becomes {_span(want.shown())}"


def _span(shown: tuple[Any, ...]) -> str:
    opens, due, closes = (day.isoformat() if isinstance(day, date) else str(day) for day in shown[:3])
    return f"due {due} ({opens} to {closes})"


def by_rule(found: Iterable[Difference]) -> Mapping[str, Counter[str]]:
    """How many changes of each kind there are, by rule."""
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for each in found:
        counts[each.rule][each.kind] += 1
    return dict(sorted(counts.items()))


def told(counts: Mapping[str, int]) -> str:
    """Counts in words, such as 3 added, 1 withdrawn."""
    return ", ".join(f"{counts[kind]} {kind}" for kind in KINDS if counts.get(kind)) or "nothing"
