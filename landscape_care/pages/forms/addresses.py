"""Forms of calendar addresses: whom they are for, and what they show."""

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from landscape_care.calendars.models import Address, Audience, Shows
from landscape_care.calendars.options import (
    LONGEST_AHEAD_DAYS,
    LONGEST_ALARM_MINUTES,
    LONGEST_PAST_DAYS,
    Options,
)
from landscape_care.calendars.queries import target
from landscape_care.care.catalog import STEMS
from landscape_care.pages import words
from landscape_care.people.models import Language

AUDIENCES = {
    Audience.PROPERTY: _("An owner, for one property"),
    Audience.CLIENT: _("A client, for all their properties"),
    Audience.CREW: _("A crew"),
    Audience.DEPOT: _("The office, for one depot"),
    Audience.COMPANY: _("The office, for the company"),
}
SHOWN = {
    Shows.ALL: _("Visits and care of the season"),
    Shows.VISITS: _("Visits alone"),
    Shows.SEASONS: _("Care of the season alone"),
    Shows.WINDOWS: _("Every care window, as whole days"),
    Shows.TODOS: _("Every care window, as a list to do"),
}


class ChoicesForm(forms.Form):
    """What a calendar shows, how far it reaches, and whether an alarm sounds."""

    shows = forms.ChoiceField(label=_("What it shows"), choices=list(SHOWN.items()), initial="all")
    stems = forms.MultipleChoiceField(
        label=_("Kinds of care; none means all"),
        choices=[(stem, words.STEM_NAMES.get(stem, stem)) for stem in STEMS],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    past_days = forms.IntegerField(
        label=_("Days back"), required=False, min_value=0, max_value=LONGEST_PAST_DAYS
    )
    ahead_days = forms.IntegerField(
        label=_("Days ahead"), required=False, min_value=1, max_value=LONGEST_AHEAD_DAYS
    )
    alarm_minutes = forms.IntegerField(
        label=_("Alarm, minutes before a visit"),
        required=False,
        min_value=0,
        max_value=LONGEST_ALARM_MINUTES,
        help_text=_("Many calendar programs leave out alarms of calendars they subscribe to."),
    )

    def options(self) -> Options:
        """What was chosen."""
        given = {name: self.cleaned_data[name] for name in ("past_days", "ahead_days", "alarm_minutes")}
        return Options(shows=self.cleaned_data["shows"], stems=tuple(self.cleaned_data["stems"]), **given)


class IssueForm(ChoicesForm):
    """A new address."""

    audience = forms.ChoiceField(label=_("For whom?"), choices=list(AUDIENCES.items()))
    target = forms.SlugField(
        label=_("Code of the property, client, crew or depot"), max_length=40, required=False
    )
    name = forms.CharField(label=_("Who gets it, on what"), max_length=80)
    language = forms.ChoiceField(label=_("Language"), choices=Language.choices)
    field_order = ("audience", "target", "name", "language")

    def clean(self) -> dict[str, Any]:
        """Find what the code names."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        audience, code = given.get("audience", ""), given.get("target", "")
        if audience and audience != Audience.COMPANY:
            found = target(audience, code) if code else None
            if found is None:
                self.add_error("target", gettext("Wanted: the code of one that exists."))
            given["found"] = found
        return given


def initial_of(address: Address) -> dict[str, Any]:
    """What the form shows of an address."""
    return {name: getattr(address, name) for name in ChoicesForm.base_fields}
