"""Forms of installed things, built from the limits that the record itself is checked with."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from landscape_care.pages import words
from landscape_care.trades.kinds import KINDS, Thing
from landscape_care.trades.limits import Limit, Refused, is_required, limits_of

LONGEST_LINE = 200
Neighbours = Mapping[str, list[tuple[int, str]]]
"""For each kind, the number and the name of what stands on the property already."""


class Day(forms.DateInput):
    """A day picker; it always speaks ISO to the browser."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class Clock(forms.TimeInput):
    """A clock time picker."""

    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M")


class ThingForm(forms.Form):
    """The fields of one kind; `use` fills in what may be chosen."""

    reason = forms.CharField(label=_("Why is it changed?"), max_length=200, required=False)

    kind: type[Thing]

    def values(self) -> dict[str, Any]:
        """What was filled in, as the record takes it; an empty field is left to the record's default."""
        limits = limits_of(self.kind)
        cleaned = {name: _as_recorded(limits[name], self.cleaned_data.get(name)) for name in limits}
        return {name: value for name, value in cleaned.items() if not left_out(self.kind, name, value)}

    def refuse(self, refused: Refused) -> None:
        """Show each problem of the record beside its field."""
        for problem in refused.problems:
            message = gettext("Wanted: %(wanted)s.") % {"wanted": problem.wanted}
            self.add_error(problem.field if problem.field in self.fields else None, message)


def thing_form(kind: str, neighbours: Neighbours) -> type[ThingForm]:
    """Make the form class of one kind on one property."""
    record = KINDS[kind]
    fields = {name: _field(record, name, limit, neighbours) for name, limit in limits_of(record).items()}
    made: type[ThingForm] = type("OneThingForm", (ThingForm,), {**fields, "kind": record})
    last = {"note": fields.pop("note"), "reason": made.base_fields["reason"]}
    made.base_fields = {**fields, **last}
    return made


def initial_of(thing: Any) -> dict[str, Any]:
    """What the form shows of a thing that stands already."""
    found = {name: getattr(thing, name) for name in limits_of(KINDS[thing.kind])}
    return {name: value() if callable(value) else value for name, value in found.items()}


def _field(record: type[Thing], name: str, limit: Limit, neighbours: Neighbours) -> forms.Field:
    common = labelled(record, name, limit)
    default = next(field.default for field in record.__dataclass_fields__.values() if field.name == name)
    if isinstance(default, str | int | float) and name != "tag":
        common["initial"] = default
    if name in ("tag", "installed_on"):
        common["required"] = True
    return of_sort(limit, common, neighbours)


def labelled(record: Any, name: str, limit: Limit) -> dict[str, Any]:
    """What every form field of a record has: its name and unit, help, whether it must be given."""
    return {
        "label": _label(name, limit.unit),
        "required": is_required(record, name),
        "help_text": gettext(limit.help) if limit.help else "",
    }


def _label(name: str, unit: str) -> str:
    """Name and unit; a count needs no unit beside its own name."""
    plain = unit.strip("()")
    counted = plain in ("", "stations", "emitters", "plants")
    label = words.word(words.FIELD_NAMES, name)
    return label if counted else f"{label} ({gettext(plain)})"


def of_sort(limit: Limit, common: dict[str, Any], neighbours: Neighbours) -> forms.Field:
    """The form field that suits the sort of a value."""
    if limit.kind in ("number", "whole"):
        return _number(limit, common)
    if limit.kind in ("reference", "many"):
        return _neighbour(limit, common, neighbours.get(limit.refers_to, []))
    match limit.kind:
        case "choice":
            named = [(choice, words.word(words.CHOICE_NAMES, choice)) for choice in limit.choices]
            made: forms.Field = forms.ChoiceField(choices=named, **common)
        case "flag":
            made = forms.BooleanField(**{**common, "required": False})
        case "day":
            made = forms.DateField(widget=Day(), **common)
        case "clock":
            made = forms.TimeField(widget=Clock(), **common)
        case _:
            made = _text(int(limit.high or 0), common)
    return made


def _text(length: int, common: dict[str, Any]) -> forms.Field:
    if length <= LONGEST_LINE:
        return forms.CharField(max_length=length, **common)
    return forms.CharField(max_length=length, widget=forms.Textarea({"rows": 3}), **common)


def _number(limit: Limit, common: dict[str, Any]) -> forms.Field:
    if limit.kind == "number":
        return forms.FloatField(min_value=limit.low, max_value=limit.high, **common)
    low, high = (None if bound is None else int(bound) for bound in (limit.low, limit.high))
    return forms.IntegerField(min_value=low, max_value=high, **common)


def _neighbour(limit: Limit, common: dict[str, Any], standing: list[tuple[int, str]]) -> forms.Field:
    if limit.kind == "reference":
        return forms.TypedChoiceField(choices=[("", "–"), *standing], coerce=int, empty_value=None, **common)
    common = {**common, "required": False, "widget": forms.CheckboxSelectMultiple}
    return forms.TypedMultipleChoiceField(choices=standing, coerce=int, **common)


def _as_recorded(limit: Limit, value: Any) -> Any:
    return tuple(value or ()) if limit.kind == "many" else value


def left_out(record: Any, name: str, value: Any) -> bool:
    """Whether an empty field is left to the record's default."""
    return value in (None, "") and record.__dataclass_fields__[name].default not in (None, "")
