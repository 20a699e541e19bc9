"""A month or a year with something changed, worked out beside the same months as they are.

Both sides are made from the same open care (`imagined_months`) and solved with the same seconds and
seed, month by month; visits, plans and crews stay what they are. A what-if is a row that waits, is
claimed by one solver, tells how far it is, and keeps the months done so far when somebody stops it.
"""

import logging
from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from functools import partial
from time import monotonic
from typing import Any, NamedTuple

from celery import current_app
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from kombu.exceptions import OperationalError

from landscape_care.dispatch import queries, roads, solver
from landscape_care.dispatch.imagined_months import Year, month_problem, year_of
from landscape_care.dispatch.models import Crew, WhatIf, WhatIfState
from landscape_care.dispatch.months import (
    BETWEEN_SIGNS_S,
    CLAIM_ENDS_AFTER,
    LONGEST_SECONDS,
    SEED,
    allow_office,
)
from landscape_care.dispatch.refusals import both, misfit
from landscape_care.dispatch.routing import RouteAnswer, RouteProblem
from landscape_care.dispatch.what_if_changes import Changes, from_row, hours_of
from landscape_care.people.actions import record
from landscape_care.people.models import User
from landscape_care.properties.models import Depot
from landscape_care.trades.limits import Refused

log = logging.getLogger(__name__)

LEAST_SECONDS_A_SIDE = 0.5
MOST_MONTHS = 12
REASONS_SHOWN = 5
SUMMED = (
    "visits",
    "unserved",
    "crew_days",
    "service_minutes",
    "person_hours",
    "hours_available",
    "drive_minutes",
    "drive_miles",
    "overtime_minutes",
)


class Span(NamedTuple):
    """The first month of a what-if and how many there are, with the seconds for all of them."""

    first_month: date
    months: int = 1
    seconds: int = 60


# --- Asking ---------------------------------------------------------------------------------------------


@transaction.atomic
def ask(depot: Depot, changes: Changes, span: Span, *, by: User | None, today: date) -> WhatIf:
    """Ask for a what-if; it waits as a row until a solver takes it."""
    allow_office(by)
    first = span.first_month.replace(day=1)
    if problems := [*_span_problems(span, today), *_crew_problems(depot, changes)]:
        raise Refused(problems)
    row = WhatIf.objects.create(
        depot=depot,
        first_month=first,
        months=span.months,
        changes=changes.as_row(),
        seconds_allowed=span.seconds,
        asked_by=by,
    )
    record("ask what if", str(row.pk), by=by, depot=depot.code, months=span.months, **changes.as_row())
    transaction.on_commit(partial(_solve_soon, row.pk))
    return row


def _span_problems(span: Span, today: date) -> Iterable[Any]:
    last = queries.month_days(span.first_month)[-1]
    if last < today:
        wanted = both("{now} or later", "{now} o posterior", now=f"{today:%Y-%m}")
        yield misfit("first_month", f"{span.first_month:%Y-%m}", wanted)
    if not 1 <= span.seconds <= LONGEST_SECONDS:
        most = both("1 to {most} seconds", "de 1 a {most} segundos", most=LONGEST_SECONDS)
        yield misfit("seconds", span.seconds, most)
    if not 1 <= span.months <= MOST_MONTHS:
        yield misfit("months", span.months, both("1 to 12", "de 1 a 12"))
    # Care is planned thirteen months ahead, and beyond that nobody knows it.
    elif _months_between(today, span.first_month) + span.months > MOST_MONTHS + 1:
        wanted = both("months within a year from now", "meses dentro de un año desde ahora")
        yield misfit("months", span.months, wanted)


def _months_between(today: date, month: date) -> int:
    return (month.year - today.year) * 12 + month.month - today.month


def _crew_problems(depot: Depot, changes: Changes) -> Iterable[Any]:
    known = set(Crew.objects.filter(depot=depot, active=True).values_list("code", flat=True))
    if unknown := sorted(set(changes.crews_out) - known):
        wanted = both("crews of {depot}", "cuadrillas de {depot}", depot=depot.name)
        yield misfit("crews_out", ", ".join(unknown), wanted)
    elif not known - set(changes.crews_out):
        wanted = both("one crew that stays", "una cuadrilla que se quede")
        yield misfit("crews_out", ", ".join(sorted(changes.crews_out)), wanted)


def _solve_soon(number: int) -> None:
    try:
        current_app.send_task("landscape_care.dispatch.background.solve_what_if", (number,))
    except OperationalError:
        log.warning("The broker is away; the sweep will work out what-if %s later.", number)


@transaction.atomic
def stop(number: int, *, by: User | None) -> WhatIf:
    """End the work on a what-if and keep the months done so far; one that nobody began is withdrawn."""
    allow_office(by)
    if not WhatIf.objects.filter(pk=number, state=WhatIfState.WAITING).update(state=WhatIfState.WITHDRAWN):
        WhatIf.objects.filter(pk=number, state=WhatIfState.SOLVING).update(stop_wanted=True)
    record("stop what if", str(number), by=by)
    return WhatIf.objects.select_related("depot").get(pk=number)


def waiting() -> QuerySet[WhatIf]:
    """What-ifs that nobody works out yet, oldest first."""
    return WhatIf.objects.filter(state=WhatIfState.WAITING).order_by("pk")


def free_abandoned(now: datetime) -> int:
    """Let what-ifs wait again whose solver has gone away."""
    silent = Q(heard_at__lt=now - CLAIM_ENDS_AFTER) | Q(heard_at=None)
    return WhatIf.objects.filter(silent, state=WhatIfState.SOLVING).update(state=WhatIfState.WAITING)


# --- Working out ----------------------------------------------------------------------------------------


def solve(number: int, *, today: date) -> WhatIf:
    """Work a waiting what-if out; one that somebody else has taken is left to them."""
    now = timezone.now()
    mine = WhatIf.objects.filter(pk=number, state=WhatIfState.WAITING)
    taken = mine.update(state=WhatIfState.SOLVING, claimed_at=now, heard_at=now, progress={})
    row = WhatIf.objects.select_related("depot").get(pk=number)
    if not taken:
        return row
    signs = _Signs(row)
    try:
        roads.learn(row.depot, now=now)
        months = list(_months(row, today, signs))
        answer = {"months": months, "totals": _totals(months)}
        signs.mine().update(
            state=WhatIfState.DONE, answer=answer, done_at=timezone.now(), progress={"share": 1}
        )
    except Exception as failure:
        log.exception("What-if %s could not be worked out", number)
        words = f"{type(failure).__name__}: {failure}"[:300]
        signs.mine().update(state=WhatIfState.FAILED, failure=words)
    row.refresh_from_db()
    return row


class _Signs:
    """Signs of life in the row of a what-if; answers whether the work may go on."""

    def __init__(self, row: WhatIf) -> None:
        self._row, self._next = row, 0.0
        self.ended, self.begun, self.sides = False, 0, 2 * row.months

    def mine(self) -> QuerySet[WhatIf]:
        """The row as long as nobody else has claimed it."""
        return WhatIf.objects.filter(
            pk=self._row.pk, state=WhatIfState.SOLVING, claimed_at=self._row.claimed_at
        )

    def __call__(self, progress: solver.Progress) -> bool:
        """Write the share done once a second, and look whether somebody wants it to end."""
        if monotonic() >= self._next and not self.ended:
            self._next = monotonic() + BETWEEN_SIGNS_S
            share = round((self.begun + progress.share) / self.sides, 3)
            self.mine().update(heard_at=timezone.now(), progress={"share": share})
            self.ended = not self.mine().filter(stop_wanted=False).exists()
        return not self.ended


def _months(row: WhatIf, today: date, signs: _Signs) -> Iterable[dict[str, Any]]:
    firsts = _firsts(row)
    through = queries.month_days(firsts[-1])[-1]
    years = [
        year_of(row.depot, changes, today=today, through=through) for changes in (None, from_row(row.changes))
    ]
    seconds = max(LEAST_SECONDS_A_SIDE, row.seconds_allowed / signs.sides)
    for first in firsts:
        sides = [_side(year, first, seconds, signs) for year in years]
        # A month that was ended in the middle would compare what was sought with what was not.
        if signs.ended:
            return
        yield {"month": f"{first:%Y-%m-%d}", "as_is": sides[0], "changed": sides[1]}


def _firsts(row: WhatIf) -> list[date]:
    count = row.first_month.year * 12 + row.first_month.month - 1
    return [date((count + n) // 12, (count + n) % 12 + 1, 1) for n in range(row.months)]


def _side(year: Year, first: date, seconds: float, signs: _Signs) -> dict[str, Any]:
    problem = month_problem(year, first)
    found = solver.solve(problem, seconds=seconds, seed=SEED, watch=signs)
    signs.begun += 1
    return figures_of(problem, found)


def figures_of(problem: RouteProblem, found: RouteAnswer) -> dict[str, Any]:
    """What one side of a month costs; hours of people beside the hours that their crews work."""
    people = {crew.uid: crew.people for crew in problem.crews}
    worked = sum(people[one.crew_uid] * one.service_minutes for one in found.routes)
    reasons = Counter((reason.en, reason.es) for reason in found.unserved.values())
    return {
        "visits": sum(len(one.stops) for one in found.routes),
        "unserved": len(found.unserved),
        "crew_days": len(found.routes),
        "service_minutes": found.service_minutes,
        "person_hours": round(worked / 60, 1),
        "hours_available": round(hours_of(problem.crews), 1),
        "drive_minutes": round(found.drive_minutes, 1),
        "drive_miles": round(found.drive_miles, 1),
        "overtime_minutes": found.overtime_minutes,
        "reasons": [[*words, count] for words, count in reasons.most_common(REASONS_SHOWN)],
    }


def _totals(months: Iterable[Mapping[str, Any]]) -> dict[str, dict[str, float]]:
    rows = list(months)
    return {
        side: {name: round(sum(month[side][name] for month in rows), 1) for name in SUMMED}
        for side in ("as_is", "changed")
    }


# --- Looking --------------------------------------------------------------------------------------------


def visible(user: User) -> QuerySet[WhatIf]:
    """The what-ifs somebody may see: only the office plans."""
    rows = WhatIf.objects.select_related("depot", "asked_by")
    return rows if user.is_active and user.in_office() else rows.none()
