"""Calendar addresses: made, shown once with a code to scan, and revoked."""

import segno
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from landscape_care.calendars import actions, queries
from landscape_care.calendars.models import Address, Audience
from landscape_care.dispatch import queries as dispatch
from landscape_care.dispatch.models import Crew
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.people.models import Language
from landscape_care.properties import queries as properties
from landscape_care.properties.models import Property


@office_only
@require_POST
def issue(request: SignedInRequest, code: str) -> HttpResponse:
    """Make an address of a property's calendar and show it, this once."""
    place = get_object_or_404(properties.visible_properties(request.user), code=code)
    return _issued(request, Audience.PROPERTY, place)


@office_only
@require_POST
def issue_for_crew(request: SignedInRequest, code: str) -> HttpResponse:
    """Make an address of a crew's calendar and show it, this once."""
    crew = get_object_or_404(dispatch.visible_crews(request.user), code=code)
    return _issued(request, Audience.CREW, crew)


@office_only
@require_POST
def revoke(request: SignedInRequest, number: int) -> HttpResponse:
    """Let an address answer no longer."""
    address = get_object_or_404(queries.live_addresses(), pk=number)
    actions.revoke(address, by=request.user)
    messages.success(request, gettext("The address %(hint)s… answers no longer.") % {"hint": address.hint})
    return _back(address)


def _issued(request: SignedInRequest, audience: Audience, target: Property | Crew) -> HttpResponse:
    language = request.POST.get("language", "en")
    address, token = actions.issue(
        audience,
        target,
        name=request.POST.get("name", "").strip()[:80] or str(target),
        language=language if language in Language.values else "en",
        by=request.user,
    )
    page = {"address": address, "target": target, "place": "properties", **ways_in(request, token)}
    if audience == Audience.PROPERTY:
        page["garden"] = request.build_absolute_uri(f"/garden/{token}/")
    return render(request, "office/address.html", page)


def ways_in(request: HttpRequest, token: str) -> dict[str, str]:
    """The calendar address as a link, as text to copy, and as a code to scan."""
    calendar = request.build_absolute_uri(f"/calendars/{token}.ics")
    subscribe = "webcal" + calendar.removeprefix("https").removeprefix("http")
    # The code is drawn by us from our own address; nothing of it was typed by anybody.
    code = segno.make(calendar, error="m").svg_inline(scale=4, border=2, omitsize=True)
    return {"calendar": calendar, "subscribe": subscribe, "code": mark_safe(code)}  # noqa: S308


def _back(address: Address) -> HttpResponse:
    if address.property:
        return redirect("pages:property", address.property.code)
    return redirect("pages:crews")
