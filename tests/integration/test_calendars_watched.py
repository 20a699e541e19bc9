"""No stored calendar file outlives a change of what it tells, whoever makes the change."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from threading import Event, Thread

import pytest
from django.db import connection, transaction
from django.test import Client as Browser
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from landscape_care.calendars import actions, filing, queries
from landscape_care.calendars.checking import check
from landscape_care.calendars.feeds import FeedEvent, entry_bytes
from landscape_care.calendars.models import Address, Audience, CalendarFile, Change
from landscape_care.calendars.polling import poll
from landscape_care.calendars.watching import TABLES, WATCHING, start_watching, stop_watching
from landscape_care.care.models import CareTask
from landscape_care.dispatch.models import Crew, MonthPlan, Stop
from landscape_care.properties.models import Client, Depot, InstalledThing, Property
from landscape_care.visits.models import Visit, VisitTask
from tests.integration.calendars_company import (
    Company,
    add_company,
    add_property,
    add_route,
    add_task,
    add_visit,
)

pytestmark = [pytest.mark.django_db, pytest.mark.both, pytest.mark.urls("landscape_care.calendars.urls")]
NOW = datetime(2026, 10, 20, 15, 0, tzinfo=UTC)


@pytest.fixture
def company() -> Company:
    company = add_company()
    thing = InstalledThing.objects.create(
        property=company.property, kind="pump", tag="P1", installed_on=date(2026, 1, 5)
    )
    visit = add_visit(company.property, date(2026, 11, 3), add_task(company.property, thing=thing))
    add_route(company.crew, visit)
    add_task(company.property, 2)
    return company


def mark_of(address: Address) -> str:
    found = poll(address.digest, NOW)
    assert found is not None
    assert found.watched
    return found.made_of


def address_for(company: Company, audience: str) -> Address:
    target = None if audience == "company" else getattr(company, audience)
    return actions.issue(audience, target, name=audience, by=None)[0]


def _link(company: Company) -> None:
    free = CareTask.objects.get(visit_task=None)
    VisitTask.objects.create(visit=Visit.objects.get(), task=free)


def _many_tasks() -> None:
    tasks = list(CareTask.objects.all())
    for task in tasks:
        task.pk, task.key = None, f"again-{task.key}"
    CareTask.objects.bulk_create(tasks)


TO_ALL: dict[str, Callable[[Company], object]] = {
    "a visit moves": lambda _: Visit.objects.update(day=date(2026, 11, 4)),
    "a visit is added": lambda company: add_visit(company.property, date(2026, 11, 20)),
    "a visit is deleted": lambda company: add_visit(company.property, date(2026, 11, 20)).delete(),
    "a task is renamed": lambda _: CareTask.objects.update(title="Other words"),
    "tasks come at once": lambda _: _many_tasks(),
    "a task joins a visit": _link,
    "a task leaves a visit": lambda _: VisitTask.objects.all().delete(),
    "a task changes its visit": lambda company: VisitTask.objects.update(
        visit=add_visit(company.other, date(2026, 11, 20))
    ),
    "a garden is renamed": lambda company: Property.objects.filter(pk=company.property.pk).update(name="New"),
    "a garden has another zone": lambda _: Property.objects.update(time_zone="America/Phoenix"),
    "a thing is renamed": lambda _: InstalledThing.objects.update(name="Pump of the pond"),
    "an owner is renamed": lambda _: Client.objects.update(name="New"),
    "a depot has another zone": lambda _: Depot.objects.update(time_zone="America/Phoenix"),
}
TO_CREWS: dict[str, Callable[[Company], object]] = {
    "a crew is renamed": lambda _: Crew.objects.update(name="New"),
    "a stop goes": lambda _: Stop.objects.all().delete(),
    "a stop changes hands": lambda _: Stop.objects.update(position=2),
    "a month is replaced": lambda _: MonthPlan.objects.update(state="superseded"),
}


@pytest.mark.parametrize("audience", ["property", "client", "crew", "depot", "company"])
@pytest.mark.parametrize("what", TO_ALL)
def test_every_change_of_what_is_told_makes_a_stored_file_old(
    company: Company, audience: str, what: str
) -> None:
    address = address_for(company, audience)
    before = mark_of(address)
    TO_ALL[what](company)
    assert mark_of(address) != before


@pytest.mark.parametrize("what", TO_CREWS)
def test_a_change_of_routes_makes_the_file_of_a_crew_old_and_no_owners(company: Company, what: str) -> None:
    crew, owner = address_for(company, "crew"), address_for(company, "property")
    before = mark_of(crew), mark_of(owner)
    TO_CREWS[what](company)
    assert mark_of(crew) != before[0]
    assert mark_of(owner) == before[1]


def test_what_happens_in_another_garden_leaves_a_file_fresh(company: Company) -> None:
    owner, client = address_for(company, "property"), address_for(company, "client")
    before = mark_of(owner), mark_of(client)
    add_visit(company.other, date(2026, 11, 5), add_task(company.other, 7))
    Property.objects.update(planned_through=date(2027, 1, 1))
    assert (mark_of(owner), mark_of(client)) == before


def test_a_client_that_loses_a_garden_or_wins_one_gets_a_new_file(company: Company) -> None:
    address = address_for(company, "client")
    marks = [mark_of(address)]
    second = add_property("casa-15", company.client, company.depot)
    marks.append(mark_of(address))
    Property.objects.filter(pk=second.pk).update(client=company.other.client)
    marks.append(mark_of(address))
    assert len(set(marks)) == 3


def test_a_change_that_is_rolled_back_leaves_no_mark(company: Company) -> None:
    address = address_for(company, "property")
    before = mark_of(address)
    with transaction.atomic():
        Visit.objects.update(day=date(2026, 11, 4))
        assert mark_of(address) != before
        transaction.set_rollback(True)
    assert mark_of(address) == before


def test_every_table_that_is_watched_has_its_triggers() -> None:
    catalog = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal",
    }
    with connection.cursor() as cursor:
        cursor.execute(catalog[connection.vendor])
        found = {row[0] for row in cursor.fetchall()}
    events = ("insert", "update", "delete")
    assert {f"calendars_{each.table}_{event}" for each in TABLES for event in events} <= found


def test_while_nobody_watches_no_file_counts_as_fresh(company: Company) -> None:
    address = address_for(company, "property")
    filing.current_file(address, NOW)
    stop_watching(using="default", plan=["a migration"])
    Visit.objects.update(crew_name="unseen")
    asked = poll(address.digest, NOW)
    assert asked is not None
    assert not asked.fresh(NOW.timestamp())
    start_watching(using="default")
    again = poll(address.digest, NOW)
    assert again is not None
    # It stands again, and what happened meanwhile counts as a change of everything.
    assert again.watched
    assert not again.fresh(NOW.timestamp())
    filing.current_file(address, NOW)
    fresh = poll(address.digest, NOW)
    assert fresh is not None
    assert fresh.fresh(NOW.timestamp())


def test_migrating_with_nothing_to_migrate_leaves_files_fresh(company: Company) -> None:
    before = mark_of(address_for(company, "company"))
    stop_watching(using="default", plan=[])
    start_watching(using="default")
    assert mark_of(Address.objects.get()) == before
    assert Change.objects.filter(about=WATCHING).count() == 1


def test_the_next_day_is_told_anew(company: Company) -> None:
    address = address_for(company, "property")
    filing.current_file(address, NOW)
    asked = poll(address.digest, NOW)
    assert asked is not None
    midnight = datetime(2026, 10, 21, 6, 0, tzinfo=UTC)  # Denver, six hours behind in October
    assert asked.fresh((midnight - timedelta(seconds=1)).timestamp())
    assert not asked.fresh(midnight.timestamp())


def test_a_file_is_never_mixed_from_before_and_after_a_change(
    company: Company, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A change between two reads of one making is noticed, and the making begins anew."""
    address = address_for(company, "property")
    read, moments = queries.entries, iter([date(2026, 11, 4), date(2026, 11, 5)])

    def disturbed(*given: object) -> object:
        found = read(*given)  # type: ignore[arg-type]
        if (day := next(moments, None)) is not None:
            Visit.objects.update(day=day)
        return found

    monkeypatch.setattr(queries, "entries", disturbed)
    assert b"DTSTART;TZID=America/Denver:20261105T" in filing.current_file(address, NOW)


def test_a_file_that_never_settles_is_not_told_and_the_last_one_is(
    company: Company, monkeypatch: pytest.MonkeyPatch
) -> None:
    address, token = actions.issue(Audience.PROPERTY, company.property, name="owner", by=None)
    good = Browser().get(f"/calendars/{token}.ics")
    read = queries.entries

    def disturbed(*given: object) -> object:
        Visit.objects.update(minutes=50)
        return read(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(queries, "entries", disturbed)
    Visit.objects.update(day=date(2026, 11, 9))
    again = Browser().get(f"/calendars/{token}.ics")
    assert (again.status_code, again.content) == (200, good.content)
    CalendarFile.objects.all().delete()
    asked = poll(address.digest, NOW)
    assert asked is not None
    with pytest.raises(filing.Unsettled):
        filing.renew(asked, NOW)


# --- Patching -------------------------------------------------------------------------------------


def made_whole(address: Address, monkeypatch: pytest.MonkeyPatch) -> bytes:
    """The file as it would be made without looking at what changed, and nothing stored."""
    with monkeypatch.context() as patched, transaction.atomic():
        patched.setattr(filing, "_patched", lambda *_: None)
        body = filing.current_file(address, NOW)
        transaction.set_rollback(True)
    return body


def test_one_changed_visit_is_read_and_drawn_alone(company: Company, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(3, 13):
        add_visit(company.property, date(2026, 11, number + 2), add_task(company.property, number))
    address = address_for(company, "property")
    filing.current_file(address, NOW)
    drawn: list[object] = []

    def counted(event: FeedEvent) -> bytes:
        drawn.append(event.uid)
        return entry_bytes(event)

    monkeypatch.setattr(filing, "entry_bytes", counted)
    monkeypatch.setattr(queries, "entries", None)  # Who reads the whole would fail.
    visit = Visit.objects.get(day=date(2026, 11, 8))
    CareTask.objects.filter(visit_task__visit=visit).update(title="Other words")
    body = filing.current_file(address, NOW)
    assert b"Other words" in body
    assert drawn == [visit.uid]
    assert check(body) == []


CHANGES: list[Callable[[Visit, Company], object]] = [
    lambda visit, _: Visit.objects.filter(pk=visit.pk).update(day=visit.day + timedelta(1)),  # type: ignore[operator]
    lambda visit, _: Visit.objects.filter(pk=visit.pk).update(state="withdrawn"),
    lambda visit, _: Visit.objects.filter(pk=visit.pk).update(state="done"),
    lambda visit, _: Visit.objects.filter(pk=visit.pk).update(state="planned", announced=False),
    lambda visit, _: Visit.objects.filter(pk=visit.pk).update(arrives_at=None, leaves_at=None, state="done"),
    lambda visit, _: CareTask.objects.filter(visit_task__visit=visit).update(title="Water the pots"),
    lambda visit, _: CareTask.objects.filter(visit_task__visit=visit).update(state="withdrawn"),
    lambda visit, _: VisitTask.objects.filter(visit=visit).delete(),
    lambda _, company: add_visit(company.property, date(2026, 12, 1)),
    lambda _, company: add_task(company.property, 900 + CareTask.objects.count()),
    lambda _, company: add_task(company.property, 900 + CareTask.objects.count(), occurrence="2026-winter"),
    lambda *_: CareTask.objects.filter(occurrence="2026-winter").update(title="Plant now"),
    lambda _, company: Property.objects.filter(pk=company.property.pk).update(street="9 New Street"),
    lambda *_: InstalledThing.objects.update(name="Pump of the pond"),
]


@settings(max_examples=12, suppress_health_check=list(HealthCheck), database=None)
@given(steps=st.lists(st.lists(st.tuples(st.integers(0, 13), st.integers(0, 20)), max_size=3), max_size=5))
def test_a_patched_file_is_the_same_as_one_made_whole(steps: list[list[tuple[int, int]]]) -> None:
    with transaction.atomic(), pytest.MonkeyPatch.context() as monkeypatch:
        company = add_company()
        add_task(company.property, 800, occurrence="2026-winter", title="Plant winter colour")
        for number in range(4):
            add_visit(company.property, date(2026, 11, 3 + number), add_task(company.property, number))
        address = address_for(company, "property")
        filing.current_file(address, NOW)
        for step in steps:
            for which, number in step:
                visits = list(Visit.objects.order_by("pk"))
                CHANGES[which](visits[number % len(visits)], company)
            whole = made_whole(address, monkeypatch)
            assert filing.current_file(address, NOW) == whole
        transaction.set_rollback(True)


def test_many_notes_become_one_and_files_are_made_once_more(
    company: Company, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = address_for(company, "property")
    filing.current_file(address, NOW)
    before = mark_of(address)
    monkeypatch.setattr(actions, "NOTES_KEPT", 3)
    for number in range(20, 26):
        add_visit(company.property, date(2026, 11, number))
    after = mark_of(address)
    assert actions.sweep_notes() > 0
    assert actions.sweep_notes() == 0
    assert mark_of(address) not in (before, after)
    assert Change.objects.filter(about=f"property:{company.property.pk}").count() == 1
    assert b"20261125" in filing.current_file(address, NOW)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_change_that_commits_late_is_not_overlooked() -> None:
    """A transaction that began before a file was made and ends after a later change, on PostgreSQL."""
    company = add_company()
    visit = add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    later = add_visit(company.property, date(2026, 11, 10))
    address = address_for(company, "property")
    changed, commit = Event(), Event()

    def slowly() -> None:
        with transaction.atomic():
            Visit.objects.filter(pk=visit.pk).update(day=date(2026, 11, 4))
            changed.set()
            commit.wait(10)
        connection.close()

    thread = Thread(target=slowly)
    thread.start()
    assert changed.wait(10)
    Visit.objects.filter(pk=later.pk).update(day=date(2026, 11, 11))
    body = filing.current_file(address, NOW)  # it does not wait for the other
    assert b"20261103T" in body
    assert b"20261111T" in body
    commit.set()
    thread.join()
    assert b"20261104T" in filing.current_file(address, NOW)
