"""Crews, months and stops through the API."""

from datetime import timedelta

import pytest

from landscape_care.dispatch import actions as dispatch
from landscape_care.dispatch.models import MonthPlan, PlanState
from landscape_care.visits.models import Visit
from tests.integration.api_company import Company, add_company, add_crew, send, today

pytestmark = pytest.mark.django_db


@pytest.fixture
def company() -> Company:
    found = add_company()
    add_crew("south", [], by=found.people["office"])
    return found


def test_a_moved_stop_tells_its_new_version_and_the_crew_people_hear(company: Company) -> None:
    body = {"day": str(today()), "crew": "south", "version": 0}
    answer = send("dispatcher", "POST", f"stops/{company.stop.pk}/move/", body)
    assert answer.status_code == 200
    assert (answer.json()["crew"], answer.json()["version"]) == ("south", 1)
    assert Visit.objects.get(pk=company.visit.pk).crew_name == "South crew"


def test_the_second_of_two_dispatchers_is_told_who_was_faster(company: Company) -> None:
    body = {"day": str(today()), "crew": "south", "version": 0}
    send("dispatcher", "POST", f"stops/{company.stop.pk}/move/", body)
    answer = send("office", "POST", f"stops/{company.stop.pk}/move/", body | {"crew": "north"})
    assert answer.status_code == 409
    assert "dispatcher" in answer.json()["detail"]
    assert send("office", "GET", f"stops/{company.stop.pk}/").json()["crew"] == "south"


def test_a_move_outside_the_window_is_refused_with_what_would_be_right(company: Company) -> None:
    body = {"day": str(today() - timedelta(40)), "crew": "south", "version": 0}
    answer = send("dispatcher", "POST", f"stops/{company.stop.pk}/move/", body)
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "day"


@pytest.mark.parametrize("action", ["move", "hold", "release"])
def test_a_change_without_the_version_one_saw_is_refused(company: Company, action: str) -> None:
    body = {"day": str(today()), "crew": "south"} if action == "move" else {}
    answer = send("dispatcher", "POST", f"stops/{company.stop.pk}/{action}/", body)
    assert answer.status_code == 422
    assert "version" in [row["field"] for row in answer.json()["problems"]]


def test_a_plan_waits_until_it_is_solved_and_only_then_can_be_published(company: Company) -> None:
    body = {"depot": "albuquerque", "month": str(today()), "seconds": 1}
    asked = send("dispatcher", "POST", "month-plans/", body)
    assert asked.status_code == 202
    assert (asked.json()["state"], asked.json()["number"]) == ("waiting", 4)
    early = send("dispatcher", "POST", f"month-plans/{asked.json()['id']}/publication/")
    assert early.status_code == 409
    assert "waiting" in early.json()["detail"]


def test_publishing_replaces_the_plan_before(company: Company) -> None:
    assert send("office", "POST", f"month-plans/{company.proposal.pk}/publication/").status_code == 200
    states = dict(MonthPlan.objects.values_list("number", "state"))
    assert (states[1], states[2]) == (PlanState.SUPERSEDED, PlanState.PUBLISHED)


def test_only_what_somebody_looked_at_is_published(company: Company) -> None:
    address = f"month-plans/{company.proposal.pk}"
    told = send("office", "GET", f"{address}/effects/").json()
    assert [change["sort"] for change in told["changes"]] == ["taken_back"]
    assert told["refusal"] == ""
    other = send("office", "POST", f"{address}/publication/?seen=other")
    assert other.status_code == 409
    assert "since you looked" in other.json()["detail"]
    assert send("office", "POST", f"{address}/publication/?seen={told['seen']}").status_code == 200
    assert Visit.objects.get(pk=company.visit.pk).state == "withdrawn"


def test_a_plan_is_compared_with_the_one_before(company: Company) -> None:
    found = send("office", "GET", f"month-plans/{company.proposal.pk}/comparison/").json()
    assert (found["now"]["visits"], found["before"]["figures"]["visits"]) == (0, 1)
    assert found["before"]["plan"] == company.plan.pk
    assert found["last_month"] is None


def test_a_move_is_weighed_without_being_done(company: Company) -> None:
    body = {"day": str(today()), "crew": "south", "version": 0}
    found = send("dispatcher", "POST", f"stops/{company.stop.pk}/move-cost/", body).json()
    assert found["after"]["drive_minutes"] > 0
    assert found["changes"][0]["now"]["crew"] == "South crew"
    assert send("office", "GET", f"stops/{company.stop.pk}/").json()["crew"] == "north"


def test_rain_is_told_worked_out_and_confirmed(company: Company) -> None:
    body = {"depot": "albuquerque", "kind": "rain", "first_day": str(today())}
    asked = send("office", "POST", "disruptions/", body)
    assert asked.status_code == 202
    assert asked.json()["crews"] == ["north", "south"]
    assert asked.json()["effects"] is None
    dispatch.solve_plan(asked.json()["plan"]["id"], today=today())
    row = send("office", "GET", f"disruptions/{asked.json()['id']}/").json()
    assert row["plan"]["state"] == "proposed"
    moved = row["effects"]["changes"][0]
    assert (moved["visit"], moved["sort"]) == (company.visit.pk, "other_day")
    assert moved["why"].startswith("Rain on")
    address = f"disruptions/{row['id']}/confirmation/"
    answer = send("office", "POST", address, {"seen": row["effects"]["seen"]})
    assert answer.status_code == 200
    assert answer.json()["confirmed_at"]
    assert Visit.objects.get(pk=company.visit.pk).moved_from == today()


def test_the_crew_of_a_day_sends_a_version_with_another_order(company: Company) -> None:
    address = f"crews/north/days/{today()}/"
    version = send("crew", "GET", address).json()["route_version"]
    body = {"stops": [company.stop.pk], "version": version}
    assert send("crew", "PUT", f"{address}order/", body).json()["version"] == version + 1
    assert send("crew", "PUT", f"{address}order/", body).status_code == 409


def test_a_month_that_is_over_cannot_be_planned(company: Company) -> None:
    body = {"depot": "albuquerque", "month": "2020-02-01"}
    answer = send("dispatcher", "POST", "month-plans/", body)
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "month"


def test_a_crews_day_lists_its_stops_with_their_tasks(company: Company) -> None:
    answer = send("crew", "GET", f"crews/north/days/{today()}/").json()
    assert [stop["visit"]["id"] for stop in answer["stops"]] == [company.visit.pk]
    assert {task["title"] for task in answer["stops"][0]["visit"]["tasks"]} == {"Walk the zones"}
    assert send("crew", "GET", "crews/north/days/tomorrow/").status_code == 404


def test_a_crew_code_in_use_is_refused(company: Company) -> None:
    body = {"code": "north", "name": "Again", "depot": "albuquerque", "skills": ["gardener"]}
    answer = send("office", "POST", "crews/", body | {"shift_opens": "07:00", "shift_closes": "15:00"})
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "code"


def test_a_day_off_given_twice_is_one_day_off(company: Company) -> None:
    for _ in range(2):
        assert send("office", "POST", "crews/north/days-off/", {"day": "2031-05-01"}).status_code == 201
    assert company.crew.days_off.count() == 1
