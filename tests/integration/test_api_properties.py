"""Clients, depots, properties and the as-built record through the API."""

from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as Browser
from PIL import Image

from landscape_care.api.records import SERIALIZERS
from landscape_care.people.models import AuditEntry
from landscape_care.properties.models import Property, ThingChange
from landscape_care.trades.kinds import KINDS
from landscape_care.trades.limits import limits_of
from tests.integration.api_company import Company, add_company, basic, property_values, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def company() -> Company:
    return add_company()


def test_a_property_never_tells_its_gate_code_or_access_note(company: Company) -> None:
    for address in ("properties/", "properties/casa-14/"):
        for role in ("office", "dispatcher", "crew"):
            answer = send(role, "GET", address)
            assert answer.status_code == 200
            assert b"7391#" not in answer.content
            assert b"east gate" not in answer.content


def test_a_new_property_takes_climate_and_time_zone_from_its_place(company: Company) -> None:
    answer = send("office", "POST", "properties/", property_values("casa-15"))
    assert answer.status_code == 201
    shown = answer.json()
    assert (shown["climate"], shown["time_zone"]) == ("albuquerque", "America/Denver")
    assert Property.objects.get(code="casa-15").gate_code == "7391#"
    assert b"7391#" not in answer.content


def test_every_wrong_value_of_a_bed_is_named_with_what_is_wanted(company: Company) -> None:
    body = {"kind": "bed", "tag": "B2", "area_ft2": -4, "exposure": "moon", "soil": "loam"}
    answer = send("office", "POST", "properties/casa-14/things/", body)
    assert answer.status_code == 422
    told = answer.json()
    assert told["type"] == "/api/#refused"
    assert {row["field"]: row["value"] for row in told["problems"]} == {"area_ft2": -4, "exposure": "moon"}
    assert all(row["wanted"] for row in told["problems"])


def test_problems_that_only_the_record_sees_have_the_same_form(company: Company) -> None:
    body = {"kind": "zone", "tag": "Z2", "station": 2, "device": "drip"}
    answer = send("office", "POST", "properties/casa-14/things/", body)
    assert answer.status_code == 422
    (row,) = answer.json()["problems"]
    assert (row["field"], row["value"]) == ("emitters", 0)
    assert "drip zone" in row["wanted"]


def test_a_misspelt_field_is_refused_and_not_overlooked(company: Company) -> None:
    body = {"kind": "bed", "tag": "B2", "area_ft2": 4, "exposure": "shade", "expsure": "shade"}
    answer = send("office", "POST", "properties/casa-14/things/", body)
    assert answer.status_code == 422
    assert [row["field"] for row in answer.json()["problems"]] == ["expsure"]


def test_a_misspelt_filter_is_refused_and_does_not_answer_with_everything(company: Company) -> None:
    answer = send("office", "GET", "properties/?depo=albuquerque")
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "depo"


@pytest.mark.parametrize("tag", ["\ud800", "nul\0"])
def test_text_that_no_database_can_hold_is_refused(company: Company, tag: str) -> None:
    body = {"kind": "bed", "tag": tag, "area_ft2": 4, "exposure": "shade"}
    assert send("office", "POST", "properties/casa-14/things/", body).status_code == 422


def test_a_reference_to_a_thing_of_another_property_is_refused(company: Company) -> None:
    send("office", "POST", "properties/", property_values("casa-15"))
    body = {"kind": "planting", "tag": "P1", "bed_id": company.bed.pk, "plant": "rosemary", "quantity": 3}
    answer = send("office", "POST", "properties/casa-15/things/", body | {"role": "shrub"})
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "bed_id"


def test_a_change_keeps_what_was_before_and_says_why(company: Company) -> None:
    body = {"values": {"area_ft2": 140}, "reason": "measured again"}
    answer = send("office", "PATCH", f"things/{company.bed.pk}/", body)
    assert answer.status_code == 200
    assert answer.json()["area_ft2"] == 140
    (row,) = send("crew", "GET", f"things/{company.bed.pk}/changes/").json()["results"]
    assert (row["field"], row["was"], row["now"], row["reason"]) == (
        "area_ft2",
        120.0,
        140.0,
        "measured again",
    )


def test_a_refused_change_changes_nothing(company: Company) -> None:
    body = {"values": {"area_ft2": 140, "exposure": "moon"}, "reason": "measured again"}
    answer = send("office", "PATCH", f"things/{company.bed.pk}/", body)
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "values.exposure"
    assert not ThingChange.objects.exists()


def test_a_removed_thing_stays_on_the_record_with_its_day(company: Company) -> None:
    body = {"on": "2026-05-01", "reason": "made a path"}
    assert send("office", "POST", f"things/{company.bed.pk}/removal/", body).status_code == 200
    all_things = send("office", "GET", "properties/casa-14/things/").json()
    standing = send("office", "GET", "properties/casa-14/things/?standing_on=2026-05-01").json()
    assert [thing["tag"] for thing in all_things] == ["B1", "C1", "Z1"]
    assert [thing["tag"] for thing in standing] == ["C1", "Z1"]


def test_removal_before_installation_is_refused(company: Company) -> None:
    body = {"on": "2020-05-01", "reason": "made a path"}
    answer = send("office", "POST", f"things/{company.bed.pk}/removal/", body)
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "removed_on"


def test_what_the_office_does_is_on_the_audit_log(company: Company) -> None:
    send("dispatcher", "PATCH", "properties/casa-14/", {"supply_gpm": 9.5, "reason": "meter read"})
    entry = AuditEntry.objects.first()
    assert entry is not None
    assert entry.by == company.people["dispatcher"]
    assert entry.subject == "casa-14"


def test_an_overloaded_transformer_is_a_finding(company: Company) -> None:
    def install(**body: Any) -> Any:
        return send("office", "POST", "properties/casa-14/things/", body).json()

    assert send("crew", "GET", "properties/casa-14/findings/").json() == []
    box = install(kind="transformer", tag="T1", capacity_va=60, timer="plain", installed_on="2026-03-02")
    wanted = {"transformer_id": box["id"], "watts": 8, "quantity": 9, "installed_on": "2026-03-02"}
    install(kind="fixture", tag="L1", **wanted)
    found = send("crew", "GET", "properties/casa-14/findings/").json()
    assert {row["tag"] for row in found} >= {"T1"}
    assert all(row["message_en"] and row["message_es"] and row["remedy_en"] for row in found)


def test_a_page_of_a_list_says_where_the_next_begins(company: Company) -> None:
    send("office", "POST", "properties/", property_values("casa-15"))
    first = send("crew", "GET", "properties/?limit=1").json()
    rest = send("crew", "GET", f"properties/?limit=1&offset={first['next_offset']}").json()
    assert (first["count"], rest["next_offset"]) == (2, None)
    assert [first["results"][0]["code"], rest["results"][0]["code"]] == ["casa-14", "casa-15"]


def test_a_picture_comes_back_smaller_and_without_its_place(company: Company) -> None:
    exif = Image.Exif()
    exif[0x010E] = "taken behind the east gate"
    file = BytesIO()
    Image.new("RGB", (3000, 20), "olive").save(file, "JPEG", exif=exif)
    answer = _send_picture(file.getvalue(), thing=str(company.bed.pk))
    assert answer.status_code == 201
    fetched = send("crew", "GET", f"photos/{answer.json()['id']}/picture/")
    assert fetched["Content-Type"] == "image/jpeg"
    assert fetched["X-Content-Type-Options"] == "nosniff"
    assert b"east gate" not in fetched.content
    assert Image.open(BytesIO(fetched.content)).size[0] == 2048


def test_what_is_no_picture_is_refused_in_words(company: Company) -> None:
    answer = _send_picture(b"<svg onload='alert(1)'/>")
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["field"] == "picture"


def test_a_picture_that_is_not_there_is_told_as_a_problem(company: Company) -> None:
    answer = send("crew", "GET", "photos/99999/picture/")
    assert answer.status_code == 404
    assert answer["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_of_every_kind_can_be_given_and_is_shown(kind: str) -> None:
    named = set(limits_of(KINDS[kind]))
    assert set(SERIALIZERS[kind]().fields) == named | {"id", "kind"}


def _send_picture(content: bytes, **more: str) -> Any:
    file = SimpleUploadedFile("garden.jpg", content, content_type="image/jpeg")
    address = "/api/properties/casa-14/photos/"
    return Browser().post(address, {"picture": file, **more}, headers=basic("crew"))
