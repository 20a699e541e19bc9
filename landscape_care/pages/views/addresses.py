"""Calendar addresses: made, shown once with a code to scan, chosen anew, given anew and revoked."""

import segno
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from landscape_care.calendars import actions, queries
from landscape_care.calendars.models import Address, Audience, Shows
from landscape_care.dispatch import queries as dispatch
from landscape_care.dispatch.models import Crew
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.addresses import AUDIENCES, SHOWN, ChoicesForm, IssueForm, initial_of
from landscape_care.people.models import Language
from landscape_care.properties import queries as properties
from landscape_care.properties.models import Property


@office_only
@require_http_methods(["GET", "POST"])
def addresses(request: SignedInRequest) -> HttpResponse:
    """Show who may read which calendar and who did, and make an address of any sort."""
    form = IssueForm(request.POST or None)
    if form.is_valid():
        given = form.cleaned_data
        try:
            address, token = actions.issue(
                given["audience"],
                given.get("found"),
                name=given["name"],
                language=given["language"],
                options=form.options(),
                by=request.user,
            )
        except ValueError as wrong:
            form.add_error(None, str(wrong))
        else:
            return _shown_once(request, address, token)
    live = [(address, _audience(address), queries.target_name(address)) for address in _live()]
    page = {"place": "properties", "form": form, "live": live}
    return render(request, "office/addresses.html", page, status=422 if form.errors else 200)


@office_only
@require_http_methods(["GET", "POST"])
def choose(request: SignedInRequest, number: int) -> HttpResponse:
    """Choose anew what an address shows."""
    address = get_object_or_404(queries.live_addresses(), pk=number)
    form = ChoicesForm(request.POST or None, initial=initial_of(address))
    if form.is_valid():
        try:
            actions.choose(address, form.options(), by=request.user)
        except (ValueError, actions.AlreadySilent) as wrong:
            form.add_error(None, str(wrong))
        else:
            messages.success(request, gettext("The calendar shows this from the next reading on."))
            return redirect("pages:addresses")
    page = {"place": "properties", "form": form, "address": address, "audience": _audience(address)}
    status = 422 if form.errors else 200
    return render(request, "office/address_choices.html", page, status=status)


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
def reissue(request: SignedInRequest, number: int) -> HttpResponse:
    """Give the calendar a new address and show it, this once; the old one answers no longer."""
    address = get_object_or_404(queries.live_addresses(), pk=number)
    try:
        fresh, token = actions.reissue(address, by=request.user)
    except actions.AlreadySilent:
        messages.error(request, gettext("Somebody else revoked this address a moment ago."))
        return _back(address)
    return _shown_once(request, fresh, token)


@office_only
@require_POST
def revoke(request: SignedInRequest, number: int) -> HttpResponse:
    """Let an address answer no longer."""
    address = get_object_or_404(queries.live_addresses(), pk=number)
    actions.revoke(address, by=request.user)
    messages.success(request, gettext("The address %(hint)s… answers no longer.") % {"hint": address.hint})
    return _back(address)


@require_safe
def subscribing(request: HttpRequest) -> HttpResponse:
    """Tell in general terms how calendar programs subscribe, and that they lag."""
    return render(request, "client/subscribing.html")


def _live() -> list[Address]:
    return list(queries.live_addresses())


def _audience(address: Address) -> str:
    return str(AUDIENCES[Audience(address.audience)])


def _issued(request: SignedInRequest, audience: Audience, target: Property | Crew) -> HttpResponse:
    language = request.POST.get("language", "en")
    address, token = actions.issue(
        audience,
        target,
        name=request.POST.get("name", "").strip()[:80] or str(target),
        language=language if language in Language.values else "en",
        by=request.user,
    )
    return _shown_once(request, address, token)


def _shown_once(request: SignedInRequest, address: Address, token: str) -> HttpResponse:
    page = {
        "address": address,
        "target": queries.target_name(address),
        "shown": SHOWN[Shows(address.shows)],
        "place": "properties",
        **ways_in(request, token),
    }
    if address.audience in (Audience.PROPERTY, Audience.CLIENT):
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
    return redirect("pages:addresses")
