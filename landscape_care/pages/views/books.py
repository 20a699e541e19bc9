"""Plants and climates to choose from, and the company's own among them."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from landscape_care.almanac.climate import Climate, climates
from landscape_care.pages import usual_years
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.books import (
    ClimateForm,
    EntryForm,
    PlantForm,
    filled_climate,
    filled_plant,
)
from landscape_care.properties import book_entries, books, queries
from landscape_care.properties.models import OwnClimate, OwnPlant
from landscape_care.trades.limits import Refused
from landscape_care.trades.plants import Plant, plants

# --- Plants -----------------------------------------------------------------------------------


@office_only
@require_GET
def plant_list(request: SignedInRequest) -> HttpResponse:
    """Every plant with the source of its figures, our own first."""
    word = request.GET.get("search", "").strip()[:80]
    page = {
        "own": [row for row in queries.visible_own_plants(request.user) if _named(row, word)],
        "plants": [plant for plant in plants().values() if _named(plant, word)],
        "search": word,
        "place": "rules",
    }
    return render(request, "office/plants.html", page)


@office_only
@require_http_methods(["GET", "POST"])
def new_plant(request: SignedInRequest) -> HttpResponse:
    """Add a plant of our own."""
    form = PlantForm(request.POST or None)
    form.for_new()
    if form.is_valid() and _kept(form, lambda: book_entries.add_plant(form.values(), by=request.user)):
        messages.success(request, gettext("The plant can be chosen now."))
        return redirect("pages:plants")
    return _form_page(request, "office/plant.html", form, {})


@office_only
@require_http_methods(["GET", "POST"])
def own_plant(request: SignedInRequest, key: str) -> HttpResponse:
    """Show an own plant with where it stands, and change it."""
    row = get_object_or_404(queries.visible_own_plants(request.user), key=key)
    form = PlantForm(request.POST or None, initial=filled_plant(row))
    form.for_change()
    if form.is_valid() and _changed(form, row, request):
        messages.success(request, gettext("The plant is changed; care is planned again where it stands."))
        return redirect("pages:plants")
    return _form_page(
        request, "office/plant.html", form, {"own": row, "standing": books.plantings_of(row.key)}
    )


@office_only
@require_POST
def retire_plant(request: SignedInRequest, key: str) -> HttpResponse:
    """Offer an own plant no more."""
    row = get_object_or_404(queries.visible_own_plants(request.user), key=key)
    return _retired(request, row, "pages:own_plant", "pages:plants")


@office_only
@require_POST
def return_plant(request: SignedInRequest, key: str) -> HttpResponse:
    """Offer an own plant again."""
    row = get_object_or_404(queries.visible_own_plants(request.user), key=key)
    return _returned(request, row, "pages:plants")


# --- Climates ---------------------------------------------------------------------------------


@office_only
@require_GET
def climate_list(request: SignedInRequest) -> HttpResponse:
    """Every climate with the source of its figures, our own first."""
    own = [(row, books.record_of(row).climate) for row in queries.visible_own_climates(request.user)]
    page = {"own": own, "climates": list(climates().values()), "place": "rules"}
    return render(request, "office/climates.html", page)


@office_only
@require_http_methods(["GET", "POST"])
def new_climate(request: SignedInRequest) -> HttpResponse:
    """Add a climate of our own."""
    form = ClimateForm(request.POST or None)
    form.for_new()
    if form.is_valid() and _kept(form, lambda: book_entries.add_climate(form.values(), by=request.user)):
        messages.success(request, gettext("The climate can be chosen now. See that its seasons make sense."))
        return redirect("pages:climate", form.values()["key"])
    return _form_page(request, "office/climate_form.html", form, {})


@office_only
@require_GET
def climate(request: SignedInRequest, key: str) -> HttpResponse:
    """One climate as a picture: its months, and the windows computed from them."""
    row = queries.visible_own_climates(request.user).filter(key=key).first()
    found = _climate(key, row)
    page = {
        "climate": found,
        "own": row,
        "temperatures": usual_years.temperatures(found),
        "water": usual_years.water(found),
        "windows": usual_years.windows(found, timezone.localdate().year),
        "ticks": usual_years.ticks(),
        "gardens": books.properties_in(key),
        "place": "rules",
    }
    return render(request, "office/climate.html", page)


@office_only
@require_http_methods(["GET", "POST"])
def change_climate(request: SignedInRequest, key: str) -> HttpResponse:
    """Change an own climate."""
    row = get_object_or_404(queries.visible_own_climates(request.user), key=key)
    form = ClimateForm(request.POST or None, initial=filled_climate(row))
    form.for_change()
    if form.is_valid() and _changed(form, row, request):
        messages.success(request, gettext("The climate is changed; care is planned again in its gardens."))
        return redirect("pages:climate", key)
    return _form_page(request, "office/climate_form.html", form, {"own": row})


@office_only
@require_POST
def retire_climate(request: SignedInRequest, key: str) -> HttpResponse:
    """Offer an own climate no more."""
    row = get_object_or_404(queries.visible_own_climates(request.user), key=key)
    return _retired(request, row, "pages:climate", "pages:climates")


@office_only
@require_POST
def return_climate(request: SignedInRequest, key: str) -> HttpResponse:
    """Offer an own climate again."""
    row = get_object_or_404(queries.visible_own_climates(request.user), key=key)
    return _returned(request, row, "pages:climates")


def _climate(key: str, row: OwnClimate | None) -> Climate:
    found = books.record_of(row).climate if row else climates().get(key)
    if found is None:
        raise Http404(f"climate {key!r} is unknown")
    return found


# --- Both -------------------------------------------------------------------------------------


def _named(plant: Plant | OwnPlant, word: str) -> bool:
    names = (plant.key, plant.botanical, plant.common, plant.common_es)
    return any(word.casefold() in name.casefold() for name in names)


def _kept(form: EntryForm, write: Any) -> bool:
    try:
        write()
    except Refused as refused:
        form.refuse(refused)
        return False
    return True


def _changed(form: EntryForm, row: OwnPlant | OwnClimate, request: SignedInRequest) -> bool:
    given: dict[str, Any] = {"reason": form.cleaned_data["reason"], "by": request.user}
    if isinstance(row, OwnPlant):
        return _kept(form, lambda: book_entries.change_plant(row, form.values(), **given))
    return _kept(form, lambda: book_entries.change_climate(row, form.values(), **given))


def _retired(
    request: SignedInRequest, row: OwnPlant | OwnClimate, still_there: str, gone: str
) -> HttpResponse:
    reason = request.POST.get("reason", "")
    try:
        if isinstance(row, OwnPlant):
            book_entries.retire_plant(row, reason=reason, by=request.user)
        else:
            book_entries.retire_climate(row, reason=reason, by=request.user)
    except Refused as refused:
        messages.error(request, " ".join(problem.wanted for problem in refused.problems))
        return redirect(still_there, row.key)
    messages.success(request, gettext("It is no longer offered."))
    return redirect(gone)


def _returned(request: SignedInRequest, row: OwnPlant | OwnClimate, back: str) -> HttpResponse:
    try:
        if isinstance(row, OwnPlant):
            book_entries.offer_again(row, by=request.user)
        else:
            book_entries.offer_again(row, by=request.user)
        messages.success(request, gettext("It is offered again."))
    except Refused as refused:
        messages.error(request, " ".join(problem.wanted for problem in refused.problems))
    return redirect(back)


def _form_page(
    request: SignedInRequest, template: str, form: EntryForm, known: dict[str, Any]
) -> HttpResponse:
    page = {"form": form, "place": "rules", **known}
    return render(request, template, page, status=422 if form.is_bound else 200)
