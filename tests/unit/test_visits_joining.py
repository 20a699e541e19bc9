"""Whether work that turns up is done on a visit that people know already."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.visits.bundling import Bundle, OpenTask
from landscape_care.visits.joining import GRACE_MINUTES, ToldVisit, join, reason_against

TODAY = date(2026, 11, 30)
DAY = TODAY + timedelta(2)
TOLD = ToldVisit("2026-W49", DAY, 60, 2, frozenset({"gardener"}), 120)


def task(key: str = "a", **changes: Any) -> OpenTask:
    usual = OpenTask(f"{key}:1", key, TODAY, DAY, DAY + timedelta(2), 10, 1, "gardener")
    return replace(usual, **changes)


def wanted(*tasks: OpenTask, slot: str = "2026-W49.2") -> Bundle:
    keys = tuple(sorted(each.key for each in tasks))
    return Bundle(slot, TODAY, DAY, keys, sum(each.person_minutes for each in tasks), 1, ("gardener",))


def test_a_full_visit_takes_what_a_crew_makes_good() -> None:
    left = GRACE_MINUTES * TOLD.people
    assert reason_against(TOLD, [task(minutes=left)], today=TODAY) == ""
    assert reason_against(TOLD, [task(minutes=left + 1)], today=TODAY) == "minutes"


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"opens_on": DAY + timedelta(1), "due_on": DAY + timedelta(2)}, "days"),
        ({"closes_on": DAY - timedelta(1), "due_on": DAY - timedelta(1)}, "days"),
        ({"skill": "arborist"}, "skill"),
        ({"people": 3}, "people"),
    ],
)
def test_days_skill_and_people_have_to_fit(changes: dict[str, Any], reason: str) -> None:
    assert reason_against(TOLD, [task(**changes)], today=TODAY) == reason


def test_late_work_is_welcome_on_any_day_that_comes() -> None:
    gone = TODAY - timedelta(9)
    late = task(opens_on=gone, due_on=gone, closes_on=gone + timedelta(3))
    assert reason_against(TOLD, [late], today=TODAY) == ""


def test_two_of_a_series_are_not_done_on_one_day() -> None:
    assert reason_against(replace(TOLD, series=frozenset({"a"})), [task()], today=TODAY) == "series"


def test_a_visit_of_today_is_left_as_the_crew_knows_it() -> None:
    one = task()
    found = join([wanted(one)], {one.key: one}, [replace(TOLD, day=TODAY)], today=TODAY)
    assert not found.onto
    assert found.left == (wanted(one),)


def test_a_visit_of_another_week_is_no_extra_trip() -> None:
    one = task()
    found = join([wanted(one, slot="2026-W50")], {one.key: one}, [TOLD], today=TODAY)
    assert found.left == (wanted(one, slot="2026-W50"),)


@given(st.lists(st.integers(1, 40), min_size=1, max_size=8), st.integers(0, 90))
def test_told_visits_never_get_more_than_fits_and_no_work_is_lost(minutes: list[int], spare: int) -> None:
    work = {f"{n}:1": task(str(n), minutes=each) for n, each in enumerate(minutes)}
    bundles = [wanted(one, slot=f"2026-W49.{n + 2}") for n, one in enumerate(work.values())]
    visit = replace(TOLD, minutes=TOLD.stay_minutes * TOLD.people - spare)
    found = join(bundles, work, [visit], today=TODAY)
    onto = [key for keys in found.onto.values() for key in keys]
    assert sum(work[key].person_minutes for key in onto) <= visit.left_minutes
    assert sorted([*onto, *(key for one in found.left for key in one.task_keys)]) == sorted(work)
    assert all(one.beside == (DAY, "minutes") for one in found.left)
