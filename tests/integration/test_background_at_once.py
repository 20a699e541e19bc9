"""What several processes do at the same moment is done once, on SQLite and on PostgreSQL."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection

from landscape_care.care import actions as care
from landscape_care.care.models import CareTask
from landscape_care.dispatch import actions as dispatch
from landscape_care.dispatch.models import MonthPlan, PlanState, Stop
from landscape_care.people.models import AuditEntry
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Completion, Visit, VisitTask
from tests.integration.dispatch_company import MONDAY, Company, add_company, add_filter, add_task

pytestmark = [pytest.mark.both, pytest.mark.django_db(transaction=True)]
HANDS = 6


def at_once(*deeds: Callable[[], Any]) -> list[Any]:
    """Do all deeds at the same moment, each in a thread with a connection of its own."""
    together = Barrier(len(deeds))

    def one(deed: Callable[[], Any]) -> Any:
        together.wait(20)
        try:
            return deed()
        except (dispatch.StopChanged, visits.BodyDiffers, care.AlreadySettled) as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(deeds)) as hands:
        return list(hands.map(one, deeds))


@pytest.fixture
def company() -> Company:
    return add_company(gardens=3)


@pytest.fixture
def published(company: Company) -> MonthPlan:
    """A published month with one visit in each garden."""
    for number, garden in enumerate(company.gardens):
        add_task(garden, f"wash-{number}", MONDAY, MONDAY + timedelta(20))
        visits.bundle_property(garden.pk, today=MONDAY)
    plan = dispatch.propose(company.depot, MONDAY + timedelta(1), by=None, today=MONDAY, seconds=1)
    dispatch.solve_plan(plan.pk, today=MONDAY)
    dispatch.publish(plan.pk, by=None, today=MONDAY)
    plan.refresh_from_db()
    assert plan.stops.exists()
    return plan


def test_one_property_planned_by_many_has_each_task_once(company: Company) -> None:
    garden = company.gardens[0]
    add_filter(garden, company.office)
    reports = at_once(*[lambda: care.plan_care(garden.pk, today=MONDAY)] * HANDS)
    keys = list(CareTask.objects.filter(property=garden).values_list("key", flat=True))
    assert keys
    assert len(keys) == len(set(keys))
    assert sorted(report.added for report in reports) == [*[0] * (HANDS - 1), len(keys)]


def test_one_property_bundled_by_many_has_each_task_in_one_visit(company: Company) -> None:
    garden = company.gardens[0]
    for number in range(5):
        add_task(
            garden, f"wash-{number}", MONDAY + timedelta(7 * number), MONDAY + timedelta(7 * number + 10)
        )
    at_once(*[lambda: visits.bundle_property(garden.pk, today=MONDAY)] * HANDS)
    tasks = list(VisitTask.objects.filter(visit__property=garden).values_list("task", flat=True))
    assert len(tasks) == len(set(tasks)) == 5


def test_a_plan_that_many_want_to_solve_is_solved_once(company: Company) -> None:
    for number, garden in enumerate(company.gardens):
        add_task(garden, f"wash-{number}", MONDAY, MONDAY + timedelta(20))
        visits.bundle_property(garden.pk, today=MONDAY)
    plan = dispatch.propose(company.depot, MONDAY + timedelta(1), by=None, today=MONDAY, seconds=1)
    at_once(*[lambda: dispatch.solve_plan(plan.pk, today=MONDAY)] * HANDS)
    plan.refresh_from_db()
    assert plan.state == PlanState.PROPOSED
    placed = list(plan.stops.values_list("visit", flat=True))
    assert len(placed) == len(set(placed)) == Visit.objects.count() - plan.unserved.count()


def test_of_two_dispatchers_who_move_one_stop_one_wins_and_the_other_is_told(
    company: Company, published: MonthPlan
) -> None:
    stop = published.stops.select_related("crew")[0]
    days = [stop.day + timedelta(step) for step in range(1, 8) if (stop.day + timedelta(step)).weekday() < 5][
        :2
    ]
    deeds = [
        lambda day=day: dispatch.move_stop(
            stop.pk, day=day, crew=stop.crew, version=stop.version, by=company.office, today=MONDAY
        )
        for day in days
    ]
    answers = at_once(*deeds)
    won = [answer for answer in answers if isinstance(answer, Stop)]
    told = [answer for answer in answers if isinstance(answer, dispatch.StopChanged)]
    assert (len(won), len(told)) == (1, 1)
    assert "changed by office" in str(told[0])
    assert Stop.objects.get(pk=stop.pk).day == won[0].day
    assert AuditEntry.objects.filter(verb="move stop").count() == 1


def test_a_completion_that_a_phone_sends_many_times_counts_once(
    company: Company, published: MonthPlan
) -> None:
    visit = published.stops.select_related("visit")[0].visit
    task = CareTask.objects.get(visit_task__visit=visit)
    key = uuid4()
    day = visit.day or MONDAY

    def send() -> Completion:
        return visits.complete(key, visit=visit, task=task, outcome="done", done_on=day, by=company.office)

    answers = at_once(*[send] * 8)
    assert {answer.pk for answer in answers} == {key}
    assert Completion.objects.count() == 1
    assert AuditEntry.objects.filter(verb="complete task").count() == 1
    task.refresh_from_db()
    assert task.settled_on == day
