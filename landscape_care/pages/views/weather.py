"""The weather the company keeps: stations with their days, and what they ask of a property's controller."""

from datetime import timedelta

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from landscape_care.care import queries as care
from landscape_care.care import weather_book, weather_intake
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.properties import queries
from landscape_care.properties.books import climate_at, climate_book

LARGEST_FILE = 2_000_000
SHOWN_PROBLEMS = 50


class StationForm(forms.Form):
    """Where a station stands."""

    code = forms.SlugField(label=_("Code"), max_length=40)
    name = forms.CharField(label=_("Name"), max_length=120)
    latitude_deg = forms.FloatField(label=_("Latitude"), min_value=-90, max_value=90)
    longitude_deg = forms.FloatField(label=_("Longitude"), min_value=-180, max_value=180)
    forecast_url = forms.URLField(
        label=_("Address of the forecast"),
        required=False,
        assume_scheme="https",
        help_text=_("Of the U.S. National Weather Service; empty asks for none"),
    )
    climate = forms.ChoiceField(
        label=_("Climate"), choices=lambda: [(place.key, place.name) for place in climate_book()]
    )


@office_only
@require_http_methods(["GET", "POST"])
def stations(request: SignedInRequest) -> HttpResponse:
    """The stations, and one more."""
    form = StationForm(request.POST or None)
    if form.is_valid():
        try:
            weather_intake.add_station(form.cleaned_data, by=request.user)
            return redirect("pages:weather")
        except ValueError as refused:
            form.add_error(None, str(refused))
    page = {
        "form": form,
        "stations": weather_book.stations_with_reach(request.user),
        "place": "rules",
    }
    return render(request, "office/weather.html", page, status=422 if form.is_bound else 200)


@office_only
@require_POST
def set_forecast(request: SignedInRequest, code: str) -> HttpResponse:
    """Ask for the forecast of a station at an address, or, without one, no more."""
    station = get_object_or_404(weather_book.visible_stations(request.user), code=code)
    try:
        url = request.POST.get("forecast_url", "").strip()[:200]
        weather_intake.set_forecast_address(station, url, by=request.user)
        messages.success(request, gettext("Kept."))
    except ValueError as refused:
        messages.error(request, str(refused))
    return redirect("pages:weather")


@office_only
@require_POST
def take_observations(request: SignedInRequest, code: str) -> HttpResponse:
    """Take in the days of a file."""
    station = get_object_or_404(weather_book.visible_stations(request.user), code=code)
    text, wrong = _text(request)
    if wrong:
        messages.error(request, wrong)
        return redirect("pages:weather")
    today = today_in(climate_at(station.climate).time_zone)
    taken = weather_intake.take_observations(station, text, today=today, by=request.user)
    said = {"added": taken.added, "changed": taken.changed}
    messages.success(request, gettext("%(added)d days added, %(changed)d changed.") % said)
    page = {
        "station": station,
        "problems": taken.told.problems[:SHOWN_PROBLEMS],
        "more_problems": max(0, len(taken.told.problems) - SHOWN_PROBLEMS),
        "missing": taken.told.missing,
        "place": "rules",
    }
    return render(request, "office/weather_taken.html", page)


@office_only
@require_GET
def property_weather(request: SignedInRequest, code: str) -> HttpResponse:
    """The weather behind a property, and the seasonal adjust of its zones for the coming fortnight."""
    place = get_object_or_404(queries.visible_properties(request.user), code=code)
    today, station = today_in(place.time_zone), weather_book.station_of(place)
    first = today - timedelta(14)
    days = weather_book.observed(station, first, today) if station else {}
    page = {
        "property": place,
        "station": station,
        "fortnight": weather_book.fortnight(place, today),
        "ahead": weather_book.ahead_from(station, today) if station else [],
        "elsewhere": [row for row in care.elsewhere(request.user, today) if row.task.property_id == place.pk],
        "days": [days[day] for day in sorted(days, reverse=True)],
        "until": today + timedelta(14),
        "place": "properties",
    }
    return render(request, "office/property_weather.html", page)


def _text(request: SignedInRequest) -> tuple[str, str]:
    """The text of the file that was sent, or why there is none."""
    file = request.FILES.get("file")
    if file is None or file.size is None:
        return "", gettext("Choose a file.")
    if file.size > LARGEST_FILE:
        return "", gettext("The file is larger than 2 MB.")
    try:
        return file.read().decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        return "", gettext("The file is not text in UTF-8.")
