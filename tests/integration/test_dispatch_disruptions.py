"""What goes against a published month: worked out, looked at, confirmed at once, or shown again."""

from datetime import date, time, timedelta
from typing import Any

import pytest
from django.test import override_settings

from landscape_care.care.urgent_calls import UrgentWork
from landscape_care.dispatch import actions, disruptions, queries
from landscape_care.dispatch.actions import Ask, PlanNotReady, SeenOtherwise
from landscape_care.dispatch.changes import Sort
from landscape_care.dispatch.models import (
    Closure,
    CrewDayOff,
    CrewHours,
    Disruption,
    Letter,
    MonthPlan,
    PlanState,
    Stop,
)
from landscape_care.people.models import AuditEntry
from landscape_care.properties.models import Client
from landscape_care.trades.limits import Refused
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Visit, VisitState
from tests.integration.dispatch_company import MONDAY, Company, add_company, add_task

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(1)


@pytest.fixture
def company() -> Company:
    company = add_company(gardens=6)
    for number, garden in enumerate(company.gardens):
        add_task(garden, f"first{number}", TUESDAY, TUESDAY + timedelta(10), minutes=90)
        visits.bundle_property(garden.pk, today=MONDAY)
    return company


@pytest.fixture
def published(company: Company) -> MonthPlan:
    plan = actions.propose(company.depot, TUESDAY, by=company.office, today=MONDAY, seconds=1)
    actions.solve_plan(plan.pk, today=MONDAY)
    return actions.publish(plan.pk, by=company.office, today=MONDAY)


def asked(company: Company, kind: str, day: date, **more: object) -> Disruption:
    ask = Ask(kind=kind, first_day=day, last_day=more.pop("last_day", day), **more)  # type: ignore[arg-type]
    row = actions.disrupt(company.depot, ask, by=company.office, today=MONDAY)
    actions.solve_plan(row.plan_id, today=MONDAY)
    return Disruption.objects.select_related("plan__depot", "base").get(pk=row.pk)


def confirmed(company: Company, row: Disruption) -> Disruption:
    seen = disruptions.shown_effects(row, MONDAY).seen
    return actions.confirm(row.pk, seen=seen, by=company.office, today=MONDAY)


def busy_day(plan: MonthPlan) -> date:
    return max(plan.stops.values_list("day", flat=True), key=lambda day: plan.stops.filter(day=day).count())


def test_rain_moves_the_visits_of_the_day_and_nothing_else(company: Company, published: MonthPlan) -> None:
    day = busy_day(published)
    hit = set(published.stops.filter(day=day).values_list("visit", flat=True))
    row = asked(company, "rain", day)
    assert row.plan.state == PlanState.PROPOSED
    found = disruptions.shown_effects(row, MONDAY)
    assert {change.visit_id for change in found.changes if change.sort == Sort.OTHER_DAY} == hit
    assert all(change.why.en.startswith("Rain on") for change in found.changes if change.visit_id in hit)
    elsewhere = [change for change in found.changes if change.visit_id not in hit]
    assert all(change.sort == Sort.OTHER_HOUR for change in elsewhere)
    assert not Visit.objects.exclude(moved_from=None).exists()
    confirmed(company, row)
    published.refresh_from_db()
    assert published.state == PlanState.SUPERSEDED
    assert not Visit.objects.filter(day=day, state=VisitState.PUBLISHED).exists()
    assert set(Visit.objects.filter(moved_from=day).values_list("pk", flat=True)) == hit
    assert CrewDayOff.objects.filter(day=day).count() == 2


def test_what_is_only_looked_at_tells_nobody_and_holds_nothing(
    company: Company, published: MonthPlan
) -> None:
    before = list(Visit.objects.order_by("pk").values_list("pk", "day", "revision", "state"))
    row = asked(company, "rain", busy_day(published))
    assert queries.shown_plan(company.depot, TUESDAY) == published
    actions.drop(row.pk, by=company.office)
    assert list(Visit.objects.order_by("pk").values_list("pk", "day", "revision", "state")) == before
    assert not CrewDayOff.objects.exists()
    with pytest.raises(PlanNotReady, match="nothing left to drop"):
        actions.drop(row.pk, by=company.office)


def test_a_month_that_changed_meanwhile_is_worked_out_and_shown_again(
    company: Company, published: MonthPlan
) -> None:
    row = asked(company, "rain", busy_day(published))
    stop = published.stops.exclude(day=row.first_day).first() or published.stops.all()[0]
    actions.hold_stop(stop.pk, version=stop.version, by=company.office)
    with pytest.raises(SeenOtherwise, match="worked out again"):
        confirmed(company, row)
    assert not CrewDayOff.objects.exists()
    again = MonthPlan.objects.get(pk=row.plan_id)
    assert (again.state, again.stops.count()) == (PlanState.WAITING, 0)
    actions.solve_plan(row.plan_id, today=MONDAY)
    row = Disruption.objects.select_related("plan__depot", "base").get(pk=row.pk)
    assert confirmed(company, row).confirmed_at is not None
    assert AuditEntry.objects.filter(verb="confirm disruption").count() == 1


def test_the_answer_is_confirmed_only_as_it_was_looked_at(company: Company, published: MonthPlan) -> None:
    row = asked(company, "rain", busy_day(published))
    with pytest.raises(SeenOtherwise, match="since you looked"):
        actions.confirm(row.pk, seen="something else", by=company.office, today=MONDAY)
    assert not CrewDayOff.objects.exists()


def test_a_crew_that_is_away_gives_its_day_to_the_other_or_moves_it(
    company: Company, published: MonthPlan
) -> None:
    stop = published.stops.select_related("crew").order_by("day")[0]
    row = confirmed(company, asked(company, "crew_away", stop.day, crews=(stop.crew,), words="flu"))
    assert not row.plan.stops.filter(crew=stop.crew, day=stop.day).exists()
    assert row.plan.stops.count() == published.stops.count()
    assert list(CrewDayOff.objects.values_list("crew", "day")) == [(stop.crew_id, stop.day)]


def test_in_the_heat_crews_work_in_the_hours_they_are_given(company: Company, published: MonthPlan) -> None:
    day = busy_day(published)
    row = confirmed(company, asked(company, "heat", day, opens_at=time(6), closes_at=time(11)))
    stops = row.plan.stops.filter(day=day)
    assert all(stop.leaves_at <= time(11, 30) for stop in stops)
    assert row.plan.stops.count() == published.stops.count()
    assert set(CrewHours.objects.values_list("opens_at", "closes_at")) == {(time(6), time(11))}
    # What a later move reckons with is the hours of the heat too.
    shift = queries.crew_shifts([company.crew], [day])[0].on(day)
    assert (shift.opens_minute, shift.closes_minute) == (360, 660)


def test_a_closed_garden_is_visited_on_another_day_and_never_planned_there(
    company: Company, published: MonthPlan
) -> None:
    stop = published.stops.select_related("visit__property").order_by("day")[0]
    row = asked(company, "property_closed", stop.day, place=stop.visit.property)
    found = disruptions.shown_effects(row, MONDAY)
    moved = next(change for change in found.changes if change.visit_id == stop.visit_id)
    assert moved.why.en.startswith("The property is closed on")
    row = confirmed(company, row)
    assert row.plan.stops.get(visit=stop.visit).day != stop.day
    assert Closure.objects.count() == 1
    back: dict[str, Any] = {
        "day": stop.day,
        "crew": stop.crew,
        "version": 0,
        "by": company.office,
        "today": MONDAY,
    }
    with pytest.raises(Refused, match="open"):
        actions.move_stop(row.plan.stops.get(visit=stop.visit).pk, **back)


def test_an_urgent_call_gets_a_visit_of_its_own_that_bundling_leaves_alone(
    company: Company, published: MonthPlan
) -> None:
    garden = company.gardens[2]
    work = UrgentWork(first_day=TUESDAY, last_day=TUESDAY + timedelta(1), minutes=45)
    row = asked(
        company, "urgent_call", TUESDAY, last_day=work.last_day, place=garden, work=work, words="Burst pipe"
    )
    visits.bundle_property(garden.pk, today=MONDAY)
    row = confirmed(company, row)
    visit = Visit.objects.get(urgent=True)
    assert (visit.state, visit.visit_tasks.count()) == (VisitState.PUBLISHED, 1)
    assert visit.day in (TUESDAY, work.last_day)
    assert row.plan.stops.filter(visit=visit).exists()
    visits.bundle_property(garden.pk, today=MONDAY)
    visit.refresh_from_db()
    assert visit.state == VisitState.PUBLISHED


def test_an_urgent_call_that_is_dropped_leaves_no_work_behind(company: Company, published: MonthPlan) -> None:
    garden = company.gardens[2]
    work = UrgentWork(first_day=TUESDAY, last_day=TUESDAY)
    row = asked(company, "urgent_call", TUESDAY, place=garden, work=work, words="Burst pipe")
    actions.drop(row.pk, by=company.office)
    visits.bundle_property(garden.pk, today=MONDAY)
    assert Visit.objects.get(urgent=True).state == VisitState.WITHDRAWN
    assert not garden.care_tasks.filter(state="open", rule="urgent-call").exists()


@pytest.mark.parametrize(
    ("kind", "more", "words"),
    [
        ("hail", {}, "one of rain"),
        ("crew_away", {}, "the crew that it hits"),
        ("heat", {"opens_at": time(12), "closes_at": time(6)}, "a later time"),
        ("property_closed", {}, "a property of Albuquerque yard"),
        ("urgent_call", {}, "what is urgent"),
        ("rain", {"last_day": MONDAY - timedelta(3)}, "same month"),
        ("rain", {"last_day": date(2027, 1, 2)}, "same month"),
        ("rain", {"first_day": MONDAY - timedelta(1)}, "or later"),
        ("rain", {"first_day": date(2027, 3, 1), "last_day": date(2027, 3, 1)}, "2027-03 is not published"),
    ],
)
def test_what_cannot_have_happened_is_refused_in_both_languages(
    company: Company, published: MonthPlan, kind: str, more: dict[str, object], words: str
) -> None:
    values = {"kind": kind, "first_day": TUESDAY, "last_day": TUESDAY} | more
    with pytest.raises(Refused, match=words) as refused:
        actions.disrupt(company.depot, Ask(**values), by=company.office, today=MONDAY)  # type: ignore[arg-type]
    assert all(getattr(problem, "wanted_es", "") for problem in refused.value.problems)
    assert not Disruption.objects.exists()


@override_settings(LETTERS=True)
def test_a_confirmed_change_writes_one_letter_to_each_who_has_an_address(
    company: Company, published: MonthPlan
) -> None:
    Client.objects.update(email="casa@example.org", language="es")
    company.lead.email = "lead@example.org"
    company.lead.save()
    row = asked(company, "rain", busy_day(published))
    assert not Letter.objects.exists()
    confirmed(company, row)
    letters = {letter.address: letter for letter in Letter.objects.all()}
    assert "Lluvia el" in letters["casa@example.org"].body
    assert "en lugar de" in letters["casa@example.org"].body
    assert len(letters) == Letter.objects.count()
    confirmed(company, Disruption.objects.select_related("plan__depot", "base").get(pk=row.pk))
    assert len(letters) == Letter.objects.count()


def test_without_the_switch_no_letter_is_written(company: Company, published: MonthPlan) -> None:
    Client.objects.update(email="casa@example.org")
    confirmed(company, asked(company, "rain", busy_day(published)))
    assert not Letter.objects.exists()
    assert Stop.objects.filter(plan__state=PlanState.PUBLISHED).exists()
