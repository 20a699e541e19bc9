"""What a dry run of planning tells is what the run then does."""

from datetime import date, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command

from landscape_care.care import actions
from landscape_care.care.management.commands.plan import changes_now
from landscape_care.care.models import CareTask
from landscape_care.care.plan_preview import Difference, differences
from landscape_care.properties.models import Property
from tests.integration.care_company import START, garden, sand_filter, turf
from tests.integration.test_care_moved_by_weather import tell

pytestmark = [pytest.mark.django_db, pytest.mark.both]
A_WEEK = timedelta(7)


def state(place: Property) -> dict[str, tuple[Any, ...]]:
    names = ("rule", "opens_on", "due_on", "closes_on", "minutes", "title", "state", "revision")
    return {row[0]: row[1:] for row in CareTask.objects.filter(property=place).values_list("key", *names)}


def preview(place: Property, today: date) -> list[Difference]:
    return list(differences(changes_now(place, today)))


def said(*words: str) -> str:
    out = StringIO()
    call_command("plan", *words, f"--today={START}", stdout=out)
    return out.getvalue()


@pytest.fixture
def of_an_older_catalog() -> Property:
    """A planned garden as a catalog before this one would have left it: other names, days, minutes, rules."""
    place = garden()
    sand_filter(place)
    turf(place)
    actions.plan_care(place.pk, today=START)
    rows = CareTask.objects.filter(property=place)
    rows.filter(rule="turf-brushing").update(rule="turf-combing")
    for row in rows.filter(rule="leaf-litter"):
        days = {name: getattr(row, name) + A_WEEK for name in ("opens_on", "due_on", "closes_on")}
        rows.filter(pk=row.pk).update(**days)
    rows.filter(rule="property-walk").update(minutes=99)
    kept = rows.filter(rule="turf-rinsing").first()
    rows.filter(rule="turf-rinsing").exclude(pk=kept.pk if kept else 0).delete()
    for row in rows.filter(rule="turf-inspection"):
        key = row.key.replace("turf-inspection", "turf-sniffing")
        rows.filter(pk=row.pk).update(
            rule="turf-sniffing", series=row.series.replace("inspection", "sniffing"), key=key
        )
    return place


def test_a_dry_run_tells_each_change_and_the_run_does_just_that(of_an_older_catalog: Property) -> None:
    place = of_an_older_catalog
    before, told = state(place), preview(place, START)
    assert state(place) == before
    assert {each.kind for each in told} == {"added", "moved", "changed", "renamed", "withdrawn"}
    report = actions.plan_care(place.pk, today=START)
    after = state(place)
    assert {each.key for each in told if each.kind == "added"} == set(after) - set(before)
    assert {each.key for each in told if each.kind != "added"} == {
        key for key in before if before[key] != after[key]
    }
    assert (report.added, report.withdrawn) == (
        sum(each.kind == "added" for each in told),
        sum(each.kind == "withdrawn" for each in told),
    )
    for each in told:
        _rule, opens, due, closes, *_ = after[each.key]
        if each.kind in ("added", "moved"):
            assert each.words.endswith(f"due {due} ({opens} to {closes})")
        if each.kind == "moved":
            was = before[each.key]
            assert each.words.startswith(f"due {was[2]} ({was[1]} to {was[3]}) becomes")
    assert preview(place, START) == []


def test_a_rename_keeps_the_tasks_and_says_both_names(of_an_older_catalog: Property) -> None:
    renamed = [each for each in preview(of_an_older_catalog, START) if each.kind == "renamed"]
    assert {each.rule for each in renamed} == {"turf-brushing"}
    assert all("rule turf-combing becomes turf-brushing" in each.words for each in renamed)
    kept = {each.key: CareTask.objects.get(key=each.key).pk for each in renamed}
    actions.plan_care(of_an_older_catalog.pk, today=START)
    assert {key: CareTask.objects.get(key=key).pk for key in kept} == kept


def test_the_command_lists_by_property_and_by_rule_and_writes_nothing(of_an_older_catalog: Property) -> None:
    before = state(of_an_older_catalog)
    words = said("--dry-run")
    assert state(of_an_older_catalog) == before
    by_rule = words.partition("By rule:")[2]
    assert "turf-brushing: " in by_rule
    assert "renamed" in by_rule
    assert "turf-sniffing: " in by_rule
    assert "property-walk: " in by_rule
    assert "minutes 99 becomes" in words
    said()
    assert "Nothing would change." in said("--dry-run")


def test_told_work_that_planning_would_move_is_listed_as_kept(of_an_older_catalog: Property) -> None:
    task = CareTask.objects.filter(rule="leaf-litter").earliest("due_on")
    tell(task, task.due_on + timedelta(4))
    kept = [each for each in preview(of_an_older_catalog, START) if each.kind == "kept as told"]
    assert [each.key for each in kept] == [task.key]
    actions.plan_care(of_an_older_catalog.pk, today=START)
    was = (task.opens_on, task.due_on, task.closes_on)
    task.refresh_from_db()
    assert (task.opens_on, task.due_on, task.closes_on) == was
    assert isinstance(task.due_on, date)
