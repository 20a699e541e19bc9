"""A small company for the tests of the pages: two gardens, two crews, a published month.

It is made by the actions of the rooms on a fixed day, so that visits and stops are real ones.
"""

from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from landscape_care.calendars import actions as calendars
from landscape_care.care import actions as care
from landscape_care.dispatch import actions as dispatch
from landscape_care.dispatch.models import Crew, MonthPlan, Stop
from landscape_care.people.actions import add_user
from landscape_care.people.models import Role, User
from landscape_care.properties import actions as properties
from landscape_care.properties.models import Depot, Property
from landscape_care.visits import actions as visits

PASSWORD = "adobe wall at noon"
GATE_CODE = "4711#"
NOON = datetime(2026, 11, 25, 12, 0, tzinfo=ZoneInfo("America/Denver"))
"""A Wednesday; tests of pages stand still here."""
TODAY = NOON.date()
STARTED = date(2026, 11, 9)
SKILLS = [
    "gardener",
    "horticulturist",
    "irrigation_tech",
    "water_feature_tech",
    "lighting_tech",
    "arborist",
    "mason",
    "supervisor",
    "licensed_applicator",
    "licensed_electrician",
    "certified_backflow_tester",
]


@dataclass
class Company:
    """What the tests need to know of it."""

    people: dict[str, User]
    depot: Depot
    place: Property
    crew: Crew
    other_crew: Crew
    plan: MonthPlan
    token: str

    def stops(self) -> list[Stop]:
        """The published stops, first day first."""
        return list(self.plan.stops.select_related("visit__property", "crew").order_by("day", "position"))

    def stop_today(self) -> Stop:
        """A stop of this very day, with work left."""
        return next(stop for stop in self.stops() if stop.day == TODAY)


def open_company() -> Company:
    """Make the company; call it with the clock at `NOON`."""
    people = {str(role): add_user(str(role), PASSWORD, role=role, name=role.label) for role in Role}
    office = people["office"]
    properties.add_client({"code": "acequia", "name": "Acequia Lane households"}, by=office)
    depot = properties.add_depot(
        {
            "code": "yard",
            "name": "Rio yard",
            "latitude_deg": 35.1062,
            "longitude_deg": -106.6334,
            "time_zone": "America/Denver",
        },
        by=office,
    )
    crews = [_add_crew(code, depot, office) for code in ("north", "river")]
    dispatch.set_members(crews[0], [people["crew"]], by=office)
    dispatch.set_members(crews[1], [people["crew"]], by=office)
    places = [_add_place(code, office) for code in ("casa-14", "casa-16")]
    plan = _publish_month(depot, places, office)
    _, token = calendars.issue("property", places[0], name="The household", by=office)
    return Company(people, depot, places[0], crews[0], crews[1], plan, token)


def _add_crew(code: str, depot: Depot, office: User) -> Crew:
    values: dict[str, Any] = {
        "code": code,
        "name": f"Crew {code.title()}",
        "depot": depot.code,
        "people": 2,
        "skills": ", ".join(SKILLS),
        "shift_opens": time(7),
        "shift_closes": time(16),
        "break_minutes": 30,
        "weekdays": "12345",
    }
    return dispatch.add_crew(values, by=office)


def _add_place(code: str, office: User) -> Property:
    place = properties.add_property(
        {
            "code": code,
            "name": code.replace("-", " ").title(),
            "client": "acequia",
            "depot": "yard",
            "street": f"{code[-2:]} Acequia Lane",
            "town": "Albuquerque",
            "latitude_deg": 35.15,
            "longitude_deg": -106.64 - int(code[-2:]) / 1000,
            "climate": "albuquerque",
            "gate_code": GATE_CODE,
            "access_note": "Dog in the side yard.",
            "static_pressure_psi": 60,
            "supply_gpm": 12,
            "care_starts_on": STARTED,
        },
        by=office,
        today=STARTED,
    )
    properties.set_agreement(place, cadence="weekly", by=office)
    _plant(place, office)
    _equip(place, office)
    return place


def _plant(place: Property, office: User) -> None:
    put_in = {"installed_on": date(2020, 4, 1)}
    bed = {"tag": "B1", "area_ft2": 120.0, "exposure": "full_sun", "soil": "sandy_loam"}
    row = properties.install(place, "bed", {**put_in, **bed}, by=office)
    colour = {"tag": "P1", "bed_id": row.pk, "plant": "pansy", "role": "seasonal_colour", "quantity": 60}
    pocket = properties.install(place, "planting", {**put_in, **colour}, by=office)
    controller = properties.install(place, "controller", {**put_in, "tag": "C1", "stations": 6}, by=office)
    zone = {"tag": "Z1", "controller_id": controller.pk, "station": 1, "device": "micro_spray"}
    flow = {"flow_gpm": 2.1, "area_ft2": 100.0, "planting_ids": (pocket.pk,)}
    properties.install(place, "zone", {**put_in, **zone, **flow}, by=office)
    properties.install(
        place, "paving", {**put_in, "tag": "A1", "stone": "flagstone", "area_ft2": 300.0}, by=office
    )


def _equip(place: Property, office: User) -> None:
    put_in = {"installed_on": date(2020, 4, 1)}
    basin = {"tag": "W1", "surface_ft2": 40.0, "volume_gal": 600.0}
    row = properties.install(place, "water_feature", {**put_in, **basin}, by=office)
    sand = {"tag": "F1", "water_feature_id": row.pk, "medium": "sand", "area_ft2": 1.9, "clean_psi": 8.0}
    properties.install(place, "filter", {**put_in, **sand}, by=office)
    light = {"tag": "T1", "capacity_va": 150.0, "timer": "plain", "set_on": time(19), "set_off": time(23)}
    properties.install(place, "transformer", {**put_in, **light}, by=office)


def _publish_month(depot: Depot, places: list[Property], office: User) -> MonthPlan:
    for place in places:
        care.plan_care(place.pk, today=TODAY)
        visits.bundle_property(place.pk, today=TODAY)
    plan = dispatch.propose(depot, TODAY, by=office, today=TODAY, seconds=1)
    dispatch.solve_plan(plan.pk, today=TODAY)
    return dispatch.publish(plan.pk, by=office, today=TODAY)
