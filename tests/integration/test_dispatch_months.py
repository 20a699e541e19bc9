"""Months proposed, solved, published and changed by hand."""

import itertools
from datetime import date, time, timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from landscape_care.care import actions as care
from landscape_care.care.models import CareTask
from landscape_care.dispatch import actions, background, boards, queries, routing
from landscape_care.dispatch.actions import PlanNotReady, StopChanged
from landscape_care.dispatch.models import Crew, CrewDayOff, MonthPlan, PlanState, Stop
from landscape_care.people.models import AuditEntry
from landscape_care.trades.limits import Refused
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Visit, VisitState
from tests.integration.dispatch_company import CREW, MONDAY, Company, add_company, add_task

pytestmark = pytest.mark.django_db
DECEMBER = date(2026, 12, 1)
TUESDAY = MONDAY + timedelta(1)


@pytest.fixture
def company() -> Company:
    company = add_company(gardens=4)
    for number, garden in enumerate(company.gardens):
        add_task(garden, f"first{number}", TUESDAY, TUESDAY + timedelta(10), minutes=60)
        add_task(garden, f"second{number}", date(2026, 12, 15), date(2026, 12, 24), minutes=45, people=2)
        visits.bundle_property(garden.pk, today=MONDAY)
    return company


def solved(company: Company, today: date = MONDAY, month: date = DECEMBER) -> MonthPlan:
    plan = actions.propose(company.depot, month, by=company.office, today=today, seconds=1)
    return actions.solve_plan(plan.pk, today=today)


def published(company: Company, today: date = MONDAY) -> MonthPlan:
    return actions.publish(solved(company, today).pk, by=company.office, today=today)


# --- Proposing ------------------------------------------------------------------------------------------


def test_a_month_is_proposed_solved_and_adds_up(company: Company) -> None:
    plan = solved(company)
    assert plan.state == PlanState.PROPOSED
    stops = list(plan.stops.select_related("visit"))
    assert len(stops) == plan.summary["visits"] == 8
    assert plan.summary["unserved"] == 0
    assert all(stop.visit.opens_on <= stop.day <= stop.visit.closes_on for stop in stops)
    assert all(stop.day.weekday() < 5 for stop in stops)
    worked = sum(queries.minute(stop.leaves_at) - queries.minute(stop.arrives_at) for stop in stops)
    assert worked == plan.summary["service_minutes"]
    assert sum(stop.drive_minutes for stop in stops) < plan.summary["driving_minutes"]
    assert not Visit.objects.exclude(state=VisitState.PLANNED).exists()


def test_a_plan_is_solved_once_however_often_it_is_asked(company: Company) -> None:
    plan = solved(company)
    stops = list(plan.stops.values_list("pk", "visit", "day"))
    assert actions.solve_plan(plan.pk, today=MONDAY).solved_at == plan.solved_at
    background.solve_waiting()
    assert list(plan.stops.values_list("pk", "visit", "day")) == stops


def test_the_sweep_solves_what_waits_and_what_a_lost_solver_left(company: Company) -> None:
    month = timezone.now().date() + timedelta(40)
    plan = actions.propose(company.depot, month, by=None, today=timezone.now().date(), seconds=1)
    MonthPlan.objects.update(state=PlanState.SOLVING, claimed_at=timezone.now())
    background.solve_waiting()
    plan.refresh_from_db()
    assert plan.state == PlanState.SOLVING
    MonthPlan.objects.update(claimed_at=timezone.now() - timedelta(hours=1))
    background.solve_waiting()
    plan.refresh_from_db()
    assert plan.state == PlanState.PROPOSED


def test_a_plan_that_cannot_be_made_says_so(company: Company) -> None:
    # A shift that no table of the house would accept, written past the checks.
    Crew.objects.filter(pk=company.crew.pk).update(break_minutes=900)
    plan = solved(company)
    assert plan.state == PlanState.FAILED
    assert "break_minutes 900" in plan.failure


def test_days_that_are_over_are_not_planned(company: Company) -> None:
    today = date(2026, 12, 9)
    plan = solved(company, today)
    assert min(plan.stops.values_list("day", flat=True)) >= today


def test_a_month_that_is_over_or_too_long_a_wait_is_refused(company: Company) -> None:
    with pytest.raises(Refused, match="2026-11 or later"):
        actions.propose(company.depot, date(2026, 10, 1), by=company.office, today=MONDAY)
    with pytest.raises(Refused, match="seconds"):
        actions.propose(company.depot, DECEMBER, by=company.office, today=MONDAY, seconds=1000)
    with pytest.raises(PermissionDenied):
        actions.propose(company.depot, DECEMBER, by=company.lead, today=MONDAY)


def test_a_visit_nobody_can_do_is_listed_with_the_reason_in_both_languages(company: Company) -> None:
    add_task(company.gardens[0], "wall", TUESDAY, TUESDAY + timedelta(10), skill="mason")
    visits.bundle_property(company.gardens[0].pk, today=MONDAY)
    plan = solved(company)
    left = plan.unserved.get()
    assert left.reason == "No crew has all skills: mason"
    assert left.reason_es == "Ninguna cuadrilla reúne: mason"


def test_a_visit_belongs_to_the_month_of_its_first_possible_day(company: Company) -> None:
    garden = company.gardens[0]
    add_task(garden, "turn", date(2026, 12, 29), date(2027, 1, 12))
    visits.bundle_property(garden.pk, today=MONDAY)
    turn = Visit.objects.get(visit_tasks__task__key="turn:series:1")
    first = queries.allowed_days(turn, MONDAY)[0]
    in_december = turn in queries.month_visits(company.depot, DECEMBER, MONDAY)
    in_january = turn in queries.month_visits(company.depot, date(2027, 1, 1), MONDAY)
    assert (in_december, in_january) == (first.month == 12, first.month == 1)


# --- Publishing -----------------------------------------------------------------------------------------


def test_publishing_tells_people_the_times_of_the_plan(company: Company) -> None:
    plan = published(company)
    for stop in plan.stops.select_related("visit", "crew"):
        visit = stop.visit
        assert (visit.state, visit.revision, visit.announced) == (VisitState.PUBLISHED, 1, True)
        assert (visit.day, visit.arrives_at, visit.leaves_at) == (stop.day, stop.arrives_at, stop.leaves_at)
        assert visit.crew_name == stop.crew.name
    assert actions.publish(plan.pk, by=company.office, today=MONDAY) == plan


def test_only_a_proposed_plan_can_be_published_and_only_by_the_office(company: Company) -> None:
    plan = actions.propose(company.depot, DECEMBER, by=company.office, today=MONDAY, seconds=1)
    with pytest.raises(PlanNotReady, match="waiting"):
        actions.publish(plan.pk, by=company.office, today=MONDAY)
    with pytest.raises(PermissionDenied):
        actions.publish(plan.pk, by=company.lead, today=MONDAY)


def test_publishing_is_all_or_nothing(company: Company) -> None:
    plan = solved(company)
    last = plan.stops.order_by("-day").first()
    assert last is not None
    visits.withdraw(last.visit, "The owner is away", by=company.office)
    with pytest.raises(PlanNotReady, match="propose the month again"):
        actions.publish(plan.pk, by=company.office, today=MONDAY)
    assert not Visit.objects.filter(announced=True, state=VisitState.PUBLISHED).exists()
    plan.refresh_from_db()
    assert plan.state == PlanState.PROPOSED


def test_planning_again_keeps_what_people_were_told_and_replaces_the_plan(company: Company) -> None:
    first = published(company)
    places = set(first.stops.values_list("visit", "crew", "day"))
    add_task(company.gardens[1], "extra", TUESDAY, TUESDAY + timedelta(10), minutes=120)
    visits.bundle_property(company.gardens[1].pk, today=MONDAY)
    second = published(company)
    first.refresh_from_db()
    assert first.state == PlanState.SUPERSEDED
    assert places < set(second.stops.values_list("visit", "crew", "day"))
    assert second.stops.count() == 9


def test_an_unchanged_month_published_again_tells_nobody_anything(company: Company) -> None:
    published(company)
    before = list(Visit.objects.order_by("pk").values_list("pk", "revision", "changed_at"))
    published(company)
    assert list(Visit.objects.order_by("pk").values_list("pk", "revision", "changed_at")) == before


def test_history_of_the_month_goes_into_the_new_plan_untouched(company: Company) -> None:
    first = published(company)
    today = date(2026, 12, 14)
    past = set(first.stops.filter(day__lt=today).values_list("visit", "crew", "day", "arrives_at"))
    assert past
    second = solved(company, today)
    assert set(second.stops.filter(day__lt=today).values_list("visit", "crew", "day", "arrives_at")) == past


def test_a_visit_done_ahead_of_its_day_is_not_driven_to_again(company: Company) -> None:
    stop = published(company).stops.select_related("visit").order_by("day").last()
    assert stop is not None
    for task in CareTask.objects.filter(visit_task__visit=stop.visit):
        care.settle(task, "done", on=MONDAY, by=company.office)
    visits.bundle_property(stop.visit.property_id, today=MONDAY)
    assert Visit.objects.get(pk=stop.visit_id).state == VisitState.DONE
    again = published(company)
    assert not again.stops.filter(visit=stop.visit_id).exists()
    assert not again.unserved.filter(visit=stop.visit_id).exists()
    assert Visit.objects.get(pk=stop.visit_id).state == VisitState.DONE


def test_a_crew_that_falls_out_gives_its_visits_to_others_or_takes_them_back(company: Company) -> None:
    first = published(company)
    stop = first.stops.order_by("day").first()
    assert stop is not None
    actions.give_day_off(stop.crew, stop.day, "Ill", by=company.office)
    actions.give_day_off(stop.crew, stop.day, "Ill", by=company.office)
    assert CrewDayOff.objects.count() == 1
    second = published(company)
    assert not second.stops.filter(crew=stop.crew, day=stop.day).exists()
    assert second.stops.filter(visit=stop.visit).exists()


def test_a_told_visit_without_room_is_taken_back_with_the_reason(company: Company) -> None:
    first = published(company)
    Crew.objects.update(skills=["arborist"])
    for stop in first.stops.select_related("crew"):
        actions.give_day_off(stop.crew, stop.day, by=company.office)
    published(company)
    gone = Visit.objects.filter(state=VisitState.WITHDRAWN)
    assert gone.count() == 8
    assert {visit.withdrawn_reason for visit in gone} == {"No crew has all skills: gardener"}


# --- Changes by hand ------------------------------------------------------------------------------------


def free_day(stop: Stop) -> date:
    return next(
        day
        for day in queries.allowed_days(stop.visit, MONDAY)
        if day != stop.day and day.month == stop.plan.month.month
    )


def test_a_moved_stop_gets_new_times_is_held_and_people_are_told(company: Company) -> None:
    plan = published(company)
    stop = plan.stops.select_related("visit", "plan").order_by("day").first()
    assert stop is not None
    target = free_day(stop)
    moved = actions.move_stop(
        stop.pk, day=target, crew=company.other_crew, version=0, by=company.office, today=MONDAY
    )
    assert (moved.day, moved.crew, moved.held, moved.version) == (target, company.other_crew, True, 1)
    visit = Visit.objects.get(pk=stop.visit_id)
    assert (visit.day, visit.moved_from, visit.crew_name) == (target, stop.day, "Chamisa crew")
    for crew, day in {(stop.crew, stop.day), (company.other_crew, target)}:
        assert_drivable(plan, crew, day)
    again = solved(company)
    assert again.stops.get(visit=stop.visit).day == target


def assert_drivable(plan: MonthPlan, crew: Crew, day: date) -> None:
    stops = list(plan.stops.filter(crew=crew, day=day).order_by("position"))
    assert [stop.position for stop in stops] == list(range(1, len(stops) + 1))
    for before, after in itertools.pairwise(stops):
        gap = queries.minute(after.arrives_at) - queries.minute(before.leaves_at)
        assert gap >= int(after.drive_minutes)


def test_a_stop_that_somebody_else_changed_is_not_moved_and_says_who(company: Company) -> None:
    stop = solved(company).stops.first()
    assert stop is not None
    actions.hold_stop(stop.pk, version=0, by=company.office)
    with pytest.raises(StopChanged, match=r"changed by office at .* on .* with"):
        actions.move_stop(
            stop.pk, day=stop.day, crew=company.other_crew, version=0, by=company.office, today=MONDAY
        )
    with pytest.raises(StopChanged):
        actions.release_stop(stop.pk, version=0, by=company.office)
    assert actions.release_stop(stop.pk, version=1, by=company.office).version == 2
    assert AuditEntry.objects.filter(subject=f"stop {stop.pk}").count() == 2


def test_a_move_to_where_the_work_cannot_be_done_is_refused(company: Company) -> None:
    garden = company.gardens[0]
    add_task(garden, "valve", TUESDAY, TUESDAY + timedelta(1), skill="irrigation_tech", people=2)
    visits.bundle_property(garden.pk, today=MONDAY)
    plan = solved(company)
    stop = plan.stops.get(visit__visit_tasks__task__key="valve:series:1")

    def move(day: date = stop.day, crew: Crew = stop.crew, today: date = MONDAY) -> None:
        actions.move_stop(stop.pk, day=day, crew=crew, version=0, by=company.office, today=today)

    with pytest.raises(Refused, match="a crew with irrigation tech"):
        move(crew=company.other_crew)
    with pytest.raises(Refused, match="an allowed weekday"):
        move(day=date(2026, 12, 22))
    with pytest.raises(Refused, match="a day of 2026-12"):
        move(day=date(2027, 1, 4))
    with pytest.raises(Refused, match="still to come"):
        move(today=date(2026, 12, 20))
    Crew.objects.filter(pk=company.crew.pk).update(people=1)
    with pytest.raises(Refused, match="a crew of 2 people"):
        move(crew=Crew.objects.get(pk=company.crew.pk))
    Crew.objects.filter(pk=company.crew.pk).update(people=2, shift_closes=time(8, 30))
    with pytest.raises(Refused, match="room in the shift"):
        move(crew=Crew.objects.get(pk=company.crew.pk))
    stop.refresh_from_db()
    assert (stop.version, stop.held) == (0, False)


def test_a_withdrawn_visit_leaves_its_route_and_hinders_no_move(company: Company) -> None:
    plan = published(company)
    stops = list(plan.stops.select_related("crew", "visit").order_by("day", "crew", "position"))
    gone, other = next(
        (one, two)
        for one in stops
        for two in stops
        if one != two and (one.crew, one.day) == (two.crew, two.day)
    )
    visits.withdraw(gone.visit, "The owner is away", by=company.office)
    told = Visit.objects.get(pk=gone.visit_id)
    actions.move_stop(
        other.pk, day=free_day(other), crew=other.crew, version=0, by=company.office, today=MONDAY
    )
    after = Visit.objects.get(pk=gone.visit_id)
    assert (after.state, after.revision) == (VisitState.WITHDRAWN, told.revision)
    with pytest.raises(Refused, match="still to come"):
        actions.move_stop(gone.pk, day=gone.day, crew=gone.crew, version=0, by=company.office, today=MONDAY)


def test_a_stop_of_a_replaced_plan_is_not_changed(company: Company) -> None:
    first = published(company)
    published(company)
    stop = first.stops.first()
    assert stop is not None
    with pytest.raises(PlanNotReady, match="superseded"):
        actions.hold_stop(stop.pk, version=0, by=company.office)


# --- What people look at --------------------------------------------------------------------------------


def test_a_crew_sees_its_published_day_with_cautions_load_and_heat(company: Company) -> None:
    CareTask.objects.update(cautions=["SHARP"], details={"numbers": {"plants": 18}, "lines": {}})
    plan = published(company)
    stop = plan.stops.select_related("crew").order_by("day").first()
    assert stop is not None
    sheet = queries.crew_day(stop.crew, stop.day)
    assert [one.stop.visit_id for one in sheet.stops]
    assert sheet.stops[0].cautions == ("SHARP",)
    assert sheet.load[0].amount == 18 * sum(len(one.tasks) for one in sheet.stops)
    assert sheet.heat is not None
    assert sheet.heat.level == "usual"
    assert sheet.heat.lines == ()
    assert "humidity" in sheet.heat_basis[0]
    assert list(queries.crews_of(company.lead)) == [company.crew]
    seen = set(queries.visible_stops(company.lead).values_list("crew", flat=True))
    assert seen <= {company.crew.pk}
    assert not queries.visible_stops(company.stranger).exists()
    assert not queries.visible_plans(company.lead).exists()


def test_a_crew_in_the_desert_heat_starts_early_and_is_told_when_heavy_work_ends(company: Company) -> None:
    plan = published(company)
    stop = plan.stops.select_related("crew").order_by("day").first()
    assert stop is not None
    place = stop.visit.property
    place.climate = "phoenix"
    place.save()
    Stop.objects.filter(pk=stop.pk).update(day=date(2027, 7, 13))
    heat = queries.crew_day(stop.crew, date(2027, 7, 13)).heat
    assert heat is not None
    # Usual high 106 °F: common practice puts heavy work off from 105 °F in the air.
    assert heat.level == "put_off"
    assert heat.start < stop.crew.shift_opens
    assert heat.start < heat.heavy_until < heat.ends
    assert heat.rest_minutes >= 15
    assert heat.lines[0][0].startswith("Start at 6:00 am; heavy work until")
    assert heat.lines[0][1].startswith("Empiece a las 6:00 a. m.; trabajo pesado hasta")


def test_the_afternoon_of_a_desert_june_asks_for_heat_care() -> None:
    # FAO-56 chapter 3: without humidity data the dew point is near the daily low; at 101 °F over
    # 70 °F that gives 37 %, e°(21.1 °C) = 2.50 over e°(38.3 °C) = 6.74 kPa (FAO-56 annex 2.3).
    assert queries.afternoon_humidity_pct(101, 70) == pytest.approx(100 * 2.50 / 6.74, abs=0.5)


def test_the_board_has_a_row_for_each_day_and_a_cell_for_each_crew(company: Company) -> None:
    plan = published(company)
    board = boards.board(company.depot, DECEMBER)
    assert board.plan == board.published == plan
    assert len(board.rows) == 31
    assert all([cell.crew for cell in cells] == list(board.crews) for _, cells in board.rows)
    shown = [stop for _, cells in board.rows for cell in cells for stop in cell.stops]
    assert len(shown) == 8
    sunday = next(cells for day, cells in board.rows if day.weekday() == 6)
    assert not any(cell.works for cell in sunday)


def test_a_board_takes_the_same_number_of_queries_for_any_number_of_stops(company: Company) -> None:
    plan = published(company)
    few = plan.stops.order_by("pk")[:1].get()
    with CaptureQueriesContext(connection) as for_all:
        boards.board(company.depot, DECEMBER)
    plan.stops.exclude(pk=few.pk).delete()
    with CaptureQueriesContext(connection) as for_one:
        boards.board(company.depot, DECEMBER)
    assert len(for_all) == len(for_one) < 12


# --- Crews ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"people": 0}, "people"),
        ({"skills": "gardner"}, "gardner"),
        ({"skills": ""}, "skills"),
        ({"shift_closes": time(6)}, "after 07:00"),
        ({"shift_closes": time(23, 45)}, "before 23:30"),
        ({"break_minutes": 240, "shift_closes": time(9)}, "less than the shift"),
        ({"weekdays": "128"}, "weekdays"),
        ({"depot": "nowhere"}, "the code of a depot"),
        ({"code": "cottonwood"}, "in use already"),
        ({"colour": "green"}, "no such field"),
    ],
)
def test_a_crew_that_cannot_be_is_refused(company: Company, changes: dict[str, object], words: str) -> None:
    values = CREW | {"code": "new"} | changes
    with pytest.raises(Refused, match=words):
        actions.add_crew(values, by=company.office)


def test_a_crew_changes_and_the_log_says_what(company: Company) -> None:
    actions.change_crew(company.crew, {"people": 3, "skills": "gardener, mason"}, by=company.office)
    changed = Crew.objects.get(pk=company.crew.pk)
    assert (changed.people, changed.skills) == (3, ["gardener", "mason"])
    assert AuditEntry.objects.filter(verb="change crew").get().detail["fields"] == ["people", "skills"]
    assert routing.OVERTIME_MINUTES < 60
