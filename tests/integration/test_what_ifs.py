"""Months with something changed beside the months as they are; nothing real is touched."""

from datetime import date, time, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from landscape_care.care.actions import plan_care
from landscape_care.dispatch import background, what_ifs
from landscape_care.dispatch.imagined_months import month_problem, year_of
from landscape_care.dispatch.models import WhatIf, WhatIfState
from landscape_care.dispatch.routing import faults
from landscape_care.dispatch.solver import solve
from landscape_care.dispatch.what_if_changes import Changes
from landscape_care.dispatch.what_ifs import Span
from landscape_care.trades.limits import Refused
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Visit
from tests.integration.dispatch_company import MONDAY, Company, add_company, add_filter, add_task

pytestmark = pytest.mark.django_db
DECEMBER = date(2026, 12, 1)
UNTOUCHED = ("dispatch", "visits", "care", "properties")


@pytest.fixture
def company() -> Company:
    company = add_company(gardens=4)
    for number, garden in enumerate(company.gardens):
        for month in (12, 1):
            first = date(2026 if month == 12 else 2027, month, 4)
            add_task(
                garden,
                f"care{number}-{month}",
                first,
                first + timedelta(12),
                minutes=90,
                skill="irrigation_tech" if number == 0 else "gardener",
            )
        visits.bundle_property(garden.pk, today=MONDAY)
    return company


def worked_out(company: Company, changes: Changes, months: int = 1) -> WhatIf:
    row = what_ifs.ask(company.depot, changes, Span(DECEMBER, months, 2), by=company.office, today=MONDAY)
    return what_ifs.solve(row.pk, today=MONDAY)


def everything() -> dict[str, list[Any]]:
    """All rows of the rooms, what-ifs and the audit log left out."""
    models = [model for room in UNTOUCHED for model in apps.get_app_config(room).get_models()]
    return {
        model.__name__: list(model._default_manager.order_by("pk").values_list())
        for model in models
        if model is not WhatIf
    }


@pytest.mark.both
def test_a_month_is_worked_out_twice_and_nothing_else_is_touched(company: Company) -> None:
    before = everything()
    row = worked_out(company, Changes(gardens_added=4), months=2)
    assert everything() == before
    assert (row.state, row.failure) == (WhatIfState.DONE, "")
    as_is, changed = row.answer["totals"]["as_is"], row.answer["totals"]["changed"]
    assert (as_is["visits"], changed["visits"]) == (8, 16)
    assert changed["person_hours"] > 1.9 * as_is["person_hours"]  # crews differ in people
    assert changed["drive_miles"] > as_is["drive_miles"]
    assert [month["month"] for month in row.answer["months"]] == ["2026-12-01", "2027-01-01"]


def test_a_month_as_it_is_holds_the_visits_that_are_bundled(company: Company) -> None:
    problem = month_problem(year_of(company.depot, None, today=MONDAY, through=date(2027, 1, 31)), DECEMBER)
    rows = Visit.objects.filter(opens_on__month=12)
    found = sorted((min(v.days), max(v.days), v.person_minutes, tuple(v.skills)) for v in problem.visits)
    wanted = sorted((row.opens_on, row.closes_on, row.minutes, tuple(row.skills)) for row in rows)
    assert found == [(opens, closes, minutes, skills) for opens, closes, minutes, skills in wanted]
    assert list(faults(problem, solve(problem, seconds=1))) == []


def test_fewer_crews_leave_work_that_needs_their_skill_undone_and_say_so(company: Company) -> None:
    row = worked_out(company, Changes(crews_out=("cottonwood",)))
    month = row.answer["months"][0]
    assert (month["as_is"]["unserved"], month["changed"]["unserved"]) == (0, 1)
    assert month["changed"]["reasons"] == [
        ["No crew has all skills: irrigation tech", "Ninguna cuadrilla reúne: irrigation tech", 1]
    ]
    assert month["changed"]["hours_available"] < month["as_is"]["hours_available"]


def test_a_short_shift_changes_the_hours_there_are(company: Company) -> None:
    row = worked_out(company, Changes(shift_opens=time(8), shift_closes=time(12)))
    month = row.answer["months"][0]
    # Two people with half an hour and three with half an hour of break: 8 and 3.5 hours.
    assert month["changed"]["hours_available"] == pytest.approx(month["as_is"]["hours_available"] * 3.5 / 8)


def test_another_cadence_asks_for_other_care(company: Company) -> None:
    for garden in company.gardens:
        add_filter(garden, company.office)
        plan_care(garden.pk, today=MONDAY)
    months = worked_out(company, Changes(cadence_from="monthly", cadence_to="weekly"), months=2).answer[
        "totals"
    ]
    assert months["changed"]["visits"] > months["as_is"]["visits"]
    fewer = worked_out(company, Changes(cadence_from="monthly", cadence_to="seasonal"), months=2).answer[
        "totals"
    ]
    assert fewer["changed"]["visits"] < months["as_is"]["visits"]


def test_another_cadence_and_back_is_the_month_as_it_is(company: Company) -> None:
    """The care that is generated for a cadence is the care that planning would store for it."""
    for garden in company.gardens:
        add_filter(garden, company.office)
        plan_care(garden.pk, today=MONDAY)
    through = date(2027, 3, 31)
    stored = year_of(company.depot, None, today=MONDAY, through=through)
    same = Changes(cadence_from="weekly", cadence_to="monthly")
    object.__setattr__(same, "cadence_from", "monthly")
    made = year_of(company.depot, same, today=MONDAY, through=through)
    for month in (DECEMBER, date(2027, 1, 1), date(2027, 2, 1)):
        a, b = month_problem(stored, month), month_problem(made, month)
        assert sorted(map(_facts, a.visits)) == sorted(map(_facts, b.visits))
        assert a.visits


def _facts(visit: Any) -> tuple[Any, ...]:
    return (sorted(visit.days), visit.person_minutes, visit.people, sorted(visit.skills))


def test_stopping_keeps_the_months_done_so_far(company: Company) -> None:
    row = what_ifs.ask(
        company.depot, Changes(gardens_added=1), Span(DECEMBER, 3, 3), by=company.office, today=MONDAY
    )
    what_ifs.stop(row.pk, by=company.office)
    row.refresh_from_db()
    assert row.state == WhatIfState.WITHDRAWN
    WhatIf.objects.update(state=WhatIfState.WAITING, stop_wanted=True)
    row = what_ifs.solve(row.pk, today=MONDAY)
    assert (row.state, row.answer["months"]) == (WhatIfState.DONE, [])


def test_a_what_if_is_worked_out_once_and_taken_up_again_when_its_solver_died(company: Company) -> None:
    today = timezone.now().date()
    span = Span(today, 1, 1)
    row = what_ifs.ask(company.depot, Changes(crews_added=1), span, by=company.office, today=today)
    WhatIf.objects.update(state=WhatIfState.SOLVING, heard_at=timezone.now())
    assert what_ifs.solve(row.pk, today=today).state == WhatIfState.SOLVING
    WhatIf.objects.update(heard_at=timezone.now() - timedelta(hours=1))
    background.solve_waiting()
    row.refresh_from_db()
    assert row.state == WhatIfState.DONE
    assert (what_ifs.solve(row.pk, today=today).done_at) == row.done_at


@pytest.mark.parametrize(
    ("span", "field"),
    [
        (Span(date(2026, 10, 1)), "first_month"),
        (Span(DECEMBER, 0), "months"),
        (Span(DECEMBER, 13), "months"),
        (Span(date(2027, 12, 1), 3), "months"),
        (Span(DECEMBER, 1, 0), "seconds"),
        (Span(DECEMBER, 1, 100_000), "seconds"),
    ],
)
def test_a_span_that_cannot_be_is_refused(company: Company, span: Span, field: str) -> None:
    with pytest.raises(Refused) as refused:
        what_ifs.ask(company.depot, Changes(gardens_added=1), span, by=company.office, today=MONDAY)
    assert [problem.field for problem in refused.value.problems] == [field]


@pytest.mark.parametrize("crews", [("nobody",), ("cottonwood", "chamisa")])
def test_crews_that_are_not_there_and_all_crews_cannot_be_left_out(
    company: Company, crews: tuple[str, ...]
) -> None:
    with pytest.raises(Refused) as refused:
        what_ifs.ask(company.depot, Changes(crews_out=crews), Span(DECEMBER), by=None, today=MONDAY)
    assert refused.value.problems[0].field == "crews_out"


def test_only_the_office_asks(company: Company) -> None:
    with pytest.raises(PermissionDenied):
        what_ifs.ask(company.depot, Changes(gardens_added=1), Span(DECEMBER), by=company.lead, today=MONDAY)
    assert not what_ifs.visible(company.lead).exists()
