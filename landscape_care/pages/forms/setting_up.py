"""Forms of clients, depots, crews and people, built from the limits of their records."""

from collections.abc import Mapping
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.db.models import QuerySet
from django.utils import dates
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from landscape_care.care.catalog import SKILLS
from landscape_care.dispatch.models import Crew
from landscape_care.dispatch.records import CrewRecord
from landscape_care.pages import words
from landscape_care.pages.forms.things import labelled, of_sort
from landscape_care.pages.refusals import wanted
from landscape_care.people.models import Language, User
from landscape_care.properties.models import Client, Depot
from landscape_care.properties.records import ClientRecord, DepotRecord
from landscape_care.trades.limits import Refused, limits_of


class RecordForm(forms.Form):
    """The fields of one record; what exists already keeps its code."""

    record: Any

    def __init__(self, *args: Any, stands: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        limits = limits_of(self.record)
        names = [name for name in limits if not (stands and name == "code")]
        self.fields = {
            name: self.own_field(name, labelled(self.record, name, limits[name])) for name in names
        }

    def own_field(self, name: str, common: dict[str, Any]) -> forms.Field:
        """The field of one name; records with special ones say so."""
        limit = limits_of(self.record)[name]
        default = self.record.__dataclass_fields__[name].default
        if isinstance(default, int | float) and not isinstance(default, bool):
            common["initial"] = default
        return of_sort(limit, common, {})

    def values(self) -> Mapping[str, Any]:
        """What was filled in, as the record takes it."""
        return dict(self.cleaned_data)

    def refuse(self, refused: Refused) -> None:
        """Show each problem beside its field."""
        for problem in refused.problems:
            message = gettext("Wanted: %(wanted)s.") % {"wanted": wanted(problem)}
            self.add_error(problem.field if problem.field in self.fields else None, message)


class ClientForm(RecordForm):
    """An owner or manager."""

    record = ClientRecord

    def own_field(self, name: str, common: dict[str, Any]) -> forms.Field:
        """Languages by their own names."""
        if name == "language":
            return forms.ChoiceField(choices=Language.choices, **common)
        return super().own_field(name, common)


class DepotForm(RecordForm):
    """A yard."""

    record = DepotRecord

    def own_field(self, name: str, common: dict[str, Any]) -> forms.Field:
        """Time zones that exist."""
        if name == "time_zone":
            zones = sorted(zone for zone in available_timezones() if "/" in zone)
            return forms.ChoiceField(choices=[("", "–"), *((zone, zone) for zone in zones)], **common)
        return super().own_field(name, common)


class CrewForm(RecordForm):
    """A crew with its shift and skills."""

    record = CrewRecord

    def __init__(self, *args: Any, depots: QuerySet[Depot], people: QuerySet[User], **kwargs: Any) -> None:
        self.depots = depots
        super().__init__(*args, **kwargs)
        self.fields["members"] = forms.ModelMultipleChoiceField(
            people, label=_("Who drives with it"), required=False, widget=forms.CheckboxSelectMultiple
        )

    def own_field(self, name: str, common: dict[str, Any]) -> forms.Field:
        """Depots, skills and weekdays are chosen, not written."""
        match name:
            case "depot":
                return forms.ChoiceField(choices=[(one.code, one.name) for one in self.depots], **common)
            case "skills":
                choices = [(skill, words.SKILL_NAMES[skill]) for skill in SKILLS]
                return _several(choices, {**common, "help_text": ""})
            case "weekdays":
                days = [(str(day + 1), name) for day, name in dates.WEEKDAYS.items()]
                return _several(days, {**common, "required": True, "help_text": ""})
            case _:
                return super().own_field(name, common)

    def values(self) -> Mapping[str, Any]:
        """Skills with commas and weekdays as digits, as the record writes them."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "members"}
        return given | {"skills": ", ".join(given["skills"]), "weekdays": "".join(sorted(given["weekdays"]))}


def _several(choices: list[tuple[str, Any]], common: dict[str, Any]) -> forms.Field:
    return forms.MultipleChoiceField(choices=choices, widget=forms.CheckboxSelectMultiple, **common)


class PersonForm(forms.Form):
    """Who somebody is, what they do here and what language they read."""

    first_name = forms.CharField(label=_("Name"), max_length=150)
    email = forms.EmailField(label=_("E-mail"), required=False)
    role = forms.ChoiceField(label=_("Role"), choices=list(words.ROLE_NAMES.items()))
    language = forms.ChoiceField(label=_("Language"), choices=Language.choices)


class PasswordForm(forms.Form):
    """A new password, which the office hands on."""

    password = forms.CharField(
        label=_("New password"),
        max_length=128,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
        help_text=_("Twelve characters or more. Hand it on by word of mouth; nobody can read it here later."),
    )

    def clean_password(self) -> str:
        """A password that the site's rules let pass."""
        password: str = self.cleaned_data["password"]
        validate_password(password)
        return password


class NewPersonForm(PersonForm, PasswordForm):
    """Somebody who is to sign in."""

    username = forms.SlugField(label=_("Username"), max_length=150)
    field_order = ("username", "first_name", "email", "role", "language", "password")

    def __init__(self, *args: Any, people: QuerySet[User], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.people = people

    def clean_username(self) -> str:
        """A name nobody has."""
        name: str = self.cleaned_data["username"]
        if self.people.filter(username__iexact=name).exists():
            raise forms.ValidationError(_("Somebody signs in with this name already."))
        return name


def client_initial(client: Client) -> dict[str, Any]:
    """What the form shows of a client."""
    return {name: getattr(client, name) for name in limits_of(ClientRecord)}


def depot_initial(depot: Depot) -> dict[str, Any]:
    """What the form shows of a depot."""
    return {name: getattr(depot, name) for name in limits_of(DepotRecord)}


def crew_initial(crew: Crew) -> dict[str, Any]:
    """What the form shows of a crew."""
    found = {name: getattr(crew, name) for name in limits_of(CrewRecord)}
    return found | {"depot": crew.depot.code, "weekdays": list(crew.weekdays), "members": crew.members.all()}
