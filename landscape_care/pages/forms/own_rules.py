"""The form of a care rule of the company's own, and the table that the catalog reads from it."""

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from landscape_care.care.catalog import OWN_PREFIX, PROPERTY, REPORTED, SKILLS
from landscape_care.care.cautions import cautions
from landscape_care.pages import words
from landscape_care.trades.kinds import KINDS

EVENT_NAMES = {
    "storm": _("Storm"),
    "owner_request": _("Request of the owner"),
    "failed_plants": _("Plants that failed"),
    "failed_lamps": _("Lamps that failed"),
    "large_refill": _("Large refill of a water feature"),
}
# Fields that go into the table under their own name, when they are filled in.
PLAIN = (
    "kind",
    "every",
    "within",
    "season",
    "event",
    "tolerance_days",
    "set_up",
    "minutes",
    "skill",
    "source",
)


class OwnRuleForm(forms.Form):
    """What for, when, how long, by whom, and the words in both languages."""

    name = forms.RegexField(
        label=_("Short name"),
        regex=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$",
        max_length=50,
        help_text=_("Small letters and hyphens; it stays for good, such as lavender-harvest"),
    )
    kind = forms.ChoiceField(label=_("For"))
    where = forms.CharField(
        label=_("Only where"),
        required=False,
        widget=forms.Textarea({"rows": 2}),
        help_text=_("A trait and its values on each line, such as role = shrub, vine"),
    )
    every = forms.IntegerField(label=_("Every so many days"), min_value=1, max_value=7305, required=False)
    within = forms.CharField(
        label=_("Only in this season"),
        max_length=120,
        required=False,
        help_text=_("An anchor or yearly days, such as growing_season or 03-01..10-31"),
    )
    season = forms.CharField(
        label=_("Once in this season"),
        max_length=120,
        required=False,
        help_text=_("Instead of days, such as perennial_cutback or mean_rises_60F..mean_rises_60F+30"),
    )
    event = forms.ChoiceField(label=_("After something that was reported"), required=False)
    tolerance_days = forms.IntegerField(
        label=_("Days early or late that are fine"), min_value=0, max_value=183, required=False
    )
    set_up = forms.IntegerField(label=_("Minutes to set up"), min_value=0, max_value=1440)
    minutes = forms.FloatField(label=_("Minutes for each unit"), min_value=0, max_value=1440, required=False)
    unit = forms.CharField(
        label=_("Unit"),
        max_length=20,
        required=False,
        help_text=_("Such as plant, ft2 or 100 ft2; empty for each thing"),
    )
    skill = forms.ChoiceField(label=_("Who"))
    people = forms.IntegerField(label=_("People"), min_value=1, max_value=12, initial=1)
    cautions = forms.MultipleChoiceField(
        label=_("Cautions"), required=False, widget=forms.CheckboxSelectMultiple
    )
    title_en = forms.CharField(label=_("Title in English"), max_length=160)
    how_en = forms.CharField(label=_("How, in English"), widget=forms.Textarea({"rows": 3}))
    title_es = forms.CharField(label=_("Title in Spanish"), max_length=160)
    how_es = forms.CharField(label=_("How, in Spanish"), widget=forms.Textarea({"rows": 3}))
    source = forms.CharField(label=_("Source"), max_length=200)
    reason = forms.CharField(label=_("Why?"), max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Fill in the choices."""
        super().__init__(*args, **kwargs)
        kinds = [(kind, words.word(words.KIND_NAMES, kind)) for kind in KINDS]
        self._choose("kind", [(PROPERTY, _("Whole property")), *kinds])
        self._choose("event", [("", "–"), *((name, EVENT_NAMES[name]) for name in REPORTED)])
        self._choose("skill", [(skill, words.word(words.SKILL_NAMES, skill)) for skill in SKILLS])
        self._choose("cautions", [(code, known.in_language("en")[0]) for code, known in cautions().items()])

    def _choose(self, name: str, choices: list[tuple[str, Any]]) -> None:
        self.fields[name].choices = choices  # type: ignore[attr-defined]

    def clean_where(self) -> dict[str, list[Any]]:
        """Read the traits; each line is a name, an equals sign and values."""
        where: dict[str, list[Any]] = {}
        for line in filter(str.strip, self.cleaned_data["where"].splitlines()):
            name, sign, values = line.partition("=")
            if not sign or not values.strip():
                raise forms.ValidationError(gettext("%(line)s: write it like role = shrub") % {"line": line})
            where[name.strip()] = [_value(value.strip()) for value in values.split(",")]
        return where

    def key(self) -> str:
        """The key of the rule."""
        return f"{OWN_PREFIX}{self.cleaned_data['name']}"

    def table(self) -> dict[str, Any]:
        """The table that the catalog reads."""
        given = self.cleaned_data
        table = {name: given[name] for name in PLAIN if given[name] not in (None, "")}
        return table | {
            "where": given["where"],
            "people": given["people"],
            "cautions": given["cautions"],
            "unit": given["unit"] or "each",
            "en": {"title": given["title_en"], "how": given["how_en"]},
            "es": {"title": given["title_es"], "how": given["how_es"]},
        }


def filled_from(key: str, table: dict[str, Any]) -> dict[str, Any]:
    """The form's values of a rule that is there."""
    values = {name: table[name] for name in (*PLAIN, "people", "cautions", "unit") if name in table}
    for language in ("en", "es"):
        for part in ("title", "how"):
            values[f"{part}_{language}"] = table[language][part]
    return values | {"name": key.removeprefix(OWN_PREFIX), "where": _lines(table.get("where", {}))}


def _value(written: str) -> bool | str:
    return {"true": True, "false": False}.get(written, written)


def _lines(where: dict[str, Any]) -> str:
    values = {name: each if isinstance(each, list) else [each] for name, each in where.items()}
    words_of = {name: ", ".join(str(value).lower() for value in each) for name, each in values.items()}
    return "\n".join(f"{name} = {written}" for name, written in words_of.items())
