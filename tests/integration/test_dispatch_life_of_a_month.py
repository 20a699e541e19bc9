"""A month watched while it is worked out, stopped, taken back, compared; letters that leave once."""

import smtplib
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.core import mail
from django.core.exceptions import PermissionDenied
from django.core.mail.backends.base import BaseEmailBackend
from django.test import override_settings
from django.utils import timezone

from landscape_care.care import actions as care
from landscape_care.care.models import CareTask
from landscape_care.dispatch import actions, boards, figures, letters, months, queries, solver
from landscape_care.dispatch.actions import PlanNotReady
from landscape_care.dispatch.models import CrewRoute, Letter, LetterState, MonthPlan, PlanState, Stop
from landscape_care.properties.models import Client
from landscape_care.trades.limits import Refused
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Visit, VisitState
from tests.integration.dispatch_company import MONDAY, Company, add_company, add_task

pytestmark = pytest.mark.django_db
DECEMBER = date(2026, 12, 1)
TUESDAY = MONDAY + timedelta(1)


@pytest.fixture
def company() -> Company:
    company = add_company(gardens=4)
    for number, garden in enumerate(company.gardens):
        add_task(garden, f"first{number}", TUESDAY, TUESDAY + timedelta(10), minutes=60)
        add_task(garden, f"second{number}", date(2026, 12, 15), date(2026, 12, 24), minutes=45)
        visits.bundle_property(garden.pk, today=MONDAY)
    return company


def proposed(company: Company, today: date = MONDAY) -> MonthPlan:
    plan = actions.propose(company.depot, DECEMBER, by=company.office, today=today, seconds=1)
    return actions.solve_plan(plan.pk, today=today)


def published(company: Company, today: date = MONDAY) -> MonthPlan:
    return actions.publish(proposed(company, today).pk, by=company.office, today=today)


# --- While it is worked out -----------------------------------------------------------------------------


def test_solving_leaves_signs_in_the_row_and_stops_when_somebody_wants_the_best_so_far(
    company: Company,
) -> None:
    plan = actions.propose(company.depot, DECEMBER, by=company.office, today=MONDAY)
    now = timezone.now()
    MonthPlan.objects.filter(pk=plan.pk).update(state=PlanState.SOLVING, claimed_at=now)
    signs = months.Signs(plan.pk, claimed_at=now)
    assert signs(solver.Progress(0.25, 3, 61.5))
    plan.refresh_from_db()
    assert plan.progress == {"share": 0.25, "placed": 3, "driving_minutes": 61.5}
    assert plan.heard_at is not None
    actions.stop_solving(plan.pk, by=company.office)
    assert not months.Signs(plan.pk, claimed_at=now)(solver.Progress(0.3, 3, 61.5))


def test_a_plan_that_is_ended_early_is_a_whole_plan_and_says_so(company: Company) -> None:
    plan = actions.propose(company.depot, DECEMBER, by=company.office, today=MONDAY, seconds=30)
    MonthPlan.objects.filter(pk=plan.pk).update(stop_wanted=True)
    plan = actions.solve_plan(plan.pk, today=MONDAY)
    assert plan.state == PlanState.PROPOSED
    assert plan.summary["ended_early"] == 1
    assert plan.stops.count() + plan.unserved.count() == 8


def test_a_plan_that_nobody_began_is_withdrawn_when_it_is_stopped(company: Company) -> None:
    plan = actions.propose(company.depot, DECEMBER, by=company.office, today=MONDAY)
    assert actions.stop_solving(plan.pk, by=company.office).state == PlanState.WITHDRAWN
    assert actions.solve_plan(plan.pk, today=MONDAY).state == PlanState.WITHDRAWN


def test_a_proposal_is_thrown_away_without_a_word_to_anybody(company: Company) -> None:
    plan = proposed(company)
    actions.withdraw_proposal(plan.pk, by=company.office)
    assert queries.shown_plan(company.depot, DECEMBER) is None
    assert not Visit.objects.exclude(state=VisitState.PLANNED).exists()
    with pytest.raises(PlanNotReady, match="only a proposal"):
        actions.withdraw_proposal(plan.pk, by=company.office)


# --- Figures --------------------------------------------------------------------------------------------


def test_the_figures_of_a_plan_follow_from_its_rows_and_agree_with_what_was_solved(company: Company) -> None:
    plan = proposed(company)
    found = figures.figures_of(plan)
    assert found.visits == plan.summary["visits"]
    assert found.service_minutes == plan.summary["service_minutes"]
    assert found.drive_minutes == pytest.approx(plan.summary["driving_minutes"], abs=0.1)
    assert found.drive_miles == pytest.approx(plan.summary["driving_miles"], abs=0.1)
    assert found.overtime_minutes == plan.summary["overtime_minutes"]
    assert found.crew_days == CrewRoute.objects.filter(plan=plan).count()
    assert found.visits_per_crew_day == found.visits / found.crew_days
    assert found.preferred_share is None
    stops = list(plan.stops.select_related("crew", "visit__property"))
    for garden in company.gardens[:2]:
        actions.prefer_crew(garden, company.crew, by=company.office)
    asked = [stop for stop in stops if stop.visit.property in company.gardens[:2]]
    by_it = [stop for stop in asked if stop.crew == company.crew]
    assert figures.figures_of(plan).preferred_share == len(by_it) / len(asked)


def test_a_proposal_is_compared_with_what_holds_and_with_last_month(company: Company) -> None:
    first = published(company)
    second = proposed(company)
    found = figures.compared(second)
    assert found.before is not None
    assert found.before.plan == first
    assert found.before.figures == figures.figures_of(first)
    assert found.last_month is None


def test_the_cost_that_is_shown_is_the_cost_of_the_move(company: Company) -> None:
    plan = published(company)
    before = figures.figures_of(plan)
    stop = plan.stops.select_related("visit").order_by("day")[0]
    day = next(d for d in queries.allowed_days(stop.visit, MONDAY) if d != stop.day)
    to: dict[str, Any] = {"day": day, "crew": company.other_crew, "by": company.office, "today": MONDAY}
    move = actions.weigh_move(stop.pk, **to)
    assert Stop.objects.get(pk=stop.pk).day == stop.day
    actions.move_stop(stop.pk, version=0, **to)
    after = figures.figures_of(plan)
    assert after.drive_minutes - before.drive_minutes == pytest.approx(move.more_minutes, abs=0.05)
    assert move.spot is not None
    moved = Stop.objects.get(pk=stop.pk)
    assert (moved.day, moved.arrives_at) == (move.spot.day, move.spot.arrives_at)


# --- Taking a month back --------------------------------------------------------------------------------


def test_a_month_taken_back_withdraws_what_is_to_come_and_keeps_what_was(company: Company) -> None:
    plan = published(company)
    later = date(2026, 12, 14)
    past = set(plan.stops.filter(day__lt=later).values_list("visit", "day"))
    with pytest.raises(Refused, match="why the month"):
        actions.withdraw_month(plan.pk, " ", by=company.office, today=later)
    actions.withdraw_month(plan.pk, "Ice storm", by=company.office, today=later)
    gone = Visit.objects.filter(state=VisitState.WITHDRAWN)
    assert set(gone.values_list("withdrawn_reason", flat=True)) == {"Ice storm"}
    assert gone.count() == plan.stops.count() - len(past)
    for garden in company.gardens:
        visits.bundle_property(garden.pk, today=later)
    again = published(company, later)
    assert set(again.stops.filter(day__lt=later).values_list("visit", "day")) == past


# --- The board ------------------------------------------------------------------------------------------


def test_a_large_month_is_counted_and_one_week_is_listed(
    company: Company, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = published(company)
    whole = boards.board(company.depot, DECEMBER, today=MONDAY)
    assert whole.listed is None
    monkeypatch.setattr(boards, "MOST_IN_DETAIL", 4)
    day = plan.stops.order_by("-day").values_list("day", flat=True)[0]
    large = boards.board(company.depot, DECEMBER, today=MONDAY, week=day)
    assert large.listed is not None
    assert large.listed[0] <= day <= large.listed[1]
    cells = [cell for _, row in large.rows for cell in row]
    assert sum(cell.count for cell in cells) == 8
    assert sum(len(cell.stops) for cell in cells) == plan.stops.filter(day__range=large.listed).count() < 8
    sums = [cell.service_minutes for _, row in whole.rows for cell in row]
    assert [cell.service_minutes for cell in cells] == sums
    monkeypatch.setattr(boards, "MOST_IN_DETAIL", 0)
    assert boards.board(company.depot, DECEMBER, today=MONDAY, week=day).listed == (day, day)


def test_days_gone_by_show_what_was_done_beside_the_visits(company: Company) -> None:
    published(company)
    later = date(2026, 12, 14)
    loose = add_task(company.gardens[0], "loose", TUESDAY, TUESDAY + timedelta(40))
    care.settle(loose, "done", on=date(2026, 12, 3), by=company.office)
    stop = Stop.objects.select_related("visit").order_by("day")[0]
    for task in CareTask.objects.filter(visit_task__visit=stop.visit):
        care.settle(task, "done", on=stop.day, by=company.office)
    board = boards.board(company.depot, DECEMBER, today=later)
    assert [(one.name, one.tasks) for one in board.done[date(2026, 12, 3)]] == [("Casa 1, Acequia Lane", 1)]
    assert set(board.done) == {date(2026, 12, 3)}
    assert boards.board(company.depot, DECEMBER, today=MONDAY).done == {}


# --- The order of a day ---------------------------------------------------------------------------------


def test_a_crew_changes_the_order_of_its_own_today_only(company: Company) -> None:
    plan = published(company)
    one, two = two_on_a_day(company, plan)
    order: dict[str, Any] = {"version": queries.crew_route(company.crew, one.day).version}  # type: ignore[union-attr]
    ids = [two.pk, one.pk]
    with pytest.raises(PermissionDenied, match="Only the office and, today"):
        actions.reorder_day(company.crew, one.day, ids, by=company.lead, today=MONDAY, **order)
    actions.reorder_day(company.crew, one.day, ids, by=company.lead, today=one.day, **order)
    after = list(plan.stops.filter(crew=company.crew, day=one.day).order_by("position"))
    assert [stop.pk for stop in after] == ids
    assert Visit.objects.get(pk=after[0].visit_id).arrives_at == after[0].arrives_at
    order["version"] += 1
    with pytest.raises(Refused, match="each stop of the day once"):
        actions.reorder_day(company.crew, one.day, ids[:1], by=company.office, today=one.day, **order)


def two_on_a_day(company: Company, plan: MonthPlan) -> list[Stop]:
    first, second = plan.stops.select_related("visit").order_by("day")[:2]
    for stop in (first, second):
        actions.move_stop(
            stop.pk, day=date(2026, 12, 8), crew=company.crew, version=0, by=company.office, today=MONDAY
        )
    return list(plan.stops.filter(crew=company.crew, day=date(2026, 12, 8)).order_by("position")[:2])


# --- Letters --------------------------------------------------------------------------------------------


def letter(**changes: Any) -> Letter:
    usual = {
        "key": "k",
        "address": "casa@example.org",
        "subject": "s",
        "body": "b",
        "send_after": timezone.now(),
    }
    return Letter.objects.create(**usual | changes)


def later(minutes: int) -> datetime:
    return timezone.now() + timedelta(minutes=minutes)


def test_a_letter_leaves_once_and_carries_an_identity_of_its_own() -> None:
    one = letter()
    assert letters.send_waiting(later(1)) == 1
    assert letters.send_waiting(later(9)) == 0
    one.refresh_from_db()
    assert (one.state, one.attempts) == (LetterState.SENT, 1)
    assert [message.to for message in mail.outbox] == [["casa@example.org"]]
    assert f"letter-{one.pk}@" in mail.outbox[0].extra_headers["Message-ID"]


class Unreachable(BaseEmailBackend):
    """A mail server that nobody reaches."""

    def open(self) -> bool:
        raise ConnectionRefusedError("no server")


class Refusing(BaseEmailBackend):
    """A mail server that does not want the letter now."""

    def send_messages(self, messages: Any) -> int:
        raise smtplib.SMTPResponseException(451, b"try later")


class Dying(BaseEmailBackend):
    """A mail server whose line breaks after it took the letter."""

    def send_messages(self, messages: Any) -> int:
        raise smtplib.SMTPServerDisconnected("gone")


@pytest.mark.parametrize("server", ["Unreachable", "Refusing"])
def test_what_a_server_did_not_take_is_tried_again_later_and_given_up_in_the_end(server: str) -> None:
    one = letter()
    with override_settings(EMAIL_BACKEND=f"{__name__}.{server}"):
        for attempt in range(1, letters.MOST_ATTEMPTS + 1):
            one.refresh_from_db()
            assert letters.send_waiting(one.send_after) == 0
            one.refresh_from_db()
            assert one.attempts == attempt
    assert one.state == LetterState.FAILED
    assert letters.send_waiting(later(10_000)) == 0
    assert mail.outbox == []


def test_what_may_have_left_is_not_sent_again() -> None:
    one = letter()
    with override_settings(EMAIL_BACKEND=f"{__name__}.Dying"):
        letters.send_waiting(later(1))
    one.refresh_from_db()
    assert one.state == LetterState.FAILED
    assert one.failure.startswith("It may have left")
    assert letters.send_waiting(later(10_000)) == 0
    # A sender that died with the letter in its hands.
    letter(key="other", state=LetterState.SENDING)
    assert letters.send_waiting(later(10_000)) == 0


@override_settings(LETTERS=True)
def test_a_move_by_hand_writes_to_the_owner_and_the_crews(company: Company) -> None:
    Client.objects.update(email="casa@example.org")
    plan = published(company)
    assert not Letter.objects.exists()
    stop = plan.stops.select_related("visit").order_by("day")[0]
    day = next(d for d in queries.allowed_days(stop.visit, MONDAY) if d != stop.day)
    actions.move_stop(stop.pk, day=day, crew=company.other_crew, version=0, by=company.office, today=MONDAY)
    one = Letter.objects.get()
    assert "instead of" in one.body
    assert "The office moved it" in one.body
    assert one.client is not None
