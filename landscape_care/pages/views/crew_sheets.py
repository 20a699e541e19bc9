"""A crew's day to print, and as PDF, in the language that the crew reads."""

from datetime import date

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone, translation
from django.utils.translation import get_language
from django.views.decorators.http import require_GET

from landscape_care.dispatch import queries
from landscape_care.dispatch.models import Crew
from landscape_care.pages.crew_sheets import DayOnPaper, day_paper, on_paper
from landscape_care.pages.doors import SignedInRequest, signed_in

LANGUAGES = ("en", "es")


@signed_in
@require_GET
def sheet(request: SignedInRequest, code: str, day: date) -> HttpResponse:
    """The day on one page that prints."""
    crew = _crew(request, code)
    language = _language(request, crew)
    with translation.override(language):
        page = {
            "paper": _day(crew, day),
            "crew": crew,
            "day": day,
            "place": "crew",
            "LANGUAGE_CODE": language,
        }
        return render(request, "crew/sheet.html", page)


@signed_in
@require_GET
def sheet_pdf(request: SignedInRequest, code: str, day: date) -> HttpResponse:
    """The same as PDF."""
    crew = _crew(request, code)
    with translation.override(_language(request, crew)):
        content = day_paper(_day(crew, day), made_at=timezone.now())
    name = f"{crew.code}-{day}.pdf"
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"', "Cache-Control": "private, no-store"},
    )


def _crew(request: SignedInRequest, code: str) -> Crew:
    return get_object_or_404(queries.visible_crews(request.user), code=code)


def _day(crew: Crew, day: date) -> DayOnPaper:
    return on_paper(queries.crew_day(crew, day), queries.crew_route(crew, day))


def _language(request: SignedInRequest, crew: Crew) -> str:
    """The language asked for, else what most of the crew read, else the reader's."""
    asked = request.GET.get("language", "")
    if asked in LANGUAGES:
        return asked
    own = "es" if (get_language() or "en").startswith("es") else "en"
    return queries.crew_language(crew) or own
