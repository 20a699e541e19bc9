"""Spreadsheets through the API: checked, taken in whole, or refused with every cell named."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from openpyxl import load_workbook

from landscape_care.care.models import CareTask
from landscape_care.dispatch.models import Crew
from landscape_care.properties.models import Client, Property
from tests.integration.api_company import add_company, csv_file, send

pytestmark = pytest.mark.django_db
PROPERTIES = (
    "code,name,client,depot,street,town,latitude_deg,longitude_deg",
    "casa-20,Casa 20,acequia,albuquerque,20 Acequia Lane,Albuquerque,35.1,-106.6",
)


def _casa_20() -> list[SimpleUploadedFile]:
    agreement = csv_file("agreements", "property,cadence", "casa-20,weekly")
    return [csv_file("properties", *PROPERTIES), agreement]


@pytest.fixture(autouse=True)
def _company() -> None:
    add_company()


def test_the_empty_workbook_opens_and_has_a_sheet_for_properties() -> None:
    answer = send("office", "GET", "intake/template/")
    assert "properties" in load_workbook(BytesIO(answer.content)).sheetnames


def test_a_check_counts_and_writes_nothing() -> None:
    answer = send("office", "POST", "intake/check/", {"files": _casa_20()})
    assert answer.status_code == 200
    assert answer.json()["counts"]["properties"] == 1
    assert answer.json()["problems"] == []
    assert Property.objects.count() == 1


def test_a_file_without_problems_is_taken_in() -> None:
    answer = send("office", "POST", "intake/", {"files": _casa_20()})
    assert answer.status_code == 201
    assert answer.json()["properties"] == 1
    assert Property.objects.get(code="casa-20").client.code == "acequia"


def test_crews_come_in_the_same_way() -> None:
    rows = (
        "code,name,depot,skills,shift_opens,shift_closes",
        "west,West crew,albuquerque,gardener,7:00,15:30",
    )
    answer = send("office", "POST", "intake/", {"files": [*_casa_20(), csv_file("crews", *rows)]})
    assert answer.status_code == 201
    assert Crew.objects.get(code="west").skills == ["gardener"]


def test_care_done_before_comes_in_with_the_rest() -> None:
    before = CareTask.objects.count()
    rows = ("property,tag,rule,done_on", "casa-14,C1,controller-battery,2026-03-20")
    answer = send("office", "POST", "intake/", {"files": csv_file("last_care", *rows)})
    assert answer.status_code == 201
    assert CareTask.objects.count() == before + 1


def test_one_wrong_cell_refuses_everything_and_is_named_by_sheet_row_and_column() -> None:
    files = csv_file("clients", "code,name", "inn,The inn", "Bad Code,Another")
    answer = send("office", "POST", "intake/", {"files": files})
    assert answer.status_code == 422
    (row,) = answer.json()["problems"]
    assert (row["sheet"], row["row"], row["field"], row["value"]) == ("clients", 3, "code", "Bad Code")
    assert row["wanted"]
    assert Client.objects.count() == 1


def test_care_by_an_unknown_rule_takes_nothing_in() -> None:
    rows = ("property,tag,rule,done_on", "casa-14,C1,polish-the-moon,2026-03-20")
    answer = send("office", "POST", "intake/", {"files": csv_file("last_care", *rows)})
    assert answer.status_code == 422
    assert "polish-the-moon" in answer.content.decode()


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04broken", b"\xd0\xcf\x11\xe0old", b"\x00\xff\x00"])
def test_what_is_no_spreadsheet_is_told_and_breaks_nothing(content: bytes) -> None:
    file = csv_file("things")
    file.file = BytesIO(content)
    answer = send("office", "POST", "intake/check/", {"files": file})
    assert answer.status_code == 200
    assert answer.json()["problems"]
