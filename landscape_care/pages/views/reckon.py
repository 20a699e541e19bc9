"""Figures for numbers in hand: each with its formula and source, so that it can be checked."""

from collections.abc import Mapping

from django import forms
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.translation import get_language
from django.views.decorators.http import require_safe

from landscape_care.pages.doors import SignedInRequest, signed_in
from landscape_care.trades import reckoning
from landscape_care.trades.limits import Refused
from landscape_care.trades.reckoning import Answer, Input, Reckoning, Wrong


class InputsForm(forms.Form):
    """The inputs of a reckoning as typed; the reckoning itself says what is wrong with them."""

    def for_reckoning(self, asked: Reckoning, language: str) -> None:
        """Ask for each input by its own name."""
        for each in asked.inputs:
            self.fields[each.name] = _field(each, language)

    def refuse(self, refused: Refused, language: str) -> None:
        """Put each problem to its input."""
        for problem in refused.problems:
            own = language == "es" and isinstance(problem, Wrong) and problem.wanted_es
            self.add_error(problem.field if problem.field in self.fields else None, own or problem.wanted)


@signed_in
@require_safe
def figures(request: SignedInRequest) -> HttpResponse:
    """Every reckoning, craft by craft."""
    own = _language() == "es"
    crafts = [(reckoning.CRAFTS[craft][own], found) for craft, found in reckoning.by_craft()]
    return render(request, "office/reckonings.html", {"crafts": crafts, "place": "reckon"})


@signed_in
@require_safe
def figure(request: SignedInRequest, name: str) -> HttpResponse:
    """One reckoning with its example, or with the numbers given in the address."""
    asked = reckoning.reckonings().get(name)
    if asked is None:
        raise Http404
    language = _language()
    form = InputsForm(
        request.GET or None, initial={name: reckoning.typed(value) for name, value in asked.example.items()}
    )
    form.for_reckoning(asked, language)
    found = _answered(asked, form, language) if form.is_bound else reckoning.answer(asked, asked.example)
    page = {
        "reckoning": asked,
        "form": form,
        "told": reckoning.in_words(found, language) if found else None,
        "place": "reckon",
    }
    return render(request, "office/reckoning.html", page, status=200 if found else 422)


def _answered(asked: Reckoning, form: InputsForm, language: str) -> Answer | None:
    if not form.is_valid():
        return None
    try:
        return reckoning.answer(asked, form.cleaned_data)
    except Refused as refused:
        form.refuse(refused, language)
        return None


def _field(each: Input, language: str) -> forms.Field:
    label = each.label_es if language == "es" else each.label_en
    label = f"{label} ({each.unit})" if each.unit else label
    if each.kind == "flag":
        return forms.BooleanField(label=label, required=False)
    usual = "" if each.is_required or each.default is None else reckoning.typed(each.default)
    return forms.CharField(
        label=label,
        required=each.is_required,
        widget=_widget(each),
        help_text=_help(each, usual, language),
        max_length=2000,
    )


def _help(each: Input, usual: str, language: str) -> str:
    words = [_bounds(each)] if each.low is not None else []
    if usual:
        words.append(f"si queda vacío: {usual}" if language == "es" else f"when left empty: {usual}")
    return "; ".join(words)


def _bounds(each: Input) -> str:
    if each.high is None:
        return f"> {each.low:g}" if each.is_open else f"≥ {each.low:g}"
    return f"{each.low:g} – {each.high:g}"


def _widget(each: Input) -> forms.Widget:
    if each.choices:
        empty = [] if each.is_required else [("", "–")]
        return forms.Select(choices=[*empty, *((word, word) for word in each.choices)])
    if each.kind in ("number", "whole"):
        return forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"})
    attributes: Mapping[str, str] = {"day": "date", "clock": "time"}
    return forms.TextInput(attrs={"type": attributes.get(each.kind, "text")})


def _language() -> str:
    return "es" if (get_language() or "en").startswith("es") else "en"
