"""Calendar addresses through the API."""

import pytest
from django.test import Client as Browser

from landscape_care.calendars.models import Address
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
