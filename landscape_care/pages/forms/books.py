"""Forms of a company's own plants and climates, built from the limits of their records."""

from typing import Any

from django import forms
from django.utils import dates
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from landscape_care.almanac.refusals import OWN_PREFIX
from landscape_care.pages import words
from landscape_care.pages.forms.things import labelled, left_out, of_sort
from landscape_care.properties.records import ClimateRecord
from landscape_care.trades.limits import Limit, Refused, limits_of
from landscape_care.trades.plants import Plant

MONTHLY = tuple(name for name, limit in limits_of(ClimateRecord).items() if limit.kind == "months")
MAY_BE_EMPTY = ("eto_in",)


class EntryForm(forms.Form):
    """An entry of a book: a short name that stays, its figures, and why they change."""

    record: type[Any]

    key = forms.RegexField(
        label=_("Short name"),
        regex=r"^[a-z0-9]+(-[a-z0-9]+)*$",
        max_length=34,
        help_text=_("Small letters and hyphens; it stays for good"),
    )
    reason = forms.CharField(label=_("Why is it changed?"), max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields |= self._own_fields()
        self.fields["reason"] = self.fields.pop("reason")

    def _own_fields(self) -> dict[str, forms.Field]:
        # Twelve fields of their own stand for a year of months.
        return {
            name: self._field(name, limit)
            for name, limit in limits_of(self.record).items()
            if name != "key" and limit.kind != "months"
        }

    def _field(self, name: str, limit: Limit) -> forms.Field:
        common = labelled(self.record, name, limit)
        default = self.record.__dataclass_fields__[name].default
        if isinstance(default, str | int | float):
            common["initial"] = default
        return of_sort(limit, common, {})

    def for_new(self) -> None:
        """Ask for no reason."""
        del self.fields["reason"]

    def for_change(self) -> None:
        """The short name stays."""
        del self.fields["key"]

    def values(self) -> dict[str, Any]:
        """What was filled in, as the record takes it."""
        given = {
            name: self.cleaned_data[name]
            for name in limits_of(self.record)
            if name in self.cleaned_data and not left_out(self.record, name, self.cleaned_data[name])
        }
        if "key" in given:
            given["key"] = OWN_PREFIX + given["key"].removeprefix(OWN_PREFIX)
        return given

    def refuse(self, refused: Refused) -> None:
        """Show each problem beside its field, or with its name above."""
        for problem in refused.problems:
            message = gettext("Wanted: %(wanted)s.") % {"wanted": problem.wanted}
            field = problem.field.replace(".", "_")
            if field in self.fields:
                self.add_error(field, message)
            else:
                name = words.word(words.FIELD_NAMES, problem.field)
                self.add_error(None, f"{name} ({problem.value}): {message}")


class PlantForm(EntryForm):
    """A kind of plant of the company's own."""

    record = Plant


class ClimateForm(EntryForm):
    """A usual year of the company's own: a place, twelve months, frost dates, and where they are from."""

    record = ClimateRecord

    def _own_fields(self) -> dict[str, forms.Field]:
        found = super()._own_fields()
        for month in range(1, 13):
            for name in MONTHLY:
                label = f"{dates.MONTHS[month]}: {words.word(words.FIELD_NAMES, name)}"
                widget = forms.NumberInput({"aria-label": label, "step": "any"})
                found[f"{name}_{month}"] = forms.FloatField(
                    label=label, required=name not in MAY_BE_EMPTY, widget=widget
                )
        return found

    def plain_fields(self) -> list[forms.BoundField]:
        """The fields beside the months."""
        return [field for field in self if not field.name.startswith(MONTHLY)]

    def months(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields of each month."""
        return [
            (str(dates.MONTHS[month]), [self[f"{name}_{month}"] for name in MONTHLY])
            for month in range(1, 13)
        ]

    def headings(self) -> list[str]:
        """The names of the monthly figures with their units."""
        return [f"{words.word(words.FIELD_NAMES, name)} ({_unit(name)})" for name in MONTHLY]

    def values(self) -> dict[str, Any]:
        """The months as tuples; all empty is none."""
        monthly = {name: self._year(name) for name in MONTHLY}
        return super().values() | {name: year or None for name, year in monthly.items()}

    def _year(self, name: str) -> tuple[float, ...]:
        given = (self.cleaned_data[f"{name}_{month}"] for month in range(1, 13))
        return tuple(value for value in given if value is not None)


def filled_plant(row: Any) -> dict[str, Any]:
    """The form's values of an own plant."""
    return {name: getattr(row, name) for name in limits_of(Plant)}


def filled_climate(row: Any) -> dict[str, Any]:
    """The form's values of an own climate."""
    values = {name: getattr(row, name) for name in limits_of(ClimateRecord) if name not in MONTHLY}
    for name in MONTHLY:
        for month, value in enumerate(getattr(row, name) or (), 1):
            values[f"{name}_{month}"] = value
    return values


def _unit(name: str) -> str:
    return gettext(limits_of(ClimateRecord)[name].unit)
