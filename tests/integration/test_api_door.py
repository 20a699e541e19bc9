"""What every address of the API shares: signing in, refusals, the description."""

import json
from typing import Any

import pytest
from django.test import Client as Browser

from tests.integration.api_company import add_people, basic

pytestmark = pytest.mark.django_db


@pytest.fixture
def _people() -> None:
    add_people()


@pytest.mark.usefixtures("_people")
def test_a_name_and_password_open_the_door(client: Browser) -> None:
    answer = client.get("/api/me/", headers=basic("crew"))
    assert answer.status_code == 200
    assert answer.json() == {"username": "crew", "name": "", "role": "crew", "language": "en"}
    assert answer["Cache-Control"] == "private, no-store"


@pytest.mark.usefixtures("_people")
@pytest.mark.parametrize("headers", [{}, basic("crew", "wrong"), basic("cr\0ew"), basic("nobody")])
def test_a_stranger_is_asked_for_a_password_as_rfc_9110_and_7617_say(
    client: Browser, headers: dict[str, str]
) -> None:
    answer = client.get("/api/me/", headers=headers)
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == 'Basic realm="Landscape Care"'
    assert_problem(answer, 401, "about:blank")


def test_a_page_of_a_browser_is_not_given_a_password_window(client: Browser) -> None:
    answer = client.get("/api/me/", headers={"Sec-Fetch-Mode": "cors"})
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"].startswith("Session ")


@pytest.mark.usefixtures("_people")
def test_owners_have_no_business_here(client: Browser) -> None:
    answer = client.get("/api/me/", headers=basic("owner"))
    assert_problem(answer, 403, "about:blank")


@pytest.mark.usefixtures("_people")
@pytest.mark.parametrize("method", ["get", "post", "put", "patch", "delete"])
@pytest.mark.parametrize("address", ["no-such-thing/", "me", "visits/abc/", "visits/%0A/"])
def test_an_unknown_address_is_told_as_a_problem(client: Browser, method: str, address: str) -> None:
    answer = getattr(client, method)(f"/api/{address}", headers=basic("office"))
    assert_problem(answer, 404, "about:blank")


@pytest.mark.usefixtures("_people")
def test_a_method_nobody_offers_is_405_with_the_ones_that_are(client: Browser) -> None:
    answer = client.post("/api/me/", headers=basic("office"))
    assert_problem(answer, 405, "about:blank")
    assert "GET" in answer["Allow"]


def test_the_front_page_explains_every_sort_of_refusal(client: Browser) -> None:
    from landscape_care.api.problems import SORTS

    page = client.get("/api/").content.decode()
    for sort in SORTS:
        assert f'id="{sort.name}"' in page
        assert sort.address == f"/api/#{sort.name}"


@pytest.mark.usefixtures("_people")
def test_the_description_is_an_openapi_document(client: Browser) -> None:
    answer = client.get("/api/schema/", headers=basic("crew"))
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/vnd.oai.openapi+json"
    assert json.loads(answer.content)["openapi"].startswith("3.0")


def test_the_description_has_no_errors_and_no_warnings() -> None:
    """Validated against the OpenAPI 3.0 JSON Schema that drf-spectacular carries."""
    from drf_spectacular.drainage import GENERATOR_STATS
    from drf_spectacular.validation import validate_schema

    from landscape_care.api.description import description

    description.cache_clear()
    with GENERATOR_STATS.silence():
        GENERATOR_STATS.reset()
        described = description()
        said = {**GENERATOR_STATS._warn_cache, **GENERATOR_STATS._error_cache}
    assert said == {}
    validate_schema(described)  # type: ignore[no-untyped-call]


def assert_problem(answer: Any, status: int, sort: str) -> None:
    """RFC 9457 section 3.1: type, title, status, detail, instance; media type of section 4."""
    assert answer.status_code == status
    assert answer["Content-Type"] == "application/problem+json"
    body = json.loads(answer.content)
    assert body["status"] == status
    assert body["type"] == sort
    assert body["title"]
    assert body["detail"]
    assert body["instance"] == answer.wsgi_request.path


@pytest.mark.usefixtures("_people")
def test_ten_wrong_passwords_make_a_name_wait_at_its_place_alone(client: Browser) -> None:
    for number in range(10):
        assert client.get("/api/me/", headers=basic("crew", f"wrong {number}")).status_code == 401
    assert client.get("/api/me/", headers=basic("crew")).status_code == 401
    elsewhere = Browser(REMOTE_ADDR="203.0.113.9")
    assert elsewhere.get("/api/me/", headers=basic("crew")).status_code == 200
    assert client.get("/api/me/", headers=basic("office")).status_code == 200
