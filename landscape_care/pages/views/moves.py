"""Moving a stop by hand: what it costs is shown before it is done; holding and releasing."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_POST

from landscape_care.dispatch import actions, queries
from landscape_care.dispatch.actions import PlanNotReady, StopChanged
from landscape_care.dispatch.models import Crew, Stop
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.things import Day
from landscape_care.pages.refusals import in_words
from landscape_care.pages.views.board import board_address
from landscape_care.trades.limits import Refused


class MoveForm(forms.Form):
    """Another day or crew for a stop, as somebody saw it; `sure` once the cost was shown."""

    day = forms.DateField(label=_("Day"), widget=Day())
    crew = forms.TypedChoiceField(label=_("Crew"), coerce=int)
    version = forms.IntegerField(widget=forms.HiddenInput())
    sure = forms.BooleanField(required=False, widget=forms.HiddenInput())

    def __init__(self, *args: Any, stop: Stop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        crews = stop.crew.depot.crews.filter(active=True)
        self.fields["crew"].choices = [(crew.pk, crew.name) for crew in crews]  # type: ignore[attr-defined]


@office_only
@require_http_methods(["GET", "POST"])
def move(request: SignedInRequest, number: int) -> HttpResponse:
    """Put a stop on another day or crew: first what it costs, then the move itself."""
    stop = get_object_or_404(queries.visible_stops(request.user), pk=number)
    initial = {"day": stop.day, "crew": stop.crew_id, "version": stop.version}
    form = MoveForm(request.POST or None, initial=initial, stop=stop)
    weighed = None
    if form.is_valid():
        weighed = _weighed(form, stop, request)
        if weighed and form.cleaned_data["sure"] and _moved(form, stop, request):
            return _back(request, stop, form)
    return _show(request, stop, form, weighed)


def _back(request: SignedInRequest, stop: Stop, form: MoveForm) -> HttpResponse:
    to = {"name": stop.visit.property.name, "day": form.cleaned_data["day"].isoformat()}
    messages.success(request, gettext("%(name)s is on %(day)s now.") % to)
    address = f"{board_address(stop.plan.depot, stop.plan.month)}?week={to['day']}#stop-{stop.pk}"
    if request.headers.get("HX-Request"):
        return HttpResponse(headers={"HX-Redirect": address})
    return redirect(address)


def _show(request: SignedInRequest, stop: Stop, form: MoveForm, weighed: Any) -> HttpResponse:
    in_dialog = bool(request.headers.get("HX-Request"))
    back = "" if in_dialog else board_address(stop.plan.depot, stop.plan.month)
    page = {"stop": stop, "form": form, "move": weighed, "board": back, "place": "board"}
    template = "dispatcher/move_form.html" if in_dialog else "dispatcher/move.html"
    # A dialog takes in whatever comes back, so a refusal in words is an ordinary answer to it.
    wrong = form.is_bound and bool(form.errors)
    return render(request, template, page | {"in_dialog": in_dialog}, status=422 if wrong and back else 200)


def _weighed(form: MoveForm, stop: Stop, request: SignedInRequest) -> Any:
    crew: Crew = stop.crew.depot.crews.get(pk=form.cleaned_data["crew"])
    today = today_in(stop.plan.depot.time_zone)
    try:
        if form.cleaned_data["version"] != stop.version:
            raise actions.stop_changed(stop)
        return actions.weigh_move(
            stop.pk, day=form.cleaned_data["day"], crew=crew, by=request.user, today=today
        )
    except (Refused, PlanNotReady, StopChanged) as refused:
        form.add_error(None, in_words(refused))
        return None


def _moved(form: MoveForm, stop: Stop, request: SignedInRequest) -> bool:
    crew: Crew = stop.crew.depot.crews.get(pk=form.cleaned_data["crew"])
    given = {"day": form.cleaned_data["day"], "version": form.cleaned_data["version"]}
    today = today_in(stop.plan.depot.time_zone)
    try:
        actions.move_stop(stop.pk, crew=crew, by=request.user, today=today, **given)
    except (Refused, StopChanged, PlanNotReady) as refused:
        form.add_error(None, in_words(refused))
        return False
    return True


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


def _held(request: SignedInRequest, number: int, action: Any) -> HttpResponse:
    stop = get_object_or_404(queries.visible_stops(request.user), pk=number)
    given = request.POST.get("version", "")
    version = int(given) if given.isdecimal() else stop.version
    try:
        action(number, version=version, by=request.user)
    except (StopChanged, PlanNotReady, Refused) as refused:
        messages.error(request, in_words(refused))
    address = board_address(stop.plan.depot, stop.plan.month)
    return redirect(f"{address}?week={stop.day}#stop-{number}")
