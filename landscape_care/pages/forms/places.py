"""Forms of a property and its agreement, built from the limits of their records."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import dates
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from landscape_care.dispatch.models import Crew
from landscape_care.pages import words
from landscape_care.pages.forms.things import labelled, of_sort
from landscape_care.properties.books import climate_book
from landscape_care.properties.models import Property
from landscape_care.properties.records import KNOWN_STEMS, PropertyRecord
from landscape_care.trades.limits import Limit, Refused, limits_of

# Code, client and depot name the property in files and addresses; they stay.
NAMES = tuple(name for name in limits_of(PropertyRecord) if name not in ("code", "client", "depot"))


class PlaceForm(forms.Form):
    """What is known of a place: where, when and how to get in, water supply, days of care."""

    reason = forms.CharField(label=_("Why is it changed?"), max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        limits = limits_of(PropertyRecord)
        own = {
            name: of_sort(limits[name], labelled(PropertyRecord, name, limits[name]), {}) for name in NAMES
        }
        own["access_note"].widget = forms.Textarea({"rows": 3})
        own["climate"] = _climate_field(limits["climate"], self.initial.get("climate", ""))
        self.fields = {**own, **self.fields}

    def values(self) -> dict[str, Any]:
        """What was changed."""
        return {name: self.cleaned_data[name] for name in NAMES if name in self.changed_data}

    def refuse(self, refused: Refused) -> None:
        """Show each problem beside its field."""
        for problem in refused.problems:
            message = gettext("Wanted: %(wanted)s.") % {"wanted": problem.wanted}
            self.add_error(problem.field if problem.field in self.fields else None, message)


def _climate_field(limit: Limit, now: str) -> forms.Field:
    """The climates that are offered, and the one that holds."""
    known = [(each.key, each.name) for each in climate_book(keep=[now])]
    common = labelled(PropertyRecord, "climate", limit)
    return forms.ChoiceField(choices=[("", gettext("the nearest")), *known], **common)


def initial_of(place: Property) -> dict[str, Any]:
    """What the form shows of a place."""
    return {name: getattr(place, name) for name in NAMES}


class AgreementForm(forms.Form):
    """How often, on which days and for which kinds of care somebody comes."""

    cadence = forms.ChoiceField(label=_("How often"), choices=list(words.CADENCE_NAMES.items()))
    weekdays = forms.MultipleChoiceField(
        label=_("Allowed days"),
        choices=[(str(day + 1), name) for day, name in dates.WEEKDAYS.items()],
        widget=forms.CheckboxSelectMultiple,
    )
    stems = forms.MultipleChoiceField(
        label=_("Kinds of care; none means all"),
        choices=[(stem, words.STEM_NAMES[stem]) for stem in KNOWN_STEMS],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    least_days = forms.IntegerField(
        label=_("At least so many days between two visits"), min_value=1, max_value=366, required=False
    )
    most_days = forms.IntegerField(
        label=_("At most so many days between two visits"), min_value=1, max_value=366, required=False
    )
    preferred_crew: "forms.ModelChoiceField[Crew]" = forms.ModelChoiceField(
        label=_("Preferred crew"), queryset=None, required=False, empty_label=_("any crew")
    )

    def __init__(self, *args: Any, crews: QuerySet[Crew], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["preferred_crew"].queryset = crews  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Days between visits stand in their order."""
        given = super().clean() or {}
        least, most = given.get("least_days"), given.get("most_days")
        if least and most and most < least:
            message = gettext("Wanted: %(wanted)s.") % {"wanted": gettext("%d or more") % least}
            self.add_error("most_days", message)
        return given
