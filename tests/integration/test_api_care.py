"""Rules, adjustments, care tasks and readings through the API."""

from datetime import timedelta
from typing import Any

import pytest

from landscape_care.care import actions as care
from landscape_care.care.catalog import catalog
from landscape_care.care.models import CareTask, RuleAdjustment
from tests.integration.api_company import Company, add_company, add_task, send, today

pytestmark = pytest.mark.django_db


@pytest.fixture
def company() -> Company:
    return add_company()


def test_the_catalog_is_told_in_both_languages() -> None:
    add_company()
    rules = {rule["key"]: rule for rule in send("crew", "GET", "care-rules/").json()}
    assert set(rules) == {*catalog(), "own-hot-spots"}
    assert rules["drip-flush"]["en"]["title"] != rules["drip-flush"]["es"]["title"]


def test_an_adjustment_holds_until_it_is_ended(company: Company) -> None:
    body = {"rule": "drip-flush", "property": "casa-14", "every_days": 90, "reason": "hard water"}
    answer = send("dispatcher", "POST", "adjustments/", body)
    assert answer.status_code == 201
    listed = send("crew", "GET", "adjustments/?property=casa-14").json()["results"]
    assert [(row["every_days"], row["by"]) for row in listed] == [(90, "dispatcher")]
    assert send("office", "POST", f"adjustments/{answer.json()['id']}/end/").status_code == 200
    assert send("crew", "GET", "adjustments/?property=casa-14").json()["count"] == 0
    assert RuleAdjustment.objects.get(pk=answer.json()["id"]).ended_at is not None


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"rule": "polish-the-moon"}, "rule"),
        ({"property": "nowhere"}, "property"),
        ({"every_days": 0}, "every_days"),
        ({"every_days": None}, "body"),
        ({"offset_days": 5}, "offset_days"),
        ({"minutes": 100_000}, "minutes"),
        ({"reason": " "}, "reason"),
    ],
)
def test_an_adjustment_that_a_rule_cannot_have_is_refused(
    company: Company, changes: dict[str, Any], field: str
) -> None:
    body = {"rule": "drip-flush", "every_days": 90, "reason": "hard water"} | changes
    answer = send("office", "POST", "adjustments/", body)
    assert answer.status_code == 422
    assert [row["field"] for row in answer.json()["problems"]] == [field]


def test_tasks_are_found_by_window_state_and_lateness(company: Company) -> None:
    add_task(
        company.property,
        "9",
        series="C1:other",
        opens_on=today() - timedelta(30),
        due_on=today() - timedelta(25),
        closes_on=today() - timedelta(20),
    )

    def found(filters: str) -> list[str]:
        rows = send("crew", "GET", f"care-tasks/?property=casa-14&{filters}").json()["results"]
        return sorted(row["occurrence"] for row in rows)

    assert found("") == ["1", "2", "9"]
    assert found("state=done") == ["2"]
    assert found(f"last={today() - timedelta(10)}") == ["9"]
    assert found(f"first={today()}&state=open") == ["1"]
    assert found(f"late_on={today()}") == ["9"]


def test_a_planned_task_says_why_it_is_there(company: Company) -> None:
    CareTask.objects.exclude(pk=company.settled.pk).filter(visit_task=None).delete()
    care.plan_care(company.property.pk, today=today())
    row = send("crew", "GET", "care-tasks/?state=open&stem=irrigation&limit=500").json()["results"][-1]
    why = send("crew", "GET", f"care-tasks/{row['id']}/why/").json()
    assert why["en"]
    assert why["es"]
    assert why["en"] != why["es"]


def test_a_settled_task_cannot_be_settled_again_but_taken_back_by_the_office(company: Company) -> None:
    address = f"care-tasks/{company.settled.pk}/"
    again = send("office", "POST", f"{address}settlement/", {"outcome": "done", "on": str(today())})
    assert again.status_code == 409
    assert send("office", "POST", f"{address}hold/").status_code == 409
    assert send("office", "POST", f"{address}reopening/", {"reason": "mistake"}).json()["state"] == "open"
    assert send("office", "POST", f"{address}reopening/", {"reason": "mistake"}).status_code == 409


def test_care_cannot_be_done_tomorrow_or_skipped_without_a_reason(company: Company) -> None:
    address = f"care-tasks/{company.task.pk}/settlement/"
    tomorrow = {"outcome": "done", "on": str(today() + timedelta(1))}
    assert send("office", "POST", address, tomorrow).status_code == 422
    assert send("office", "POST", address, {"outcome": "skipped", "on": str(today())}).status_code == 422
    assert CareTask.objects.get(pk=company.task.pk).state == "open"


def test_a_reading_in_a_foreign_unit_is_refused(company: Company) -> None:
    body = {"thing": company.zone.pk, "quantity": "flow_gpm", "value": 9, "unit": "l/min"}
    answer = send("crew", "POST", "readings/", body | {"taken_on": str(today())})
    assert answer.status_code == 422
    assert answer.json()["problems"] == [
        {"field": "unit", "value": "l/min", "wanted": answer.json()["problems"][0]["wanted"]}
    ]
    assert "gal/min" in answer.json()["problems"][0]["wanted"]


def test_a_reading_no_gauge_shows_is_refused_with_what_would_be_right(company: Company) -> None:
    body = {"thing": company.zone.pk, "quantity": "flow_gpm", "value": -3.0, "unit": "gal/min"}
    answer = send("crew", "POST", "readings/", body | {"taken_on": str(today())})
    assert answer.status_code == 422
    (problem,) = answer.json()["problems"]
    assert (problem["field"], problem["value"]) == ("value", -3.0)
    assert problem["wanted"].startswith("0 to ")


@pytest.mark.parametrize("value", ["NaN", "Infinity", "1e999", '"9"', "true"])
def test_only_finite_numbers_are_readings(company: Company, value: str) -> None:
    body = f'{{"thing": {company.zone.pk}, "quantity": "flow_gpm", "value": {value}, "unit": "gal/min"}}'
    answer = send("crew", "POST", "readings/", body)
    assert answer.status_code in (400, 422)


def test_the_office_sees_what_a_crew_could_not_do(company: Company) -> None:
    office = company.people["office"]
    care.settle(company.task, "skipped", on=today(), by=office, reason="Gate was locked")
    row = send("dispatcher", "GET", f"care-tasks/{company.task.pk}/").json()
    assert (row["state"], row["skip_reason"]) == ("skipped", "Gate was locked")


def test_a_report_makes_care_and_is_taken_back_by_the_office(company: Company) -> None:
    body = {"property": "casa-14", "kind": "storm", "happened_on": str(today())}
    row = send("crew", "POST", "reports/", body).json()
    care.plan_care(company.property.pk, today=today())
    assert CareTask.objects.filter(rule="storm-walk", state="open").exists()
    assert [each["id"] for each in send("crew", "GET", "reports/?kind=storm").json()["results"]] == [
        row["id"]
    ]
    assert send("crew", "POST", f"reports/{row['id']}/withdrawal/", {"reason": "no"}).status_code == 403
    assert send("office", "POST", f"reports/{row['id']}/withdrawal/", {"reason": "no"}).status_code == 200


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"kind": "comet"}, "kind"),
        ({"kind": "owner_request"}, "note"),
        ({"happened_on": "1999-01-01"}, "happened_on"),
        ({"happened_on": "2999-01-01"}, "happened_on"),
        ({"thing": 987654}, "thing"),
        ({"property": "nowhere"}, "property"),
    ],
)
def test_a_report_that_makes_no_sense_names_the_field(
    company: Company, change: dict[str, object], field: str
) -> None:
    body = {"property": "casa-14", "kind": "storm", "happened_on": str(today())} | change
    answer = send("crew", "POST", "reports/", body)
    assert answer.status_code == 422
    assert [problem["field"] for problem in answer.json()["problems"]] == [field]


def test_own_days_of_the_year_are_set_over_the_api(company: Company) -> None:
    body = {"rule": "perennial-cutback", "fixed": "01-20..02-10", "reason": "early bulbs"}
    assert send("office", "POST", "adjustments/", body).json()["fixed"] == "01-20..02-10"
    wrong = body | {"fixed": "13-45..02-10"}
    assert send("office", "POST", "adjustments/", wrong).status_code == 422
