"""A small company for the tests of the API: one of everything that an address may name."""

import base64
from dataclasses import dataclass
from datetime import date
from io import BytesIO
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as Browser
from PIL import Image

from landscape_care.calendars import actions as calendars
from landscape_care.calendars.models import Address
from landscape_care.people.actions import add_user
from landscape_care.people.models import Role, User
from landscape_care.properties import actions as properties
from landscape_care.properties.models import Depot, InstalledThing, Photo, Property

PASSWORD = "adobe wall at noon"
START = date(2026, 3, 2)


def basic(username: str, password: str = PASSWORD) -> dict[str, str]:
    """The header of a program that signs in with each request (RFC 7617)."""
    token = base64.b64encode(f"{username}:{password}".encode()).decode()
    return {"Authorization": f"Basic {token}"}


def add_people() -> dict[str, User]:
    """One person of each role; the user name is the role."""
    return {str(role): add_user(str(role), PASSWORD, role=role) for role in Role}


@dataclass
class Company:
    """What the tests need to know of the company."""

    people: dict[str, User]
    depot: Depot
    property: Property
    bed: InstalledThing
    zone: InstalledThing
    photo: Photo
    address: Address

    def numbers(self) -> dict[str, int]:
        """The numbers by which addresses name things."""
        return {name: getattr(self, name).pk for name in ("bed", "zone", "photo", "address")}


def add_company() -> Company:
    """Make the company through the actions of the rooms."""
    people = add_people()
    office = people["office"]
    properties.add_client(
        {"code": "acequia", "name": "Acequia Lane households", "email": "casa@example.org"}, by=office
    )
    depot = properties.add_depot(
        {
            "code": "albuquerque",
            "name": "Albuquerque yard",
            "latitude_deg": 35.11,
            "longitude_deg": -106.62,
            "time_zone": "America/Denver",
        },
        by=office,
    )
    place = properties.add_property(property_values("casa-14"), by=office, today=START)
    properties.set_agreement(place, cadence="weekly", by=office)
    bed, zone = _install(place, office)
    photo = properties.add_photo(place, _small_picture(), by=office)
    address, _ = calendars.issue("property", place, name="The household", by=office)
    return Company(people, depot, place, bed, zone, photo, address)


def _small_picture() -> BytesIO:
    file = BytesIO()
    Image.new("RGB", (30, 20), "olive").save(file, "PNG")
    file.seek(0)
    return file


def property_values(code: str) -> dict[str, Any]:
    """A property on the Albuquerque side of the Rio Grande."""
    return {
        "code": code,
        "name": "Casa 14",
        "client": "acequia",
        "depot": "albuquerque",
        "street": "14 Acequia Lane",
        "town": "Albuquerque",
        "latitude_deg": 35.1,
        "longitude_deg": -106.65,
        "gate_code": "7391#",
        "access_note": "Dog behind the east gate",
    }


def _install(place: Property, office: User) -> tuple[InstalledThing, InstalledThing]:
    bed = properties.install(
        place,
        "bed",
        {"tag": "B1", "area_ft2": 120.0, "exposure": "full_sun", "installed_on": START},
        by=office,
    )
    controller = properties.install(
        place, "controller", {"tag": "C1", "stations": 6, "installed_on": START}, by=office
    )
    zone = properties.install(
        place,
        "zone",
        {
            "tag": "Z1",
            "controller_id": controller.pk,
            "station": 1,
            "device": "micro_spray",
            "flow_gpm": 2.5,
            "installed_on": START,
        },
        by=office,
    )
    return bed, zone


def send(role: str, method: str, address: str, body: Any = None) -> Any:
    """Ask as a role, or as a stranger."""
    headers = {} if role == "stranger" else basic(role)
    more: dict[str, Any] = {} if body is None else {"data": body}
    if body is not None and not _has_file(body):
        more["content_type"] = "application/json"
    return getattr(Browser(), method.lower())(f"/api/{address}", headers=headers, **more)


def _has_file(body: Any) -> bool:
    return isinstance(body, dict) and any(isinstance(value, SimpleUploadedFile) for value in body.values())


def csv_file(name: str, *lines: str) -> SimpleUploadedFile:
    """A sheet as a CSV file."""
    return SimpleUploadedFile(f"{name}.csv", "\n".join(lines).encode(), content_type="text/csv")
