"""Care tasks in the database: planned, settled, held, adjusted, explained."""

import uuid
from datetime import date, time, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from landscape_care.care import actions, queries
from landscape_care.care.background import plan_one
from landscape_care.care.models import CareTask, Report, TaskState
from landscape_care.people.models import AuditEntry
from landscape_care.properties import actions as properties_actions
from landscape_care.properties.actions import leave_settings
from landscape_care.properties.models import Property
from landscape_care.trades.limits import Refused
from tests.integration.care_company import START, crew, garden, office, owner, put, sand_filter, turf

pytestmark = pytest.mark.django_db


def plan(place: Property, today: date = START, **more: Any) -> actions.PlanReport:
    return actions.plan_care(place.pk, today=today, **more)


def series(place: Property, rule: str) -> list[CareTask]:
    return list(CareTask.objects.filter(property=place, rule=rule).order_by("due_on"))


def snapshot() -> list[tuple[Any, ...]]:
    return sorted(CareTask.objects.values_list("key", "opens_on", "due_on", "closes_on", "state", "revision"))


def in_published_visit(task: CareTask) -> None:
    from landscape_care.visits.models import Visit, VisitState, VisitTask

    visit = Visit.objects.create(
        property=task.property,
        slot="2026-W50",
        uid=uuid.uuid4(),
        opens_on=task.opens_on,
        closes_on=task.closes_on,
        minutes=task.minutes,
        state=VisitState.PUBLISHED,
        day=task.due_on,
        arrives_at=time(9),
        leaves_at=time(10),
        changed_at=timezone.now(),
    )
    VisitTask.objects.create(visit=visit, task=task)


# --- Planning ---


def test_planning_reaches_thirteen_months_and_a_second_run_writes_nothing() -> None:
    place = garden()
    sand_filter(place)
    first = plan(place)
    place.refresh_from_db()
    before, entries = snapshot(), AuditEntry.objects.count()
    second = plan(place)
    assert first.added == CareTask.objects.count() > 13
    assert place.planned_through == START + timedelta(396)
    assert place.plan_wanted_at is None
    assert not second
    assert (snapshot(), AuditEntry.objects.count()) == (before, entries)


def test_skipped_care_is_settled_and_yet_nothing_was_set_by_it() -> None:
    place = garden()
    put(place, "transformer", "T1", capacity_va=300.0, timer="plain")
    plan(place)
    first, second, *_ = series(place, "light-timer-reset")
    actions.settle(first, "done", on=first.due_on, by=None)
    actions.settle(second, "skipped", on=second.due_on, by=None, reason="No way in")
    past = queries.history(place).series[first.series]
    assert (past.last_on, past.done, past.done_on) == (second.due_on, first.occurrence, first.due_on)


def test_looking_again_costs_as_many_questions_on_a_large_property_as_on_a_small_one() -> None:
    small, large = garden(), garden("casa-15")
    turf(small)
    for number in range(12):
        put(large, "turf", f"TU{number}", area_ft2=100.0)
    counts = []
    for place in (small, large):
        plan(place)
        with CaptureQueriesContext(connection) as asked:
            plan(place)
        counts.append(len(asked))
    assert counts[0] == counts[1] <= 40


def test_a_day_that_passes_moves_nothing_and_adds_what_comes_into_sight() -> None:
    place = garden()
    sand_filter(place)
    plan(place)
    before = snapshot()
    report = plan(place, START + timedelta(40))
    assert (report.moved, report.withdrawn) == (0, 0)
    assert report.added > 0
    assert set(before) <= set(snapshot())


def test_a_removed_thing_withdraws_its_tasks_and_a_change_of_mind_takes_them_up_again() -> None:
    place = garden()
    patch = turf(place)
    plan(place)
    properties_actions.remove(patch, START + timedelta(10), reason="sold", by=None)
    report = plan(place, START + timedelta(10))
    assert report.withdrawn == CareTask.objects.filter(thing=patch, state=TaskState.WITHDRAWN).count() > 0
    withdrawn = CareTask.objects.filter(state=TaskState.WITHDRAWN).values_list("pk", flat=True)
    taken_up = CareTask.objects.filter(pk__in=list(withdrawn))
    patch.refresh_from_db()
    properties_actions.change(patch, {"removed_on": None}, reason="kept after all", by=None)
    again = plan(place, START + timedelta(10))
    assert again.moved >= report.withdrawn
    assert set(taken_up.values_list("state", "revision")) == {(TaskState.OPEN, 2)}


def test_a_task_people_were_told_about_keeps_its_window_and_later_ones_follow_it() -> None:
    place = garden()
    turf(place)
    plan(place)
    told = series(place, "turf-brushing")[0]
    in_published_visit(told)
    actions.adjust_rule("turf-brushing", by=None, reason="dogs", every_days=7)
    plan(place, START + timedelta(1))
    told.refresh_from_db()
    assert (told.state, told.revision) == (TaskState.OPEN, 0)
    assert series(place, "turf-brushing")[1].due_on == told.due_on + timedelta(7)


def test_a_told_task_of_a_thing_that_is_gone_is_withdrawn() -> None:
    place = garden()
    patch = turf(place)
    plan(place)
    told = series(place, "turf-brushing")[0]
    in_published_visit(told)
    properties_actions.remove(patch, START + timedelta(10), reason="sold", by=None)
    plan(place, START + timedelta(10))
    told.refresh_from_db()
    assert (told.state, told.revision) == (TaskState.WITHDRAWN, 1)


def test_a_held_task_keeps_its_window_until_it_is_released() -> None:
    place, chief = garden(), office()
    sand_filter(place)
    plan(place)
    first, second = series(place, "sand-filter-backwash")[:2]
    actions.hold(second, by=chief)
    actions.settle(first, "done", on=START + timedelta(5), by=None)
    plan(place, START + timedelta(6))
    second.refresh_from_db()
    assert second.due_on == START + timedelta(60)
    actions.release(second, by=chief)
    plan(place, START + timedelta(6))
    second.refresh_from_db()
    assert second.due_on == START + timedelta(35)


def test_nothing_is_owed_after_the_end_of_care() -> None:
    place = garden()
    turf(place)
    plan(place)
    properties_actions.change_property(
        place, {"care_ends_on": START + timedelta(30)}, reason="moved away", by=None
    )
    plan(place, START + timedelta(2))
    kept = CareTask.objects.filter(state=TaskState.OPEN)
    assert 0 < kept.count() == kept.filter(due_on__lte=START + timedelta(30)).count()
    plan(place, START + timedelta(31))
    assert not kept.exists()


def test_an_agreement_for_turf_alone_plans_turf_alone_at_its_cadence() -> None:
    place = garden(cadence="monthly", stems=("turf",))
    turf(place)
    sand_filter(place)
    plan(place)
    assert set(CareTask.objects.values_list("stem", flat=True)) == {"turf"}
    brushing = series(place, "turf-brushing")
    assert (brushing[1].due_on - brushing[0].due_on).days == 28


def test_the_clock_finds_what_wants_a_plan() -> None:
    place, other = garden(), garden("casa-15")
    plan(place, date.today())
    assert list(queries.to_plan(date.today())) == [other]
    plan_one(other.pk)
    assert not queries.to_plan(date.today())
    turf(place)
    assert list(queries.to_plan(date.today())) == [place]


# --- Settling ---


def test_a_settled_task_moves_the_rest_of_its_series_and_no_other() -> None:
    place = garden()
    sand_filter(place)
    turf(place)
    plan(place)
    others = [row for row in snapshot() if "backwash" not in row[0]]
    first = series(place, "sand-filter-backwash")[0]
    actions.settle(first, "done", on=START + timedelta(33), by=crew())
    plan(place, START + timedelta(33))
    tasks = series(place, "sand-filter-backwash")
    assert [task.occurrence for task in tasks[:2]] == ["1", "2"]
    assert tasks[1].due_on == START + timedelta(63)
    assert tasks[1].revision == 1
    assert set(others) <= set(snapshot())


def test_whatever_changes_what_is_due_asks_for_a_new_plan() -> None:
    place, chief = garden(), office()
    tank = sand_filter(place)
    plan(place, date.today())
    first, second = series(place, "sand-filter-backwash")[:2]
    for change in (
        lambda: actions.settle(first, "done", on=START, by=None),
        lambda: actions.unsettle(first, reason="wrong house", by=chief),
        lambda: actions.hold(second, by=chief),
        lambda: actions.take_reading(tank, "filter_pressure_psi", 12.0, "psi", on=START, by=None),
        lambda: actions.adjust_rule("turf-brushing", by=chief, reason="dogs", every_days=10),
    ):
        assert not queries.to_plan(date.today())
        change()
        assert list(queries.to_plan(date.today())) == [place]
        plan(place, date.today())


def test_a_task_is_settled_once() -> None:
    place = garden()
    turf(place)
    plan(place)
    task = series(place, "turf-brushing")[0]
    copy = CareTask.objects.get(pk=task.pk)
    actions.settle(task, "done", on=START, by=None)
    with pytest.raises(actions.AlreadySettled, match=f"was done on {START}"):
        actions.settle(copy, "skipped", on=START, by=None, reason="locked gate")


def test_a_skip_wants_a_reason_and_an_outcome_is_one_of_two() -> None:
    place = garden()
    turf(place)
    plan(place)
    task = series(place, "turf-brushing")[0]
    with pytest.raises(ValueError, match="wants a reason"):
        actions.settle(task, "skipped", on=START, by=None)
    with pytest.raises(ValueError, match="'forgotten'"):
        actions.settle(task, "forgotten", on=START, by=None)


def test_a_withdrawn_task_cannot_be_settled() -> None:
    place = garden()
    patch = turf(place)
    plan(place)
    task = series(place, "turf-brushing")[0]
    properties_actions.remove(patch, START, reason="sold", by=None)
    plan(place)
    with pytest.raises(actions.TaskWithdrawn):
        actions.settle(task, "done", on=START, by=None)


def test_the_office_takes_back_what_was_not_done() -> None:
    place, chief = garden(), office()
    turf(place)
    plan(place)
    task = series(place, "turf-brushing")[0]
    actions.settle(task, "done", on=START + timedelta(3), by=None)
    plan(place, START + timedelta(3))
    actions.unsettle(task, reason="wrong house", by=chief)
    plan(place, START + timedelta(3))
    assert [t.due_on for t in series(place, "turf-brushing")[:2]] == [
        START + timedelta(14),
        START + timedelta(28),
    ]
    with pytest.raises(ValueError, match="only a settled task"):
        actions.unsettle(task, reason="again", by=chief)


def test_a_follow_up_is_a_task_that_planning_keeps() -> None:
    place, hand = garden(), crew()
    turf(place)
    plan(place)
    task = series(place, "turf-brushing")[0]
    asked = actions.ask_follow_up(task, "seam is open by the steps", on=START, by=hand)
    again = actions.ask_follow_up(asked, "glue was missing", on=START, by=hand)
    plan(place)
    asked.refresh_from_db()
    assert asked.state == TaskState.OPEN
    assert (asked.occurrence, again.occurrence) == ("1", "2")
    assert again.series == asked.series
    assert again.title == "Follow-up: Brush the turf against its nap"
    assert queries.how(asked, "en") == ["seam is open by the steps"]
    with pytest.raises(ValueError, match="note is empty"):
        actions.ask_follow_up(task, " ", on=START, by=hand)


# --- Readings, rules, history ---


def test_a_high_reading_brings_the_backwash_forward() -> None:
    place = garden()
    tank = sand_filter(place)
    plan(place)
    actions.take_reading(tank, "filter_pressure_psi", 18.5, "psi", on=START + timedelta(8), by=crew())
    plan(place, START + timedelta(8))
    assert [t.due_on for t in series(place, "sand-filter-backwash")[:2]] == [
        START + timedelta(8),
        START + timedelta(38),
    ]
    with pytest.raises(ValueError, match="unit is 'bar'"):
        actions.take_reading(tank, "filter_pressure_psi", 1.2, "bar", on=START, by=None)


def test_the_companys_own_interval_holds_until_it_is_ended() -> None:
    place, chief = garden(), office()
    turf(place)
    plan(place)
    actions.adjust_rule("turf-brushing", by=chief, reason="dogs", every_days=10)
    own = actions.adjust_rule("turf-brushing", property=place, by=chief, reason="more dogs", every_days=7)
    plan(place)
    assert series(place, "turf-brushing")[0].due_on == START + timedelta(7)
    actions.end_adjustment(own, by=chief)
    plan(place)
    assert series(place, "turf-brushing")[0].due_on == START + timedelta(10)


def test_a_rule_switched_off_withdraws_its_tasks() -> None:
    place, chief = garden(), office()
    turf(place)
    plan(place)
    actions.adjust_rule("turf-brushing", property=place, by=chief, reason="owner does it", enabled=False)
    plan(place)
    assert {task.state for task in series(place, "turf-brushing")} == {TaskState.WITHDRAWN}


def test_a_new_adjustment_ends_the_one_before() -> None:
    chief = office()
    first = actions.adjust_rule("turf-brushing", by=chief, reason="dogs", every_days=10)
    actions.adjust_rule("turf-brushing", by=chief, reason="fewer dogs", every_days=12)
    first.refresh_from_db()
    assert first.ended_at is not None
    with pytest.raises(ValueError, match="does not repeat by days"):
        actions.adjust_rule("perennial-cutback", by=chief, reason="x", every_days=12)
    with pytest.raises(ValueError, match="is unknown"):
        actions.adjust_rule("turf-mowing", by=chief, reason="x", every_days=12)
    with pytest.raises(ValueError, match="values are empty"):
        actions.adjust_rule("turf-brushing", by=chief, reason="x")


def test_care_done_before_the_record_began_counts() -> None:
    place, chief = garden(), office()
    put(place, "backflow", "BF1")
    put(place, "drain", "D1")
    rows = [
        ("casa-14", "BF1", "backflow-test", date(2026, 4, 20)),
        ("casa-14", "D1", "drain-clearing", date(2026, 6, 2)),
        ("casa-14", "", "property-walk", date(2026, 10, 20)),
    ]
    assert actions.take_over_history(rows, by=chief) == 3
    assert actions.take_over_history(rows, by=chief) == 0
    plan(place)
    test = next(task for task in series(place, "backflow-test") if task.state == TaskState.OPEN)
    assert (test.due_on, test.occurrence) == (date(2027, 4, 20), "2")
    walk = next(task for task in series(place, "property-walk") if task.state == TaskState.OPEN)
    assert walk.due_on == date(2026, 10, 20) + timedelta(90)
    assert series(place, "drain-clearing")[0].occurrence == "2026-spring"


def test_wrong_rows_of_history_are_all_named_and_none_is_kept() -> None:
    garden()
    rows = [
        ("casa-14", "", "property-walk", date(2026, 10, 20)),
        ("casa-14", "BF9", "backflow-test", date(2026, 4, 20)),
        ("casa-14", "", "backflow-test", date(2026, 4, 20)),
        ("casa-14", "", "rain-dance", date(2026, 4, 20)),
    ]
    with pytest.raises(Refused) as refused:
        actions.take_over_history(rows, by=None)
    assert [problem.field for problem in refused.value.problems] == ["row 2 tag", "row 3 tag", "row 4 rule"]
    assert not CareTask.objects.exists()
    with pytest.raises(Refused, match="casa-99"):
        actions.take_over_history([("casa-99", "", "property-walk", date(2026, 4, 20))], by=None)


# --- Who may ---


def test_owners_change_nothing_and_crews_only_what_they_do() -> None:
    place, guest, hand = garden(), owner(), crew()
    tank = sand_filter(place)
    plan(place)
    task = series(place, "sand-filter-backwash")[0]
    with pytest.raises(PermissionDenied):
        actions.settle(task, "done", on=START, by=guest)
    with pytest.raises(PermissionDenied):
        actions.take_reading(tank, "filter_pressure_psi", 12, "psi", on=START, by=guest)
    for forbidden in (
        lambda: actions.hold(task, by=hand),
        lambda: actions.unsettle(task, reason="x", by=hand),
        lambda: actions.adjust_rule("turf-brushing", by=hand, reason="x", every_days=9),
        lambda: actions.take_over_history([], by=hand),
    ):
        with pytest.raises(PermissionDenied):
            forbidden()


def test_owners_see_no_list_of_tasks_and_the_office_sees_all() -> None:
    place = garden()
    turf(place)
    plan(place)
    assert not queries.visible_tasks(owner()).exists()
    assert queries.visible_tasks(office()).count() == CareTask.objects.count()


# --- What is late, and why ---


def test_only_the_oldest_late_task_of_a_series_is_shown() -> None:
    place, chief = garden(), office()
    turf(place)
    plan(place)
    much_later = START + timedelta(100)
    late = list(queries.late(chief, much_later).filter(rule="turf-brushing"))
    assert [task.occurrence for task in late] == ["1"]
    actions.settle(late[0], "done", on=much_later, by=None)
    plan(place, much_later)
    assert not queries.late(chief, much_later).filter(rule="turf-brushing").exists()
    assert (
        queries.due_between(chief, much_later, much_later + timedelta(14))
        .filter(rule="turf-brushing")
        .count()
        == 1
    )


def test_a_task_explains_itself_in_both_languages() -> None:
    place = garden(cadence="monthly")
    turf(place)
    put(place, "transformer", "T1", capacity_va=300.0, timer="plain")
    plan(place)
    task = series(place, "turf-brushing")[0]
    en, es = queries.why(task, START + timedelta(60))
    assert en == (
        "Every 28 days by the agreement, where the rule alone says 14; counted from Nov 2, 2026,"
        " when care began. That is Nov 30, 2026, 5 days early or late are fine. 27 days late."
    )
    assert es.endswith("27 días de retraso.")
    timer = series(place, "light-timer-reset")[0]
    assert queries.why(timer, START)[0] == "No setting from before counts, so it is set anew."
    assert queries.asked_readings(timer) == ()


def test_a_task_tells_the_last_care_the_reading_and_what_the_company_set() -> None:
    place = garden()
    sand = sand_filter(place)
    actions.adjust_rule(
        "sand-filter-backwash", property=place, by=office(), reason="dusty lane", every_days=20
    )
    plan(place)
    first = series(place, "sand-filter-backwash")[0]
    actions.settle(first, "done", on=date(2026, 11, 20), by=None)
    actions.take_reading(sand, "filter_pressure_psi", 19.0, "psi", on=date(2026, 11, 28), by=None)
    plan(place)
    second = series(place, "sand-filter-backwash")[1]
    en, es = queries.why(second, START)
    assert en == (
        "Every 20 days; last done on Nov 20, 2026. A reading of 19 psi on Nov 28, 2026 brought it forward."
        " For this property the company set 20 days instead of 30 (dusty lane)."
    )
    assert "20 días en vez de 30" in es


# --- Command ---


def test_the_command_plans_and_a_dry_run_writes_nothing() -> None:
    place = garden()
    turf(place)
    said = StringIO()
    call_command("plan", "--dry-run", "--today", START.isoformat(), stdout=said)
    assert not CareTask.objects.exists()
    call_command("plan", "--property", place.code, "--today", START.isoformat(), stdout=said)
    dry, *told, real = said.getvalue().splitlines()
    assert len(told) > CareTask.objects.count()
    assert dry == real == f"casa-14: {CareTask.objects.count()} added, 0 moved, 0 withdrawn"
    with pytest.raises(CommandError, match="casa-99"):
        call_command("plan", "--property", "casa-99")


# --- Reports ---


def test_a_storm_that_is_reported_and_taken_back_makes_and_withdraws_care() -> None:
    place = garden()
    row = actions.report(place, "storm", on=START, by=crew())
    actions.plan_care(place.pk, today=START)
    walk = CareTask.objects.get(rule="storm-walk")
    assert (walk.opens_on, walk.state) == (START, "open")
    actions.withdraw_report(row, reason="it was the neighbour's", by=office())
    assert actions.plan_care(place.pk, today=START).withdrawn == 1
    walk.refresh_from_db()
    assert walk.state == "withdrawn"


def test_a_request_without_words_and_a_kind_nobody_knows_are_refused() -> None:
    place = garden()
    with pytest.raises(ValueError, match="note is empty"):
        actions.report(place, "owner_request", on=START, by=None)
    with pytest.raises(ValueError, match="kind is 'comet'"):
        actions.report(place, "comet", on=START, by=None)
    with pytest.raises(ValueError, match="the day care starts"):
        actions.report(place, "storm", on=START - timedelta(1), by=None)
    assert not Report.objects.exists()


def test_owners_report_nothing_themselves_and_crews_take_nothing_back() -> None:
    place = garden()
    with pytest.raises(PermissionDenied):
        actions.report(place, "storm", on=START, by=owner())
    row = actions.report(place, "storm", on=START, by=None)
    with pytest.raises(PermissionDenied):
        actions.withdraw_report(row, reason="no storm", by=crew())


def test_what_a_crew_leaves_on_the_timer_is_what_the_next_reset_is_counted_from() -> None:
    place = garden()
    timer = put(place, "transformer", "T1", capacity_va=150.0, timer="plain")
    actions.plan_care(place.pk, today=START)
    resets = CareTask.objects.filter(rule="light-timer-reset").order_by("due_on")
    days = [task.due_on for task in resets]
    first = resets[0]
    leave_settings(timer, first.details["settings"]["T1"], by=None)
    actions.settle(first, "done", on=START, by=None)
    assert not actions.plan_care(place.pk, today=START)
    assert [task.due_on for task in resets.all()] == days


# --- Rules of the company's own ---


def own_table(**change: Any) -> dict[str, Any]:
    return {
        "kind": "turf",
        "every": 45,
        "tolerance_days": 5,
        "set_up": 5,
        "skill": "gardener",
        "source": "our own practice",
        "en": {"title": "Look for hot spots on the turf", "how": "Feel it at noon."},
        "es": {"title": "Buscar puntos calientes en el pasto", "how": "Toque al mediodía."},
        **change,
    }


def test_an_own_rule_makes_care_says_why_and_ends() -> None:
    place, chief = garden(), office()
    turf(place)
    row = actions.set_own_rule("own-hot-spots", own_table(), reason="south wall", by=chief)
    plan(place)
    tasks = series(place, "own-hot-spots")
    assert [task.due_on for task in tasks[:2]] == [START + timedelta(45), START + timedelta(90)]
    assert queries.why(tasks[0], START)[0].startswith("Every 45 days")
    assert queries.how(tasks[0], "es") == ["Toque al mediodía."]
    actions.settle(tasks[0], "done", on=START + timedelta(44), by=chief)
    actions.end_own_rule(row, reason="shaded now", by=chief)
    plan(place)
    states = set(CareTask.objects.filter(rule="own-hot-spots").values_list("state", flat=True))
    assert states == {"done", "withdrawn"}
    assert queries.how(tasks[0], "en") == ["Feel it at noon."]


def test_an_own_rule_with_new_values_keeps_the_names_of_its_tasks() -> None:
    place = garden()
    turf(place)
    actions.set_own_rule("own-hot-spots", own_table(), reason="south wall", by=None)
    plan(place)
    before = {task.key for task in series(place, "own-hot-spots")}
    actions.set_own_rule("own-hot-spots", own_table(every=60), reason="too often", by=None)
    report = plan(place)
    assert report.added == 0
    kept = CareTask.objects.filter(rule="own-hot-spots", state="open")
    assert {task.key for task in kept} < before
    assert not plan(place)


def test_an_own_rule_is_adjusted_on_a_property_like_any_other() -> None:
    place, chief = garden(), office()
    turf(place)
    actions.set_own_rule("own-hot-spots", own_table(), reason="south wall", by=chief)
    actions.adjust_rule("own-hot-spots", property=place, every_days=30, reason="hotter here", by=chief)
    plan(place)
    assert series(place, "own-hot-spots")[0].due_on == START + timedelta(30)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"computed": "irrigation_program", "every": None}, "own rule repeats"),
        ({"asks": ["soul"]}, "asks is 'soul'"),
        ({"details": "magic"}, "details is 'magic'"),
    ],
)
def test_an_own_rule_that_names_what_is_not_there_is_refused(change: dict[str, Any], words: str) -> None:
    table = {name: value for name, value in own_table(**change).items() if value is not None}
    with pytest.raises(ValueError, match=words):
        actions.set_own_rule("own-hot-spots", table, reason="try", by=None)


def test_crews_make_no_rules() -> None:
    with pytest.raises(PermissionDenied):
        actions.set_own_rule("own-hot-spots", own_table(), reason="try", by=crew())
