"""Looks ahead: what if, and labour and driving of the next twelve months."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import dates
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from landscape_care.dispatch import labour, what_ifs
from landscape_care.dispatch.actions import LONGEST_SECONDS
from landscape_care.dispatch.labour import Ahead
from landscape_care.dispatch.models import WhatIf, WhatIfState
from landscape_care.dispatch.refusals import Words
from landscape_care.dispatch.what_if_changes import MOST_CREWS, MOST_GARDENS, Changes, from_row
from landscape_care.dispatch.what_ifs import MOST_MONTHS, Span
from landscape_care.pages import charts
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.things import Clock
from landscape_care.pages.refusals import in_language, wanted
from landscape_care.pages.season_charts import Figure
from landscape_care.pages.templatetags import wording
from landscape_care.pages.views.board import depot_of, month_of
from landscape_care.pages.words import CADENCE_NAMES
from landscape_care.properties import queries as properties
from landscape_care.properties.models import Depot
from landscape_care.trades.limits import Refused

BEING_WORKED_OUT = (WhatIfState.WAITING, WhatIfState.SOLVING)
SHOWN = 10
# Name of a figure, its words, and how it is written.
LINES = (
    ("visits", _("Visits"), "count"),
    ("unserved", _("Not served"), "count"),
    ("person_hours", _("Hours of people on site"), "count"),
    ("hours_available", _("Hours that crews work"), "count"),
    ("crew_days", _("Crew days"), "count"),
    ("drive_minutes", _("Driving"), "hours"),
    ("drive_miles", _("Miles"), "count"),
    ("overtime_minutes", _("Overtime"), "hours"),
)


class ChangesForm(forms.Form):
    """What is changed, and for how long."""

    months = forms.IntegerField(
        label=_("Months, from this one on"), min_value=1, max_value=MOST_MONTHS, initial=1
    )
    gardens_added = forms.IntegerField(
        label=_("More properties"),
        required=False,
        min_value=0,
        max_value=MOST_GARDENS,
        help_text=_("Each is the copy of one that you have, halfway between it and another"),
    )
    crews_out = forms.MultipleChoiceField(
        label=_("Without these crews"), required=False, widget=forms.CheckboxSelectMultiple()
    )
    crews_added = forms.IntegerField(
        label=_("More crews"),
        required=False,
        min_value=0,
        max_value=MOST_CREWS,
        help_text=_("Each is the copy of the crew with the most skills"),
    )
    cadence_from = forms.ChoiceField(label=_("Agreements that come"), required=False)
    cadence_to = forms.ChoiceField(label=_("come instead"), required=False)
    shift_opens = forms.TimeField(label=_("All shifts begin at"), required=False, widget=Clock())
    shift_closes = forms.TimeField(label=_("All shifts end at"), required=False, widget=Clock())
    seconds = forms.IntegerField(
        label=_("Seconds to work it out"), min_value=1, max_value=LONGEST_SECONDS, initial=60
    )

    def __init__(self, *args: Any, depot: Depot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cadences = [("", "–"), *CADENCE_NAMES.items()]
        choices: dict[str, list[tuple[str, Any]]] = {
            "crews_out": list(depot.crews.filter(active=True).values_list("code", "name")),
            "cadence_from": cadences,
            "cadence_to": cadences,
        }
        for name, given in choices.items():
            self.fields[name].choices = given  # type: ignore[attr-defined]


def _asked(form: ChangesForm) -> Changes:
    """What was said, as the house takes it."""
    given = form.cleaned_data
    return Changes(
        gardens_added=given["gardens_added"] or 0,
        crews_out=tuple(given["crews_out"]),
        crews_added=given["crews_added"] or 0,
        cadence_from=given["cadence_from"],
        cadence_to=given["cadence_to"],
        shift_opens=given["shift_opens"],
        shift_closes=given["shift_closes"],
    )


# --- What if --------------------------------------------------------------------------------------------


@office_only
@require_http_methods(["GET", "POST"])
def ask_what_if(request: SignedInRequest, depot: str, month: str) -> HttpResponse:
    """Say what would be otherwise; the plans and people stay what they are."""
    yard, first = depot_of(request, depot), month_of(month)
    form = ChangesForm(request.POST or None, depot=yard)
    if form.is_valid():
        span = Span(first, form.cleaned_data["months"], form.cleaned_data["seconds"])
        try:
            row = what_ifs.ask(yard, _asked(form), span, by=request.user, today=today_in(yard.time_zone))
        except Refused as refused:
            for problem in refused.problems:
                name = problem.field if problem.field in form.fields else None
                form.add_error(name, gettext("Wanted: %(wanted)s.") % {"wanted": wanted(problem)})
        else:
            return redirect("pages:what_if", row.pk)
    earlier = what_ifs.visible(request.user).filter(depot=yard)[:SHOWN]
    page = {"form": form, "depot": yard, "month": first, "place": "board"}
    page["earlier"] = [(row, said_of(row)) for row in earlier]
    return render(request, "dispatcher/ask_what_if.html", page, status=422 if form.is_bound else 200)


@office_only
@require_GET
def what_if(request: SignedInRequest, number: int) -> HttpResponse:
    """Show both sides beside each other."""
    row = get_object_or_404(what_ifs.visible(request.user), pk=number)
    return render(request, "dispatcher/what_if.html", _what_if_page(row))


@office_only
@require_GET
def what_if_progress(request: SignedInRequest, number: int) -> HttpResponse:
    """Tell how far it is; once it is there the page loads again."""
    row = get_object_or_404(what_ifs.visible(request.user), pk=number)
    answer = render(request, "dispatcher/what_if_progress.html", {"row": row})
    if row.state not in BEING_WORKED_OUT:
        answer.headers["HX-Refresh"] = "true"
    return answer


@office_only
@require_POST
def stop_what_if(request: SignedInRequest, number: int) -> HttpResponse:
    """End the work and keep the months done so far."""
    row = get_object_or_404(what_ifs.visible(request.user), pk=number)
    what_ifs.stop(row.pk, by=request.user)
    return redirect("pages:what_if", number)


@dataclass(frozen=True)
class Line:
    """One figure as it is, after the changes, and the difference."""

    name: Any
    kind: str
    as_is: float
    changed: float

    @property
    def more(self) -> str:
        """The difference with its sign."""
        by = self.changed - self.as_is
        written = wording.figure_written(abs(by), self.kind)
        return f"{'+' if by > 0 else '−'}{written}" if round(by, 2) else "±0"


@dataclass(frozen=True)
class MonthBeside:
    """A month, or all of them, with its figures beside each other and why visits are not served."""

    month: date | None
    lines: list[Line]
    reasons_before: list[tuple[str, int]]
    reasons: list[tuple[str, int]]


def _what_if_page(row: WhatIf) -> dict[str, Any]:
    months = row.answer.get("months", [])
    found = [_beside(date.fromisoformat(one["month"]), one) for one in months]
    if len(found) > 1:
        found.insert(0, _beside(None, row.answer["totals"]))
    return {
        "row": row,
        "said": said_of(row),
        "months": found,
        "ended_early": row.state == WhatIfState.DONE and len(months) < row.months,
        "place": "board",
    }


def _beside(month: date | None, sides: dict[str, Any]) -> MonthBeside:
    lines = [
        Line(name, kind, *(sides[side][key] for side in ("as_is", "changed"))) for key, name, kind in LINES
    ]
    return MonthBeside(month, lines, _reasons(sides["as_is"]), _reasons(sides["changed"]))


def _reasons(side: dict[str, Any]) -> list[tuple[str, int]]:
    return [(in_language(Words(en, es)), count) for en, es, count in side.get("reasons", ())]


def said_of(row: WhatIf) -> list[str]:
    """What a what-if changes, part by part."""
    changes = from_row(row.changes)
    named = dict(row.depot.crews.values_list("code", "name"))
    parts = [
        gettext("%(count)s more properties") % {"count": changes.gardens_added}
        if changes.gardens_added
        else "",
        gettext("without %(crews)s")
        % {"crews": ", ".join(named.get(code, code) for code in changes.crews_out)}
        if changes.crews_out
        else "",
        gettext("%(count)s more crews") % {"count": changes.crews_added} if changes.crews_added else "",
        _cadence_said(changes),
        _shift_said(changes),
    ]
    return [part for part in parts if part]


def _cadence_said(changes: Changes) -> str:
    if not changes.cadence_from:
        return ""
    old, new = (wording.cadence_name(name) for name in (changes.cadence_from, changes.cadence_to))
    return gettext("%(new)s instead of %(old)s") % {"new": new, "old": old}


def _shift_said(changes: Changes) -> str:
    if changes.shift_opens is None or changes.shift_closes is None:
        return ""
    opens, closes = wording.clock(changes.shift_opens), wording.clock(changes.shift_closes)
    return gettext("shifts from %(opens)s to %(closes)s") % {"opens": opens, "closes": closes}


# --- Labour ---------------------------------------------------------------------------------------------


@office_only
@require_GET
def labour_ahead(request: SignedInRequest, depot: str) -> HttpResponse:
    """Labour and driving of a depot for twelve months, as picture and table."""
    yard = depot_of(request, depot)
    found = labour.ahead(yard, today=today_in(yard.time_zone))
    page = {
        "ahead": found,
        "figure": labour_figure(found),
        "skills": _by_skill(found),
        "depots": properties.visible_depots(request.user),
        "place": "board",
    }
    return render(request, "office/labour.html", page)


@office_only
@require_GET
def choose_labour(request: SignedInRequest) -> HttpResponse:
    """Open the labour of the first depot."""
    first = properties.visible_depots(request.user).first()
    return redirect("pages:labour_ahead", first.code) if first else redirect("pages:intake")


def labour_figure(found: Ahead) -> Figure:
    """Hours of work and of driving by month."""
    labels = tuple(str(dates.MONTHS_3[one.month.month]).capitalize() for one in found.months)
    series = (
        (gettext("On site"), tuple(round(one.work_hours) for one in found.months)),
        (gettext("Driving"), tuple(round(one.driving.person_hours) for one in found.months)),
    )
    chart = charts.stacked(labels, [values for _name, values in series])
    return Figure(gettext("Hours of people by month"), chart, series, labels)


def _by_skill(found: Ahead) -> list[tuple[str, list[Any]]]:
    """A row for each skill with its hours in each month; None where none are asked for."""
    return [
        (name, [next((s for s in one.skills if s.skill == name), None) for one in found.months])
        for name in found.skills
    ]
