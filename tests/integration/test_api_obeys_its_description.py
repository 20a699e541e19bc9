"""The API keeps to its own OpenAPI description, whatever it is sent.

Cases are made by Schemathesis from the description, right ones and wrong ones; the checks are
its own: no server error, and only status codes, media types and bodies that are described.
"""

import copy
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from hypothesis import HealthCheck, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from landscape_care.api.description import description
from tests.integration.api_company import Company, add_company, basic, today

pytestmark = pytest.mark.django_db
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
OPERATIONS = [
    pytest.param(path, method, id=f"{method.upper()} {path}")
    for path, methods in description()["paths"].items()
    for method in methods
]
EXAMPLES = 10


@pytest.fixture
def company() -> Iterator[Company]:
    # A real server closes its connection after each request; here it holds the test's transaction.
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield add_company()
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.mark.parametrize(("path", "method"), OPERATIONS)
def test_whatever_is_sent_the_answer_is_a_described_one(company: Company, path: str, method: str) -> None:
    schema = schemathesis.openapi.from_dict(_with_names_that_exist(description(), company))
    schema.app = get_wsgi_application()
    operation = schema[path][method]
    right, wrong = (operation.as_strategy(generation_mode=mode) for mode in GenerationMode)

    @settings(max_examples=EXAMPLES, derandomize=True, suppress_health_check=list(HealthCheck), database=None)
    @given(case=right | wrong)
    def send(case: Any) -> None:
        answer = case.call(headers=basic("office"))
        case.validate_response(answer, checks=CHECKS)

    send()


def _with_names_that_exist(described: dict[str, Any], company: Company) -> dict[str, Any]:
    """The description with one name that exists and one that does not for each address and reference."""
    told = copy.deepcopy(described)
    for path, methods in told["paths"].items():
        for operation in methods.values():
            for parameter in operation.get("parameters", []):
                if parameter["in"] == "path":
                    parameter["schema"] = {"enum": _names(path, parameter["name"], company)}
    for name, properties in _references(company).items():
        for field, values in properties.items():
            told["components"]["schemas"][name]["properties"][field] = {"enum": values}
    return told


def _names(path: str, parameter: str, company: Company) -> list[Any]:
    known = {
        "clients": "acequia",
        "depots": "albuquerque",
        "properties": "casa-14",
        "crews": "north",
        "things": company.zone.pk,
        "photos": company.photo.pk,
        "adjustments": company.adjustment.pk,
        "care-tasks": company.task.pk,
        "reports": company.report.pk,
        "visits": company.visit.pk,
        "completions": str(company.completion.pk),
        "month-plans": company.proposal.pk,
        "disruptions": company.disruption.pk,
        "what-ifs": company.what_if.pk,
        "stops": company.stop.pk,
        "addresses": company.address.pk,
        "day-requests": company.wish.pk,
        "reckon": "velocity_fps",
        "plants": "own-tuscan",
        "climates": "own-corrales",
        "own-rules": "own-hot-spots",
        "weather-stations": "valle",
    }
    if parameter == "day":
        return [str(today()), "yesterday"]
    if parameter == "uuid":
        return [str(company.completion.pk), "0190f1c2-7b1e-4c1d-9a43-5f0f5f1f0001"]
    return [known[path.split("/")[2]], 987654321 if parameter == "number" else "nowhere"]


def _references(company: Company) -> dict[str, dict[str, list[Any]]]:
    return {
        "CompletionBodyRequest": {
            "visit": [company.visit.pk, 987654321],
            "task": [company.task.pk, company.settled.pk],
            "done_on": [str(today())],
        },
        "ReportBodyRequest": {
            "property": ["casa-14", "nowhere"],
            "thing": [company.zone.pk, None],
            "happened_on": [str(today()), "2999-01-01"],
        },
        "ReadingBodyRequest": {"thing": [company.zone.pk, 987654321], "taken_on": [str(today())]},
        "MoveBodyRequest": {
            "crew": ["north", "nowhere"],
            "day": [str(today()), "2020-01-01"],
            "version": [0, 1],
        },
        "VersionBodyRequest": {"version": [0, 1]},
        "DisruptionBodyRequest": {
            "depot": ["albuquerque"],
            "first_day": [str(today()), "2020-01-01"],
            "last_day": [str(today())],
            "crews": [["north"], ["nowhere"], []],
            "property": ["casa-14", "nowhere"],
        },
        "OrderBodyRequest": {"stops": [[company.stop.pk], [987654321]], "version": [0, 1]},
        "PlanBodyRequest": {"depot": ["albuquerque"], "month": [str(today()), "2020-01-01"]},
        "PropertyBodyRequest": {"client": ["acequia"], "depot": ["albuquerque"]},
        "AdjustmentBodyRequest": {
            "rule": ["drip-flush", "annual-swap"],
            "property": ["casa-14", None],
        },
        "AddressBodyRequest": {"target": ["casa-14", "acequia", "albuquerque", "north", ""]},
        "NewRuleBodyRequest": {"key": ["own-cold-spots", "own-hot-spots", "drip-flush"]},
        "PlantBodyRequest": {"key": ["own-low", "own-tuscan", "pansy"]},
        "ClimateBodyRequest": {"key": ["own-placitas", "own-corrales", "denver"]},
        "StationBodyRequest": {"code": ["mesa", "valle"], "climate": ["albuquerque", "own-corrales", "moon"]},
        "SettlementBodyRequest": {"on": [str(today())]},
    }
