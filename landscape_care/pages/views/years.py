"""All care of a property in a year, on one page that prints."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from landscape_care.care import queries as care
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.years import WIDTH, year_of
from landscape_care.properties import queries


@office_only
@require_GET
def year(request: SignedInRequest, code: str) -> HttpResponse:
    """The season chart and the list of a property for twelve months."""
    place = get_object_or_404(queries.visible_properties(request.user), code=code)
    tasks = care.visible_tasks(request.user).filter(property=place, state="open")
    page = {
        "property": place,
        "year": year_of(tasks, today_in(place.time_zone)),
        "width": WIDTH,
        "place": "properties",
    }
    return render(request, "office/year.html", page)
