"""Dispatchers at the same moment, and a process that dies in the middle: all of it or nothing."""

import multiprocessing
import os
import signal
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from functools import partial
from threading import Barrier
from typing import Any

import pytest
from django.db import connection

from landscape_care.dispatch import actions, disruptions
from landscape_care.dispatch.actions import Ask, SeenOtherwise, StopChanged
from landscape_care.dispatch.models import CrewDayOff, Disruption, Letter, MonthPlan, PlanState, Stop
from landscape_care.people.models import AuditEntry
from landscape_care.properties.models import Client
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Visit, VisitState
from tests.integration.dispatch_company import MONDAY, Company, add_company, add_task

pytestmark = [pytest.mark.both, pytest.mark.django_db(transaction=True)]
HANDS = 8
ROUNDS = int(os.environ.get("DISPATCH_ROUNDS", "4"))  # more of them where there is time
TUESDAY = MONDAY + timedelta(1)


@pytest.fixture
def company() -> Company:
    company = add_company(gardens=5)
    for number, garden in enumerate(company.gardens):
        add_task(garden, f"wash-{number}", TUESDAY, TUESDAY + timedelta(13))
        visits.bundle_property(garden.pk, today=MONDAY)
    return company


def proposed(company: Company) -> MonthPlan:
    plan = actions.propose(company.depot, TUESDAY, by=None, today=MONDAY, seconds=1)
    return actions.solve_plan(plan.pk, today=MONDAY)


def in_a_process_that_dies(deed: Callable[[], Any], *, after_statements: int) -> int:
    """Do a deed in a process of its own, which is killed before its nth statement; its exit code."""
    connection.close()

    def die_in_the_middle() -> None:
        count = 0

        def counted(execute: Any, *statement: Any) -> Any:
            nonlocal count
            count += 1
            if count > after_statements:
                os.kill(os.getpid(), signal.SIGKILL)
            return execute(*statement)

        with connection.execute_wrapper(counted):
            deed()
        os._exit(0)

    child = multiprocessing.get_context("fork").Process(target=die_in_the_middle)
    child.start()
    child.join(60)
    assert child.exitcode is not None
    return child.exitcode


@pytest.mark.parametrize("after_statements", [3, 9, 20, 40])
def test_a_publisher_killed_in_the_middle_has_told_nobody_anything(
    company: Company, after_statements: int
) -> None:
    plan = proposed(company)

    def publish() -> None:
        actions.publish(plan.pk, by=None, today=MONDAY)

    code = in_a_process_that_dies(publish, after_statements=after_statements)
    assert code == -signal.SIGKILL
    assert MonthPlan.objects.get(pk=plan.pk).state == PlanState.PROPOSED
    assert not Visit.objects.exclude(state=VisitState.PLANNED).exists()
    assert not AuditEntry.objects.filter(verb__in=("announce visit", "publish month")).exists()
    publish()
    assert Visit.objects.filter(state=VisitState.PUBLISHED).count() == plan.stops.count() > 0


@pytest.mark.parametrize("after_statements", [8, 30])
def test_a_change_killed_in_the_middle_left_everything_as_it_was(
    company: Company, after_statements: int, settings: Any
) -> None:
    settings.LETTERS = True
    Client.objects.update(email="casa@example.org")
    plan = actions.publish(proposed(company).pk, by=None, today=MONDAY)
    row, seen = rain(company, plan)
    before = list(Visit.objects.order_by("pk").values_list("pk", "day", "revision"))

    def confirm() -> None:
        actions.confirm(row.pk, seen=seen, by=None, today=MONDAY)

    assert in_a_process_that_dies(confirm, after_statements=after_statements) == -signal.SIGKILL
    assert list(Visit.objects.order_by("pk").values_list("pk", "day", "revision")) == before
    assert not CrewDayOff.objects.exists()
    assert not Letter.objects.exists()
    confirm()
    assert CrewDayOff.objects.exists()
    assert Letter.objects.count() == 1


def rain(company: Company, plan: MonthPlan) -> tuple[Disruption, str]:
    day = plan.stops.values_list("day", flat=True)[0]
    ask = Ask(kind="rain", first_day=day, last_day=day)
    row = actions.disrupt(company.depot, ask, by=None, today=MONDAY)
    actions.solve_plan(row.plan_id, today=MONDAY)
    row = Disruption.objects.select_related("plan__depot", "base").get(pk=row.pk)
    return row, disruptions.shown_effects(row, MONDAY).seen


def at_once(deeds: Sequence[Callable[[], Any]]) -> list[Any]:
    """Do all deeds at the same moment, each in a thread with a connection of its own."""
    together = Barrier(len(deeds))

    def one(deed: Callable[[], Any]) -> Any:
        together.wait(20)
        try:
            return deed()
        except (StopChanged, SeenOtherwise) as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(deeds)) as hands:
        return list(hands.map(one, deeds))


def test_of_many_dispatchers_who_move_one_visit_one_wins_and_the_others_are_told(company: Company) -> None:
    plan = actions.publish(proposed(company).pk, by=None, today=MONDAY)
    number = plan.stops.all()[0].pk
    days = [TUESDAY + timedelta(count) for count in range(10)]
    free = [day for day in days if day.weekday() < 5]
    for turn in range(ROUNDS):
        stop = Stop.objects.get(pk=number)
        targets = [day for day in free if day != stop.day]
        chosen = [targets[(turn + hand) % len(targets)] for hand in range(HANDS)]
        to: dict[str, Any] = {
            "crew": company.other_crew,
            "version": stop.version,
            "by": company.office,
            "today": MONDAY,
        }
        deeds = [partial(actions.move_stop, number, day=day, **to) for day in chosen]
        answers = at_once(deeds)
        won = [answer for answer in answers if isinstance(answer, Stop)]
        told = [answer for answer in answers if isinstance(answer, StopChanged)]
        assert (len(won), len(told)) == (1, HANDS - 1)
        assert all("changed by office" in str(one) and "it is on" in str(one) for one in told)
        after = Stop.objects.select_related("visit").get(pk=number)
        assert (after.day, after.version) == (won[0].day, stop.version + 1)
        assert after.visit.day == after.day
    assert AuditEntry.objects.filter(verb="move stop").count() == ROUNDS


def test_a_change_confirmed_by_many_at_once_is_made_once(company: Company) -> None:
    plan = actions.publish(proposed(company).pk, by=None, today=MONDAY)
    row, seen = rain(company, plan)
    answers = at_once([lambda: actions.confirm(row.pk, seen=seen, by=None, today=MONDAY)] * HANDS)
    assert all(isinstance(answer, Disruption) for answer in answers)
    assert AuditEntry.objects.filter(verb="confirm disruption").count() == 1
    assert MonthPlan.objects.filter(state=PlanState.PUBLISHED).count() == 1
