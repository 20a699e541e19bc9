"""A stored property with a few installed things, for tests of what care does with the database."""

from datetime import date
from typing import Any

from landscape_care.people.actions import add_user
from landscape_care.people.models import Role, User
from landscape_care.properties import actions
from landscape_care.properties.models import InstalledThing, Property

START = date(2026, 11, 2)


def garden(code: str = "casa-14", *, cadence: str = "weekly", stems: tuple[str, ...] = ()) -> Property:
    """A property in Albuquerque with an agreement; client and depot are made when they are missing."""
    _client_and_depot()
    place = actions.add_property(
        {
            "code": code,
            "name": "Casa 14, Acequia Lane",
            "client": "acequia",
            "depot": "valle",
            "street": "14 Acequia Lane",
            "town": "Albuquerque",
            "latitude_deg": 35.1,
            "longitude_deg": -106.65,
            "climate": "albuquerque",
            "care_starts_on": START,
        },
        by=None,
        today=START,
    )
    actions.set_agreement(place, cadence=cadence, stems=stems, by=None)
    return place


def _client_and_depot() -> None:
    from landscape_care.properties.models import Client

    if Client.objects.exists():
        return
    actions.add_client({"code": "acequia", "name": "Acequia Lane households"}, by=None)
    actions.add_depot(
        {
            "code": "valle",
            "name": "Valley yard",
            "latitude_deg": 35.08,
            "longitude_deg": -106.65,
            "time_zone": "America/Denver",
        },
        by=None,
    )


def put(place: Property, kind: str, tag: str, **values: Any) -> InstalledThing:
    """Install a thing."""
    return actions.install(place, kind, {"tag": tag, "installed_on": date(2020, 3, 1), **values}, by=None)


def sand_filter(place: Property) -> InstalledThing:
    """A small fountain's sand filter, clean at 10 psi."""
    return put(place, "filter", "F1", medium="sand", area_ft2=1.9, clean_psi=10.0)


def turf(place: Property) -> InstalledThing:
    """A patch of artificial turf."""
    return put(place, "turf", "TU1", area_ft2=300.0)


def office() -> User:
    """Somebody of the office."""
    return add_user("office", "long enough for tests", role=Role.OFFICE)


def crew() -> User:
    """Somebody of a crew."""
    return add_user("crew", "long enough for tests", role=Role.CREW)


def owner() -> User:
    """An owner."""
    return add_user("owner", "long enough for tests", role=Role.OWNER)
