"""Controllers of one property share its supply."""

from dataclasses import replace
from datetime import date, time
from typing import Any

import pytest

from landscape_care.almanac.climate import climate
from landscape_care.properties.findings import WRONG, findings
from landscape_care.trades.irrigation import ControllerProgram
from landscape_care.trades.kinds import AsBuilt, Bed, Controller, Planting, Zone
from landscape_care.trades.zone_needs import needs_of, peak_eto_in_per_day, program_on_supply

DAY, MARICOPA = date(2027, 6, 1), climate("maricopa")


def garden(**values: Any) -> AsBuilt:
    """Two controllers with two shrub zones of 2 gal/min each."""
    things: list[Any] = [Bed(uid=1, tag="B1", area_ft2=600, exposure="full_sun")]
    for number in range(4):
        things.append(
            Planting(
                uid=10 + number,
                tag=f"P{number}",
                plant="nandina-domestica",
                role="shrub",
                quantity=20,
                canopy_ft=3.0,
                bed_id=1,
            )
        )
        things.append(
            Zone(
                uid=20 + number,
                tag=f"Z{number}",
                controller_id=30 + number // 2,
                station=number % 2 + 1,
                device="drip",
                emitters=120,
                emitter_gph=1.0,
                planting_ids=(10 + number,),
            )
        )
    things += [Controller(uid=30 + number, tag=f"C{number}", stations=4) for number in (0, 1)]
    where: dict[str, Any] = {
        "latitude_deg": 33.07,
        "longitude_deg": -111.97,
        "elevation_m": 361.0,
        "time_zone": "America/Phoenix",
        "climate": "maricopa",
    }
    return AsBuilt(uid=1, care_starts_on=DAY, things=tuple(things), **(where | values))


def programs(record: AsBuilt) -> list[ControllerProgram]:
    return [
        program_on_supply(
            record,
            controller,
            needs_of(record, controller, DAY),
            day=DAY,
            eto_in_per_day=peak_eto_in_per_day(MARICOPA),
        )
        for controller in record.of_kind(Controller)
    ]


def drawn_gpm(record: AsBuilt) -> dict[tuple[int, int], float]:
    """What is drawn in each minute of the week, by weekday and minute."""
    drawn: dict[tuple[int, int], float] = {}
    for program in programs(record):
        for zone in program.zones:
            start = zone.start.hour * 60 + zone.start.minute
            for day in zone.weekdays:
                for minute in range(start, start + zone.run_minutes):
                    flow = zone.gallons_per_run / zone.run_minutes
                    drawn[day, minute] = drawn.get((day, minute), 0.0) + flow
    return drawn


def test_where_no_flow_is_known_no_two_valves_of_a_property_are_open_at_once() -> None:
    assert max(drawn_gpm(garden()).values()) == pytest.approx(2.0)


@pytest.mark.parametrize(("supply_gpm", "most_gpm"), [(3.9, 2.0), (4.0, 4.0), (20.0, 4.0)])
def test_valves_of_two_controllers_open_together_only_where_the_supply_gives_both(
    supply_gpm: float, most_gpm: float
) -> None:
    record = garden(supply_gpm=supply_gpm)
    assert max(drawn_gpm(record).values()) == pytest.approx(most_gpm)


def test_what_finds_no_hour_on_the_shared_supply_is_a_finding_in_both_languages() -> None:
    days: dict[str, Any] = {"watering_weekdays": (0, 2, 4), "watering_closes": time(4, 45)}
    record = garden(supply_gpm=3.0, **days)
    found = [each for each in findings(record, MARICOPA, today=DAY) if each.look == "program"]
    assert found
    assert {each.tag for each in found} <= {"Z0", "Z1", "Z2", "Z3"}
    wrong = next(each for each in found if each.severity == WRONG)
    assert "no time is left between 04:00 and 04:45" in wrong.message_en
    assert "no queda tiempo entre 04:00 y 04:45" in wrong.message_es
    roomy = garden(supply_gpm=30.0, **days)
    assert [each for each in findings(roomy, MARICOPA, today=DAY) if each.look == "program"] == []


def test_a_controller_that_is_gone_takes_no_hours() -> None:
    record = garden(watering_closes=time(7))
    gone = tuple(
        replace(thing, removed_on=DAY) if isinstance(thing, Controller) and thing.tag == "C0" else thing
        for thing in record.things
    )
    alone = replace(record, things=gone, _by_uid={})
    assert programs(alone)[1].zones[0].start == time(4)
    assert programs(record)[1].zones[0].start > time(4)


def test_two_zones_on_a_station_do_not_stop_the_program_of_the_others() -> None:
    record = garden()
    doubled = tuple(
        replace(thing, station=1) if isinstance(thing, Zone) and thing.tag == "Z1" else thing
        for thing in record.things
    )
    needs = needs_of(replace(record, things=doubled, _by_uid={}), record.of_kind(Controller)[0], DAY)
    assert needs.tags == ("Z0",)
    assert needs.unclear == ("Z1",)
