"""Publishing a month and taking it back: first what is told to whom, then all of it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from landscape_care.dispatch import actions
from landscape_care.dispatch.actions import PlanNotReady, SeenOtherwise
from landscape_care.dispatch.changes import Change, Sort, counts
from landscape_care.dispatch.models import MonthPlan, PlanState
from landscape_care.dispatch.publishing import Effects, effects, told_ahead
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.refusals import in_language, in_words
from landscape_care.pages.views.board import board_address, plan_of
from landscape_care.trades.limits import Refused
from landscape_care.visits.models import Visit


class WithdrawForm(forms.Form):
    """Why a month is taken back; owners read it."""

    reason = forms.CharField(label=_("Why? Owners read it."), max_length=200)


@dataclass(frozen=True)
class Line:
    """One change as a row of the page."""

    change: Change
    visit: Visit
    why: str


@office_only
@require_http_methods(["GET", "POST"])
def publish(request: SignedInRequest, depot: str, month: str, number: int) -> HttpResponse:
    """Say what publishing tells whom and takes back; then do all of it or nothing."""
    plan = plan_of(request, depot, month, number)
    today = today_in(plan.depot.time_zone)
    refusal = ""
    if request.method == "POST":
        try:
            actions.publish(plan.pk, by=request.user, today=today, seen=request.POST.get("seen", ""))
        except (PlanNotReady, SeenOtherwise, Refused) as refused:
            refusal = in_words(refused)
        else:
            messages.success(request, gettext("The month is published; calendars tell it."))
            return redirect(board_address(plan.depot, plan.month))
    page = _page(plan, effects(plan, today)) | {"refusal": refusal}
    return render(request, "dispatcher/publish.html", page, status=409 if refusal else 200)


@office_only
@require_http_methods(["GET", "POST"])
def withdraw_month(request: SignedInRequest, depot: str, month: str, number: int) -> HttpResponse:
    """Say what taking a published month back withdraws; then do all of it or nothing."""
    plan = plan_of(request, depot, month, number)
    today = today_in(plan.depot.time_zone)
    form = WithdrawForm(request.POST or None)
    if form.is_valid():
        try:
            actions.withdraw_month(plan.pk, form.cleaned_data["reason"], by=request.user, today=today)
        except (PlanNotReady, Refused) as refused:
            form.add_error(None, in_words(refused))
        else:
            messages.success(request, gettext("The month is taken back; calendars tell it."))
            return redirect(board_address(plan.depot, plan.month))
    page = {"plan": plan, "form": form, "told": told_ahead(plan, today), "place": "board"}
    page["open"] = plan.state == PlanState.PUBLISHED
    return render(request, "dispatcher/withdraw_month.html", page, status=422 if form.is_bound else 200)


def _page(plan: MonthPlan, found: Effects) -> dict[str, Any]:
    return {
        "place": "board",
        "plan": plan,
        "stale": in_words(found.refusal) if found.refusal else "",
        "seen": found.seen,
    } | told_page(found)


def told_page(found: Effects) -> dict[str, Any]:
    """What pages show of effects: the changes of what people know, and how many learn of them."""
    known = [one for one in found.changes if one.was is not None or one.visit_id in found.urgent]
    owners = {found.visits[one.visit_id].property.client_id for one in found.of_clients}
    return {
        "lines": list(lines_of(known, found)),
        "sums": counts(found.changes),
        "unchanged": found.unchanged,
        "owners": len(owners),
        "crews": found.crews,
        "letters": settings.LETTERS,
        "sorts": Sort,
    }


def lines_of(changes: Iterable[Change], found: Effects) -> Iterator[Line]:
    """Changes with the gardens they are in."""
    for change in changes:
        yield Line(change, found.visits[change.visit_id], in_language(change.why))
