"""A small company for tests of visits and routes, made through the actions of the rooms."""

from dataclasses import dataclass, field
from datetime import date, time, timedelta
from typing import Any

from django.utils import timezone

from landscape_care.care.models import CareTask
from landscape_care.dispatch import actions as dispatch
from landscape_care.dispatch.models import Crew
from landscape_care.people.actions import add_user
from landscape_care.people.models import Role, User
from landscape_care.properties import actions as properties
from landscape_care.properties.models import Depot, InstalledThing, Property

MONDAY = date(2026, 11, 30)
CREW = {
    "code": "cottonwood",
    "name": "Cottonwood crew",
    "depot": "albuquerque",
    "people": 2,
    "skills": "gardener, irrigation_tech",
    "shift_opens": time(7),
    "shift_closes": time(15, 30),
}


@dataclass
class Company:
    """People, a depot with two crews, and gardens."""

    office: User
    lead: User
    stranger: User
    depot: Depot
    crew: Crew
    other_crew: Crew
    gardens: list[Property] = field(default_factory=list)


def add_company(gardens: int = 3, cadence: str = "monthly", weekdays: str = "12345") -> Company:
    """The company with so many gardens on a line north of the yard."""
    office, lead, stranger = (
        add_user(name, "adobe wall at noon", role=role)
        for name, role in (("office", Role.OFFICE), ("lead", Role.CREW), ("stranger", Role.CREW))
    )
    properties.add_client({"code": "acequia", "name": "Acequia Lane households"}, by=office)
    depot = properties.add_depot(
        {
            "code": "albuquerque",
            "name": "Albuquerque yard",
            "latitude_deg": 35.1,
            "longitude_deg": -106.6,
            "time_zone": "America/Denver",
        },
        by=office,
    )
    crew = dispatch.add_crew(CREW, members=[lead], by=office)
    second = CREW | {"code": "chamisa", "name": "Chamisa crew", "skills": "gardener, arborist", "people": 3}
    company = Company(office, lead, stranger, depot, crew, dispatch.add_crew(second, by=office))
    for number in range(gardens):
        place = properties.add_property(_garden(number), by=office, today=MONDAY - timedelta(90))
        properties.set_agreement(place, cadence=cadence, weekdays=weekdays, by=office)
        company.gardens.append(Property.objects.get(pk=place.pk))
    return company


def _garden(number: int) -> dict[str, Any]:
    return {
        "code": f"casa-{number + 1}",
        "name": f"Casa {number + 1}, Acequia Lane",
        "client": "acequia",
        "depot": "albuquerque",
        "street": f"{number + 1} Acequia Lane",
        "town": "Albuquerque",
        "latitude_deg": 35.12 + 0.01 * number,
        "longitude_deg": -106.62,
        "elevation_m": 1510,
        "time_zone": "America/Denver",
        "access_opens": time(8),
        "access_closes": time(16),
    }


def add_filter(place: Property, office: User) -> InstalledThing:
    """A sand filter."""
    values = {
        "tag": "F1",
        "medium": "sand",
        "area_ft2": 1.5,
        "clean_psi": 10.0,
        "installed_on": date(2025, 3, 1),
    }
    return properties.install(place, "filter", values, by=office)


def add_task(place: Property, key: str, opens: date, closes: date, **changes: Any) -> CareTask:
    """An open care task as planning would have written it."""
    usual = {
        "property": place,
        "rule": "sand-filter-backwash",
        "stem": "water_feature",
        "series": f"{key}:series",
        "occurrence": "1",
        "key": f"{key}:series:1",
        "title": f"Care {key}",
        "title_es": f"Cuidado {key}",
        "opens_on": opens,
        "due_on": opens + (closes - opens) // 2,
        "closes_on": closes,
        "minutes": 40,
        "skill": "gardener",
        "changed_at": timezone.now(),
    }
    return CareTask.objects.create(**(usual | changes))
