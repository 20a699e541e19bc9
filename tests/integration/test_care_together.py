"""Several properties planned in one transaction: the same care, few questions, nobody kept waiting."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Event
from typing import Any

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from landscape_care.care import actions, background, queries
from landscape_care.care.models import CareTask
from landscape_care.config.celery import app
from landscape_care.properties.models import Property
from tests.integration.care_company import START, garden, put, sand_filter, turf

pytestmark = pytest.mark.django_db


def gardens(count: int) -> list[Property]:
    places = [garden(f"casa-{number}") for number in range(count)]
    for place in places:
        sand_filter(place)
        turf(place)
        bed = put(place, "bed", "B1", area_ft2=90.0, exposure="full_sun", soil="loam")
        put(place, "planting", "P1", bed_id=bed.pk, plant="salvia-greggii", role="perennial", quantity=6)
    return places


def care_of(place: Property) -> list[tuple[Any, ...]]:
    names = ("rule", "occurrence", "opens_on", "due_on", "closes_on", "minutes", "people", "skill")
    more = ("title", "title_es", "cautions", "details", "state", "held", "settled_on", "revision", "stem")
    return sorted(CareTask.objects.filter(property=place).values_list(*names, *more), key=str)


@pytest.mark.both
def test_planning_together_writes_what_planning_alone_writes() -> None:
    *group, alone = gardens(4)
    turf_of = {place.pk: place.things.get(tag="TU1") for place in (*group, alone)}
    reports = actions.plan_together([place.pk for place in group], today=START)
    assert actions.plan_care(alone.pk, today=START) == reports[group[0].pk]
    assert care_of(alone) == care_of(group[0]) == care_of(group[-1])
    for place in (*group, alone):
        actions.adjust_rule("turf-brushing", by=None, reason="Less", property=place, every_days=30)
        assert turf_of[place.pk].property_id == place.pk
    again = actions.plan_together([place.pk for place in group], today=START)
    assert actions.plan_care(alone.pk, today=START) == again[group[1].pk]
    assert again[group[1].pk].moved
    assert again[group[1].pk].withdrawn
    assert care_of(alone) == care_of(group[1])
    assert not any(actions.plan_together([place.pk for place in group], today=START).values())


def test_looking_at_twenty_gardens_asks_as_many_questions_as_looking_at_two() -> None:
    numbers = [place.pk for place in gardens(20)]
    actions.plan_together(numbers, today=START)
    asked = []
    for some in (numbers[:2], numbers):
        with CaptureQueriesContext(connection) as questions:
            actions.plan_together(some, today=START)
        asked.append(len(questions))
    assert asked[0] == asked[1] < 40


@pytest.fixture
def worker_at_once() -> Iterator[None]:
    """Calls are carried out where they are made, as a worker would."""
    app.conf.task_always_eager = True
    yield
    app.conf.task_always_eager = False


@pytest.mark.usefixtures("worker_at_once")
def test_the_clock_plans_all_and_a_garden_that_cannot_be_planned_stops_no_other() -> None:
    good, bad, late = gardens(3)
    Property.objects.filter(pk=bad.pk).update(climate="nowhere")
    background.plan_due()
    planned = Property.objects.filter(plan_wanted_at=None)
    assert set(planned.values_list("pk", flat=True)) == {good.pk, late.pk}
    assert not CareTask.objects.filter(property=bad).exists()
    Property.objects.filter(pk=bad.pk).update(climate="albuquerque")
    background.plan_due()
    assert not queries.to_plan(timezone.now().date()).exists()


def test_a_call_that_comes_twice_plans_nothing_twice() -> None:
    numbers = [place.pk for place in gardens(2)]
    background.plan_some(numbers)
    with CaptureQueriesContext(connection) as questions:
        background.plan_some(numbers)
    assert len(questions) == 1


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_garden_that_somebody_is_writing_is_left_out_and_planned_alone() -> None:
    free, busy = gardens(2)
    has_it, may_go = Event(), Event()

    def write() -> None:
        with transaction.atomic():
            Property.objects.select_for_update().get(pk=busy.pk)
            has_it.set()
            may_go.wait(20)
        connection.close()

    with ThreadPoolExecutor(1) as hand:
        writing = hand.submit(write)
        assert has_it.wait(20)
        reports = actions.plan_together([free.pk, busy.pk], today=START)
        may_go.set()
        writing.result(20)
    assert list(reports) == [free.pk]
    assert actions.plan_care(busy.pk, today=START) == reports[free.pk]


@pytest.mark.both
def test_every_column_of_a_new_task_is_what_the_table_says() -> None:
    (place,) = gardens(1)
    actions.plan_care(place.pk, today=START)
    for row in CareTask.objects.filter(property=place):
        row.full_clean(exclude=["thing", "cautions", "details"])
        assert row.opens_on <= row.due_on <= row.closes_on <= START + timedelta(600)
        assert isinstance(row.cautions, list)
        assert row.key == f"{row.series}:{row.occurrence}"


@pytest.mark.both
def test_words_of_any_kind_come_back_as_they_went_in() -> None:
    (place,) = gardens(1)
    actions.plan_care(place.pk, today=START)
    told = actions.report(
        place,
        "owner_request",
        on=START,
        by=None,
        note="Tab\t, line\nand \\N, \\. or \r «ñ» \U0001f33f 'x' \"y\"",
    )
    actions.plan_care(place.pk, today=START)
    task = CareTask.objects.get(property=place, rule="owner-request")
    assert task.details["lines"]["en"] == [told.note]
