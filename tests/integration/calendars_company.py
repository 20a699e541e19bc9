"""A small company for the tests of calendars: two zones, and a secret in every field that holds one."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from landscape_care.care.models import CareTask
from landscape_care.dispatch.models import Crew, MonthPlan, PlanState, Stop
from landscape_care.properties.models import Client, Depot, Property
from landscape_care.visits.models import Visit, VisitTask

TODAY = date(2026, 10, 20)
CHANGED = datetime(2026, 10, 1, 15, 30, tzinfo=UTC)
SECRETS = (
    "CANARY-GATE-7713",
    "CANARY-ACCESS",
    "CANARY-PHONE",
    "canary@mail.example.com",
    "CANARY-CLIENT-NOTE",
    "CANARY-OTHER-OWNER",
    "CANARY-OTHER-GARDEN",
    "CANARY-SKIPPED",
    "CANARY-WITHDRAWN",
    "CANARY-OFFICE-NOTE",
    "CANARY-CREW",
    "CANARY-FOLLOW-UP",
)


@dataclass
class Company:
    """What the tests need to know of it."""

    client: Client
    depot: Depot
    property: Property
    other: Property
    crew: Crew


def add_depot(code: str = "albuquerque", time_zone: str = "America/Denver") -> Depot:
    return Depot.objects.create(
        code=code, name=code.title(), latitude_deg=35.1, longitude_deg=-106.6, time_zone=time_zone
    )


def add_property(code: str, client: Client, depot: Depot, **values: Any) -> Property:
    chosen: dict[str, Any] = {
        "name": f"Casa {code}",
        "street": "14 Acequia Lane",
        "town": "Albuquerque",
        "latitude_deg": 35.1,
        "longitude_deg": -106.65,
        "time_zone": depot.time_zone,
        "climate": "albuquerque",
        "access_opens": time(7),
        "access_closes": time(16),
        "access_note": "CANARY-ACCESS: side gate, CANARY-GATE-7713",
        "gate_code": "CANARY-GATE-7713",
        "watering_opens": time(20),
        "watering_closes": time(6),
        "care_starts_on": date(2026, 1, 5),
    }
    return Property.objects.create(code=code, client=client, depot=depot, **chosen | values)


def add_company(time_zone: str = "America/Denver") -> Company:
    depot = add_depot(time_zone=time_zone)
    secret = {"email": "canary@mail.example.com", "phone": "CANARY-PHONE", "note": "CANARY-CLIENT-NOTE"}
    client = Client.objects.create(code="acequia", name="Acequia Lane", **secret)
    stranger = Client.objects.create(code="stranger", name="CANARY-OTHER-OWNER", **secret)
    crew = Crew.objects.create(
        code="north", name="CANARY-CREW", depot=depot, shift_opens=time(7), shift_closes=time(16)
    )
    own = add_property("casa-14", client, depot)
    other = add_property("other", stranger, depot, name="CANARY-OTHER-GARDEN")
    return Company(client, depot, own, other, crew)


def add_task(place: Property, number: int = 1, **values: Any) -> CareTask:
    rule = values.get("rule", "sand-filter-backwash")
    due = values.pop("due_on", date(2026, 11, 3))
    chosen: dict[str, Any] = {
        "rule": rule,
        "stem": "water_feature",
        "series": f"{rule}:{number}",
        "occurrence": str(number),
        "title": "Backwash the sand filter",
        "title_es": "Retrolavar el filtro de arena",
        "opens_on": due - timedelta(days=3),
        "due_on": due,
        "closes_on": due + timedelta(days=3),
        "minutes": 30,
        "skill": "water",
        "changed_at": CHANGED,
    }
    chosen |= values
    return CareTask.objects.create(property=place, key=f"{rule}:{number}:{chosen['occurrence']}", **chosen)


def add_visit(
    place: Property, day: date | None = date(2026, 11, 3), *tasks: CareTask, **values: Any
) -> Visit:
    around = day or date(2026, 11, 3)
    chosen: dict[str, Any] = {
        "slot": f"{around:%G-W%V}-{Visit.objects.count()}",
        "opens_on": around - timedelta(days=2),
        "closes_on": around + timedelta(days=2),
        "minutes": 45,
        "state": "published",
        "day": day,
        "arrives_at": time(8, 40),
        "leaves_at": time(9, 25),
        "crew_name": "CANARY-CREW",
        "announced": True,
        "changed_at": CHANGED,
        "notes": [["CANARY-OFFICE-NOTE", "CANARY-OFFICE-NOTE"]],
    }
    visit = Visit.objects.create(property=place, **chosen | values)
    for task in tasks:
        VisitTask.objects.create(visit=visit, task=task)
    return visit


def add_route(crew: Crew, *visits: Visit) -> MonthPlan:
    """A published plan of November with one stop for each visit, in order."""
    plan = MonthPlan.objects.create(
        depot=crew.depot, month=date(2026, 11, 1), number=1, state=PlanState.PUBLISHED
    )
    for position, visit in enumerate(visits, start=1):
        assert visit.day
        assert visit.arrives_at
        assert visit.leaves_at
        Stop.objects.create(
            plan=plan,
            visit=visit,
            crew=crew,
            day=visit.day,
            position=position,
            arrives_at=visit.arrives_at,
            leaves_at=visit.leaves_at,
        )
    return plan
