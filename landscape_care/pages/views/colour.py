"""The order list of seasonal colour."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from landscape_care.care import colour_book
from landscape_care.care.colour_orders import LONGEST_LEAD_DAYS, USUAL_LEAD_DAYS, lead_days_of
from landscape_care.pages.doors import SignedInRequest, office_only


@office_only
@require_GET
def colour(request: SignedInRequest) -> HttpResponse:
    """What to order by when, by kind, light and bed."""
    try:
        lead_days = lead_days_of(request.GET.get("lead", ""))
    except ValueError as nonsense:
        messages.error(request, str(nonsense))
        lead_days = USUAL_LEAD_DAYS
    page = {
        "orders": colour_book.orders(request.user, timezone.localdate(), lead_days=lead_days),
        "lead_days": lead_days,
        "longest": LONGEST_LEAD_DAYS,
        "today": timezone.localdate(),
        "place": "rules",
    }
    return render(request, "office/colour.html", page)
