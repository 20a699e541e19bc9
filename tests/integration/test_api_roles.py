"""Who gets what answer where: every route, method and role of the API in one table."""

from dataclasses import dataclass
from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from PIL import Image

from landscape_care.api.urls import urlpatterns
from tests.integration.api_company import (
    OWN_CLIMATE,
    OWN_PLANT,
    OWN_RULE,
    STATION,
    Company,
    add_company,
    add_crew,
    csv_file,
    property_values,
    send,
    today,
)

pytestmark = pytest.mark.django_db
ROLES = ("stranger", "owner", "crew", "dispatcher", "office")
METHODS = ("get", "post", "put", "patch", "delete")


@dataclass(frozen=True)
class Row:
    """One method of one route: the address, what is sent, and what crew and office get."""

    method: str
    address: str
    crew: int
    office: int
    body: Any = None

    def sent(self, company: Company) -> Any:
        """The body, made anew where it holds a file or names a row."""
        return self.body(company) if callable(self.body) else self.body

    def expected(self, role: str) -> int:
        """Strangers are asked to sign in; owners have no business here; dispatchers are office."""
        return {"stranger": 401, "owner": 403, "crew": self.crew}.get(role, self.office)


def _picture(company: Company) -> dict[str, Any]:
    file = BytesIO()
    Image.new("RGB", (30, 20), "olive").save(file, "PNG")
    return {"picture": SimpleUploadedFile("a.png", file.getvalue(), content_type="image/png")}


PLACE = {"latitude_deg": 32.2, "longitude_deg": -110.9, "time_zone": "America/Phoenix"}
NEW_DEPOT = {"code": "tucson", "name": "Tucson yard", **PLACE}


def _spreadsheet(company: Company) -> dict[str, Any]:
    return {"files": csv_file("clients", "code,name", "inn,Inn")}


def _settlement(company: Company) -> dict[str, Any]:
    return {"outcome": "skipped", "on": str(today()), "reason": "rain"}


def _report(company: Company) -> dict[str, Any]:
    return {"property": "casa-14", "kind": "storm", "happened_on": str(today())}


def _reading(company: Company) -> dict[str, Any]:
    value = {"quantity": "flow_gpm", "value": 2.4, "unit": "gal/min"}
    return {"thing": company.zone.pk, "taken_on": str(today()), **value}


def _completion(company: Company) -> dict[str, Any]:
    settings = {"Z1": {"set_minutes": 12, "set_weekdays": "135", "set_start": "05:30"}}
    told = {"outcome": "done", "done_on": str(today()), "settings_left": settings}
    return {"visit": company.visit.pk, "task": company.task.pk, **told}


def _next_month(company: Company) -> dict[str, Any]:
    return {"depot": "albuquerque", "month": str(today() + timedelta(31)), "seconds": 1}


def _move(company: Company) -> dict[str, Any]:
    add_crew("south", [], by=company.people["office"])
    return {"day": str(today()), "crew": "south", "version": 0}


def _days_file(company: Company) -> dict[str, Any]:
    lines = b"day,tmax_f,tmin_f,rain_in\n2026-03-02,61,34,0\n"
    return {"file": SimpleUploadedFile("march.csv", lines, content_type="text/csv")}


OTHER_PLANT = {
    **OWN_PLANT,
    "key": "own-low",
    "botanical": "S. 'Low'",
    "common": "low one",
    "common_es": "bajo",
}
OTHER_CLIMATE = {**OWN_CLIMATE, "key": "own-placitas", "name": "Placitas"}
A_DAY = {"observations": [{"day": "2026-03-02", "tmax_f": 61.0, "tmin_f": 34.0, "rain_in": 0.0}]}


def _order(company: Company) -> dict[str, Any]:
    return {"stops": [company.stop.pk], "version": 0}


def _more_gardens(company: Company) -> dict[str, Any]:
    return {"depot": "albuquerque", "first_month": str(today()), "gardens_added": 3, "seconds": 1}


def _rain(company: Company) -> dict[str, Any]:
    return {"depot": "albuquerque", "kind": "rain", "first_day": str(today())}


NEW_CREW = {
    "code": "east",
    "name": "East crew",
    "depot": "albuquerque",
    "skills": ["gardener"],
    "shift_opens": "07:00",
    "shift_closes": "15:00",
}
TABLE: dict[str, tuple[Row, ...]] = {
    "schema": (Row("GET", "schema/", 200, 200),),
    "reckonings": (Row("GET", "reckon/", 200, 200),),
    "reckon": (Row("GET", "reckon/flats/?plants=116&per_flat=36", 200, 200),),
    "nothing": (Row("GET", "no-such-thing/", 404, 404),),
    "me": (Row("GET", "me/", 200, 200),),
    "people": (Row("GET", "people/", 403, 200),),
    "audit": (Row("GET", "audit/?by=office&verb=install", 403, 200),),
    "clients": (
        Row("GET", "clients/", 403, 200),
        Row("POST", "clients/", 403, 201, {"code": "inn", "name": "The courtyard inn"}),
    ),
    "client": (Row("GET", "clients/acequia/", 403, 200),),
    "depots": (Row("GET", "depots/", 200, 200), Row("POST", "depots/", 403, 201, NEW_DEPOT)),
    "depot": (Row("GET", "depots/albuquerque/", 200, 200),),
    "properties": (
        Row("GET", "properties/", 200, 200),
        Row("POST", "properties/", 403, 201, property_values("casa-15")),
    ),
    "property": (
        Row("GET", "properties/casa-14/", 200, 200),
        Row("PATCH", "properties/casa-14/", 403, 200, {"town": "Corrales", "reason": "moved"}),
    ),
    "agreement": (Row("PUT", "properties/casa-14/agreement/", 403, 200, {"cadence": "monthly"}),),
    "things": (
        Row("GET", "properties/casa-14/things/", 200, 200),
        Row(
            "POST",
            "properties/casa-14/things/",
            403,
            201,
            {"kind": "drain", "tag": "D1", "grates": 2},
        ),
    ),
    "water": (Row("GET", "properties/casa-14/water/", 200, 200),),
    "property-weather": (Row("GET", "properties/casa-14/weather/", 403, 200),),
    "findings": (Row("GET", "properties/casa-14/findings/", 200, 200),),
    "photos": (
        Row("GET", "properties/casa-14/photos/", 200, 200),
        Row("POST", "properties/casa-14/photos/", 201, 201, _picture),
    ),
    "picture": (Row("GET", "photos/{photo}/picture/", 200, 200),),
    "thing": (
        Row("GET", "things/{bed}/", 200, 200),
        Row(
            "PATCH",
            "things/{bed}/",
            403,
            200,
            {"values": {"area_ft2": 130}, "reason": "measured again"},
        ),
    ),
    "removal": (Row("POST", "things/{bed}/removal/", 403, 200, {"on": "2026-05-01", "reason": "gone"}),),
    "changes": (Row("GET", "things/{bed}/changes/", 200, 200),),
    "intake-check": (
        Row(
            "POST",
            "intake/check/",
            403,
            200,
            _spreadsheet,
        ),
    ),
    "intake-template": (Row("GET", "intake/template/", 403, 200),),
    "intake": (Row("POST", "intake/", 403, 201, _spreadsheet),),
    "care-rules": (Row("GET", "care-rules/?stem=lighting", 200, 200),),
    "plants": (
        Row("GET", "plants/?own=true", 200, 200),
        Row("POST", "plants/", 403, 201, OTHER_PLANT),
    ),
    "plant": (
        Row("GET", "plants/own-tuscan/", 200, 200),
        Row("PATCH", "plants/own-tuscan/", 403, 200, {"width_ft": 5.0, "reason": "measured"}),
    ),
    "plant-retirement": (Row("POST", "plants/own-tuscan/retirement/", 403, 200, {"reason": "no more"}),),
    "plant-return": (Row("POST", "plants/own-tuscan/return/", 403, 200),),
    "climates": (
        Row("GET", "climates/", 200, 200),
        Row("POST", "climates/", 403, 201, OTHER_CLIMATE),
    ),
    "climate": (
        Row("GET", "climates/own-corrales/", 200, 200),
        Row("PATCH", "climates/own-corrales/", 403, 200, {"last_frost": "05-06", "reason": "colder"}),
    ),
    "climate-retirement": (Row("POST", "climates/own-corrales/retirement/", 403, 200, {"reason": "no"}),),
    "climate-return": (Row("POST", "climates/own-corrales/return/", 403, 200),),
    "own-rules": (
        Row("GET", "own-rules/", 200, 200),
        Row("POST", "own-rules/", 403, 201, {**OWN_RULE, "key": "own-cold-spots", "reason": "try"}),
    ),
    "own-rule": (
        Row("GET", "own-rules/own-hot-spots/", 200, 200),
        Row("PUT", "own-rules/own-hot-spots/", 403, 200, {**OWN_RULE, "every": 60, "reason": "enough"}),
    ),
    "own-rule-end": (Row("POST", "own-rules/own-hot-spots/end/", 403, 200, {"reason": "no"}),),
    "stations": (
        Row("GET", "weather-stations/", 200, 200),
        Row("POST", "weather-stations/", 403, 201, {**STATION, "code": "mesa"}),
    ),
    "station": (Row("GET", "weather-stations/valle/", 200, 200),),
    "station-days": (
        Row("GET", "weather-stations/valle/days/", 200, 200),
        Row("POST", "weather-stations/valle/days/", 403, 200, A_DAY),
    ),
    "station-file": (Row("POST", "weather-stations/valle/days/file/", 403, 200, _days_file),),
    "adjustments": (
        Row("GET", "adjustments/", 200, 200),
        Row("POST", "adjustments/", 403, 201, {"rule": "drip-flush", "minutes": 50, "reason": "long runs"}),
    ),
    "adjustment-end": (Row("POST", "adjustments/{adjustment}/end/", 403, 200),),
    "care-tasks": (Row("GET", "care-tasks/", 200, 200),),
    "care-task": (Row("GET", "care-tasks/{task}/", 200, 200),),
    "why": (Row("GET", "care-tasks/{task}/why/", 200, 200),),
    "task-hold": (Row("POST", "care-tasks/{task}/hold/", 403, 200),),
    "task-release": (Row("POST", "care-tasks/{task}/release/", 403, 200),),
    "settlement": (Row("POST", "care-tasks/{task}/settlement/", 403, 200, _settlement),),
    "reopening": (Row("POST", "care-tasks/{settled}/reopening/", 403, 200, {"reason": "not done at all"}),),
    "reports": (
        Row("GET", "reports/", 200, 200),
        Row("POST", "reports/", 201, 201, _report),
    ),
    "report-withdrawal": (Row("POST", "reports/{report}/withdrawal/", 403, 200, {"reason": "no"}),),
    "readings": (Row("GET", "readings/", 200, 200), Row("POST", "readings/", 201, 201, _reading)),
    "visits": (Row("GET", "visits/", 200, 200),),
    "visit": (Row("GET", "visits/{visit}/", 200, 200),),
    "visit-withdrawal": (Row("POST", "visits/{visit}/withdrawal/", 403, 200, {"reason": "no"}),),
    "access": (Row("GET", "visits/{visit}/access/", 200, 200),),
    "completions": (Row("GET", "completions/", 200, 200),),
    "completion-photos": (Row("POST", "completions/{completion}/photos/", 201, 201, _picture),),
    "completion": (
        Row("GET", "completions/{completion}/", 200, 200),
        Row("PUT", "completions/0190f1c2-7b1e-4c1d-9a43-5f0f5f1f0001/", 201, 201, _completion),
    ),
    "crews": (Row("GET", "crews/", 200, 200), Row("POST", "crews/", 403, 201, NEW_CREW)),
    "crew": (Row("GET", "crews/north/", 200, 200), Row("PATCH", "crews/north/", 403, 200, {"people": 3})),
    "preferred-crew": (
        Row("GET", "properties/casa-14/preferred-crew/", 403, 200),
        Row("PUT", "properties/casa-14/preferred-crew/", 403, 200, {"crew": None}),
    ),
    "crew-day": (Row("GET", "crews/north/days/{today}/", 200, 200),),
    "day-off": (Row("POST", "crews/north/days-off/", 403, 201, {"day": "2031-05-01"}),),
    "month-plans": (
        Row("GET", "month-plans/", 403, 200),
        Row("POST", "month-plans/", 403, 202, _next_month),
    ),
    "month-plan": (Row("GET", "month-plans/{plan}/", 403, 200),),
    "plan-stops": (Row("GET", "month-plans/{plan}/stops/", 403, 200),),
    "unserved": (Row("GET", "month-plans/{plan}/unserved/", 403, 200),),
    "comparison": (Row("GET", "month-plans/{plan}/comparison/", 403, 200),),
    "plan-effects": (Row("GET", "month-plans/{proposal}/effects/", 403, 200),),
    "plan-stop": (Row("POST", "month-plans/{proposal}/stop/", 403, 200),),
    "plan-withdrawal": (
        Row("POST", "month-plans/{proposal}/withdrawal/", 403, 200, {"reason": "planned anew"}),
    ),
    "disruptions": (
        Row("GET", "disruptions/", 403, 200),
        Row("POST", "disruptions/", 403, 202, _rain),
    ),
    "disruption": (Row("GET", "disruptions/{disruption}/", 403, 200),),
    "disruption-confirmation": (
        Row("POST", "disruptions/{disruption}/confirmation/", 403, 409, {"seen": "0" * 64}),
    ),
    "what-ifs": (
        Row("GET", "what-ifs/", 403, 200),
        Row("POST", "what-ifs/", 403, 202, _more_gardens),
    ),
    "what-if": (Row("GET", "what-ifs/{what_if}/", 403, 200),),
    "what-if-stop": (Row("POST", "what-ifs/{what_if}/stop/", 403, 200),),
    "labour": (Row("GET", "depots/albuquerque/labour/", 403, 200),),
    "disruption-drop": (Row("POST", "disruptions/{disruption}/drop/", 403, 200),),
    "letters": (Row("GET", "letters/", 403, 200),),
    "publication": (Row("POST", "month-plans/{proposal}/publication/", 403, 200),),
    "stop": (Row("GET", "stops/{stop}/", 200, 200),),
    "stop-move": (Row("POST", "stops/{stop}/move/", 403, 200, _move),),
    "stop-move-cost": (Row("POST", "stops/{stop}/move-cost/", 403, 200, _move),),
    "crew-day-order": (Row("PUT", "crews/north/days/{today}/order/", 200, 200, _order),),
    "stop-hold": (Row("POST", "stops/{stop}/hold/", 403, 200, {"version": 0}),),
    "stop-release": (Row("POST", "stops/{stop}/release/", 403, 200, {"version": 0}),),
    "addresses": (
        Row("GET", "addresses/", 403, 200),
        Row("POST", "addresses/", 403, 201, {"audience": "company", "name": "Wall screen"}),
    ),
    "address": (Row("GET", "addresses/{address}/", 403, 200),),
    "address-choices": (Row("POST", "addresses/{address}/choices/", 403, 200, {"shows": "visits"}),),
    "renewal": (Row("POST", "addresses/{address}/renewal/", 403, 201),),
    "day-requests": (Row("GET", "day-requests/", 403, 200),),
    "day-request-settlement": (
        Row("POST", "day-requests/{wish}/settlement/", 403, 200, {"answer": "moved"}),
    ),
    "revocation": (Row("POST", "addresses/{address}/revocation/", 403, 200),),
}


def _elsewhere(address: str) -> str:
    """The same address of something that is not there."""
    head, name, tail = address.split("/", 2)
    return f"{head}/987654321/{tail}" if name.startswith("{") else f"{head}/nowhere/{tail}"


NAMED = (
    "acequia",
    "albuquerque",
    "casa-14",
    "north",
    "own-tuscan",
    "own-corrales",
    "own-hot-spots",
    "valle",
)
WITHOUT_SIGNING_IN = {"front"}
NAMING_ROWS = [
    pytest.param(row, id=f"{row.method} {row.address}")
    for rows in TABLE.values()
    for row in rows
    if row.address.split("/")[1] in NAMED or "{" in row.address
]
ALL_ROWS = [pytest.param(row, id=f"{row.method} {row.address}") for rows in TABLE.values() for row in rows]


@pytest.fixture
def company() -> Company:
    return add_company()


def test_no_route_and_no_method_is_missing_from_the_table() -> None:
    offered = {
        (pattern.name, method.upper())
        for pattern in urlpatterns
        if pattern.name not in WITHOUT_SIGNING_IN | {"nothing"}
        for method in METHODS
        if hasattr(pattern.callback.view_class, method)  # type: ignore[attr-defined]
    }
    assert offered | {("nothing", "GET")} == {
        (name, row.method) for name, rows in TABLE.items() for row in rows
    }


@pytest.mark.parametrize("row", ALL_ROWS)
def test_every_role_gets_the_answer_of_the_table(company: Company, row: Row) -> None:
    given = {}
    for role in ROLES:
        with transaction.atomic():
            address = row.address.format(**company.names())
            given[role] = send(role, row.method, address, row.sent(company)).status_code
            transaction.set_rollback(True)
    assert given == {role: row.expected(role) for role in ROLES}


@pytest.mark.parametrize("row", NAMING_ROWS)
def test_what_is_not_there_is_404_for_everybody_who_may_ask(company: Company, row: Row) -> None:
    assert send("office", row.method, _elsewhere(row.address), row.sent(company)).status_code == 404
