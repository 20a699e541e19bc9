"""Visits, access and completions through the API."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import AnonymousUser

from landscape_care.care.models import CareTask, Reading, TaskState
from landscape_care.dispatch.models import Stop
from landscape_care.people.actions import add_user
from landscape_care.people.models import AuditEntry, Role
from landscape_care.properties.models import Property, Zone
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Completion
from landscape_care.visits.queries import visible_photos
from tests.integration.api_company import PASSWORD, Company, add_company, add_crew, add_task, send, today

pytestmark = pytest.mark.django_db


@pytest.fixture
def company() -> Company:
    found = add_company()
    stranger = add_user("other_crew", PASSWORD, role=Role.CREW)
    add_crew("south", [stranger], by=found.people["office"])
    return found


def body(company: Company, **changes: Any) -> dict[str, Any]:
    done = {"visit": company.visit.pk, "task": company.task.pk, "outcome": "done", "done_on": str(today())}
    return done | changes


def put(company: Company, role: str = "crew", uuid: Any = None, **changes: Any) -> Any:
    return send(role, "PUT", f"completions/{uuid or uuid4()}/", body(company, **changes))


# --- Who sees a visit -------------------------------------------------------------------------


def test_a_crew_sees_its_own_visits_and_nobody_elses(company: Company) -> None:
    assert send("crew", "GET", "visits/").json()["count"] == 1
    assert send("other_crew", "GET", "visits/").json()["count"] == 0
    for address in (f"visits/{company.visit.pk}/", f"visits/{company.visit.pk}/access/"):
        assert send("other_crew", "GET", address).status_code == 404
    assert send("other_crew", "GET", f"stops/{company.stop.pk}/").status_code == 404
    assert send("other_crew", "GET", "crews/north/").status_code == 404
    assert send("other_crew", "GET", f"completions/{company.completion.pk}/").status_code == 404


def test_a_crew_sees_the_pictures_of_its_gardens_and_its_own_alone(company: Company) -> None:
    address = f"photos/{company.photo.pk}/picture/"
    assert send("office", "GET", address).status_code == 200
    assert send("crew", "GET", address).status_code == 200
    assert send("other_crew", "GET", address).status_code == 404
    assert not visible_photos(AnonymousUser()).exists()


def test_the_gate_code_is_shown_on_the_day_and_who_asked_is_noted(company: Company) -> None:
    answer = send("crew", "GET", f"visits/{company.visit.pk}/access/")
    assert answer.json()["gate_code"] == "7391#"
    assert answer["Cache-Control"] == "private, no-store"
    entry = AuditEntry.objects.get(verb="see access")
    assert entry.by == company.people["crew"]
    assert "7391#" not in str(entry.detail)


@pytest.mark.parametrize("days", [-1, 1])
def test_on_any_other_day_the_gate_code_is_not_shown(company: Company, days: int) -> None:
    Stop.objects.update(day=today() + timedelta(days))
    answer = send("crew", "GET", f"visits/{company.visit.pk}/access/")
    assert answer.status_code == 403
    assert b"7391#" not in answer.content
    assert not AuditEntry.objects.filter(verb="see access").exists()
    assert send("office", "GET", f"visits/{company.visit.pk}/access/").status_code == 200


def test_a_gate_code_is_nowhere_but_in_access(company: Company) -> None:
    number = company.visit.pk
    for address in (
        "visits/",
        f"visits/{number}/",
        f"crews/north/days/{today()}/",
        f"stops/{company.stop.pk}/",
    ):
        for role in ("crew", "office"):
            answer = send(role, "GET", address)
            assert answer.status_code == 200
            assert b"7391#" not in answer.content


# --- Completions ------------------------------------------------------------------------------


def test_a_completion_is_made_once_and_replayed_after(company: Company) -> None:
    uuid = uuid4()
    answers = [put(company, uuid=uuid) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [201, 200, 200]
    assert answers[0].json() == answers[1].json() == answers[2].json()
    assert Completion.objects.filter(task=company.task).count() == 1


def test_the_same_id_with_other_words_is_refused(company: Company) -> None:
    uuid = uuid4()
    put(company, uuid=uuid)
    answer = put(company, uuid=uuid, note="and the gate was open")
    assert answer.status_code == 422
    assert answer.json()["type"] == "/api/#body-differs"
    assert Completion.objects.get(pk=uuid).note == ""


def test_a_task_that_somebody_settled_is_a_conflict_that_says_when(company: Company) -> None:
    assert put(company).status_code == 201
    answer = put(company, role="dispatcher")
    assert answer.status_code == 409
    assert answer.json()["type"] == "/api/#conflict"
    assert str(today()) in answer.json()["detail"]
    assert Completion.objects.filter(task=company.task).count() == 1


def test_a_withdrawn_visit_is_a_conflict_with_the_reason(company: Company) -> None:
    visits.withdraw(company.visit, "The owner is away", by=company.people["office"])
    answer = put(company)
    assert answer.status_code == 409
    assert answer.json()["reason"] == "The owner is away"
    assert answer.json()["title"] == "This visit was withdrawn"
    assert CareTask.objects.get(pk=company.task.pk).state == TaskState.OPEN


def test_readings_and_settings_reach_the_record(company: Company) -> None:
    reading = {"tag": "Z1", "quantity": "flow_gpm", "value": 2.4, "unit": "gal/min"}
    left = {"Z1": {"set_minutes": 12, "set_weekdays": "135", "set_start": "05:30"}}
    assert put(company, readings=[reading], settings_left=left).status_code == 201
    kept = Reading.objects.get()
    assert (kept.thing_id, kept.value, kept.taken_on) == (company.zone.pk, 2.4, today())
    zone = Zone.objects.get()
    assert (zone.set_minutes, zone.set_weekdays, f"{zone.set_start:%H:%M}") == (12, "135", "05:30")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"outcome": "skipped"}, "reason"),
        ({"outcome": "follow_up"}, "note"),
        ({"outcome": "perhaps"}, "outcome"),
        ({"done_on": "2999-01-01"}, "done_on"),
        ({"done_on": str(today() + timedelta(1))}, "done_on"),
        ({"readings": [{"quantity": "flow_gpm", "value": 2, "unit": "psi"}]}, "readings.0.unit"),
        ({"readings": [{"quantity": "flow_gpm", "value": -2, "unit": "gal/min"}]}, "readings.0.value"),
        ({"readings": [{"quantity": "mood", "value": 2, "unit": "gal/min"}]}, "readings.0.quantity"),
        ({"settings_left": {"Z9": {"set_minutes": 3}}}, "tag"),
        ({"settings_left": {"Z1": {"colour": "red"}}}, "colour"),
        ({"settings_left": {"Z1": {"set_minutes": 9999}}}, "set_minutes"),
        ({"settings_left": {"\ud800": {"set_minutes": 3}}}, "settings_left"),
        ({"settings_left": {"Z1": {"set_minutes": True}}}, "settings_left"),
        ({"settings_left": [1]}, "settings_left"),
    ],
)
def test_nonsense_is_refused_by_name_and_nothing_is_kept(
    company: Company, changes: dict[str, Any], field: str
) -> None:
    answer = put(company, **changes)
    assert answer.status_code == 422
    assert field in [row["field"] for row in answer.json()["problems"]]
    assert not Completion.objects.filter(task=company.task).exists()
    assert CareTask.objects.get(pk=company.task.pk).state == TaskState.OPEN


def test_a_task_of_another_visit_is_refused(company: Company) -> None:
    elsewhere = add_task(company.property, "7")
    answer = put(company, task=elsewhere.pk)
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "task"


def test_another_crew_cannot_report_this_visit(company: Company) -> None:
    answer = put(company, role="other_crew")
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "visit"


@pytest.mark.django_db(transaction=True)
def test_a_completion_is_kept_while_the_broker_is_away_and_care_is_planned_later(company: Company) -> None:
    Property.objects.update(plan_wanted_at=None)
    assert put(company).status_code == 201
    assert Property.objects.get().plan_wanted_at is not None
