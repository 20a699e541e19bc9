"""Each trigger from the act of somebody to the task it makes, moves or takes back, through the database."""

from datetime import date, time, timedelta
from typing import Any

import pytest

from landscape_care.almanac.climate import climate, irrigation_eto_in_on
from landscape_care.care import actions, queries
from landscape_care.care.models import CareTask
from landscape_care.properties.actions import change, leave_settings
from landscape_care.properties.models import InstalledThing, Property, Zone
from landscape_care.trades.water_feature import evaporation_gal_day
from tests.integration.care_company import START, crew, garden, put, sand_filter

pytestmark = [pytest.mark.django_db, pytest.mark.both]
READ_ON = START + timedelta(5)


@pytest.fixture
def place() -> Property:
    return garden()


def plan(place: Property, today: date = START) -> actions.PlanReport:
    return actions.plan_care(place.pk, today=today)


def open_tasks(rule: str) -> list[CareTask]:
    return list(CareTask.objects.filter(rule=rule, state="open").order_by("due_on", "id"))


def because(task: CareTask) -> str:
    return queries.why(task, READ_ON)[0]


def read(thing: InstalledThing, quantity: str, value: float, unit: str) -> None:
    actions.take_reading(thing, quantity, value, unit, on=READ_ON, by=crew())


def watered_bed(place: Property, **zone_values: Any) -> tuple[InstalledThing, InstalledThing]:
    """A controller and its zone of 0.9 gal/min on a pocket of colour."""
    bed = put(place, "bed", "B1", area_ft2=100.0, exposure="full_sun", soil="sandy_loam")
    pocket = put(
        place, "planting", "P1", bed_id=bed.pk, plant="viola-x-wittrockiana", role="seasonal_colour",
        partner="zinnia-elegans", area_ft2=40.0,
    )  # fmt: skip
    box = put(place, "controller", "C1", stations=4)
    values: dict[str, Any] = {"planting_ids": (pocket.pk,), **zone_values}
    zone = put(
        place, "zone", "Z1", controller_id=box.pk, station=1, device="micro_spray", area_ft2=40.0,
        flow_gpm=0.9, **values,
    )  # fmt: skip
    return box, zone


# --- Readings ---


@pytest.mark.parametrize(("psi", "sooner"), [(17.9, False), (18.0, True), (20.0, True)])
def test_a_filter_at_its_clean_pressure_and_eight_psi_is_backwashed_now(
    place: Property, psi: float, sooner: bool
) -> None:
    # Published practice: backwash at 8 to 10 psi over the clean pressure, here 10 psi.
    thing = sand_filter(place)
    plan(place)
    usual = open_tasks("sand-filter-backwash")[0]
    read(thing, "filter_pressure_psi", psi, "psi")
    plan(place)
    first = open_tasks("sand-filter-backwash")[0]
    assert (first.key, first.opens_on == READ_ON) == (usual.key, sooner)
    assert ("A reading of" in because(first)) is sooner
    if sooner:
        assert f"A reading of {psi:g} psi on Nov 7, 2026 brought it forward." in because(first)


@pytest.mark.parametrize(("gpm", "searched"), [(0.76, True), (0.77, False), (1.03, False), (1.04, True)])
def test_a_flow_fifteen_percent_off_the_record_is_searched_for(
    place: Property, gpm: float, searched: bool
) -> None:
    _, zone = watered_bed(place)
    read(zone, "flow_gpm", gpm, "gal/min")
    plan(place)
    found = open_tasks("zone-flow-search")
    assert bool(found) is searched
    assert all(f"A reading of {gpm:g} gal/min on Nov 7, 2026 was out of bounds." in because(t) for t in found)


@pytest.mark.parametrize(("times", "searched"), [(1.45, False), (1.55, True)])
def test_a_pool_that_loses_half_as_much_again_as_the_air_takes_is_searched_for_a_leak(
    place: Property, times: float, searched: bool
) -> None:
    pool = put(place, "water_feature", "W1", surface_ft2=80.0, volume_gal=900.0)
    air = evaporation_gal_day(irrigation_eto_in_on(climate("albuquerque"), READ_ON.replace(day=15)), 80.0)
    read(pool, "makeup_gal_day", round(times * air, 2), "gal/day")
    plan(place)
    assert bool(open_tasks("water-loss-search")) is searched


@pytest.mark.parametrize(("step_in", "visited"), [(0.4, False), (0.51, True)])
def test_a_step_of_over_half_an_inch_is_the_masons(place: Property, step_in: float, visited: bool) -> None:
    stones = put(place, "paving", "PV1", stone="flagstone", area_ft2=200.0)
    read(stones, "trip_in", step_in, "in")
    plan(place)
    found = open_tasks("trip-hazard-reset")
    assert [task.skill for task in found] == (["mason"] if visited else [])
    assert all("0.51 in" in because(task) for task in found)


def test_what_a_reading_asked_for_is_asked_once_and_again_by_the_next(place: Property) -> None:
    stones = put(place, "paving", "PV1", stone="flagstone", area_ft2=200.0)
    read(stones, "trip_in", 0.75, "in")
    plan(place)
    [task] = open_tasks("trip-hazard-reset")
    actions.settle(task, "done", on=READ_ON + timedelta(2), by=None)
    plan(place)
    assert open_tasks("trip-hazard-reset") == []
    actions.take_reading(stones, "trip_in", 0.6, "in", on=READ_ON + timedelta(60), by=None)
    plan(place)
    assert [t.opens_on for t in open_tasks("trip-hazard-reset")] == [READ_ON + timedelta(60)]


# --- Run hours ---


def test_a_pump_is_serviced_after_a_year_of_running_by_its_hours_a_day(place: Property) -> None:
    pump = put(place, "pump", "PU1", power_hp=0.25, hours_per_day=24.0)
    plan(place)
    [task] = open_tasks("pump-service")[:1]
    assert task.due_on == START + timedelta(365)
    assert "24 hours a day every 365 days" in because(task)
    change(pump, {"hours_per_day": 12.0}, reason="the timer was set", by=None)
    plan(place)
    assert open_tasks("pump-service") == []
    assert actions.plan_care(place.pk, today=START + timedelta(360)).added
    assert [t.due_on for t in open_tasks("pump-service")] == [START + timedelta(730)]


def test_lamps_are_replaced_by_the_hours_of_their_timer(place: Property) -> None:
    timer = put(
        place, "transformer", "T1", capacity_va=150.0, timer="plain", set_on=time(18), set_off=time(22)
    )
    put(place, "fixture", "L1", transformer_id=timer.pk, watts=4.0, quantity=6, rated_hours=2000)
    plan(place)
    # Nine tenths of 2,000 hours: 450 nights of four hours, 300 of six.
    assert open_tasks("lamp-replacement") == []
    leave_settings(timer, {"set_on": "16:00"}, by=None)
    plan(place)
    [task] = open_tasks("lamp-replacement")
    assert task.due_on == START + timedelta(300)
    assert "6 hours a day every 300 days" in because(task)


# --- Events ---


def test_new_plants_are_watered_apart_for_eight_weeks(place: Property) -> None:
    _, zone = watered_bed(place)
    plan(place)
    assert open_tasks("establishment-watering") == []
    planted = START + timedelta(20)
    shrub = put(
        place, "planting", "P2", plant="salvia-greggii", role="perennial", quantity=8, installed_on=planted
    )
    served = Zone.objects.get(pk=zone.pk).planting_ids()
    change(zone, {"planting_ids": (*served, shrub.pk)}, reason="more plants on the valve", by=None)
    plan(place)
    due = [task.due_on - planted for task in open_tasks("establishment-watering")]
    assert [days.days for days in due] == [0, 14, 28, 42, 56]
    assert "Something was planted on Nov 22, 2026." in because(open_tasks("establishment-watering")[0])


def test_what_a_crew_could_not_finish_is_a_task_of_its_own(place: Property) -> None:
    sand_filter(place)
    plan(place)
    task = open_tasks("sand-filter-backwash")[0]
    follow_up = actions.ask_follow_up(task, "the valve leaks", on=READ_ON, by=crew())
    assert not plan(place)
    assert because(follow_up) == "A crew asked for it."


def test_what_an_owner_asks_for_is_done_within_two_weeks(place: Property) -> None:
    actions.report(place, "owner_request", on=READ_ON, by=crew(), note="prune the branch over the gate")
    plan(place)
    [task] = open_tasks("owner-request")
    assert task.details["lines"]["en"] == ["prune the branch over the gate"]
    assert because(task) == "The owner asked for it on Nov 7, 2026. It is done within 14 days."


def test_clocks_that_change_send_somebody_to_controllers_and_clever_timers(place: Property) -> None:
    put(place, "controller", "C1", stations=4)
    put(place, "transformer", "T1", capacity_va=150.0, timer="astronomic")
    plan(place)
    # 15 U.S.C. 260a: second Sunday of March and first Sunday of November.
    wanted = [date(2027, 3, 14), date(2027, 11, 7)]
    for rule in ("controller-clock-change", "timer-clock-change"):
        assert [task.due_on for task in open_tasks(rule)] == wanted
        assert "Clocks change on Mar 14, 2027." in because(open_tasks(rule)[0])


# --- Settings that leave the band of what was last set ---


def test_a_program_is_asked_for_when_the_need_leaves_the_band_of_what_was_set(place: Property) -> None:
    _, zone = watered_bed(place)
    plan(place)
    first = open_tasks("irrigation-program")[0]
    assert "No setting from before counts" in because(first)
    settings = first.details["settings"]["Z1"]
    leave_settings(zone, settings, by=None)
    actions.settle(first, "done", on=first.due_on, by=None)
    plan(place, first.due_on)
    second = open_tasks("irrigation-program")[0]
    assert second.due_on > first.due_on
    assert "points off what was last set" in because(second)
    # Set at a tenth of that, the very next month is out of its band.
    leave_settings(zone, {**settings, "set_minutes": max(1, int(settings["set_minutes"]) // 10)}, by=None)
    plan(place, first.due_on)
    sooner = open_tasks("irrigation-program")[0]
    assert sooner.due_on <= second.due_on
    assert not plan(place, first.due_on)


def test_a_plain_timer_is_reset_when_sunset_leaves_the_band_of_what_was_set(place: Property) -> None:
    timer = put(place, "transformer", "T1", capacity_va=150.0, timer="plain")
    plan(place)
    first = open_tasks("light-timer-reset")[0]
    leave_settings(timer, first.details["settings"]["T1"], by=None)
    actions.settle(first, "done", on=first.due_on, by=None)
    plan(place, first.due_on)
    following = open_tasks("light-timer-reset")[0]
    assert "minutes off the time before" in because(following)
    # An hour and a half off, it is due within days.
    hour, minute = map(int, str(first.details["settings"]["T1"]["set_on"]).split(":")[:2])
    wrong = (hour * 60 + minute + 90) % 1440
    leave_settings(timer, {"set_on": f"{wrong // 60:02d}:{wrong % 60:02d}"}, by=None)
    plan(place, first.due_on)
    assert open_tasks("light-timer-reset")[0].due_on <= following.due_on
