"""One care task for the office: why it is there, and what the office decides about it."""

from datetime import date

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import translation
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET, require_POST

from landscape_care.care import actions, queries
from landscape_care.care.actions import NotOpen
from landscape_care.care.models import CareTask
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.things import Day
from landscape_care.visits import queries as visits

OUTCOMES = [("done", _("Done")), ("skipped", _("Will not be done"))]


class SettleForm(forms.Form):
    """What the office knows of a care task that no crew noted."""

    outcome = forms.ChoiceField(label=_("What happened?"), choices=OUTCOMES)
    on = forms.DateField(label=pgettext_lazy("date", "On"), widget=Day())
    reason = forms.CharField(label=_("Why not?"), max_length=200, required=False)


@office_only
@require_GET
def task(request: SignedInRequest, number: int) -> HttpResponse:
    """Show one care task."""
    row = _task(request, number)
    return render(request, "office/task.html", _page(request, row, _settle_form(row)))


@office_only
@require_POST
def settle(request: SignedInRequest, number: int) -> HttpResponse:
    """Note that a task was done, or that it will not be."""
    row = _task(request, number)
    form = SettleForm(request.POST)
    if form.is_valid() and _settled(form, row, request):
        return redirect("pages:task", number)
    return render(request, "office/task.html", _page(request, row, form), status=422)


@office_only
@require_POST
def unsettle(request: SignedInRequest, number: int) -> HttpResponse:
    """Take back that a task was settled."""
    row = _task(request, number)
    try:
        actions.unsettle(row, reason=request.POST.get("reason", ""), by=request.user)
    except (ValueError, NotOpen) as refused:
        messages.error(request, str(refused))
    return redirect("pages:task", number)


@office_only
@require_POST
def hold(request: SignedInRequest, number: int) -> HttpResponse:
    """Keep the window of a task as it is, or let planning move it again."""
    row = _task(request, number)
    action = actions.release if row.held else actions.hold
    try:
        action(row, by=request.user)
    except NotOpen as refused:
        messages.error(request, str(refused))
    return redirect("pages:task", number)


def _task(request: SignedInRequest, number: int) -> CareTask:
    return get_object_or_404(queries.visible_tasks(request.user), pk=number)


def _today(row: CareTask) -> date:
    return today_in(row.property.time_zone)


def _settle_form(row: CareTask) -> SettleForm:
    return SettleForm(initial={"on": _today(row)})


def _settled(form: SettleForm, row: CareTask, request: SignedInRequest) -> bool:
    given = form.cleaned_data
    try:
        actions.settle(row, given["outcome"], on=given["on"], by=request.user, reason=given["reason"])
    except (ValueError, NotOpen) as refused:
        form.add_error(None, str(refused))
        return False
    messages.success(request, gettext("It is noted; the next one is counted from there."))
    return True


def _page(request: SignedInRequest, row: CareTask, form: SettleForm) -> dict[str, object]:
    language = (translation.get_language() or "en")[:2]
    return {
        "place": "properties",
        "task": row,
        "form": form,
        "today": _today(row),
        "why": queries.why(row, _today(row))[language == "es"],
        "how": queries.how(row, language),
        "completions": visits.visible_completions(request.user).filter(task=row),
        "visit": visits.visible_visits(request.user).filter(visit_tasks__task=row).first(),
    }
