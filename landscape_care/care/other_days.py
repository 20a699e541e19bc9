"""Told care that planning would now do on other days: noted while planning, shown to the office."""

from collections.abc import Iterable, Mapping
from typing import Any

from landscape_care.care.catalog import by_any_name
from landscape_care.care.generation import Wanted
from landscape_care.care.models import Elsewhere, OtherDays
from landscape_care.care.reconciliation import Changes
from landscape_care.properties.models import Property


def note(changes: Mapping[Property, Changes]) -> None:
    """Make the notes of some properties say what their planning found; the same again writes nothing."""
    known = {row.task_id: row for row in OtherDays.objects.filter(task__property__in=tuple(changes))}
    found = {have.row: _values(have.told_for, want) for have, want in _elsewhere(changes.values())}
    gone = [row.pk for number, row in known.items() if found.get(number) != _as_values(row)]
    if gone:
        OtherDays.objects.filter(pk__in=gone).delete()
    kept = {number for number, row in known.items() if row.pk not in gone}
    new = [OtherDays(task_id=number, **values) for number, values in found.items() if number not in kept]
    if new:
        OtherDays.objects.bulk_create(new)


def _elsewhere(changes: Iterable[Changes]) -> Iterable[Any]:
    return (each for change in changes for each in change.elsewhere)


def _values(told_for: Any, want: Wanted) -> dict[str, Any]:
    window = want.window
    return {
        "told_for": told_for,
        "opens_on": window.opens,
        "due_on": window.due,
        "closes_on": window.closes,
        "why": _why(want).value,
    }


def _as_values(row: OtherDays) -> dict[str, Any]:
    return {name: getattr(row, name) for name in ("told_for", "opens_on", "due_on", "closes_on", "why")}


def _why(want: Wanted) -> Elsewhere:
    if "weather" in want.details:
        return Elsewhere.WEATHER
    rule = by_any_name().get(want.rule)
    # Care that a reading brings forward opens on the day of the reading.
    if rule is not None and rule.reading is not None and want.window.opens == want.window.due:
        return Elsewhere.READING
    return Elsewhere.RECORD
