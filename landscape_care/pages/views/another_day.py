"""The page of one visit, to which an owner's calendar entry leads: another day is asked for here.

The link is its own proof, as the address of the garden's page is: it opens one visit, and what is
asked on it moves nothing until the office decides.
"""

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone, translation
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST

from landscape_care.calendars import queries
from landscape_care.calendars.links import read_link
from landscape_care.calendars.models import Address
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.trades.limits import Refused
from landscape_care.visits import actions
from landscape_care.visits import queries as visits
from landscape_care.visits.models import Visit


class AnotherDayForm(forms.Form):
    """Which days would suit."""

    words = forms.CharField(
        label=_("Which days or hours suit you better?"),
        max_length=300,
        required=False,
        widget=forms.Textarea({"rows": 3}),
    )


@csrf_exempt  # No cookie is asked for: who knows the signed link may ask, whatever page sends it.
@require_http_methods(["GET", "HEAD", "POST"])
def visit(request: HttpRequest, link: str) -> HttpResponse:
    """Show a visit to its owner and take a wish for another day."""
    address, row = _named_by(link)
    translation.activate(address.language)
    today = queries.local_day(address, timezone.now())
    form = AnotherDayForm(request.POST if request.method == "POST" else None)
    asked, wrong = False, ""
    if form.is_bound and form.is_valid():
        try:
            actions.ask_another_day(row, form.cleaned_data["words"], today=today)
            asked = True
        except Refused:
            wrong = gettext("This visit can no longer be moved. Please call the office.")
    entries = [event for event in queries.events(address, today) if event.uid == row.uid]
    page = {
        "address": address,
        "visit": row,
        "entry": entries[0] if entries else None,
        "form": form,
        "asked": asked or visits.open_day_request(row) is not None,
        "wrong": wrong,
        "may_ask": row.state == "published" and row.day is not None and row.day >= today,
    }
    answer = render(request, "client/visit.html", page, status=422 if form.errors or wrong else 200)
    answer.headers["Referrer-Policy"] = "no-referrer"
    answer.headers["X-Robots-Tag"] = "noindex, nofollow"
    answer.headers["Cache-Control"] = "private, no-store"
    return answer


@office_only
@require_POST
def settle(request: SignedInRequest, number: int) -> HttpResponse:
    """Take a wish off the office's list."""
    wish = get_object_or_404(visits.open_day_requests(request.user), pk=number)
    actions.settle_day_request(wish, request.POST.get("answer", "").strip()[:200], by=request.user)
    messages.success(request, gettext("The wish is off the list."))
    return redirect("pages:first")


def _named_by(link: str) -> tuple[Address, Visit]:
    named = read_link(link)
    address = queries.live_address_numbered(named[0]) if named else None
    row = queries.owner_visit(address, named[1]) if named and address else None
    if address is None or row is None:
        raise Http404("There is no visit at this address.")
    return address, row
