"""Changing what is known of a property, and the agreement with its owner."""

from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from landscape_care.dispatch import actions as dispatch
from landscape_care.dispatch import queries as dispatch_queries
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.places import AgreementForm, PlaceForm, initial_of
from landscape_care.properties import actions, queries
from landscape_care.properties.models import Property
from landscape_care.trades.limits import Refused


@office_only
@require_http_methods(["GET", "POST"])
def change_place(request: SignedInRequest, code: str) -> HttpResponse:
    """Change access, water supply, gate code or the days of care."""
    place = _place(request, code)
    form = PlaceForm(request.POST or None, initial=initial_of(place))
    if form.is_valid() and _changed(form, place, request):
        messages.success(request, gettext("The place is changed; care is planned again."))
        return redirect("pages:property", code)
    return _form_page(request, place, form, gettext("Place and access"))


@office_only
@require_http_methods(["GET", "POST"])
def agree(request: SignedInRequest, code: str) -> HttpResponse:
    """Say how often somebody comes."""
    place = _place(request, code)
    crews = dispatch_queries.crews_at(place.depot)
    form = AgreementForm(request.POST or None, initial=_agreed(place), crews=crews)
    if form.is_valid():
        given = dict(form.cleaned_data)
        crew = given.pop("preferred_crew")
        given["weekdays"] = "".join(sorted(given["weekdays"]))
        with transaction.atomic():
            actions.set_agreement(place, **given, by=request.user)
            dispatch.prefer_crew(place, crew, by=request.user)
        messages.success(request, gettext("The agreement holds; care is planned again."))
        return redirect("pages:property", code)
    return _form_page(request, place, form, gettext("Agreement"))


def _changed(form: PlaceForm, place: Property, request: SignedInRequest) -> bool:
    try:
        actions.change_property(place, form.values(), reason=form.cleaned_data["reason"], by=request.user)
    except Refused as refused:
        form.refuse(refused)
        return False
    return True


def _agreed(place: Property) -> dict[str, Any]:
    agreement = getattr(place, "agreement", None)
    preferred = dispatch_queries.preferred_crew(place)
    if agreement is None:
        return {"weekdays": list("12345"), "preferred_crew": preferred}
    names = ("cadence", "stems", "least_days", "most_days")
    agreed = {name: getattr(agreement, name) for name in names}
    return agreed | {"weekdays": list(agreement.weekdays), "preferred_crew": preferred}


def _place(request: SignedInRequest, code: str) -> Property:
    return get_object_or_404(queries.visible_properties(request.user), code=code)


def _form_page(request: SignedInRequest, place: Property, form: forms.Form, title: str) -> HttpResponse:
    page = {"form": form, "property": place, "title": title, "place": "properties"}
    return render(request, "office/thing.html", page, status=422 if form.is_bound else 200)
