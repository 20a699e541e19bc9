"""The search over everything."""

from django.http import HttpResponse
from django.shortcuts import render

from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.searching import found
from landscape_care.properties import queries

MOST_LETTERS = 80


@office_only
def search(request: SignedInRequest) -> HttpResponse:
    """Show what the words name, by sort."""
    words = request.GET.get("q", "").replace("\0", "").strip()[:MOST_LETTERS]
    depot = queries.visible_depots(request.user).first()
    groups = found(request.user, words, today_in(depot.time_zone if depot else "UTC"))
    template = "office/found.html" if request.headers.get("HX-Request") else "office/search.html"
    return render(request, template, {"words": words, "groups": groups, "place": "search"})
