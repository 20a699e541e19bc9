"""The as-built record through its actions and reads: it grows and changes, and keeps what it was."""

from datetime import date, time
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from landscape_care.people.actions import add_user
from landscape_care.people.models import AuditEntry, Role, User
from landscape_care.people.queries import visible_audit, visible_users
from landscape_care.properties import actions, intake, queries
from landscape_care.properties.demo import FILES
from landscape_care.properties.models import InstalledThing, Property, ThingChange, Zone
from landscape_care.trades import kinds
from landscape_care.trades.kinds import Bed, Controller, Planting
from landscape_care.trades.limits import Refused
from tests.integration.gardens import CLIENT, DEPOT, PLACE, TODAY, add_property

pytestmark = pytest.mark.django_db

BED = {"tag": "B1", "area_ft2": 120.0, "exposure": "full_sun"}


@pytest.fixture
def place() -> Property:
    return add_property()


def person(role: Role) -> User:
    return add_user(str(role), "a long password", role=role)


def refused_fields(caught: pytest.ExceptionInfo[Refused]) -> set[str]:
    return {problem.field for problem in caught.value.problems}


def planted(place: Property, **values: Any) -> InstalledThing:
    bed = actions.install(place, "bed", BED, by=None)
    planting = {"tag": "P1", "bed_id": bed.pk, "plant": "pansy", "role": "seasonal_colour", "quantity": 60}
    return actions.install(place, "planting", planting | values, by=None)


def zoned(place: Property, planting: InstalledThing) -> Zone:
    controller = actions.install(place, "controller", {"tag": "C1", "stations": 6}, by=None)
    zone = {"tag": "Z1", "controller_id": controller.pk, "station": 1, "device": "spray", "flow_gpm": 2.1}
    row = actions.install(place, "zone", zone | {"planting_ids": (planting.pk,)}, by=None)
    assert isinstance(row, Zone)
    return row


# --- Putting in -------------------------------------------------------------------------------


def test_what_is_put_in_is_read_back_as_the_same_value(place: Property) -> None:
    planting = planted(place)
    zone = zoned(place, planting)
    record = queries.as_built(place)
    read = record.thing(planting.pk)
    assert (read.plant, read.group, read.frost_tender) == ("viola-x-wittrockiana", "annual_cool", False)
    assert record.thing(read.bed_id).area_ft2 == 120
    assert record.thing(zone.pk).planting_ids == (planting.pk,)
    assert record.of_kind(Controller)[0].zones == 1
    assert record.watering_weekdays == (0, 1, 2, 3, 4, 5, 6)


def test_every_change_of_the_record_asks_for_a_new_plan_and_leaves_a_line_in_the_log(place: Property) -> None:
    office = person(Role.OFFICE)
    bed = actions.install(place, "bed", BED, by=office)
    steps: dict[str, Any] = {
        "install": lambda: actions.install(place, "drain", {"tag": "D1"}, by=office),
        "change": lambda: actions.change(bed, {"area_ft2": 90.0}, reason="measured", by=office),
        "set agreement": lambda: actions.set_agreement(place, cadence="weekly", by=office),
        "change property": lambda: actions.change_property(place, {"supply_gpm": 9.0}, by=office),
    }
    for verb, step in steps.items():
        Property.objects.update(plan_wanted_at=None)
        step()
        assert Property.objects.get().plan_wanted_at is not None, verb
        assert AuditEntry.objects.first() == AuditEntry.objects.filter(verb=verb, by=office).first()


def test_a_tag_in_use_is_refused_by_name(place: Property) -> None:
    actions.install(place, "bed", BED, by=None)
    with pytest.raises(Refused) as caught:
        actions.install(place, "drain", {"tag": "B1"}, by=None)
    assert refused_fields(caught) == {"tag"}


def test_a_thing_cannot_refer_to_another_property_or_to_another_kind(place: Property) -> None:
    planting = planted(place)
    other = actions.add_property(PLACE | {"code": "casa-15"}, by=None, today=TODAY)
    for wrong in (planting.pk, place.things.get(tag="B1").pk, 0):
        values = {"tag": "P2", "bed_id": wrong, "plant": "pansy", "role": "seasonal_colour", "quantity": 5}
        with pytest.raises(Refused) as caught:
            actions.install(other, "planting", values, by=None)
        assert refused_fields(caught) == {"bed_id"}


def test_an_unknown_plant_kind_client_or_depot_is_refused_by_name(place: Property) -> None:
    with pytest.raises(Refused, match="pansy"):
        planted(place, plant="pancy")
    with pytest.raises(Refused, match="kind"):
        actions.install(place, "lawn", {}, by=None)
    for field in ("client", "depot"):
        with pytest.raises(Refused) as caught:
            actions.add_property(PLACE | {"code": "casa-15", field: "nobody"}, by=None, today=TODAY)
        assert refused_fields(caught) == {field}


def test_a_code_in_use_is_refused_by_name(place: Property) -> None:
    attempts: list[Any] = [
        lambda: actions.add_client(CLIENT, by=None),
        lambda: actions.add_depot(DEPOT, by=None),
        lambda: actions.add_property(PLACE, by=None, today=TODAY),
    ]
    for attempt in attempts:
        with pytest.raises(Refused) as caught:
            attempt()
        assert refused_fields(caught) == {"code"}


def test_a_gate_code_is_not_readable_in_the_database(place: Property) -> None:
    actions.change_property(place, {"gate_code": "4417"}, by=None)
    assert Property.objects.get().gate_code == "4417"
    with connection.cursor() as cursor:
        cursor.execute("SELECT gate_code FROM properties_property")
        assert "4417" not in cursor.fetchone()[0]
    assert "4417" not in str(list(AuditEntry.objects.values_list("detail", flat=True)))


# --- Changing and taking away -----------------------------------------------------------------


def test_a_change_keeps_what_was_and_who_changed_it_and_why(place: Property) -> None:
    office = person(Role.OFFICE)
    zone = zoned(place, planted(place))
    actions.change(zone, {"flow_gpm": 2.4, "planting_ids": ()}, reason="metered", by=office)
    changes = {change.field: change for change in ThingChange.objects.filter(thing=zone)}
    assert (changes["flow_gpm"].was, changes["flow_gpm"].now) == (2.1, 2.4)
    assert changes["planting_ids"].now == []
    assert {change.by for change in changes.values()} == {office}
    assert {change.reason for change in changes.values()} == {"metered"}


def test_a_change_to_the_same_value_leaves_no_trace(place: Property) -> None:
    bed = actions.install(place, "bed", BED, by=None)
    Property.objects.update(plan_wanted_at=None)
    actions.change(bed, {"area_ft2": 120.0}, reason="again", by=None)
    assert not ThingChange.objects.exists()
    assert Property.objects.get().plan_wanted_at is None


def test_a_wrong_change_is_refused_and_nothing_is_changed(place: Property) -> None:
    bed = actions.install(place, "bed", BED, by=None)
    with pytest.raises(Refused) as caught:
        actions.change(bed, {"area_ft2": -1.0, "mulch_depth_in": 3.0}, reason="typo", by=None)
    assert refused_fields(caught) == {"area_ft2"}
    assert queries.record_of(bed) == Bed(uid=bed.pk, tag="B1", area_ft2=120.0, exposure="full_sun")


def test_a_thing_that_goes_stays_on_the_record_with_its_day(place: Property) -> None:
    bed = actions.install(place, "bed", BED | {"installed_on": date(2020, 4, 1)}, by=None)
    actions.remove(bed, date(2026, 11, 24), reason="path widened", by=None)
    assert [thing.pk for thing in queries.installed(place, date(2026, 11, 23))] == [bed.pk]
    assert not queries.installed(place, TODAY).exists()
    assert queries.as_built(place).thing(bed.pk).removed_on == date(2026, 11, 24)
    with pytest.raises(Refused) as caught:
        actions.remove(bed, date(2020, 3, 31), reason="typo", by=None)
    assert refused_fields(caught) == {"removed_on"}


def test_crews_leave_settings_and_nothing_else(place: Property) -> None:
    crew = person(Role.CREW)
    zone = zoned(place, planted(place))
    actions.leave_settings(zone, {"set_minutes": 8, "set_weekdays": "135", "set_start": "05:30"}, by=crew)
    left = queries.record_of(zone)
    assert isinstance(left, kinds.Zone)
    assert (left.set_minutes, left.set_weekdays, left.set_start) == (8, "135", time(5, 30))
    assert ThingChange.objects.filter(thing=zone, by=crew).count() == 3
    with pytest.raises(Refused):
        actions.leave_settings(zone, {"flow_gpm": 9.0}, by=crew)
    with pytest.raises(Refused):
        actions.leave_settings(zone, {"set_start": "25:99"}, by=crew)
    with pytest.raises(PermissionDenied):
        actions.change(zone, {"flow_gpm": 9.0}, reason="", by=crew)


def test_settings_of_several_things_are_left_together_or_not_at_all(place: Property) -> None:
    zone = zoned(place, planted(place))
    timer = actions.install(
        place, "transformer", {"tag": "T1", "capacity_va": 150.0, "timer": "plain"}, by=None
    )
    with pytest.raises(Refused):
        actions.leave_settings_by_tag(place, {"Z1": {"set_minutes": 8}, "T9": {"set_on": "17:00"}}, by=None)
    with pytest.raises(Refused):
        actions.leave_settings_by_tag(place, {"Z1": {"set_minutes": 8}, "T1": {"set_on": "late"}}, by=None)
    assert queries.record_of(zone).set_minutes is None  # type: ignore[attr-defined]
    actions.leave_settings_by_tag(place, {"Z1": {"set_minutes": 8}, "T1": {"set_on": "17:00"}}, by=None)
    assert queries.record_of(timer).set_on == time(17)  # type: ignore[attr-defined]


# --- Who may see and do what ------------------------------------------------------------------


def test_a_climate_of_another_part_of_the_world_is_refused_by_name(place: Property) -> None:
    with pytest.raises(Refused) as refused:
        actions.change_property(place, {"latitude_deg": 48.86, "longitude_deg": 2.35}, by=None)
    (problem,) = refused.value.problems
    assert (problem.field, problem.value) == ("climate", place.climate)
    assert "km away" in problem.wanted


def test_owners_and_strangers_see_no_property_and_change_nothing(place: Property) -> None:
    bed = actions.install(place, "bed", BED, by=None)
    owner = person(Role.OWNER)
    for stranger in (owner, AnonymousUser()):
        assert not queries.visible_properties(stranger).exists()
        assert not queries.visible_things(stranger).exists()
        assert not queries.visible_depots(stranger).exists()
        assert not queries.visible_clients(stranger).exists()
    attempts: list[Any] = [
        lambda: actions.add_client(CLIENT | {"code": "x"}, by=owner),
        lambda: actions.add_depot(DEPOT | {"code": "x"}, by=owner),
        lambda: actions.add_property(PLACE | {"code": "x"}, by=owner, today=TODAY),
        lambda: actions.change_property(place, {"name": "x"}, by=owner),
        lambda: actions.set_agreement(place, cadence="weekly", by=owner),
        lambda: actions.install(place, "drain", {"tag": "D1"}, by=owner),
        lambda: actions.change(bed, {"area_ft2": 9.0}, reason="", by=owner),
        lambda: actions.remove(bed, TODAY, reason="", by=owner),
        lambda: actions.leave_settings(bed, {}, by=owner),
    ]
    for attempt in attempts:
        with pytest.raises(PermissionDenied):
            attempt()
    assert not AuditEntry.objects.filter(by=owner).exists()


def test_crews_see_gardens_but_no_clients_and_nobody_sees_after_leaving_the_company(place: Property) -> None:
    crew, office = person(Role.CREW), person(Role.OFFICE)
    assert list(queries.visible_properties(crew)) == [place]
    assert not queries.visible_clients(crew).exists()
    assert list(queries.visible_clients(office)) == [place.client]
    office.is_active = False
    assert not queries.visible_properties(office).exists()


def test_the_office_reads_the_log_and_the_list_of_people_and_others_only_themselves() -> None:
    office, crew = person(Role.OFFICE), person(Role.CREW)
    assert set(visible_users(office)) == {office, crew}
    assert list(visible_users(crew)) == [crew]
    assert not visible_users(AnonymousUser()).exists()
    assert visible_audit(office).exists()
    assert not visible_audit(crew).exists()
    assert not visible_audit(AnonymousUser()).exists()


def test_the_database_refuses_to_change_a_row_of_the_log() -> None:
    person(Role.CREW)
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
        AuditEntry.objects.update(verb="nothing happened")
    assert not AuditEntry.objects.filter(verb="nothing happened").exists()


@pytest.mark.postgres
def test_postgresql_also_refuses_to_delete_a_row_of_the_log() -> None:
    person(Role.CREW)
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
        AuditEntry.objects.all().delete()
    assert AuditEntry.objects.exists()


# --- Reads ------------------------------------------------------------------------------------


def test_reading_sixty_records_takes_a_query_more_for_each_kind_that_one_lacks() -> None:
    intake.apply(intake.check(FILES, today=TODAY), by=None, today=TODAY)
    numbers = list(Property.objects.values_list("pk", flat=True))
    with CaptureQueriesContext(connection) as one:
        queries.as_builts(numbers[:1])
    with CaptureQueriesContext(connection) as all_of_them:
        records = queries.as_builts(numbers)
    kinds = InstalledThing.objects.order_by().values_list("kind", flat=True).distinct()
    lacking = kinds.count() - kinds.filter(property=numbers[0]).count()
    assert len(one) + lacking == len(all_of_them) < 27
    assert sum(len(record.things) for record in records.values()) == InstalledThing.objects.count()
    assert all(planting.group for record in records.values() for planting in record.of_kind(Planting))
