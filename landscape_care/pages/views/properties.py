"""The list of properties, and the sheet of one of them."""

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import dates

from landscape_care.care import queries as care
from landscape_care.pages import season_charts
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.drawing import draw, natural
from landscape_care.properties import queries
from landscape_care.properties.books import climate_at
from landscape_care.properties.findings import findings
from landscape_care.properties.models import Photo, Property
from landscape_care.trades.garden_water import garden_water, total_of
from landscape_care.trades.kinds import STEMS, AsBuilt, Thing
from landscape_care.visits import queries as visits

A_PAGE = 100
DUE_SHOWN = 15
VISITS_SHOWN = 12
PAIRS_SHOWN = 6
A_WHILE = timedelta(14)


@office_only
def properties(request: SignedInRequest) -> HttpResponse:
    """List the properties, those whose name, code, town or client holds the searched words."""
    search = request.GET.get("q", "").strip()
    rows = _found(queries.visible_properties(request.user), search)
    leaf = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    page = "office/properties_rows.html" if request.headers.get("HX-Request") else "office/properties.html"
    return render(request, page, {"rows": leaf, "search": search, "place": "properties"})


@office_only
def sheet(request: SignedInRequest, code: str) -> HttpResponse:
    """Show one property as a plan sheet."""
    place = get_object_or_404(queries.visible_properties(request.user), code=code)
    today = today_in(place.time_zone)
    return render(request, "office/property.html", _sheet(request, place, today))


# --- What is on it ----------------------------------------------------------------------------


def _found(rows: QuerySet[Property], search: str) -> QuerySet[Property]:
    for part in search.split():
        holds = Q(name__icontains=part) | Q(code__icontains=part) | Q(town__icontains=part)
        rows = rows.filter(holds | Q(client__name__icontains=part) | Q(street__icontains=part))
    return rows


def _sheet(request: SignedInRequest, place: Property, today: date) -> dict[str, Any]:
    record = queries.as_built(place)
    standing = [thing for thing in record.things if thing.stands_on(today)]
    return {
        "place": "properties",
        "property": place,
        "today": today,
        "things": standing,
        "drawing": draw(standing, {t.tag: t.outline for t in place.things.all() if t.outline}),
        "families": _families(standing),
        "gone": [thing for thing in record.things if not thing.stands_on(today)],
        "tags": {thing.uid: thing.tag for thing in record.things},
        "findings": findings(record, climate_at(place.climate), today=today),
        "photos": place.photos.select_related("thing")[:12],
        "pairs": _before_and_after(place)[:PAIRS_SHOWN],
        **_care(request, place, today),
        **_charts(place, record, today),
        **_water(record, place, today),
    }


def _before_and_after(place: Property) -> list[tuple[Photo, Photo]]:
    """The oldest and the newest picture of each thing, where some time lies between; newest first."""
    rows = place.photos.exclude(thing=None).select_related("thing").order_by("thing_id", "taken_at", "pk")
    found = [list(photos) for _, photos in groupby(rows, key=lambda photo: photo.thing_id)]
    pairs = [
        (photos[0], photos[-1]) for photos in found if photos[-1].taken_at - photos[0].taken_at >= A_WHILE
    ]
    return sorted(pairs, key=lambda pair: pair[1].taken_at, reverse=True)


def _water(record: AsBuilt, place: Property, today: date) -> dict[str, Any]:
    zones = garden_water(record, climate_at(place.climate), today)
    months = [str(dates.MONTHS_3[month]).capitalize() for month in range(1, 13)]
    return {"water": zones, "water_total": total_of(zones) if zones else None, "months": months}


def _families(standing: Sequence[Thing]) -> list[tuple[str, str, list[Thing]]]:
    ordered = sorted(standing, key=lambda thing: (STEMS.index(thing.stem), thing.kind, natural(thing.tag)))
    grouped = groupby(ordered, key=lambda thing: thing.stem)
    return [(stem, f"things/{stem}.html", list(things)) for stem, things in grouped]


def _care(request: SignedInRequest, place: Property, today: date) -> dict[str, Any]:
    tasks = care.visible_tasks(request.user).filter(property=place)
    coming = visits.visible_visits(request.user).filter(property=place)
    return {
        "late": care.late(request.user, today, place),
        "due": tasks.filter(state="open", closes_on__gte=today).order_by("due_on", "id")[:DUE_SHOWN],
        "settled": tasks.filter(state__in=("done", "skipped")).order_by("-settled_on", "-id")[:15],
        "next_visit": coming.filter(state="published", day__gte=today).order_by("day").first(),
        "visits": coming.filter(closes_on__gte=today).exclude(state="withdrawn")[:VISITS_SHOWN],
        "addresses": place.addresses.filter(revoked_at=None),
        "adjustments": place.rule_adjustments.filter(ended_at=None),
    }


def _charts(place: Property, record: AsBuilt, today: date) -> dict[str, Any]:
    weather = climate_at(place.climate)
    return {
        "labour": season_charts.labour(place.care_tasks.exclude(state="withdrawn"), today),
        "run_times": season_charts.run_times(record, weather, today),
        "timers": season_charts.timers(record, today),
    }
