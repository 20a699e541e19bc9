"""The care rules, and the company's own values for them."""

from collections.abc import Mapping
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_POST

from landscape_care.almanac.climate import Climate
from landscape_care.almanac.dates import Window
from landscape_care.care import actions
from landscape_care.care import queries as care
from landscape_care.care.catalog import OWN_PREFIX, STEMS, Rule
from landscape_care.care.generation import rule_windows, season_windows
from landscape_care.care.models import RuleAdjustment
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.properties import queries
from landscape_care.properties.books import climate_at
from landscape_care.properties.models import Property

A_YEAR = timedelta(365)
RuleLine = tuple[Rule, RuleAdjustment | None, list[tuple[date, date]]]
VALUES = ("every_days", "offset_days", "fixed", "minutes")


class AdjustmentForm(forms.Form):
    """The company's own values for one rule; an empty field leaves the rule as it is."""

    enabled = forms.TypedChoiceField(
        label=_("Is it done?"),
        choices=[("", _("as the rule says")), ("1", _("yes")), ("0", _("no, never"))],
        coerce=lambda given: given == "1",
        empty_value=None,
        required=False,
    )
    every_days = forms.IntegerField(
        label=_("Every so many days"), min_value=1, max_value=7305, required=False
    )
    offset_days = forms.IntegerField(
        label=_("Days later in the season (earlier with a minus)"),
        min_value=-90,
        max_value=90,
        required=False,
    )
    fixed = forms.RegexField(
        label=_("Own days of the year instead of the season"),
        regex=r"^\d\d-\d\d\.\.\d\d-\d\d$",
        help_text=_("Month and day of the first and the last day, such as 03-01..03-21"),
        required=False,
        empty_value=None,
    )
    minutes = forms.IntegerField(label=_("Minutes at work"), min_value=1, max_value=1440, required=False)
    reason = forms.CharField(label=_("Why?"), max_length=200)

    def for_rule(self, rule: Rule) -> None:
        """Ask only for what the rule can have."""
        if rule.every_days is None:
            del self.fields["every_days"]
        if rule.season is None:
            del self.fields["offset_days"]
        if (rule.season or rule.within) is None or ";" in (rule.season or ""):
            del self.fields["fixed"]

    def clean(self) -> dict[str, Any]:
        """An adjustment adjusts something."""
        cleaned: dict[str, Any] = super().clean() or {}
        if all(cleaned.get(name) is None for name in ("enabled", *VALUES)):
            raise forms.ValidationError(gettext("Give at least one value of your own."))
        return cleaned


@office_only
def rules(request: SignedInRequest) -> HttpResponse:
    """Every rule of the catalog, with what the company changed everywhere."""
    live = {a.rule: a for a in care.visible_adjustments(request.user).filter(property=None)}
    page = {
        "families": _families(live),
        "idle": care.idle_adjustments(request.user),
        "place": "rules",
    }
    return render(request, "office/rules.html", page)


@office_only
def property_rules(request: SignedInRequest, code: str) -> HttpResponse:
    """Every rule, with what holds on one property."""
    place = _place(request, code)
    live = {a.rule: a for a in care.visible_adjustments(request.user).filter(property=place)}
    page = {"families": _families(live, place), "property": place, "place": "properties"}
    return render(request, "office/rules.html", page)


@office_only
@require_http_methods(["GET", "POST"])
def adjust(request: SignedInRequest, rule: str, code: str | None = None) -> HttpResponse:
    """Show one rule, and give it values of the company's own, everywhere or on one property."""
    place = _place(request, code) if code else None
    found = _rule(rule)
    live = care.visible_adjustments(request.user).filter(property=place, rule=found.key).first()
    form = AdjustmentForm(request.POST or None, initial=_initial(live))
    form.for_rule(found)
    if form.is_valid() and _adjusted(form, found, place, request):
        messages.success(request, gettext("The rule has your values now; care is planned again."))
        return _back(place)
    own = found.key.startswith(OWN_PREFIX)
    page = {"rule": found, "form": form, "property": place, "live": live, "is_own": own}
    return render(request, "office/rule.html", page, status=422 if form.is_bound else 200)


@office_only
@require_POST
def end_adjustment(request: SignedInRequest, number: int) -> HttpResponse:
    """Go back to what the rule says."""
    live = get_object_or_404(care.visible_adjustments(request.user), pk=number)
    actions.end_adjustment(live, by=request.user)
    messages.success(request, gettext("The rule is as it was; care is planned again."))
    return _back(live.property)


def _adjusted(form: AdjustmentForm, rule: Rule, place: Property | None, request: SignedInRequest) -> bool:
    given = {name: form.cleaned_data.get(name) for name in ("enabled", *VALUES)}
    try:
        actions.adjust_rule(
            rule.key, property=place, by=request.user, reason=form.cleaned_data["reason"], **given
        )
    except ValueError as refused:
        form.add_error(None, str(refused))
        return False
    return True


def _initial(live: RuleAdjustment | None) -> dict[str, Any]:
    if live is None:
        return {}
    enabled = {True: "1", False: "0", None: ""}[live.enabled]
    return {"enabled": enabled, "reason": live.reason, **{name: getattr(live, name) for name in VALUES}}


def _families(
    live: Mapping[str, RuleAdjustment], place: Property | None = None
) -> list[tuple[str, list[RuleLine]]]:
    holding = care.rules_for(place) if place else {}
    rules = sorted(care.every_rule().values(), key=lambda rule: STEMS.index(rule.stem))
    grouped = groupby(rules, key=lambda rule: rule.stem)
    return [
        (stem, [(rule, live.get(rule.key), _windows(holding.get(rule.key, rule), place)) for rule in found])
        for stem, found in grouped
    ]


def _windows(rule: Rule, place: Property | None) -> list[tuple[date, date]]:
    """The days of a rule's season at a property that are not over yet, within a year."""
    if place is None or (rule.season or rule.within) is None:
        return []
    today, weather = today_in(place.time_zone), climate_at(place.climate)
    found = [window for year in _years_near(today) for window in _windows_of(rule, weather, year)]
    ahead = [window for window in found if window.closes >= today and window.opens <= today + A_YEAR]
    return [(window.opens, window.closes) for window in ahead][:2]


def _years_near(today: date) -> tuple[int, int, int]:
    return (today.year - 1, today.year, today.year + 1)


def _windows_of(rule: Rule, weather: Climate, year: int) -> list[Window]:
    if rule.season is not None:
        return [window for _name, window in rule_windows(rule, weather, year)]
    return [window for _name, window in season_windows(rule.stays_within or "", weather, year)]


def _rule(key: str) -> Rule:
    found = care.rule_named(key)
    if found is None:
        raise Http404(f"rule {key!r} is unknown")
    return found


def _place(request: SignedInRequest, code: str) -> Property:
    return get_object_or_404(queries.visible_properties(request.user), code=code)


def _back(place: Property | None) -> HttpResponse:
    return redirect("pages:property", place.code) if place else redirect("pages:rules")
