"""The pages that look ahead: what if, and labour for twelve months."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from landscape_care.dispatch import actions, labour, what_ifs
from landscape_care.dispatch.imagined_months import month_problem, year_of
from landscape_care.dispatch.models import CrewDayOff, WhatIf, WhatIfState
from landscape_care.dispatch.queries import crew_shifts, month_days
from landscape_care.dispatch.solver import solve
from landscape_care.people.models import User
from landscape_care.visits import actions as visits
from tests.integration.dispatch_company import MONDAY, Company, add_company, add_task

pytestmark = pytest.mark.django_db
DECEMBER = date(2026, 12, 1)


@pytest.fixture
def company() -> Company:
    company = add_company(gardens=6)
    for number, garden in enumerate(company.gardens):
        for month in range(12):
            first = date(2026 + (11 + month) // 12, (11 + month) % 12 + 1, 4)
            skill = "arborist" if number == 0 else "gardener"
            add_task(garden, f"care{number}-{month}", first, first + timedelta(12), minutes=90, skill=skill)
        visits.bundle_property(garden.pk, today=MONDAY)
    return company


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def test_labour_counts_all_planned_care_by_month_and_skill(company: Company) -> None:
    found = labour.ahead(company.depot, today=DECEMBER)
    assert len(found.months) == 12
    assert [one.work_hours for one in found.months] == [9.0] * 12
    assert [one.visits for one in found.months] == [6] * 12
    by_skill = {skill.skill: skill.work_hours for skill in found.months[0].skills}
    assert by_skill == {"gardener": 7.5, "arborist": 1.5}


def test_hours_available_leave_out_holidays_and_days_off(company: Company) -> None:
    (before, *_) = labour.ahead(company.depot, today=DECEMBER).months
    shifts = crew_shifts([company.crew, company.other_crew], month_days(DECEMBER))
    # Two people and three, eight hours each without the break.
    assert before.hours_available == sum(shift.people * 8 * len(shift.days) for shift in shifts)
    CrewDayOff.objects.create(crew=company.crew, day=date(2026, 12, 2))
    (after, *_) = labour.ahead(company.depot, today=DECEMBER).months
    assert before.hours_available - after.hours_available == 16
    arborist = next(skill for skill in after.skills if skill.skill == "arborist")
    assert arborist.hours_available == 24 * len(shifts[1].days)


def test_a_skill_that_nobody_has_is_short(company: Company) -> None:
    add_task(company.gardens[0], "wall", DECEMBER, DECEMBER + timedelta(9), skill="mason")
    month = labour.ahead(company.depot, today=DECEMBER).months[0]
    mason = next(skill for skill in month.skills if skill.skill == "mason")
    assert (mason.hours_available, mason.short, month.short) == (0.0, True, True)
    page = signed_in(company.office).get(f"/labour/{company.depot.code}/").content.decode()
    assert "short of hours" in page


def test_driving_ahead_is_near_what_a_solved_month_drives(company: Company) -> None:
    """Set by one published month, the estimate of the next lies within a third of what solving it gives."""
    plan = actions.propose(company.depot, DECEMBER, by=company.office, today=MONDAY, seconds=1)
    actions.solve_plan(plan.pk, today=MONDAY)
    actions.publish(plan.pk, by=company.office, today=MONDAY)
    found = labour.ahead(company.depot, today=MONDAY)
    assert found.solved == (DECEMBER,)
    march = date(2027, 3, 1)
    year = year_of(company.depot, None, today=MONDAY, through=date(2027, 3, 31))
    solved = solve(month_problem(year, march), seconds=1)
    estimate = next(one for one in found.months if one.month == march)
    assert estimate.driving.hours * 60 == pytest.approx(solved.drive_minutes, rel=0.34)


def test_the_page_of_labour_has_picture_and_table(company: Company) -> None:
    page = signed_in(company.office).get(f"/labour/{company.depot.code}/").content.decode()
    assert "<svg" in page
    assert page.count('<tr><th scope="row">') >= 12
    spanish = signed_in(company.office).get("/labour/", headers={"Accept-Language": "es"}, follow=True)
    assert "Trabajo por venir" in spanish.content.decode()
    assert signed_in(company.lead).get(f"/labour/{company.depot.code}/").status_code == 403


def test_a_what_if_is_asked_worked_out_and_shown(company: Company) -> None:
    office, today = signed_in(company.office), timezone.now().date()
    address = f"/board/{company.depot.code}/{today:%Y-%m}/what-if/"
    assert office.get(address).status_code == 200
    sent = {"months": 2, "seconds": 2, "gardens_added": 3, "crews_out": ["cottonwood"]}
    answer = office.post(address, sent)
    row = WhatIf.objects.get()
    assert answer["Location"] == f"/what-ifs/{row.pk}/"
    assert "data-hx-get" in office.get(answer["Location"]).content.decode()
    assert "HX-Refresh" not in office.get(f"/what-ifs/{row.pk}/progress/").headers
    what_ifs.solve(row.pk, today=today)
    assert office.get(f"/what-ifs/{row.pk}/progress/").headers["HX-Refresh"] == "true"
    page = office.get(f"/what-ifs/{row.pk}/").content.decode()
    for words in (
        "3 more properties",
        "without Cottonwood crew",
        "All months together",
        "Hours that crews work",
    ):
        assert words in page
    spanish = office.get(f"/what-ifs/{row.pk}/", headers={"Accept-Language": "es"}).content.decode()
    assert "3 propiedades más" in spanish


def test_a_what_if_that_changes_nothing_comes_back_with_words(company: Company) -> None:
    address = f"/board/{company.depot.code}/{timezone.now().date():%Y-%m}/what-if/"
    answer = signed_in(company.office).post(address, {"months": 1, "seconds": 5})
    assert answer.status_code == 422
    assert "something that changes" in answer.content.decode()
    both = signed_in(company.office).post(
        address, {"months": 1, "seconds": 5, "crews_out": ["cottonwood", "chamisa"]}
    )
    assert "one crew that stays" in both.content.decode()
    assert not WhatIf.objects.exists()


def test_a_what_if_is_stopped_from_its_page(company: Company) -> None:
    today = timezone.now().date()
    office = signed_in(company.office)
    address = f"/board/{company.depot.code}/{today:%Y-%m}/what-if/"
    office.post(address, {"months": 1, "seconds": 5, "crews_added": 1})
    row = WhatIf.objects.get()
    assert signed_in(company.lead).post(f"/what-ifs/{row.pk}/stop/").status_code == 403
    office.post(f"/what-ifs/{row.pk}/stop/")
    row.refresh_from_db()
    assert row.state == WhatIfState.WITHDRAWN
