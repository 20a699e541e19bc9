"""The office's first page: what is late, what comes this week, what needs a decision."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render

from landscape_care.care import queries as care
from landscape_care.care.models import CareTask
from landscape_care.dispatch import queries as dispatch
from landscape_care.dispatch.models import Unserved
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, landing, signed_in
from landscape_care.people import queries as people
from landscape_care.people.models import AuditEntry
from landscape_care.properties import queries, record_checks
from landscape_care.properties.models import Depot
from landscape_care.visits import queries as visits
from landscape_care.visits.models import Visit

LATE_SHOWN, FINDINGS_SHOWN, SKIPPED_DAYS = 25, 25, 14
SHOWN, VISITS_SHOWN = 20, 30
A_WEEK = timedelta(7)


@signed_in
def first_page(request: SignedInRequest) -> HttpResponse:
    """Show the office its day; lead everybody else to theirs."""
    if not request.user.in_office():
        return redirect(landing(request.user))
    depots = list(queries.visible_depots(request.user))
    today = today_in(depots[0].time_zone) if depots else today_in("UTC")
    return render(request, "office/first.html", _page(request, depots, today))


def _page(request: SignedInRequest, depots: Sequence[Depot], today: date) -> dict[str, Any]:
    late = care.late(request.user, today)
    wrong = record_checks.wrong_findings(request.user, today, most=FINDINGS_SHOWN)
    week = visits.told_by_day(request.user, today, today + A_WEEK)
    skipped = visits.skipped_since(request.user, today - timedelta(SKIPPED_DAYS))
    return {
        "place": "office",
        "today": today,
        "late": late[:LATE_SHOWN],
        "late_count": late.count(),
        "week": week,
        "visits_today": _visits_of(request, today),
        "unserved": [left for depot in depots for left in _unserved(depot, today)][:SHOWN],
        "wrong": wrong,
        "refused": _refused_intakes(request, today),
        "elsewhere": care.elsewhere(request.user, today)[:FINDINGS_SHOWN],
        "wishes": visits.open_day_requests(request.user).filter(day__gte=today)[:SHOWN],
        "skipped": skipped[:SHOWN],
        "skipped_count": skipped.count(),
        "figures": _figures(request, week, today),
        "month": visits.figures_of_month(request.user, today),
    }


def _figures(request: SignedInRequest, week: Mapping[date, int], today: date) -> dict[str, int]:
    return {
        "properties": queries.visible_properties(request.user).count(),
        "due": _due(request, today).count(),
        "week": sum(week.values()),
    }


def _visits_of(request: SignedInRequest, day: date) -> QuerySet[Visit]:
    rows = visits.visible_visits(request.user).filter(state__in=("published", "done"), day=day)
    return rows.order_by("arrives_at", "id")[:VISITS_SHOWN]


def _refused_intakes(request: SignedInRequest, today: date) -> list[AuditEntry]:
    """The newest word on each set of files of the last days, where it was a refusal."""
    since = today - timedelta(SKIPPED_DAYS)
    log = people.visible_audit(request.user).filter(
        verb__in=("refuse intake", "take in"), at__date__gte=since
    )
    newest: dict[str, AuditEntry] = {}
    for entry in log.filter(verb__in=("refuse intake", "take in")):
        newest.setdefault(entry.subject, entry)
    return [entry for entry in newest.values() if entry.verb == "refuse intake"]


def _due(request: SignedInRequest, today: date) -> QuerySet[CareTask]:
    return care.due_between(request.user, today, today + A_WEEK - timedelta(1))


def _unserved(depot: Depot, today: date) -> list[Unserved]:
    """What the plans of this month and the next could not place."""
    next_month = (today.replace(day=1) + timedelta(31)).replace(day=1)
    plans = [dispatch.shown_plan(depot, month) for month in (today, next_month)]
    return [
        left for plan in plans if plan for left in plan.unserved.select_related("visit__property")[:SHOWN]
    ]
