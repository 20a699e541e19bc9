"""A small company for the tests of the API: one of everything that an address may name."""

import base64
from dataclasses import dataclass, fields
from datetime import date, time, timedelta
from io import BytesIO
from typing import Any
from uuid import uuid4

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as Browser
from django.utils import timezone
from PIL import Image

from landscape_care.api.door import today_in
from landscape_care.calendars import actions as calendars
from landscape_care.calendars.models import Address
from landscape_care.care import actions as care
from landscape_care.care import weather_intake
from landscape_care.care.models import CareTask, Report, RuleAdjustment
from landscape_care.dispatch import actions as dispatch
from landscape_care.dispatch import what_ifs
from landscape_care.dispatch.models import Crew, Disruption, MonthPlan, PlanState, Stop, WhatIf
from landscape_care.dispatch.what_if_changes import Changes
from landscape_care.dispatch.what_ifs import Span
from landscape_care.people.actions import add_user
from landscape_care.people.models import Role, User
from landscape_care.properties import actions as properties
from landscape_care.properties import book_entries
from landscape_care.properties.models import Depot, InstalledThing, Photo, Property
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Completion, DayRequest, Visit, VisitState, VisitTask

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
    crew: Crew
    visit: Visit
    task: CareTask
    settled: CareTask
    completion: Completion
    adjustment: RuleAdjustment
    report: Report
    plan: MonthPlan
    proposal: MonthPlan
    stop: Stop
    wish: DayRequest
    disruption: Disruption
    what_if: WhatIf

    def names(self) -> dict[str, Any]:
        """What addresses name things by."""
        return {field.name: getattr(getattr(self, field.name), "pk", "") for field in fields(self)} | {
            "today": today()
        }


def today() -> date:
    """The day at the yard; the API looks at the clock too."""
    return today_in("America/Denver")


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
    crew = add_crew("north", [people["crew"]], by=office)
    visit, task, settled = _add_visit(place)
    adjustment = care.adjust_rule("drip-flush", every_days=400, reason="clean water", by=office)
    add_books(office)
    plan = _add_plan(depot, 1, PlanState.PUBLISHED)
    stop = _add_stop(plan, visit, crew)
    completion = visits.complete(
        uuid4(), visit=visit, task=settled, outcome="done", done_on=today(), by=people["crew"]
    )
    wish = visits.ask_another_day(visit, "Any other day", today=today())
    return Company(
        people=people,
        depot=depot,
        property=place,
        bed=bed,
        zone=zone,
        photo=photo,
        address=address,
        crew=crew,
        visit=visit,
        task=task,
        settled=settled,
        completion=completion,
        adjustment=adjustment,
        report=care.report(place, "large_refill", on=today(), by=office),
        plan=plan,
        proposal=_add_plan(depot, 2, PlanState.PROPOSED),
        stop=stop,
        wish=wish,
        disruption=dispatch.disrupt(
            depot, dispatch.Ask(kind="rain", first_day=today(), last_day=today()), by=office, today=today()
        ),
        what_if=what_ifs.ask(
            depot, Changes(gardens_added=2), Span(today(), seconds=1), by=office, today=today()
        ),
    )


OWN_PLANT: dict[str, Any] = {
    "key": "own-tuscan",
    "botanical": "Salvia rosmarinus 'Tuscan'",
    "common": "tall rosemary",
    "common_es": "romero alto",
    "group": "shrub",
    "exposure": "sun",
    "water_class": "L",
    "plant_factor": 0.3,
    "root_depth_in": 18.0,
    "hardiness_f": 10.0,
    "width_ft": 4.0,
    "spacing_in": 36.0,
    "cutback": "shear after bloom",
    "source": "our own trial bed",
}
# A valley town below the airport: warmer by day, colder by night; made up for the tests.
OWN_CLIMATE: dict[str, Any] = {
    "key": "own-corrales",
    "name": "Corrales bosque",
    "latitude_deg": 35.24,
    "longitude_deg": -106.61,
    "elevation_m": 1525.0,
    "time_zone": "America/Denver",
    "tmax_f": [49.0, 55.0, 64.0, 72.0, 81.0, 91.0, 93.0, 90.0, 84.0, 72.0, 58.0, 48.0],
    "tmin_f": [21.0, 26.0, 32.0, 39.0, 48.0, 57.0, 63.0, 61.0, 53.0, 41.0, 29.0, 21.0],
    "rain_in": [0.4, 0.5, 0.5, 0.5, 0.6, 0.6, 1.5, 1.6, 1.1, 0.9, 0.6, 0.5],
    "last_frost": "05-04",
    "first_frost": "10-10",
    "temperature_provenance": "our own thermometer, 2010 to 2025",
    "frost_provenance": "our own notes",
}
OWN_RULE = {
    "kind": "turf",
    "every": 45,
    "tolerance_days": 5,
    "set_up": 5,
    "skill": "gardener",
    "source": "our own practice",
    "en": {"title": "Look for hot spots on the turf", "how": "Feel it at noon."},
    "es": {"title": "Buscar puntos calientes en el pasto", "how": "Toque al mediodía."},
}
STATION = {
    "code": "valle",
    "name": "Valley yard",
    "latitude_deg": 35.1,
    "longitude_deg": -106.65,
    "climate": "albuquerque",
}


def add_books(by: User) -> None:
    """A plant, a climate, a rule and a weather station of the company's own."""
    book_entries.add_plant(OWN_PLANT, by=by)
    months = {name: tuple(OWN_CLIMATE[name]) for name in ("tmax_f", "tmin_f", "rain_in")}
    book_entries.add_climate(OWN_CLIMATE | months, by=by)
    care.set_own_rule("own-hot-spots", OWN_RULE, reason="south walls", by=by)
    weather_intake.add_station(STATION, by=by)


def add_crew(code: str, members: list[User], *, by: User) -> Crew:
    """A crew that works every day."""
    values = {
        "code": code,
        "name": f"{code.title()} crew",
        "depot": "albuquerque",
        "skills": "gardener,irrigation_tech",
        "shift_opens": time(7),
        "shift_closes": time(15),
        "weekdays": "1234567",
    }
    return dispatch.add_crew(values, members=members, by=by)


def add_task(place: Property, occurrence: str, **changes: Any) -> CareTask:
    """An open care task as planning writes it."""
    usual = {
        "rule": "zone-inspection",
        "stem": "irrigation",
        "series": "C1:zone-inspection",
        "occurrence": occurrence,
        "key": f"C1:zone-inspection:{occurrence}",
        "title": "Walk the zones",
        "title_es": "Recorrer las zonas",
        "opens_on": today() - timedelta(3),
        "due_on": today(),
        "closes_on": today() + timedelta(10),
        "minutes": 30,
        "skill": "irrigation_tech",
        "changed_at": timezone.now(),
    }
    return CareTask.objects.create(property=place, **(usual | changes))


def _add_visit(place: Property) -> tuple[Visit, CareTask, CareTask]:
    visit = Visit.objects.create(
        property=place,
        slot="2026-W01",
        opens_on=today(),
        closes_on=today() + timedelta(10),
        weekdays="1234567",
        minutes=60,
        skills=["irrigation_tech"],
        state=VisitState.PUBLISHED,
        announced=True,
        day=today(),
        arrives_at=time(8),
        leaves_at=time(9),
        crew_name="North crew",
        changed_at=timezone.now(),
    )
    first, second = add_task(place, "1"), add_task(place, "2")
    VisitTask.objects.bulk_create(VisitTask(visit=visit, task=task) for task in (first, second))
    return visit, first, second


def _add_plan(depot: Depot, number: int, state: PlanState) -> MonthPlan:
    told = timezone.now() if state == PlanState.PUBLISHED else None
    month = today().replace(day=1)
    return MonthPlan.objects.create(
        depot=depot, month=month, number=number, state=state, published_at=told, summary={"visits": 1}
    )


def _add_stop(plan: MonthPlan, visit: Visit, crew: Crew) -> Stop:
    return Stop.objects.create(
        plan=plan, visit=visit, crew=crew, day=today(), position=1, arrives_at=time(8), leaves_at=time(9)
    )


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
    return isinstance(body, dict) and not {"files", "file", "picture"}.isdisjoint(body)


def csv_file(name: str, *lines: str) -> SimpleUploadedFile:
    """A sheet as a CSV file."""
    return SimpleUploadedFile(f"{name}.csv", "\n".join(lines).encode(), content_type="text/csv")
