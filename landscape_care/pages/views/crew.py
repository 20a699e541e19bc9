"""A crew's day on a phone: stops in order, access, cautions, the checklist."""

import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST

from landscape_care.calendars.crew_entries import without_codes
from landscape_care.care.actions import AlreadySettled
from landscape_care.care.models import CareTask
from landscape_care.dispatch import actions, queries
from landscape_care.dispatch.actions import StopChanged
from landscape_care.dispatch.models import Crew, CrewRoute
from landscape_care.dispatch.queries import CrewDay, StopSheet
from landscape_care.pages import check_off
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only, signed_in
from landscape_care.pages.refusals import in_words
from landscape_care.people.models import User
from landscape_care.properties.models import Property
from landscape_care.trades.limits import Refused
from landscape_care.visits import queries as visits
from landscape_care.visits.actions import BodyDiffers, VisitWithdrawn, keep_photo
from landscape_care.visits.models import Visit

A_DAY = timedelta(1)


class DayOffForm(forms.Form):
    """A day on which a crew does not work."""

    day = forms.DateField()
    reason = forms.CharField(max_length=120, required=False)


@dataclass(frozen=True)
class StopPage:
    """One stop as its crew may see it today."""

    stop: StopSheet
    gate_code: str = ""
    access_note: str = ""
    sheets: list[check_off.Sheet] = field(default_factory=list)

    @property
    def visit(self) -> Visit:
        """The visit of the stop."""
        return self.stop.stop.visit

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


@signed_in
def crew_day(request: SignedInRequest, code: str, day: date) -> HttpResponse:
    """Show a crew's stops of one day."""
    crew = get_object_or_404(queries.visible_crews(request.user), code=code)
    today = today_in(crew.depot.time_zone)
    planned = queries.crew_day(crew, day)
    return render(request, "crew/day.html", _page(request.user, planned, today))


@signed_in
@require_http_methods(["GET", "POST"])
def check_task(request: SignedInRequest, code: str, day: date, visit: int, task: int) -> HttpResponse:
    """Note what was done for one care task; the same form sent twice is noted once."""
    crew = get_object_or_404(queries.visible_crews(request.user), code=code)
    found = get_object_or_404(visits.visible_visits(request.user), pk=visit)
    row = _task(found, task)
    if request.method == "GET":
        return _answer(request, check_off.Sheet(row), found, crew=crew, day=day)
    typed = {name: str(value) for name, value in request.POST.items()}
    sheet = check_off.Sheet(row, _number(typed), typed)
    problems = _noted(request, sheet, found, min(day, today_in(crew.depot.time_zone)))
    if not problems and not request.headers.get("HX-Request"):
        return redirect(f"{reverse('pages:crew_day', args=[code, day])}#task-{task}")
    return _answer(request, replace(sheet, problems=problems), found, crew=crew, day=day)


@signed_in
@require_POST
def reorder(request: SignedInRequest, code: str, day: date) -> HttpResponse:
    """Put one stop of a day before or after its neighbour, for the office and for the crew's own today."""
    crew = get_object_or_404(queries.visible_crews(request.user), code=code)
    ids = [sheet.stop.pk for sheet in queries.crew_day(crew, day).stops]
    stop, version = (request.POST.get(name, "") for name in ("stop", "version"))
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


def _noted(request: SignedInRequest, sheet: check_off.Sheet, visit: Visit, on: date) -> tuple[str, ...]:
    """Hand the form on; what is wrong with it, in words."""
    try:
        _keep(request, sheet, visit, on)
    except Refused as refused:
        return check_off.problems_in_words(refused)
    except VisitWithdrawn as withdrawn:
        return (gettext("This visit was withdrawn: %(reason)s") % {"reason": withdrawn.reason},)
    except AlreadySettled:
        return (gettext("Somebody noted this already. Load the page again to see what."),)
    except BodyDiffers:
        return (gettext("This was noted before with other words. Load the page again to see what."),)
    except ValueError as refused:
        return (str(refused),)
    return ()


@transaction.atomic
def _keep(request: SignedInRequest, sheet: check_off.Sheet, visit: Visit, on: date) -> None:
    """Keep the completion with its picture, or neither: a crew sends a refused form again."""
    completion = check_off.hand_on(sheet, visit, on=on, by=request.user)
    photo = request.FILES.get("photo")
    if photo and not completion.photos.exists():
        keep_photo(completion, photo, by=request.user)


def _answer(
    request: SignedInRequest, sheet: check_off.Sheet, visit: Visit, *, crew: Crew, day: date
) -> HttpResponse:
    sheet.task.refresh_from_db()
    page = {
        "sheet": sheet,
        "crew": crew,
        "day": day,
        "stop": {"visit": visit},
        "outcomes": check_off.OUTCOMES,
        "expanded": True,
        "just_noted": request.method == "POST" and not sheet.problems,
    }
    # The page swaps in whatever comes back, so a refusal in words is an ordinary answer to it.
    if request.headers.get("HX-Request"):
        return render(request, "crew/task.html", page)
    return render(request, "crew/task_page.html", page, status=422 if sheet.problems else 200)


def _task(visit: Visit, number: int) -> CareTask:
    found = next((task for task in visits.tasks_of(visit) if task.pk == number), None)
    if found is None:
        raise Http404("This visit has no such care task.")
    return found


def _number(typed: dict[str, Any]) -> uuid.UUID:
    try:
        return uuid.UUID(typed.get("number", ""))
    except ValueError:
        raise Http404("The form has lost its number.") from None


def _page(user: User, planned: CrewDay, today: date) -> dict[str, Any]:
    heat = planned.heat.lines if planned.heat else ()
    spanish = (translation.get_language() or "").startswith("es")
    return {
        "place": "crew",
        "crew": planned.crew,
        "day": planned.day,
        "today": today,
        "yesterday": planned.day - A_DAY,
        "tomorrow": planned.day + A_DAY,
        "next_day": None if planned.stops else queries.next_crew_day(planned.crew, planned.day),
        "stops": [_stop(user, sheet, planned.day == today) for sheet in planned.stops],
        "load": planned.load,
        "heat": [pair[spanish] for pair in heat],
        "heat_basis": planned.heat_basis[spanish],
        "work_minutes": planned.service_minutes,
        "drive_minutes": planned.drive_minutes,
        "outcomes": check_off.OUTCOMES,
        "route": _route_to_reorder(user, planned, today),
    }


def _route_to_reorder(user: User, planned: CrewDay, today: date) -> CrewRoute | None:
    """The route whose order this person may change: the office any day to come, the crew today."""
    to_do = [sheet for sheet in planned.stops if sheet.stop.visit.state == "published"]
    allowed = planned.day >= today if user.in_office() else planned.day == today
    return queries.crew_route(planned.crew, planned.day) if allowed and len(to_do) > 1 else None


def _stop(user: User, sheet: StopSheet, is_today: bool) -> StopPage:
    """A crew learns the gate code on the day of the visit; the office always knows it."""
    place = sheet.stop.visit.property
    may_know = user.in_office() or is_today
    return StopPage(
        sheet,
        gate_code=place.gate_code if may_know else "",
        access_note=place.access_note if may_know else without_codes(place.access_note, place.gate_code),
        sheets=list(_sheets(sheet.tasks)),
    )


def _sheets(tasks: Sequence[CareTask]) -> Iterator[check_off.Sheet]:
    """The forms of a stop; a caution is told in full where it first comes up."""
    told: set[str] = set()
    for task in tasks:
        yield check_off.Sheet(task, told=frozenset(told))
        if task.state == "open":
            told |= set(task.cautions)
