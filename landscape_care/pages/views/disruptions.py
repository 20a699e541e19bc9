"""What goes against a published month: say what happened, look at the changes, confirm or drop them."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from landscape_care.care.catalog import SKILLS
from landscape_care.care.urgent_calls import UrgentWork
from landscape_care.dispatch import actions, figures, queries
from landscape_care.dispatch.actions import Ask, PlanNotReady, SeenOtherwise
from landscape_care.dispatch.disruptions import hit_words, shown_effects
from landscape_care.dispatch.models import Disruption, PlanState
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.things import Clock, Day
from landscape_care.pages.refusals import in_language, in_words, wanted
from landscape_care.pages.views.board import BEING_SOLVED, board_address, depot_of, month_of
from landscape_care.pages.views.publishing import told_page
from landscape_care.pages.words import DISRUPTION_NAMES, SKILL_NAMES
from landscape_care.properties import queries as properties
from landscape_care.properties.models import Depot
from landscape_care.trades.limits import Refused

LETTERS_SHOWN = 200


class AskForm(forms.Form):
    """What happened; which fields matter depends on the kind."""

    kind = forms.ChoiceField(label=_("What happened?"), choices=list(DISRUPTION_NAMES.items()))
    first_day = forms.DateField(label=_("First day"), widget=Day())
    last_day = forms.DateField(
        label=_("Last day"), widget=Day(), required=False, help_text=_("Empty: only the first day")
    )
    crews = forms.MultipleChoiceField(
        label=_("Crews"),
        required=False,
        widget=forms.CheckboxSelectMultiple(),
        help_text=_("Rain and heat hit all crews when none is chosen"),
    )
    property = forms.ChoiceField(
        label=_("Property"), required=False, help_text=_("For a closed property or an urgent call")
    )
    opens_at = forms.TimeField(label=_("Heat: crews start at"), required=False, widget=Clock())
    closes_at = forms.TimeField(label=_("Heat: crews are back by"), required=False, widget=Clock())
    minutes = forms.IntegerField(
        label=_("Urgent call: minutes of work"), required=False, min_value=5, max_value=960
    )
    skill = forms.ChoiceField(label=_("Urgent call: skill"), required=False)
    words = forms.CharField(label=_("In words"), required=False, max_length=200)

    def __init__(self, *args: Any, depot: Depot, user: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known_crews = {str(crew.pk): crew for crew in depot.crews.filter(active=True)}
        self.known_places = {
            place.code: place for place in properties.visible_properties(user).filter(depot=depot)
        }
        choices: dict[str, list[tuple[str, Any]]] = {
            "crews": [(key, crew.name) for key, crew in self.known_crews.items()],
            "property": [("", "–"), *((code, place.name) for code, place in self.known_places.items())],
            "skill": [(skill, SKILL_NAMES[skill]) for skill in SKILLS],
        }
        for name, given in choices.items():
            self.fields[name].choices = given  # type: ignore[attr-defined]

    def ask(self) -> Ask:
        """What was said, as the house takes it."""
        given = self.cleaned_data
        last = given["last_day"] or given["first_day"]
        work = None
        if given["kind"] == "urgent_call" and given["minutes"]:
            work = UrgentWork(
                first_day=given["first_day"],
                last_day=last,
                minutes=given["minutes"],
                skill=given["skill"] or "gardener",
            )
        return Ask(
            kind=given["kind"],
            first_day=given["first_day"],
            last_day=last,
            crews=tuple(self.known_crews[key] for key in given["crews"]),
            place=self.known_places.get(given["property"]),
            opens_at=given["opens_at"],
            closes_at=given["closes_at"],
            work=work,
            words=given["words"],
        )


@office_only
@require_http_methods(["GET", "POST"])
def disrupt(request: SignedInRequest, depot: str, month: str) -> HttpResponse:
    """Say what happened."""
    yard, first = depot_of(request, depot), month_of(month)
    today = today_in(yard.time_zone)
    initial = {"first_day": max(today, first)}
    form = AskForm(request.POST or None, initial=initial, depot=yard, user=request.user)
    if form.is_valid():
        try:
            row = actions.disrupt(yard, form.ask(), by=request.user, today=today)
        except Refused as refused:
            for problem in refused.problems:
                name = problem.field if problem.field in form.fields else None
                form.add_error(name, gettext("Wanted: %(wanted)s.") % {"wanted": wanted(problem)})
        else:
            return redirect("pages:disruption", row.pk)
    page = {"form": form, "depot": yard, "month": first, "place": "board"}
    return render(request, "dispatcher/disrupt.html", page, status=422 if form.is_bound else 200)


@office_only
@require_GET
def disruption(request: SignedInRequest, number: int) -> HttpResponse:
    """Show what changes, from where to where and why, before anybody is told."""
    row = get_object_or_404(queries.visible_disruptions(request.user), pk=number)
    return render(request, "dispatcher/disruption.html", _page(row))


@office_only
@require_GET
def disruption_progress(request: SignedInRequest, number: int) -> HttpResponse:
    """Tell how far the answer is; once it is there the page loads again."""
    row = get_object_or_404(queries.visible_disruptions(request.user), pk=number)
    answer = render(request, "dispatcher/disruption_progress.html", {"row": row, "plan": row.plan})
    if row.plan.state not in BEING_SOLVED:
        answer.headers["HX-Refresh"] = "true"
    return answer


@office_only
@require_POST
def confirm(request: SignedInRequest, number: int) -> HttpResponse:
    """Make the changes hold and tell people, if all is still as it was looked at."""
    row = get_object_or_404(queries.visible_disruptions(request.user), pk=number)
    today = today_in(row.plan.depot.time_zone)
    try:
        actions.confirm(row.pk, seen=request.POST.get("seen", ""), by=request.user, today=today)
    except (SeenOtherwise, PlanNotReady, Refused) as refused:
        messages.error(request, in_words(refused))
        return redirect("pages:disruption", number)
    messages.success(request, gettext("The changes hold; calendars tell them."))
    return redirect(f"{board_address(row.plan.depot, row.plan.month)}#day-{row.first_day}")


@office_only
@require_POST
def drop(request: SignedInRequest, number: int) -> HttpResponse:
    """Leave the month as it is."""
    row = get_object_or_404(queries.visible_disruptions(request.user), pk=number)
    try:
        actions.drop(row.pk, by=request.user)
    except PlanNotReady as refused:
        messages.error(request, in_words(refused))
    return redirect(board_address(row.plan.depot, row.plan.month))


@office_only
@require_GET
def letters(request: SignedInRequest) -> HttpResponse:
    """Show the letters about changed visits, the newest first."""
    rows = queries.visible_letters(request.user)[:LETTERS_SHOWN]
    return render(request, "dispatcher/letters.html", {"letters": rows, "place": "board"})


def _page(row: Disruption) -> dict[str, Any]:
    plan, page = row.plan, {"row": row, "plan": row.plan, "place": "board"}
    page |= {
        "said": in_language(hit_words(row)),
        "board": reverse("pages:board", args=[plan.depot.code, f"{plan.month:%Y-%m}"]),
    }
    page |= {"being_solved": plan.state in BEING_SOLVED, "proposed": plan.state == PlanState.PROPOSED}
    if plan.state == PlanState.PROPOSED:
        found = shown_effects(row, today_in(plan.depot.time_zone))
        page |= told_page(found)
        page |= {"seen": found.seen, "compared": figures.compared(plan)}
        page["stale"] = in_words(found.refusal) if found.refusal else ""
    return page
