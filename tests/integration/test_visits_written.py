"""Bundling written to the database, visits told to people, and what crews report."""

from datetime import date, time, timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from landscape_care.care import actions as care
from landscape_care.care.models import CareTask, Reading
from landscape_care.dispatch import actions as dispatch
from landscape_care.properties import actions as properties
from landscape_care.properties.models import Property, Transformer
from landscape_care.trades.limits import Refused
from landscape_care.visits import actions, background, queries
from landscape_care.visits.actions import BodyDiffers, BundleReport, VisitWithdrawn, bundle_property
from landscape_care.visits.models import BundlingRun, Completion, Visit, VisitState, VisitTask
from tests.integration.dispatch_company import MONDAY, Company, add_company, add_filter, add_task

pytestmark = pytest.mark.django_db
FRIDAY = MONDAY + timedelta(4)


@pytest.fixture
def company() -> Company:
    return add_company(gardens=1)


@pytest.fixture
def garden(company: Company) -> Property:
    return company.gardens[0]


def told(visit: Visit, day: date = MONDAY + timedelta(2), **changes: time) -> Visit:
    hours = {"arrives_at": time(9), "leaves_at": time(10)} | changes
    return actions.announce(visit, day=day, crew_name="Cottonwood crew", by=None, **hours)


def one_visit(garden: Property, **changes: object) -> Visit:
    add_task(garden, "a", MONDAY, FRIDAY, **changes)
    add_task(garden, "b", MONDAY, FRIDAY)
    bundle_property(garden.pk, today=MONDAY)
    return Visit.objects.get(property=garden, state=VisitState.PLANNED)


# --- Bundling -----------------------------------------------------------------------------------------


def test_tasks_with_overlapping_windows_share_a_visit_and_a_second_run_writes_nothing(
    garden: Property,
) -> None:
    add_task(garden, "a", MONDAY, FRIDAY, minutes=40, people=2)
    add_task(garden, "b", MONDAY + timedelta(2), FRIDAY + timedelta(7), minutes=30)
    add_task(garden, "c", MONDAY + timedelta(40), MONDAY + timedelta(50))
    assert bundle_property(garden.pk, today=MONDAY) == BundleReport(added=2)
    first, second = Visit.objects.order_by("opens_on")
    assert (first.opens_on, first.closes_on) == (MONDAY + timedelta(2), FRIDAY)
    assert (first.slot, second.slot) == ("2026-12", "2027-01")
    assert (first.minutes, first.people, first.skills) == (110, 2, ["gardener"])
    stamps = list(Visit.objects.order_by("pk").values_list("changed_at", "revision"))
    links = list(VisitTask.objects.order_by("pk").values_list("pk", "task", "visit"))
    assert bundle_property(garden.pk, today=MONDAY) == BundleReport()
    assert list(Visit.objects.order_by("pk").values_list("changed_at", "revision")) == stamps
    assert list(VisitTask.objects.order_by("pk").values_list("pk", "task", "visit")) == links


def test_a_task_that_moves_takes_its_place_in_another_visit_and_names_stay(garden: Property) -> None:
    moving = add_task(garden, "a", MONDAY, FRIDAY)
    add_task(garden, "b", MONDAY, FRIDAY)
    bundle_property(garden.pk, today=MONDAY)
    before = Visit.objects.get()
    CareTask.objects.filter(pk=moving.pk).update(
        opens_on=date(2027, 1, 4), due_on=date(2027, 1, 6), closes_on=date(2027, 1, 8)
    )
    assert bundle_property(garden.pk, today=MONDAY) == BundleReport(added=1, changed=1)
    assert Visit.objects.get(slot=before.slot).uid == before.uid
    assert moving.visit_task.visit.slot == "2027-01"


def test_a_visit_without_tasks_goes_and_its_name_is_used_again(garden: Property) -> None:
    task = add_task(garden, "a", MONDAY, FRIDAY)
    bundle_property(garden.pk, today=MONDAY)
    CareTask.objects.filter(pk=task.pk).update(state="withdrawn")
    assert bundle_property(garden.pk, today=MONDAY) == BundleReport(withdrawn=1)
    CareTask.objects.filter(pk=task.pk).update(state="open")
    bundle_property(garden.pk, today=MONDAY)
    visit = Visit.objects.get()
    assert (visit.state, visit.withdrawn_reason, visit.slot) == (VisitState.PLANNED, "", "2026-12")


def test_a_visit_that_people_know_is_left_alone(garden: Property) -> None:
    visit = told(one_visit(garden))
    add_task(garden, "c", MONDAY, FRIDAY)
    CareTask.objects.filter(key__startswith="a").update(minutes=90)
    assert bundle_property(garden.pk, today=MONDAY) == BundleReport(added=1)
    same = Visit.objects.get(pk=visit.pk)
    assert (same.minutes, same.revision, same.changed_at) == (visit.minutes, visit.revision, visit.changed_at)
    assert Visit.objects.get(state=VisitState.PLANNED).slot == "2026-12.2"


def test_work_that_turns_up_joins_the_told_visit_of_its_month_and_moves_no_hour(garden: Property) -> None:
    visit = told(one_visit(garden), leaves_at=time(11))
    new = add_task(garden, "c", MONDAY, FRIDAY, minutes=20)
    assert bundle_property(garden.pk, today=MONDAY) == BundleReport(joined=1)
    assert new.visit_task.visit == visit
    same = Visit.objects.get()
    assert (same.day, same.arrives_at, same.leaves_at) == (visit.day, visit.arrives_at, visit.leaves_at)
    assert same.revision == visit.revision + 1
    assert bundle_property(garden.pk, today=MONDAY) == BundleReport()
    assert Visit.objects.get().revision == same.revision


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"minutes": 300}, "no time is left"),
        ({"skill": "arborist"}, "does not do its work"),
        ({"people": 6}, "more people"),
        ({"series": "a:series"}, "same care"),
    ],
)
def test_work_that_fits_no_told_visit_comes_on_top_and_says_why(
    garden: Property, changes: dict[str, object], why: str
) -> None:
    visit = told(one_visit(garden), leaves_at=time(11))
    add_task(garden, "c", MONDAY, FRIDAY, **changes)
    assert bundle_property(garden.pk, today=MONDAY).joined == 0
    ((english, spanish),) = Visit.objects.exclude(pk=visit.pk).get().notes
    assert str(visit.day) in english
    assert why in english
    assert "visita" in spanish


def test_work_whose_window_misses_the_told_day_keeps_a_visit_of_its_own(garden: Property) -> None:
    visit = told(one_visit(garden), leaves_at=time(11))
    add_task(garden, "c", FRIDAY, FRIDAY + timedelta(2), minutes=10)
    assert bundle_property(garden.pk, today=MONDAY).joined == 0
    ((english, _),) = Visit.objects.exclude(pk=visit.pk).get().notes
    assert "outside the window" in english


def test_what_no_crew_can_do_together_becomes_two_visits(garden: Property) -> None:
    for skill in ("irrigation_tech", "arborist"):
        add_task(garden, skill, MONDAY, FRIDAY, skill=skill)
    bundle_property(garden.pk, today=MONDAY)
    assert sorted(visit.skills for visit in Visit.objects.all()) == [["arborist"], ["irrigation_tech"]]


def test_work_with_no_allowed_weekday_goes_to_the_nearest_one_and_says_so() -> None:
    (garden,) = add_company(gardens=1, weekdays="3").gardens
    add_task(garden, "a", MONDAY + timedelta(3), MONDAY + timedelta(5))
    bundle_property(garden.pk, today=MONDAY)
    visit = Visit.objects.get()
    assert visit.opens_on == visit.closes_on == MONDAY + timedelta(2)
    ((english, spanish),) = visit.notes
    assert "no allowed weekday" in english
    assert "día permitido" in spanish


def test_only_the_oldest_late_task_of_a_series_is_bundled(garden: Property) -> None:
    for number in (1, 2, 3):
        opens = MONDAY - timedelta(40 - 7 * number)
        add_task(garden, f"weekly:{number}", opens, opens + timedelta(3), series="weekly")
    bundle_property(garden.pk, today=MONDAY)
    assert [link.task.key for link in VisitTask.objects.all()] == ["weekly:1:series:1"]
    assert Visit.objects.get().closes_on == MONDAY + timedelta(7)


def test_a_told_visit_nobody_reported_is_withdrawn_after_two_days_and_its_work_bundled_again(
    garden: Property,
) -> None:
    visit = told(one_visit(garden), day=MONDAY)
    bundle_property(garden.pk, today=MONDAY + timedelta(2))
    assert Visit.objects.get(pk=visit.pk).state == VisitState.PUBLISHED
    bundle_property(garden.pk, today=MONDAY + timedelta(3))
    assert Visit.objects.get(pk=visit.pk).withdrawn_reason == actions.NOT_REPORTED
    again = Visit.objects.get(state=VisitState.PLANNED)
    assert again.visit_tasks.count() == 2
    assert again.slot == "2026-12.2"


def test_a_told_visit_done_in_part_ends_and_the_rest_is_bundled_again(garden: Property) -> None:
    visit = told(one_visit(garden), day=MONDAY)
    first, second = queries.open_tasks_of(visit)
    care.settle(first, "done", on=MONDAY, by=None)
    bundle_property(garden.pk, today=MONDAY + timedelta(3))
    assert Visit.objects.get(pk=visit.pk).state == VisitState.DONE
    assert VisitTask.objects.get(task=second).visit.slot == "2026-12.2"


def test_a_told_visit_whose_work_the_office_took_off_is_withdrawn_not_done(garden: Property) -> None:
    visit = told(one_visit(garden), day=MONDAY)
    for task in queries.open_tasks_of(visit):
        care.settle(task, "skipped", on=MONDAY, by=None, reason="The owner does it")
    bundle_property(garden.pk, today=MONDAY)
    after = Visit.objects.get(pk=visit.pk)
    assert (after.state, after.withdrawn_reason) == (VisitState.WITHDRAWN, actions.NOTHING_LEFT)
    assert after.revision == visit.revision + 1


def test_the_sweep_finds_changed_properties_and_then_nothing(garden: Property) -> None:
    add_task(garden, "a", MONDAY, FRIDAY)
    now = timezone.now()
    assert list(queries.properties_waiting(now, horizon_days=123)) == [garden.pk]
    background.bundle_one(garden.pk)
    assert list(queries.properties_waiting(timezone.now(), horizon_days=123)) == []
    today = BundlingRun.objects.get().on_day
    add_task(garden, "b", today, today + timedelta(3))
    assert list(queries.properties_waiting(timezone.now(), horizon_days=123)) == [garden.pk]
    tomorrow = timezone.now() + timedelta(1)
    background.bundle_one(garden.pk)
    assert list(queries.properties_waiting(tomorrow, horizon_days=123)) == [garden.pk]


# --- Telling people -----------------------------------------------------------------------------------


def test_telling_the_same_again_changes_nothing_and_a_move_is_remembered(garden: Property) -> None:
    visit = told(one_visit(garden))
    assert (visit.state, visit.announced, visit.revision) == (VisitState.PUBLISHED, True, 1)
    assert told(visit).revision == 1
    moved = told(visit, day=FRIDAY)
    assert (moved.revision, moved.moved_from, moved.day) == (2, MONDAY + timedelta(2), FRIDAY)


def test_a_withdrawn_visit_is_not_told_again_and_frees_its_work(garden: Property, company: Company) -> None:
    visit = told(one_visit(garden))
    gone = actions.withdraw(visit, "The gate is being rebuilt", by=company.office)
    assert (gone.state, gone.revision) == (VisitState.WITHDRAWN, 2)
    assert not VisitTask.objects.exists()
    with pytest.raises(VisitWithdrawn, match="gate is being rebuilt"):
        told(visit)
    with pytest.raises(Refused, match="why the visit"):
        actions.withdraw(visit, " ", by=company.office)


def test_a_crew_may_not_change_visits(garden: Property, company: Company) -> None:
    visit = one_visit(garden)
    with pytest.raises(PermissionDenied):
        actions.withdraw(visit, "because", by=company.lead)
    with pytest.raises(PermissionDenied):
        actions.announce(
            visit, day=FRIDAY, arrives_at=time(9), leaves_at=time(10), crew_name="", by=company.lead
        )


# --- What was really done -------------------------------------------------------------------------------


def published_visit(company: Company) -> Visit:
    """A visit on the published route of the lead's crew."""
    visit = one_visit(company.gardens[0])
    plan = dispatch.propose(company.depot, FRIDAY, by=company.office, today=MONDAY, seconds=1)
    dispatch.solve_plan(plan.pk, today=MONDAY)
    dispatch.publish(plan.pk, by=company.office, today=MONDAY)
    visit.refresh_from_db()
    # The engine may choose either crew; the lead drives with both here.
    company.other_crew.members.add(company.lead)
    return visit


def report(visit: Visit, task: CareTask, company: Company, **changes: object) -> Completion:
    words = {"outcome": "done", "done_on": visit.day, "by": company.lead} | changes
    number = words.pop("number", uuid4())
    return actions.complete(number, visit=visit, task=task, **words)  # type: ignore[arg-type]


def test_a_completion_sent_twice_is_kept_once_and_other_words_are_refused(company: Company) -> None:
    visit = published_visit(company)
    task, number = queries.open_tasks_of(visit).first(), uuid4()
    assert task is not None
    first = report(visit, task, company, number=number)
    assert report(visit, task, company, number=number) == first
    assert Completion.objects.count() == 1
    with pytest.raises(BodyDiffers):
        report(visit, task, company, number=number, note="other words")
    with pytest.raises(care.AlreadySettled):
        report(visit, task, company)
    assert Completion.objects.count() == 1


def test_a_visit_is_done_when_its_last_task_is_settled(company: Company) -> None:
    visit = published_visit(company)
    first, second = queries.open_tasks_of(visit)
    report(visit, first, company)
    visit.refresh_from_db()
    assert visit.state == VisitState.PUBLISHED
    report(visit, second, company, outcome="skipped", reason="The gate was locked")
    visit.refresh_from_db()
    second.refresh_from_db()
    assert (visit.state, second.state, second.skip_reason) == (
        VisitState.DONE,
        "skipped",
        "The gate was locked",
    )
    assert [one.reason for one in queries.skipped_since(company.office, MONDAY)] == ["The gate was locked"]


def test_a_visit_done_sooner_than_told_is_on_the_day_it_was_done(company: Company) -> None:
    visit = published_visit(company)
    assert visit.day is not None
    sooner = visit.day - timedelta(1)
    for task in queries.open_tasks_of(visit):
        report(visit, task, company, done_on=sooner)
    after = Visit.objects.get(pk=visit.pk)
    assert (after.state, after.day, after.revision) == (VisitState.DONE, sooner, visit.revision + 1)


def test_a_reading_that_no_gauge_shows_is_refused_by_what_it_measures(company: Company) -> None:
    visit = published_visit(company)
    task = queries.open_tasks_of(visit).first()
    assert task is not None
    readings = [{"quantity": "filter_pressure_psi", "value": 250.0, "unit": "psi"}]
    with pytest.raises(Refused) as refused:
        report(visit, task, company, readings=readings)
    (problem,) = refused.value.problems
    assert (problem.field, problem.wanted) == ("readings.filter_pressure_psi", "0 to 100 psi")


def test_readings_settings_and_follow_up_reach_the_rooms_that_keep_them(company: Company) -> None:
    place = company.gardens[0]
    sand = add_filter(place, company.office)
    timer = properties.install(
        place, "transformer", {"tag": "T1", "capacity_va": 300.0, "timer": "plain"}, by=company.office
    )
    visit = published_visit(company)
    task = queries.open_tasks_of(visit).first()
    assert task is not None
    report(
        visit,
        task,
        company,
        outcome="follow_up",
        note="Replace the gauge",
        readings=[{"tag": "F1", "quantity": "filter_pressure_psi", "value": 19.5, "unit": "psi"}],
        settings_left={"T1": {"set_on": "17:10"}},
    )
    reading = Reading.objects.get(thing=sand)
    assert (reading.value, reading.by, reading.taken_on) == (19.5, company.lead, visit.day)
    assert Transformer.objects.get(pk=timer.pk).set_on == time(17, 10)
    follow_up = CareTask.objects.get(series__endswith="follow-up")
    assert (follow_up.state, follow_up.opens_on) == ("open", visit.day)
    assert Property.objects.get(pk=place.pk).plan_wanted_at is not None


def test_a_completion_with_anything_wrong_writes_nothing(company: Company) -> None:
    visit = published_visit(company)
    task = queries.open_tasks_of(visit).first()
    stranger = add_task(company.gardens[0], "stranger", MONDAY, FRIDAY)
    assert task is not None
    for changes in (
        {"outcome": "skipped"},
        {"outcome": "follow_up"},
        {"outcome": "perhaps"},
        {"readings": [{"tag": "F9", "quantity": "flow_gpm", "value": 3, "unit": "gal/min"}]},
        {"readings": [{"tag": "F9", "quantity": "smell", "value": 3, "unit": "psi"}]},
        {"readings": [{"quantity": "flow_gpm", "value": "much", "unit": "gal/min"}]},
        {"settings_left": {"T9": {"set_on": "17:10"}}},
    ):
        with pytest.raises(Refused):
            report(visit, task, company, **changes)
    with pytest.raises(Refused, match="a care task of this visit"):
        report(visit, stranger, company)
    task.refresh_from_db()
    assert (task.state, Completion.objects.count(), Reading.objects.count()) == ("open", 0, 0)


def test_a_withdrawn_visit_answers_with_its_reason_but_a_replay_gets_its_answer(company: Company) -> None:
    visit = published_visit(company)
    first, second = queries.open_tasks_of(visit)
    number = uuid4()
    kept = report(visit, first, company, number=number)
    actions.withdraw(visit, "Rain all week", by=company.office)
    with pytest.raises(VisitWithdrawn, match="Rain all week"):
        report(visit, second, company)
    assert report(visit, first, company, number=number) == kept


def test_strangers_neither_see_nor_report_a_visit(company: Company) -> None:
    visit = published_visit(company)
    task = queries.open_tasks_of(visit).first()
    assert task is not None
    assert not queries.visible_visits(company.stranger).exists()
    assert queries.visible_visits(company.lead).get() == visit
    with pytest.raises(PermissionDenied):
        report(visit, task, company, by=company.stranger)


def test_without_a_broker_a_completion_is_kept_and_the_sweep_plans_what_follows(
    company: Company, django_capture_on_commit_callbacks: object
) -> None:
    visit = published_visit(company)
    task = queries.open_tasks_of(visit).first()
    assert task is not None
    with django_capture_on_commit_callbacks(execute=True) as calls:  # type: ignore[operator]
        report(visit, task, company)
    assert calls
    assert Property.objects.get(pk=company.gardens[0].pk).plan_wanted_at is not None
