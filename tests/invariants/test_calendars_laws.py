"""Laws of calendars that hold for any visits, on any day."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from landscape_care.calendars import actions, queries
from landscape_care.calendars.arrival import SHORTEST, STEP, arrival_window
from landscape_care.calendars.checking import check
from landscape_care.calendars.facts import PlaceFacts, TaskFacts
from landscape_care.calendars.feeds import FeedEvent
from landscape_care.calendars.models import Address
from landscape_care.calendars.owner_entries import season_entries
from landscape_care.visits.models import Visit
from tests.integration.calendars_company import CHANGED, TODAY, add_company, add_task, add_visit

CLOCKS = st.times(min_value=time(4), max_value=time(19)).map(
    lambda clock: clock.replace(second=0, microsecond=0)
)
STATES = st.sampled_from(["published", "done", "withdrawn", "planned"])
DAYS = st.dates(min_value=TODAY - timedelta(400), max_value=TODAY + timedelta(420))
TEXTS = st.text(alphabet=st.characters(exclude_characters="\x00", exclude_categories=["Cs"]), max_size=40)


@st.composite
def visit_values(draw: st.DrawFn) -> dict[str, Any]:
    """One visit as the database may hold it."""
    arrives = draw(CLOCKS)
    stays = timedelta(minutes=draw(st.integers(5, 200)))
    return {
        "day": draw(DAYS),
        "state": draw(STATES),
        "arrives_at": arrives,
        "leaves_at": (datetime.combine(TODAY, arrives) + stays).time(),
        "announced": draw(st.booleans()),
        "revision": draw(st.integers(0, 5)),
    }


@given(DAYS, CLOCKS, st.integers(1, 240))
def test_an_arrival_window_holds_the_stop_and_is_made_of_half_hours(
    day: date, arrives: time, minutes: int
) -> None:
    leaves = (datetime.combine(day, arrives) + timedelta(minutes=minutes)).time()
    first, last = arrival_window(day, arrives, leaves)
    assert first <= datetime.combine(day, arrives) < datetime.combine(day, leaves) <= last
    assert last - first >= SHORTEST
    assert not [edge for edge in (first, last) if (edge - datetime.combine(day, time())) % STEP]
    assert datetime.combine(day, arrives) - first < STEP


@pytest.mark.django_db
@settings(max_examples=40)
@given(
    st.lists(visit_values(), max_size=6),
    TEXTS,
    st.sampled_from(["property", "client", "crew", "depot", "company"]),
    st.sampled_from(["America/Denver", "America/Phoenix"]),
)
def test_any_company_gives_valid_unchanging_calendars_of_known_visits(
    wanted: list[dict[str, Any]], text: str, audience: str, zone: str
) -> None:
    try:
        with transaction.atomic():
            address = _company(wanted, text, audience, zone)
            body = queries.calendar_file(address, TODAY)
            assert check(body) == []
            assert queries.calendar_file(address, TODAY) == body
            _holds(address)
            raise _UndoError
    except _UndoError:
        pass


class _UndoError(Exception):
    """Ends an example without leaving rows behind."""


def _company(wanted: list[dict[str, Any]], text: str, audience: str, zone: str) -> Address:
    company = add_company(zone)
    for number, values in enumerate(wanted):
        task = add_task(company.property, number, title=f"T{number}" + text, title_es=text)
        add_visit(
            company.property, values.pop("day"), task, slot=f"s{number}", withdrawn_reason=text, **values
        )
    company.property.name = "G" + text
    company.property.save()
    target = None if audience == "company" else getattr(company, audience)
    return actions.issue(audience, target, name="n", by=None)[0]


def _holds(address: Address) -> None:
    stored = {visit.uid: visit for visit in Visit.objects.all()}
    for event in queries.events(address, TODAY):
        visit = stored.get(event.uid)
        if visit is not None:
            assert (event.sequence, event.changed_at) == (visit.revision, CHANGED)
            assert (event.status == "CANCELLED") == (
                visit.state == "withdrawn" or _taken_back(visit, address)
            )
            assert event.first_day() in (visit.day, visit.opens_on)


def _taken_back(visit: Visit, address: Address) -> bool:
    office = address.audience in ("depot", "company")
    return visit.state == "planned" and not office


PLACE = PlaceFacts(
    "casa-14", "Casa 14", "14 Acequia Lane", "America/Denver", (35.1, -106.6), time(7), time(16)
)


def season(revisions: list[int]) -> FeedEvent:
    """The entry of one season whose tasks have these revisions."""
    title = {"en": "Plant winter colour", "es": "Plantar color de invierno"}
    first = TaskFacts("colour", "planting", "2026-autumn", title, TODAY, TODAY, TODAY, "open", CHANGED)
    tasks = [replace(first, revision=revision) for revision in revisions]
    (entry,) = season_entries(tasks, PLACE, "en", today=TODAY)
    return entry


@given(st.lists(st.integers(0, 30), min_size=1, max_size=5), st.data())
def test_the_sequence_of_a_season_grows_with_every_change_and_every_task_that_joins(
    revisions: list[int], data: st.DataObject
) -> None:
    before = season(revisions)
    changed = data.draw(st.integers(0, len(revisions) - 1))
    moved = [revision + (place == changed) for place, revision in enumerate(revisions)]
    for after in (season(moved), season([*revisions, 0])):
        assert after.uid == before.uid
        assert after.sequence > before.sequence
    assert season([0]).sequence == 0
