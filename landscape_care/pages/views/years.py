"""All care of a property in a year, on one page that prints, and as PDF."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from landscape_care.care import queries as care
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.year_papers import year_paper
from landscape_care.pages.years import WIDTH, Year, year_of
from landscape_care.properties import queries
from landscape_care.properties.models import Property


@office_only
@require_GET
def year(request: SignedInRequest, code: str) -> HttpResponse:
    """The season chart and the list of a property for twelve months."""
    place = _place(request, code)
    page = {"property": place, "year": _year(request, place), "width": WIDTH, "place": "properties"}
    return render(request, "office/year.html", page)


@office_only
@require_GET
def year_pdf(request: SignedInRequest, code: str) -> HttpResponse:
    """The same on paper."""
    place = _place(request, code)
    today = today_in(place.time_zone)
    content = year_paper(place, _year(request, place), today=today, made_at=timezone.now())
    name = f"{place.code}-{today:%Y-%m}.pdf"
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"', "Cache-Control": "private, no-store"},
    )


def _place(request: SignedInRequest, code: str) -> Property:
    return get_object_or_404(queries.visible_properties(request.user), code=code)


def _year(request: SignedInRequest, place: Property) -> Year:
    tasks = care.visible_tasks(request.user).filter(property=place, state="open")
    return year_of(tasks, today_in(place.time_zone))
