"""A synthetic company of gardens of about 30 things each, by a seeded chance.

Each garden has a chance of its own, so that it is the same however many there are. Rows are written
by table and in numbers, past the actions: what is measured comes afterwards.
"""

import random
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from datetime import time as clock
from typing import Any

SEED = 20261102
FIRST_DAY = date(2026, 11, 2)
PLACES = (
    ("albuquerque", 35.08, -106.65, 1550.0, "America/Denver"),
    ("tucson", 32.22, -110.95, 750.0, "America/Phoenix"),
    ("phoenix", 33.45, -112.0, 340.0, "America/Phoenix"),
    ("las_vegas", 36.08, -115.15, 665.0, "America/Los_Angeles"),
)
SHRUBS = ("leucophyllum-frutescens", "bougainvillea-la-jolla", "salvia-greggii", "polystichum-munitum")
AT_ONCE = 200


@dataclass
class _Draft:
    """A thing to be stored; `of` names other things of the garden by field, `serves` plantings by tag."""

    kind: str
    tag: str
    installed_on: date
    values: dict[str, Any]
    of: dict[str, str] = field(default_factory=dict)
    serves: tuple[str, ...] = ()
    row: Any = None


def make_company(count: int) -> None:
    """Store so many gardens with their agreements and things."""
    from landscape_care.properties.models import Client, Depot

    client = Client.objects.create(code="bench", name="Bench gardens")
    depot = Depot.objects.create(
        code="bench", name="Yard", latitude_deg=35.1, longitude_deg=-106.6, time_zone="America/Denver"
    )
    for first in range(0, count, AT_ONCE):
        add(client, depot, range(first, min(count, first + AT_ONCE)))


def add(client: Any, depot: Any, numbers: range) -> None:
    """Store gardens of some numbers."""
    from landscape_care.properties.models import Agreement, InstalledThing, Property, Zone

    places = Property.objects.bulk_create(_place(client, depot, number) for number in numbers)
    chances = [random.Random(SEED + number) for number in numbers]
    Agreement.objects.bulk_create(
        Agreement(property=place, cadence=chance.choice(("weekly", "fortnightly", "monthly")))
        for place, chance in zip(places, chances, strict=True)
    )
    gardens = [list(_things(chance)) for chance in chances]
    for place, drafts in zip(places, gardens, strict=True):
        for draft in drafts:
            draft.row = InstalledThing(
                property=place, kind=draft.kind, tag=draft.tag, installed_on=draft.installed_on
            )
    InstalledThing.objects.bulk_create(draft.row for drafts in gardens for draft in drafts)
    _make_children(gardens)
    link = Zone.plantings.through
    link.objects.bulk_create(
        link(zone_id=draft.row.pk, planting_id=by_tag[tag].row.pk)
        for by_tag in map(_by_tag, gardens)
        for draft in by_tag.values()
        for tag in draft.serves
    )


def _by_tag(drafts: list[_Draft]) -> dict[str, _Draft]:
    return {draft.tag: draft for draft in drafts}


def _make_children(gardens: list[list[_Draft]]) -> None:
    """The columns of each kind, parents of others first; Django has no such call for child tables."""
    from landscape_care.properties.models import TABLES

    rows: dict[str, list[Any]] = defaultdict(list)
    for drafts in gardens:
        by_tag = _by_tag(drafts)
        for draft in drafts:
            others = {f"{name}_id": by_tag[tag].row.pk for name, tag in draft.of.items()}
            parent = {"installedthing_ptr_id": draft.row.pk}
            rows[draft.kind].append(TABLES[draft.kind](**parent, **draft.values, **others))
    for kind, children in rows.items():
        table: Any = TABLES[kind]
        columns = table._meta.local_concrete_fields
        table._base_manager._insert(children, fields=columns, using="default", raw=True)


def _place(client: Any, depot: Any, number: int) -> Any:
    from landscape_care.properties.models import Property

    climate, latitude_deg, longitude_deg, elevation_m, zone = PLACES[number % len(PLACES)]
    return Property(
        code=f"bench-{number:05d}",
        name=f"Garden {number}",
        client=client,
        depot=depot,
        street=f"{number} Lane",
        town="Town",
        latitude_deg=latitude_deg + (number % 40) / 100,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
        time_zone=zone,
        climate=climate,
        access_opens=clock(7),
        access_closes=clock(17),
        watering_opens=clock(4),
        watering_closes=clock(9),
        care_starts_on=FIRST_DAY - timedelta(number % 28),
    )


def _things(chance: random.Random) -> Iterator[_Draft]:
    """Beds, plants, zones, water, lights, turf and paving; what others name comes before them."""

    def draft(kind: str, tag: str, **values: Any) -> _Draft:
        return _Draft(kind, tag, FIRST_DAY - timedelta(chance.randrange(100, 2000)), values)

    for number in range(4):
        yield draft(
            "bed", f"B{number}", area_ft2=chance.randrange(40, 200), exposure="full_sun", soil="sandy_loam"
        )
    yield from _plants(chance, draft)
    yield draft("controller", "C1", stations=6)
    for station in range(1, 5):
        yield _zone(draft, station)
    yield draft("water_feature", "W1", surface_ft2=60.0, volume_gal=700.0)
    for kind, tag, values in (
        ("pump", "PU1", {"power_hp": 0.5}),
        ("filter", "F1", {"medium": "sand", "area_ft2": 1.9, "clean_psi": 10.0}),
    ):
        each = draft(kind, tag, **values)
        each.of = {"water_feature": "W1"}
        yield each
    yield draft("transformer", "T1", capacity_va=300.0, timer="plain")
    for number in range(6):
        lamp = draft("fixture", f"L{number}", watts=4.0, quantity=3, rated_hours=50_000)
        lamp.of = {"transformer": "T1"}
        yield lamp
    yield draft("turf", "TU1", area_ft2=300.0)
    yield draft("paving", "PV1", stone="flagstone", area_ft2=250.0)


def _plants(chance: random.Random, draft: Any) -> Iterator[_Draft]:
    pocket = draft(
        "planting", "P0", plant="viola-x-wittrockiana", role="seasonal_colour",
        partner="zinnia-elegans", area_ft2=30.0,
    )  # fmt: skip
    pocket.of = {"bed": "B0"}
    yield pocket
    for number in range(1, 7):
        role, quantity = chance.choice(("shrub", "perennial", "fern")), chance.randrange(1, 9)
        each = draft("planting", f"P{number}", plant=chance.choice(SHRUBS), role=role, quantity=quantity)
        each.of = {"bed": f"B{chance.randrange(4)}"}
        yield each


def _zone(draft: Any, station: int) -> _Draft:
    drip = station > 2
    flow: dict[str, Any] = {"emitters": 24, "emitter_gph": 2.0} if drip else {"flow_gpm": 1.4}
    device = "drip" if drip else "micro_spray"
    each: _Draft = draft("zone", f"Z{station}", station=station, device=device, area_ft2=80.0, **flow)
    each.of = {"controller": "C1"}
    each.serves = ("P0",) if station == 1 else (f"P{station - 1}", f"P{station}")
    return each
