"""Spreadsheets made in memory, and one small property, for the tests of the record."""

import io
import zipfile
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from openpyxl import Workbook

from landscape_care.properties import actions
from landscape_care.properties.intake import Intake, Source, check
from landscape_care.properties.models import Property

TODAY = date(2026, 11, 25)

Sheets = dict[str, list[list[Any]]]

CLIENT = {"code": "acequia", "name": "Acequia Lane households"}
DEPOT = {
    "code": "yard",
    "name": "Yard",
    "latitude_deg": 35.1062,
    "longitude_deg": -106.6334,
    "time_zone": "America/Denver",
}
PLACE = {
    "code": "casa-14",
    "name": "Casa 14",
    "client": "acequia",
    "depot": "yard",
    "street": "14 Acequia Lane",
    "town": "Albuquerque",
    "latitude_deg": 35.15,
    "longitude_deg": -106.64,
}


def small_garden() -> Sheets:
    """Sheets of one garden in which everything is right; header first."""
    return {
        "clients": [["code", "name"], ["acequia", "Acequia Lane households"]],
        "depots": [
            ["code", "name", "latitude_deg", "longitude_deg", "time_zone"],
            ["yard", "Yard", 35.1062, -106.6334, "America/Denver"],
        ],
        "properties": [list(PLACE), list(PLACE.values())],
        "agreements": [["property", "cadence"], ["casa-14", "fortnightly"]],
        "beds": [
            ["property", "tag", "area_ft2", "exposure", "installed_on"],
            ["casa-14", "B1", 120, "full_sun", date(2020, 4, 1)],
        ],
        "plantings": [
            ["property", "tag", "bed", "plant", "role", "quantity"],
            ["casa-14", "P1", "B1", "pansy", "seasonal_colour", 60],
        ],
        "controllers": [["property", "tag", "stations"], ["casa-14", "C1", 6]],
        "zones": [
            ["property", "tag", "controller", "station", "device", "flow_gpm", "plantings"],
            ["casa-14", "Z1", "C1", 1, "micro_spray", 2.1, "P1"],
        ],
    }


def workbook(sheets: Mapping[str, Sequence[Sequence[Any]]]) -> bytes:
    """Sheets as an XLSX file."""
    book = Workbook(write_only=True)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def packed(files: Mapping[str, bytes | str]) -> bytes:
    """Files as a zip archive."""
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return written.getvalue()


def looked_at(sheets: Mapping[str, Sequence[Sequence[Any]]]) -> Intake:
    """Sheets after a check."""
    return check([Source("gardens.xlsx", workbook(sheets))], today=TODAY)


def add_property(**values: Any) -> Property:
    """One property on the record, made through the actions."""
    actions.add_client(CLIENT, by=None)
    actions.add_depot(DEPOT, by=None)
    return actions.add_property(PLACE | values, by=None, today=TODAY)
