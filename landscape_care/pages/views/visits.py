"""Visits that the office takes back."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.trades.limits import Refused
from landscape_care.visits import actions, queries


@office_only
@require_POST
def withdraw(request: SignedInRequest, number: int) -> HttpResponse:
    """Take back a visit with the reason; calendars tell it, its open care is planned again."""
    visit = get_object_or_404(queries.visible_visits(request.user), pk=number)
    try:
        actions.withdraw(visit, request.POST.get("reason", ""), by=request.user)
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, gettext("Wanted: %(wanted)s.") % {"wanted": problem.wanted})
    else:
        messages.success(request, gettext("The visit is withdrawn; calendars tell it."))
    return redirect("pages:property", visit.property.code)
