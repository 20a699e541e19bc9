"""The month board: a depot's month by day and crew, proposed, changed by hand and published."""

import re
from datetime import date, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from landscape_care.dispatch import actions, boards, queries
from landscape_care.dispatch.actions import PlanNotReady, StopChanged
from landscape_care.dispatch.models import Crew, PlanState, Stop
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.things import Day
from landscape_care.properties import queries as properties
from landscape_care.properties.models import Depot
from landscape_care.trades.limits import Refused

MONTH = re.compile(r"(\d{4})-(0[1-9]|1[0-2])")
BEING_SOLVED = (PlanState.WAITING, PlanState.SOLVING)
SECONDS = 20


class MoveForm(forms.Form):
    """Another day or crew for a stop, as somebody saw it."""

    day = forms.DateField(label=_("Day"), widget=Day())
    crew = forms.TypedChoiceField(label=_("Crew"), coerce=int)
    version = forms.IntegerField(widget=forms.HiddenInput())

    def __init__(self, *args: Any, stop: Stop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        crews = stop.crew.depot.crews.filter(active=True)
        self.fields["crew"].choices = [(crew.pk, crew.name) for crew in crews]  # type: ignore[attr-defined]


@office_only
def choose_board(request: SignedInRequest) -> HttpResponse:
    """Open the board of the first depot at this month, or list the depots where there are several."""
    depots = list(properties.visible_depots(request.user))
    if not depots:
        messages.info(request, gettext("There is no depot yet. Bring in records first."))
        return redirect("pages:intake")
    today = today_in(depots[0].time_zone)
    return redirect(f"{_address(depots[0], today)}#day-{today}")


@office_only
@require_GET
def board(request: SignedInRequest, depot: str, month: str) -> HttpResponse:
    """Show a depot's month."""
    yard = _depot(request, depot)
    return render(request, "dispatcher/board.html", _page(request, yard, _month(month)))


@office_only
@require_POST
def propose(request: SignedInRequest, depot: str, month: str) -> HttpResponse:
    """Ask for a plan of the month; the page tells when it is there."""
    yard, first = _depot(request, depot), _month(month)
    try:
        actions.propose(yard, first, by=request.user, today=today_in(yard.time_zone), seconds=SECONDS)
    except Refused as refused:
        messages.error(request, _in_words(refused))
    return redirect(_address(yard, first))


@office_only
@require_GET
def progress(request: SignedInRequest, depot: str, month: str) -> HttpResponse:
    """Tell how far the newest plan is; once it is there the page loads again."""
    yard, first = _depot(request, depot), _month(month)
    newest = queries.latest_plan(yard, first)
    answer = render(request, "dispatcher/progress.html", {"newest": newest, "depot": yard, "month": first})
    if newest is None or newest.state not in BEING_SOLVED:
        answer.headers["HX-Refresh"] = "true"
    return answer


@office_only
@require_POST
def publish(request: SignedInRequest, depot: str, month: str, number: int) -> HttpResponse:
    """Make a proposed plan the one that holds, and tell people."""
    yard, first = _depot(request, depot), _month(month)
    plan = get_object_or_404(queries.visible_plans(request.user), depot=yard, month=first, number=number)
    try:
        actions.publish(plan.pk, by=request.user, today=today_in(yard.time_zone))
    except (PlanNotReady, Refused) as refused:
        messages.error(request, _in_words(refused))
    else:
        messages.success(request, gettext("The month is published; calendars tell it."))
    return redirect(_address(yard, first))


@office_only
@require_http_methods(["GET", "POST"])
def move(request: SignedInRequest, number: int) -> HttpResponse:
    """Put a stop on another day or crew, by a form that needs no scripts."""
    stop = get_object_or_404(queries.visible_stops(request.user), pk=number)
    initial = {"day": stop.day, "crew": stop.crew_id, "version": stop.version}
    form = MoveForm(request.POST or None, initial=initial, stop=stop)
    if form.is_valid() and _moved(form, stop, request):
        to = {"name": stop.visit.property.name, "day": form.cleaned_data["day"].isoformat()}
        messages.success(request, gettext("%(name)s is on %(day)s now.") % to)
        return redirect(f"{_address(stop.plan.depot, stop.plan.month)}#stop-{number}")
    in_dialog = request.method == "GET" and request.headers.get("HX-Request")
    back = "" if in_dialog else _address(stop.plan.depot, stop.plan.month)
    page = {"stop": stop, "form": form, "board": back, "place": "board"}
    template = "dispatcher/move_form.html" if in_dialog else "dispatcher/move.html"
    return render(request, template, page, status=422 if form.is_bound else 200)


@office_only
@require_POST
def hold(request: SignedInRequest, number: int) -> HttpResponse:
    """Keep a stop where it is when the month is planned again."""
    return _held(request, number, actions.hold_stop)


@office_only
@require_POST
def release(request: SignedInRequest, number: int) -> HttpResponse:
    """Let the next plan move a stop."""
    return _held(request, number, actions.release_stop)


# --- Steps ------------------------------------------------------------------------------------


def _page(request: SignedInRequest, yard: Depot, first: date) -> dict[str, Any]:
    found = boards.board(yard, first, today=today_in(yard.time_zone))
    return {
        "place": "board",
        "board": found,
        "depots": properties.visible_depots(request.user),
        "today": today_in(yard.time_zone),
        "newest": queries.latest_plan(yard, first),
        "before": _shifted(first, -1),
        "after": _shifted(first, 1),
        "totals": _totals(found),
    }


def _totals(found: boards.Board) -> dict[str, float]:
    cells = [cell for _, row in found.rows for cell in row]
    return {
        "visits": sum(cell.count for cell in cells),
        "service": sum(cell.service_minutes for cell in cells),
        "driving": sum(cell.drive_minutes for cell in cells),
    }


def _moved(form: MoveForm, stop: Stop, request: SignedInRequest) -> bool:
    crew: Crew = stop.crew.depot.crews.get(pk=form.cleaned_data["crew"])
    given = {"day": form.cleaned_data["day"], "version": form.cleaned_data["version"]}
    today = today_in(stop.plan.depot.time_zone)
    try:
        actions.move_stop(stop.pk, crew=crew, by=request.user, today=today, **given)
    except (Refused, StopChanged, PlanNotReady) as refused:
        form.add_error(None, _in_words(refused))
        return False
    return True


def _held(request: SignedInRequest, number: int, action: Any) -> HttpResponse:
    stop = get_object_or_404(queries.visible_stops(request.user), pk=number)
    try:
        action(number, version=_version(request, stop), by=request.user)
    except (StopChanged, PlanNotReady, Refused) as refused:
        messages.error(request, _in_words(refused))
    return redirect(f"{_address(stop.plan.depot, stop.plan.month)}#stop-{number}")


def _version(request: SignedInRequest, stop: Stop) -> int:
    given = request.POST.get("version", "")
    return int(given) if given.isdecimal() else stop.version


def _in_words(refused: Exception) -> str:
    if isinstance(refused, Refused):
        return " ".join(gettext("Wanted: %(wanted)s.") % {"wanted": p.wanted} for p in refused.problems)
    return str(refused)


def _depot(request: SignedInRequest, code: str) -> Depot:
    return get_object_or_404(properties.visible_depots(request.user), code=code)


def _month(written: str) -> date:
    found = MONTH.fullmatch(written)
    if found is None:
        raise Http404("A month is written like 2026-11.")
    return date(int(found[1]), int(found[2]), 1)


def _shifted(first: date, months: int) -> date:
    return (first + timedelta(45 if months > 0 else -15)).replace(day=1)


def _address(yard: Depot, month: date) -> str:
    return reverse("pages:board", args=[yard.code, f"{month:%Y-%m}"])
