"""A crew's day on a phone: stops in order, access, cautions, the checklist."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from landscape_care.calendars.crew_entries import without_codes
from landscape_care.care.models import CareTask
from landscape_care.dispatch import actions, queries
from landscape_care.dispatch.actions import StopChanged
from landscape_care.dispatch.models import CrewRoute
from landscape_care.dispatch.queries import CrewDay, StopSheet
from landscape_care.pages import check_off
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only, pressed, signed_in
from landscape_care.pages.refusals import in_words
from landscape_care.people.models import User
from landscape_care.properties.models import Property
from landscape_care.trades.limits import Refused
from landscape_care.visits import queries as visits
from landscape_care.visits.models import Visit
from landscape_care.visits.site_time import TimeOnSite

A_DAY = timedelta(1)
MOST_CREWS = 3


class DayOffForm(forms.Form):
    """A day on which a crew does not work."""

    day = forms.DateField()
    reason = forms.CharField(max_length=120, required=False)


@dataclass(frozen=True)
class StopPage:
    """One stop as its crew may see it today."""

    stop: StopSheet
    access_note: str = ""
    may_enter: bool = False
    """Whether the gate code may be asked for now; the page itself never holds it."""
    sheets: list[check_off.Sheet] = field(default_factory=list)
    times: tuple[TimeOnSite, ...] = ()

    @property
    def visit(self) -> Visit:
        """The visit of the stop."""
        return self.stop.stop.visit

    @property
    def under_way(self) -> str:
        """Where the crew's work stands: not begun, begun or ended."""
        if not self.times:
            return "not"
        return "finished" if self.times[-1].finished_at else "started"

    @property
    def place(self) -> Property:
        """Where it is."""
        return self.visit.property


@signed_in
def crews(request: SignedInRequest) -> HttpResponse:
    """Lead a crew member to today, and let the office choose a crew."""
    found = [(crew, today_in(crew.depot.time_zone)) for crew in queries.visible_crews(request.user)]
    if len(found) == 1 and not request.user.in_office():
        crew, today = found[0]
        return redirect("pages:crew_day", crew.code, today)
    return render(request, "crew/crews.html", {"crews": found, "place": "crew"})


@pressed
@signed_in
def crew_day(request: SignedInRequest, code: str, day: date) -> HttpResponse:
    """Show a crew's stops of one day."""
    crew = get_object_or_404(queries.visible_crews(request.user), code=code)
    today = today_in(crew.depot.time_zone)
    planned = queries.crew_day(crew, day)
    return render(request, "crew/day.html", _page(request.user, planned, today))


@signed_in
@require_POST
def reorder(request: SignedInRequest, code: str, day: date) -> HttpResponse:
    """Put one stop of a day before or after its neighbour, for the office and for the crew's own today."""
    crew = get_object_or_404(queries.visible_crews(request.user), code=code)
    ids = [sheet.stop.pk for sheet in queries.crew_day(crew, day).stops]
    version, later = (request.POST.get(name, "") for name in ("version", "later"))
    stop = request.POST.get("earlier", later)
    if not stop.isdecimal() or int(stop) not in ids or not version.isdecimal():
        raise Http404("The form names no stop of this day.")
    try:
        actions.reorder_day(
            crew,
            day,
            _with_neighbour(ids, int(stop), earlier="earlier" in request.POST),
            version=int(version),
            by=request.user,
            today=today_in(crew.depot.time_zone),
        )
    except (Refused, StopChanged) as refused:
        messages.error(request, in_words(refused))
    return redirect(f"{reverse('pages:crew_day', args=[code, day])}#order")


def _with_neighbour(ids: list[int], stop: int, *, earlier: bool) -> list[int]:
    at = ids.index(stop)
    other = max(0, at - 1) if earlier else min(len(ids) - 1, at + 1)
    ids[at], ids[other] = ids[other], ids[at]
    return ids


@office_only
@require_POST
def give_day_off(request: SignedInRequest, code: str) -> HttpResponse:
    """Give a crew a day off; the next proposal of the month keeps it free."""
    crew = get_object_or_404(queries.visible_crews(request.user), code=code)
    form = DayOffForm(request.POST)
    if form.is_valid():
        actions.give_day_off(crew, form.cleaned_data["day"], form.cleaned_data["reason"], by=request.user)
        messages.success(
            request, gettext("%(crew)s is off that day. Propose the month again.") % {"crew": crew}
        )
    else:
        messages.error(request, gettext("Choose a day."))
    return redirect("pages:crews")


# --- Steps ------------------------------------------------------------------------------------


def _page(user: User, planned: CrewDay, today: date) -> dict[str, Any]:
    heat = planned.heat.lines if planned.heat else ()
    spanish = (translation.get_language() or "").startswith("es")
    told: set[str] = set()
    times = visits.site_times(sheet.stop.visit for sheet in planned.stops)
    return {
        "place": "crew",
        "crew": planned.crew,
        "day": planned.day,
        "today": today,
        "yesterday": planned.day - A_DAY,
        "tomorrow": planned.day + A_DAY,
        "next_day": None if planned.stops else queries.next_crew_day(planned.crew, planned.day),
        "stops": [_stop(user, each, planned.day == today, times=times, told=told) for each in planned.stops],
        "load": planned.load,
        "heat": [pair[spanish] for pair in heat],
        "heat_basis": planned.heat_basis[spanish],
        "work_minutes": planned.service_minutes,
        "drive_minutes": planned.drive_minutes,
        "outcomes": check_off.OUTCOMES,
        "route": _route_to_reorder(user, planned, today),
        "keeps": not user.in_office(),
        "kept_pages": _kept_pages(user),
        "made": timezone.now(),
    }


def _kept_pages(user: User) -> list[str]:
    """The pages that a crew's phone keeps: today and tomorrow of the crews the person drives with."""
    found = [] if user.in_office() else queries.crews_of(user)[:MOST_CREWS]
    return [
        reverse("pages:crew_day", args=[crew.code, day])
        for crew in found
        for today in [today_in(crew.depot.time_zone)]
        for day in (today, today + A_DAY)
    ]


def _route_to_reorder(user: User, planned: CrewDay, today: date) -> CrewRoute | None:
    """The route whose order this person may change: the office any day to come, the crew today."""
    to_do = [sheet for sheet in planned.stops if sheet.stop.visit.state == "published"]
    allowed = planned.day >= today if user.in_office() else planned.day == today
    return queries.crew_route(planned.crew, planned.day) if allowed and len(to_do) > 1 else None


def _stop(
    user: User,
    sheet: StopSheet,
    is_today: bool,
    *,
    times: Mapping[int, tuple[TimeOnSite, ...]],
    told: set[str],
) -> StopPage:
    """A stop without its gate code, which is asked for at the gate."""
    place = sheet.stop.visit.property
    note = place.access_note
    return StopPage(
        sheet,
        access_note=note if user.in_office() else without_codes(note, place.gate_code),
        may_enter=bool(place.gate_code) and (user.in_office() or is_today),
        sheets=list(_sheets(sheet.tasks, told)),
        times=times.get(sheet.stop.visit_id, ()),
    )


def _sheets(tasks: Sequence[CareTask], told: set[str]) -> Iterator[check_off.Sheet]:
    """The forms of a stop; a caution is told in full where it first comes up on the day, then by its name."""
    for task in tasks:
        yield check_off.Sheet(task, told=frozenset(told))
        if task.state == "open":
            told |= set(task.cautions)
