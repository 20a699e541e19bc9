"""What a phone gets for what it sends, and what it may keep."""

import json
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.contrib.staticfiles import finders
from django.db import transaction
from django.test import Client
from pytest_django import DjangoDbBlocker

from landscape_care.care import actions as care
from landscape_care.care.models import CareTask, TaskState
from landscape_care.people.models import AuditEntry
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Completion, TimeMark
from landscape_care.visits.queries import site_times
from landscape_care.visits.site_time import minutes_on_site
from tests.integration.pages_company import NOON, TODAY, Company, open_company

pytestmark = [pytest.mark.django_db, pytest.mark.both]


@pytest.fixture(scope="module")
def company(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Company]:
    """One company for all tests here; what a test changes is undone after it."""
    with django_db_blocker.unblock(), time_machine.travel(NOON), transaction.atomic():
        yield open_company()
        transaction.set_rollback(True)


@pytest.fixture
def crew(client: Client, company: Company) -> Client:
    client.force_login(company.people["crew"])
    return client


@pytest.fixture
def task(company: Company) -> CareTask:
    """A care task of today that is still open."""
    rows = CareTask.objects.filter(visit_task__visit=company.stop_today().visit, state=TaskState.OPEN)
    return next(row for row in rows if not row.details.get("settings"))


def day_page(company: Company) -> str:
    return f"/crew/{company.stop_today().crew.code}/{TODAY}/"


def send(crew: Client, company: Company, last: str, **said: str) -> tuple[int, dict[str, Any]]:
    """Send as a phone does; what comes back."""
    address = f"{day_page(company)}{company.stop_today().visit_id}/{last}/"
    given = {"number": str(uuid4()), "outcome": "done", **said}
    answer = crew.post(address, given, headers={"Accept": "application/json"})
    return answer.status_code, json.loads(answer.content)


def test_a_note_that_comes_again_gets_the_same_word_and_is_kept_once(
    crew: Client, company: Company, task: CareTask
) -> None:
    number = str(uuid4())
    for _ in range(3):
        assert send(crew, company, str(task.pk), number=number) == (200, {"said": "noted", "problems": []})
    assert Completion.objects.filter(task=task).count() == 1


def test_a_note_that_comes_again_after_midnight_still_is_the_same(
    crew: Client, company: Company, task: CareTask
) -> None:
    said = {"number": str(uuid4()), "made_at": (NOON + timedelta(minutes=4)).isoformat()}
    assert send(crew, company, str(task.pk), **said)[0] == 200
    with time_machine.travel(NOON + timedelta(days=13)):
        crew.force_login(company.people["crew"])
        assert send(crew, company, str(task.pk), **said)[0] == 200
    assert Completion.objects.get(task=task).done_on == TODAY


@pytest.mark.parametrize(
    ("made_at", "done_on"),
    [
        ((NOON - timedelta(2)).isoformat(), TODAY - timedelta(2)),
        ("2026-11-25T05:30:00+00:00", TODAY - timedelta(1)),  # half past ten in the evening before, in Denver
        ((NOON + timedelta(days=300)).isoformat(), TODAY),
        ((NOON - timedelta(days=300)).isoformat(), TODAY),
        ("2026-11-23T10:00:00", TODAY),
        ("yesterday", TODAY),
        ("", TODAY),
    ],
)
def test_the_day_of_the_work_is_that_of_the_phone_where_its_clock_can_be_believed(
    made_at: str, done_on: object, crew: Client, company: Company, task: CareTask
) -> None:
    assert send(crew, company, str(task.pk), made_at=made_at)[0] == 200
    assert Completion.objects.get(task=task).done_on == done_on


def test_who_was_slower_learns_who_was_faster_and_may_stand_by_the_own_words(
    crew: Client, company: Company, task: CareTask
) -> None:
    care.settle(task, "skipped", on=TODAY, by=company.people["office"], reason="The owner did it")
    status, said = send(crew, company, str(task.pk))
    assert (status, said["said"], said["who"]) == (409, "clash", "Office")
    assert said["what"] == "Could not do: The owner did it"
    assert re.fullmatch(r"Wed Nov 25, 12:0\d pm", said["when"])
    again = {"number": str(uuid4()), "seen": said["seen"]}
    for _ in range(2):
        assert send(crew, company, str(task.pk), **again)[0] == 200
    task.refresh_from_db()
    assert (task.state, task.skip_reason) == (TaskState.DONE, "")
    verbs = AuditEntry.objects.filter(subject=task.key).order_by("id").values_list("verb", flat=True)
    assert list(verbs) == ["settle task", "put aside what was settled", "settle task"]


def test_standing_by_the_own_words_needs_that_nobody_spoke_since(
    crew: Client, company: Company, task: CareTask
) -> None:
    office = company.people["office"]
    care.settle(task, "skipped", on=TODAY, by=office, reason="The owner did it")
    seen = send(crew, company, str(task.pk))[1]["seen"]
    care.unsettle(task, reason="Not so", by=office)
    care.settle(task, "skipped", on=TODAY, by=office, reason="It is frozen")
    status, said = send(crew, company, str(task.pk), seen=seen)
    assert (status, said["what"]) == (409, "Could not do: It is frozen")
    assert Completion.objects.filter(task=task).count() == 0


def test_a_visit_that_was_taken_back_is_told_with_its_reason(
    crew: Client, company: Company, task: CareTask
) -> None:
    stop = company.stop_today()
    visits.withdraw(stop.visit, "The garden is closed", by=company.people["office"])
    status, said = send(crew, company, "times", sort="started")
    assert status == 200  # somebody was there, whatever the office decided meanwhile
    answer = crew.post(
        f"{day_page(company)}{stop.visit_id}/{task.pk}/",
        {"number": str(uuid4()), "outcome": "done"},
        headers={"Accept": "application/json"},
    )
    assert answer.status_code == 404
    assert said["said"] == "noted"


def test_what_is_wrong_is_told_in_words_and_can_be_put_right(
    crew: Client, company: Company, task: CareTask
) -> None:
    status, said = send(crew, company, str(task.pk), outcome="skipped", reason=" ")
    assert (status, said["said"]) == (422, "wrong")
    assert said["problems"] == ["Reason: wanted why it could not be done."]


def test_begin_and_end_are_kept_once_each_with_the_time_of_the_phone(crew: Client, company: Company) -> None:
    visit = company.stop_today().visit
    began, ended = NOON - timedelta(minutes=95), NOON - timedelta(minutes=20)
    first = {"number": str(uuid4()), "sort": "started", "made_at": began.isoformat()}
    for _ in range(2):
        assert send(crew, company, "times", **first)[0] == 200
    assert send(crew, company, "times", sort="finished", made_at=ended.isoformat())[0] == 200
    assert minutes_on_site(site_times([visit])[visit.pk]) == 75
    assert TimeMark.objects.filter(visit=visit).count() == 2
    assert send(crew, company, "times", **{**first, "sort": "finished"})[0] == 422
    assert send(crew, company, "times", sort="lunch")[0] == 422
    page = crew.get(day_page(company)).content.decode()
    assert "10:25 am – 11:40 am (1:15 h)" in page


def test_work_is_begun_and_ended_without_scripts(crew: Client, company: Company) -> None:
    address = f"{day_page(company)}{company.stop_today().visit_id}/times/"
    for sort in ("started", "finished"):
        answer = crew.post(address, {"number": str(uuid4()), "sort": sort})
        assert answer.headers["Location"].endswith(f"#stop-{company.stop_today().visit_id}")
    assert [mark.sort for mark in TimeMark.objects.all()] == ["started", "finished"]


def test_another_crews_work_is_nobody_elses(company: Company, client: Client, task: CareTask) -> None:
    stop = company.stop_today()
    stop.crew.members.clear()
    client.force_login(company.people["crew"])
    for last in ("times", "gate", str(task.pk)):
        address = f"{day_page(company)}{stop.visit_id}/{last}/"
        assert client.post(address, {"number": str(uuid4())}).status_code in (404, 405), last
        assert client.get(address).status_code in (404, 405), last


def test_the_worker_names_files_that_are_there(crew: Client) -> None:
    script = crew.get("/crew/worker.js")
    assert script.headers["Content-Type"].startswith("text/javascript")
    assert script.headers["Cache-Control"] == "no-cache"
    shell = json.loads(re.findall(r"const SHELL = (\[.*?\]);", script.content.decode())[0])
    assert {"/static/pages/crew.js", "/static/pages/sheet.css"} < set(shell)
    assert [name for name in shell if not finders.find(name.removeprefix("/static/"))] == []
    modules = {name for name in shell if name.endswith(".js")}
    for name in modules:
        script_text = Path(str(finders.find(name.removeprefix("/static/")))).read_text()
        asked = re.findall(r'from "\./(\w+\.js)"', script_text)
        assert {f"/static/pages/{each}" for each in asked} <= modules, name


def test_the_manifest_puts_the_day_on_the_home_screen(crew: Client) -> None:
    described = json.loads(crew.get("/crew/manifest.webmanifest").content)
    assert (described["start_url"], described["display"]) == ("/crew/", "standalone")
    assert [finders.find(icon["src"].removeprefix("/static/")) is None for icon in described["icons"]] == [
        False,
        False,
        False,
    ]


def test_signing_out_tells_the_browser_to_forget(crew: Client) -> None:
    assert crew.post("/sign-out/").headers["Clear-Site-Data"] == '"storage"'


def test_a_stranger_gets_no_greeting(client: Client) -> None:
    assert client.get("/crew/hello/").status_code == 302
    assert client.get("/crew/no-signal/").status_code == 302


def test_pages_are_pressed_and_stored_by_no_browser(crew: Client, company: Company) -> None:
    answer = crew.get(day_page(company), headers={"Accept-Encoding": "gzip"})
    assert answer.headers["Content-Encoding"] == "gzip"
    assert "no-store" in answer.headers["Cache-Control"]
    lengths = {
        len(crew.get(day_page(company), headers={"Accept-Encoding": "gzip"}).content) for _ in range(4)
    }
    assert len(lengths) > 1  # nobody learns from the length what the page says
