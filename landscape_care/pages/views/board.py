"""The month board: a depot's month by day and crew, proposed, worked out and compared."""

import re
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from landscape_care.dispatch import actions, boards, figures, queries, roads
from landscape_care.dispatch.actions import PlanNotReady
from landscape_care.dispatch.models import MonthPlan, PlanState
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.refusals import in_language, in_words
from landscape_care.properties import queries as properties
from landscape_care.properties.models import Depot
from landscape_care.trades.limits import Refused

MONTH = re.compile(r"(\d{4})-(0[1-9]|1[0-2])")
BEING_SOLVED = (PlanState.WAITING, PlanState.SOLVING)
SECONDS = 20


@office_only
def choose_board(request: SignedInRequest) -> HttpResponse:
    """Open the board of the first depot at this month, or list the depots where there are several."""
    depots = list(properties.visible_depots(request.user))
    if not depots:
        messages.info(request, gettext("There is no depot yet. Bring in records first."))
        return redirect("pages:intake")
    today = today_in(depots[0].time_zone)
    return redirect(f"{board_address(depots[0], today)}#day-{today}")


@office_only
@require_GET
def board(request: SignedInRequest, depot: str, month: str) -> HttpResponse:
    """Show a depot's month."""
    yard = depot_of(request, depot)
    return render(request, "dispatcher/board.html", _page(request, yard, month_of(month)))


@office_only
@require_POST
def propose(request: SignedInRequest, depot: str, month: str) -> HttpResponse:
    """Ask for a plan of the month; the page tells when it is there."""
    yard, first = depot_of(request, depot), month_of(month)
    seconds = request.POST.get("seconds", "")
    try:
        actions.propose(
            yard,
            first,
            by=request.user,
            today=today_in(yard.time_zone),
            seconds=int(seconds) if seconds.isdecimal() else SECONDS,
        )
    except Refused as refused:
        messages.error(request, in_words(refused))
    return redirect(board_address(yard, first))


@office_only
@require_GET
def progress(request: SignedInRequest, depot: str, month: str) -> HttpResponse:
    """Tell how far the newest plan is; once it is there the page loads again."""
    yard, first = depot_of(request, depot), month_of(month)
    newest = queries.latest_plan(yard, first)
    answer = render(request, "dispatcher/progress.html", {"newest": newest, "depot": yard, "month": first})
    if newest is None or newest.state not in BEING_SOLVED:
        answer.headers["HX-Refresh"] = "true"
    return answer


@office_only
@require_POST
def stop_solving(request: SignedInRequest, depot: str, month: str, number: int) -> HttpResponse:
    """End the work on a plan and keep the best found so far."""
    plan = plan_of(request, depot, month, number)
    actions.stop_solving(plan.pk, by=request.user)
    return redirect(board_address(plan.depot, plan.month))


@office_only
@require_POST
def withdraw_proposal(request: SignedInRequest, depot: str, month: str, number: int) -> HttpResponse:
    """Throw a proposal away."""
    plan = plan_of(request, depot, month, number)
    try:
        actions.withdraw_proposal(plan.pk, by=request.user)
    except PlanNotReady as refused:
        messages.error(request, in_words(refused))
    return redirect(board_address(plan.depot, plan.month))


# --- Steps ------------------------------------------------------------------------------------


def _page(request: SignedInRequest, yard: Depot, first: date) -> dict[str, Any]:
    today = today_in(yard.time_zone)
    found = boards.board(yard, first, today=today, week=_week(request))
    newest = queries.latest_plan(yard, first)
    return {
        "place": "board",
        "board": found,
        "depots": properties.visible_depots(request.user),
        "today": today,
        "newest": newest,
        "being_solved": newest is not None and newest.state in BEING_SOLVED,
        "compared": figures.compared(found.plan) if found.plan else None,
        "disruptions": queries.open_disruptions(yard, first),
        "before": _shifted(first, -1),
        "after": _shifted(first, 1),
    } | _roads(found.plan)


def _roads(plan: MonthPlan | None) -> dict[str, Any]:
    if plan is None:
        return {}
    word = roads.word_on(plan.summary)
    return {"road": word, "trouble": in_language(word.trouble) if word.trouble else ""}


def _week(request: SignedInRequest) -> date | None:
    try:
        return date.fromisoformat(request.GET.get("week", ""))
    except ValueError:
        return None


def depot_of(request: SignedInRequest, code: str) -> Depot:
    """The depot of an address, if the person may see it."""
    return get_object_or_404(properties.visible_depots(request.user), code=code)


def plan_of(request: SignedInRequest, depot: str, month: str, number: int) -> MonthPlan:
    """The plan of an address."""
    yard, first = depot_of(request, depot), month_of(month)
    return get_object_or_404(queries.visible_plans(request.user), depot=yard, month=first, number=number)


def month_of(written: str) -> date:
    """The month of an address."""
    found = MONTH.fullmatch(written)
    if found is None:
        raise Http404("A month is written like 2026-11.")
    return date(int(found[1]), int(found[2]), 1)


def _shifted(first: date, months: int) -> date:
    return (first + timedelta(45 if months > 0 else -15)).replace(day=1)


def board_address(yard: Depot, month: date) -> str:
    """Where the board of a month is."""
    return reverse("pages:board", args=[yard.code, f"{month:%Y-%m}"])
