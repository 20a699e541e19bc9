"""Seconds to plan the care of a synthetic company of gardens, and milliseconds for one that changed.

`python -m tests.benchmarks.planning [--properties 500] [--changes 60]` prints JSON lines. The gardens
are made by a seeded chance, about 30 things each; they are stored through the models, because what is
measured is planning. It runs on SQLite in a folder of its own, or on the database that is configured.
"""

import argparse
import random
import statistics
import time
from datetime import date, timedelta
from typing import Any

from tests.benchmarks.company import begin, say

SEED = 20261102
FIRST_DAY = date(2026, 11, 2)
GOALS = {"all_s_per_500": 30.0, "changed_p95_ms": 150.0}
PLACES = (
    ("albuquerque", 35.08, -106.65, 1550.0, "America/Denver"),
    ("tucson", 32.22, -110.95, 750.0, "America/Phoenix"),
    ("phoenix", 33.45, -112.0, 340.0, "America/Phoenix"),
    ("las_vegas", 36.08, -115.15, 665.0, "America/Los_Angeles"),
)
SHRUBS = ("leucophyllum-frutescens", "bougainvillea-la-jolla", "salvia-greggii", "polystichum-munitum")


def make_company(count: int) -> None:
    """Store so many gardens with their things."""
    from landscape_care.properties import actions
    from landscape_care.properties.models import Client, Depot

    chance = random.Random(SEED)
    client = Client.objects.create(code="bench", name="Bench gardens")
    depot = Depot.objects.create(
        code="bench", name="Yard", latitude_deg=35.1, longitude_deg=-106.6, time_zone="America/Denver"
    )
    for number in range(count):
        place = _place(client, depot, number)
        actions.set_agreement(place, cadence=chance.choice(("weekly", "fortnightly", "monthly")), by=None)
        _install(place, chance)


def _place(client: Any, depot: Any, number: int) -> Any:
    from datetime import time as clock

    from landscape_care.properties.models import Property

    climate, latitude_deg, longitude_deg, elevation_m, zone = PLACES[number % len(PLACES)]
    return Property.objects.create(
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


def _install(place: Any, chance: random.Random) -> None:
    from landscape_care.properties.models import (
        Bed,
        Controller,
        Filter,
        Fixture,
        Paving,
        Planting,
        Pump,
        Transformer,
        Turf,
        WaterFeature,
        Zone,
    )

    def put(table: Any, kind: str, tag: str, **values: Any) -> Any:
        installed_on = FIRST_DAY - timedelta(chance.randrange(100, 2000))
        return table.objects.create(property=place, kind=kind, tag=tag, installed_on=installed_on, **values)

    beds = [
        put(Bed, "bed", f"B{n}", area_ft2=chance.randrange(40, 200), exposure="full_sun", soil="sandy_loam")
        for n in range(4)
    ]
    pocket = put(
        Planting, "planting", "P0", bed=beds[0], plant="viola-x-wittrockiana", role="seasonal_colour",
        partner="zinnia-elegans", area_ft2=30.0,
    )  # fmt: skip
    plants = [
        put(Planting, "planting", f"P{n}", bed=chance.choice(beds), plant=chance.choice(SHRUBS),
            role=chance.choice(("shrub", "perennial", "fern")), quantity=chance.randrange(1, 9))
        for n in range(1, 7)
    ]  # fmt: skip
    controller = put(Controller, "controller", "C1", stations=6)
    for station in range(1, 5):
        served = [pocket] if station == 1 else plants[station - 2 : station]
        drip = station > 2
        flow: dict[str, Any] = {"emitters": 24, "emitter_gph": 2.0} if drip else {"flow_gpm": 1.4}
        zone = put(Zone, "zone", f"Z{station}", controller=controller, station=station,
                   device="drip" if drip else "micro_spray", area_ft2=80.0, **flow)  # fmt: skip
        zone.plantings.set(served)
    water = put(WaterFeature, "water_feature", "W1", surface_ft2=60.0, volume_gal=700.0)
    put(Pump, "pump", "PU1", water_feature=water, power_hp=0.5)
    put(Filter, "filter", "F1", water_feature=water, medium="sand", area_ft2=1.9, clean_psi=10.0)
    timer = put(Transformer, "transformer", "T1", capacity_va=300.0, timer="plain")
    for number in range(6):
        put(Fixture, "fixture", f"L{number}", transformer=timer, watts=4.0, quantity=3, rated_hours=50_000)
    put(Turf, "turf", "TU1", area_ft2=300.0)
    put(Paving, "paving", "PV1", stone="flagstone", area_ft2=250.0)


def plan_all(today: date) -> dict[str, Any]:
    """Plan every property as of a day, one after the other; what was written."""
    from landscape_care.care.actions import plan_care
    from landscape_care.properties.models import Property

    begun, busy = time.perf_counter(), time.process_time()
    reports = [plan_care(pk, today=today) for pk in Property.objects.values_list("pk", flat=True)]
    return {
        "seconds": round(time.perf_counter() - begun, 2),
        "processor_seconds": round(time.process_time() - busy, 2),
        "added": sum(report.added for report in reports),
        "moved": sum(report.moved for report in reports),
        "withdrawn": sum(report.withdrawn for report in reports),
    }


def change_and_plan(times: int) -> list[float]:
    """Milliseconds from a reading on one garden to its new plan, so many times."""
    from landscape_care.care.actions import plan_care, take_reading
    from landscape_care.properties.models import InstalledThing

    chance = random.Random(SEED)
    filters = list(InstalledThing.objects.filter(kind="filter").select_related("property"))
    spent = []
    for number in range(times):
        thing = chance.choice(filters)
        psi = 19.0 if number % 2 else 12.0
        take_reading(thing, "filter_pressure_psi", psi, "psi", on=FIRST_DAY, by=None)
        begun = time.perf_counter()
        plan_care(thing.property_id, today=FIRST_DAY)
        spent.append((time.perf_counter() - begun) * 1000)
    return sorted(spent)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--properties", type=int, default=500)
    asked.add_argument("--changes", type=int, default=60)
    given = asked.parse_args()
    begin()
    from django.db import connection, transaction

    from landscape_care.properties.models import InstalledThing

    with transaction.atomic():
        make_company(given.properties)
    things = InstalledThing.objects.count()
    say("company", database=connection.vendor, properties=given.properties, things=things, seed=SEED)
    first = plan_all(FIRST_DAY)
    say("first plan", **first)
    again = plan_all(FIRST_DAY)
    say("second plan", **again)
    later = plan_all(FIRST_DAY + timedelta(1))
    say("the day after", **later)
    spent = change_and_plan(given.changes)
    p95 = spent[round(0.95 * (len(spent) - 1))]
    per_500 = float(first["seconds"]) / given.properties * 500
    say(
        "summary",
        all_s_per_500=round(per_500, 2),
        all_processor_s_per_500=round(first["processor_seconds"] / given.properties * 500, 2),
        changed_median_ms=round(statistics.median(spent), 1),
        changed_p95_ms=round(p95, 1),
        second_plan_writes=again["added"] + again["moved"] + again["withdrawn"],
        goals=GOALS,
        reached=per_500 <= GOALS["all_s_per_500"] and p95 <= GOALS["changed_p95_ms"],
    )


if __name__ == "__main__":
    main()
