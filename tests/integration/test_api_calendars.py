"""Calendar addresses through the API."""

import pytest
from django.test import Client as Browser

from landscape_care.calendars.models import Address
from landscape_care.visits.actions import ask_another_day
from landscape_care.visits.models import Visit
from tests.integration.api_company import Company, add_company, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def company() -> Company:
    return add_company()


def test_the_secret_is_told_once_and_opens_the_calendar(company: Company, client: Browser) -> None:
    body = {"audience": "property", "target": "casa-14", "name": "Tenants", "language": "es"}
    issued = send("office", "POST", "addresses/", body)
    assert issued.status_code == 201
    path = "/calendars/" + issued.json()["url"].rpartition("/")[2]
    assert client.get(path).status_code == 200
    token = path.removeprefix("/calendars/").removesuffix(".ics")
    assert token not in send("office", "GET", "addresses/").content.decode()
    assert not Address.objects.filter(digest__contains=token).exists()


def test_a_revoked_address_is_unknown_everywhere(company: Company, client: Browser) -> None:
    body = {"audience": "client", "target": "acequia", "name": "Manager"}
    issued = send("office", "POST", "addresses/", body).json()
    path = "/calendars/" + issued["url"].rpartition("/")[2]
    assert send("dispatcher", "POST", f"addresses/{issued['id']}/revocation/").status_code == 200
    assert client.get(path).status_code == 404
    assert send("office", "GET", f"addresses/{issued['id']}/").status_code == 404
    assert send("office", "POST", f"addresses/{issued['id']}/revocation/").status_code == 404


@pytest.mark.parametrize(
    ("audience", "target"),
    [("property", ""), ("property", "nowhere"), ("crew", "casa-14"), ("company", "casa-14")],
)
def test_an_address_wants_a_target_of_its_audience(company: Company, audience: str, target: str) -> None:
    answer = send("office", "POST", "addresses/", {"audience": audience, "target": target, "name": "x"})
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "target"


def test_what_an_address_shows_is_chosen_when_it_is_made_and_anew(company: Company, client: Browser) -> None:
    body = {
        "audience": "property",
        "target": "casa-14",
        "name": "Tenants",
        "shows": "visits",
        "past_days": 30,
    }
    issued = send("office", "POST", "addresses/", body).json()
    assert (issued["shows"], issued["past_days"], issued["alarm_minutes"]) == ("visits", 30, None)
    choices = f"addresses/{issued['id']}/choices/"
    chosen = send("dispatcher", "POST", choices, {"shows": "all", "stems": ["lighting"], "alarm_minutes": 60})
    assert (chosen.json()["shows"], chosen.json()["stems"], chosen.json()["past_days"]) == (
        "all",
        ["lighting"],
        None,
    )
    assert send("crew", "POST", choices, {"shows": "all"}).status_code == 403
    refused = send("office", "POST", choices, {"shows": "windows", "alarm_minutes": 60})
    assert refused.status_code == 422
    assert refused.json()["problems"][0]["field"] == "alarm_minutes"


def test_a_renewed_address_has_another_secret_and_the_old_one_is_silent(
    company: Company, client: Browser
) -> None:
    body = {"audience": "client", "target": "acequia", "name": "Manager", "shows": "seasons"}
    first = send("office", "POST", "addresses/", body).json()
    answer = send("office", "POST", f"addresses/{first['id']}/renewal/")
    second = answer.json()
    assert (answer.status_code, second["shows"]) == (201, "seasons")
    paths = ["/calendars/" + each["url"].rpartition("/")[2] for each in (first, second)]
    assert [client.get(path).status_code for path in paths] == [404, 200]
    assert send("office", "POST", f"addresses/{first['id']}/renewal/").status_code == 404


def test_a_wish_for_another_day_is_listed_and_settled(company: Company) -> None:
    visit = Visit.objects.filter(state="published").first()
    assert visit is not None
    assert visit.day is not None
    ask_another_day(visit, "Thursday", today=visit.day)
    (wish,) = send("office", "GET", "day-requests/").json()["results"]
    assert (wish["visit"], wish["words"]) == (visit.pk, "Thursday")
    assert send("crew", "GET", "day-requests/").status_code == 403
    path = f"day-requests/{wish['id']}/settlement/"
    assert send("office", "POST", path, {"answer": "moved"}).status_code == 200
    assert send("office", "POST", path, {"answer": "moved"}).status_code == 404
    assert send("office", "GET", "day-requests/").json()["count"] == 0
