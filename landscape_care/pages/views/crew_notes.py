"""What a crew notes at a stop: care done or not, and when work began and ended.

A plain form gets a page back. A phone that keeps its notes until there is a signal asks for JSON and
gets a word for each way it can end, so that it knows what to send again, what to let go, and what a
person has to decide.
"""

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST

from landscape_care.care.actions import AlreadySettled, NotOpen
from landscape_care.care.models import CareTask
from landscape_care.care.queries import who_settled
from landscape_care.dispatch import queries
from landscape_care.dispatch.models import Crew
from landscape_care.pages import check_off
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, signed_in
from landscape_care.pages.templatetags.wording import clock, short_day
from landscape_care.pages.words import MARK_WORDS, word
from landscape_care.trades.limits import Refused
from landscape_care.visits import queries as visits
from landscape_care.visits.actions import BodyDiffers, VisitWithdrawn, keep_photo, mark_time
from landscape_care.visits.models import Visit

KEPT = timedelta(14)
"""How far back a phone's note may lie; an older moment is not believed."""
BUTTONS = uuid.UUID("5e0f5d3c-54a1-4ef4-9d0c-0f7f4a6d6c1b")
FAST_CLOCK = timedelta(minutes=5)


@dataclass(frozen=True)
class Noted:
    """How a note ended: kept, wrong, too late (`clash` says what was there first), or without its visit."""

    problems: tuple[str, ...] = ()
    clash: Mapping[str, str] | None = None
    gone: bool = False

    @property
    def status(self) -> int:
        """The HTTP status that says the same."""
        if self.clash is not None or self.gone:
            return 409
        return 422 if self.problems else 200

    def body(self) -> dict[str, Any]:
        """What a phone is told."""
        wrong = "clash" if self.clash is not None else "gone" if self.gone else "wrong"
        said = wrong if self.problems else "noted"
        return {"said": said, "problems": list(self.problems), **(self.clash or {})}


@signed_in
@require_http_methods(["GET", "POST"])
def check_task(request: SignedInRequest, code: str, day: date, visit: int, task: int) -> HttpResponse:
    """Note what was done for one care task; the same form sent twice is noted once."""
    crew = get_object_or_404(queries.visible_crews(request.user), code=code)
    found = get_object_or_404(visits.visible_visits(request.user), pk=visit)
    row = _task(found, task)
    if request.method == "GET":
        return _answer(request, check_off.Sheet(row), found, crew=crew, day=day)
    typed = _typed(request)
    number = _number(typed, "task", request.user.pk, row.pk, row.revision)
    sheet = check_off.Sheet(row, number, typed)
    noted = _noted(lambda: _keep(request, sheet, found, _done_on(sheet, crew, day)), row)
    if _from_a_phone(request):
        return JsonResponse(noted.body(), status=noted.status)
    if not noted.problems:
        return redirect(f"{reverse('pages:crew_day', args=[code, day])}#task-{task}")
    return _answer(request, replace(sheet, problems=noted.problems), found, crew=crew, day=day)


@signed_in
@require_POST
def mark_work(request: SignedInRequest, code: str, day: date, visit: int) -> HttpResponse:
    """Note that work on a visit began or ended, with one press."""
    crew = get_object_or_404(queries.visible_crews(request.user), code=code)
    found = get_object_or_404(visits.visible_visits(request.user), pk=visit)
    typed = _typed(request)
    at, sort = _made_at(typed) or timezone.now(), typed.get("sort", "")
    number = _number(typed, "work", request.user.pk, visit, sort, f"{at:%Y-%m-%d %H:%M}")
    noted = _noted(lambda: mark_time(number, found, sort, at=at, by=request.user))
    if _from_a_phone(request):
        return JsonResponse(noted.body(), status=noted.status)
    for problem in noted.problems:
        messages.error(request, problem)
    return redirect(f"{reverse('pages:crew_day', args=[crew.code, day])}#stop-{visit}")


# --- Steps ------------------------------------------------------------------------------------


def _noted(note: Callable[[], object], task: CareTask | None = None) -> Noted:
    """Hand the form on; what is wrong with it, in words."""
    try:
        note()
    except AlreadySettled:
        words = gettext("Somebody noted this already. Load the page again to see what.")
        return Noted((words,), _clash(task) if task else {})
    except (Refused, VisitWithdrawn, NotOpen, BodyDiffers, ValueError) as refused:
        return Noted(_in_words(refused), gone=isinstance(refused, VisitWithdrawn | NotOpen))
    return Noted()


def _in_words(refused: Exception) -> tuple[str, ...]:
    if isinstance(refused, Refused):
        return check_off.problems_in_words(refused)
    if isinstance(refused, VisitWithdrawn):
        return (gettext("This visit was withdrawn: %(reason)s") % {"reason": refused.reason},)
    if isinstance(refused, NotOpen):
        return (gettext("This is not asked for any more. If you did it, tell the office."),)
    if isinstance(refused, BodyDiffers):
        return (gettext("This was noted before with other words. Load the page again to see what."),)
    return (str(refused),)


@transaction.atomic
def _keep(request: SignedInRequest, sheet: check_off.Sheet, visit: Visit, on: date) -> None:
    """Keep the completion with its picture, or neither: a crew sends a refused form again."""
    completion = check_off.hand_on(sheet, visit, on=on, by=request.user)
    photo = request.FILES.get("photo")
    if photo and not completion.photos.exists():
        keep_photo(completion, photo, by=request.user)


def _clash(task: CareTask) -> dict[str, str]:
    """What was noted first, by whom and when, in the reader's language; `seen` names exactly that."""
    task.refresh_from_db()
    entry = who_settled(task)
    by = entry.by if entry else None
    at = timezone.localtime(entry.at if entry else task.changed_at, ZoneInfo(task.property.time_zone))
    what = word(MARK_WORDS, task.state)
    return {
        "who": (by.get_full_name() or by.get_username()) if by else "",
        "when": f"{short_day(at.date())}, {clock(at.time())}",
        "what": f"{what}: {task.skip_reason}" if task.skip_reason else what,
        "seen": task.changed_at.isoformat(),
    }


def _done_on(sheet: check_off.Sheet, crew: Crew, day: date) -> date:
    """The day of the work: what the phone's clock said, or else the day of the page, never tomorrow."""
    today = today_in(crew.depot.time_zone)
    before = check_off.noted_on(sheet.number)
    if before is not None:
        return before
    made_at = _made_at(sheet.typed)
    return min(made_at.astimezone(ZoneInfo(crew.depot.time_zone)).date() if made_at else day, today)


def _made_at(typed: Mapping[str, str]) -> datetime | None:
    """When the phone noted it; None where it does not say so, or its clock is plainly wrong."""
    try:
        at = datetime.fromisoformat(typed.get("made_at", ""))
    except ValueError:
        return None
    if at.tzinfo is None or not timezone.now() - KEPT <= at <= timezone.now() + FAST_CLOCK:
        return None
    return at


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
    }
    return render(request, "crew/task_page.html", page, status=422 if sheet.problems else 200)


def _from_a_phone(request: SignedInRequest) -> bool:
    return request.headers.get("Accept") == "application/json"


def _task(visit: Visit, number: int) -> CareTask:
    found = next((task for task in visits.tasks_of(visit) if task.pk == number), None)
    if found is None:
        raise Http404("This visit has no such care task.")
    return found


def _typed(request: SignedInRequest) -> dict[str, str]:
    return {name: str(value) for name, value in request.POST.items()}


def _number(typed: Mapping[str, str], *said: object) -> uuid.UUID:
    """The number of a note; a plain button has none of its own, pressed twice it says the same twice."""
    if "number" not in typed:
        return uuid.uuid5(BUTTONS, " ".join(map(str, said)))
    try:
        return uuid.UUID(typed["number"])
    except ValueError:
        raise Http404("The form has lost its number.") from None
