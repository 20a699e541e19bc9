"""What calendars tell: the same as the database, to each audience what it needs, and never more."""

from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import ics
import pytest
import recurring_ical_events
import vobject
from django.core.management import CommandError, call_command
from icalendar import Calendar

from landscape_care.calendars import actions, queries
from landscape_care.calendars.checking import check
from landscape_care.calendars.feeds import Days, FeedEvent
from landscape_care.calendars.models import Address, Audience
from landscape_care.calendars.options import Options
from landscape_care.dispatch.models import Crew
from landscape_care.properties.models import Bed, Client
from landscape_care.visits.models import Visit, VisitTask
from tests.consumers.in_python import READERS
from tests.consumers.occurrences import expected
from tests.integration.calendars_company import (
    CHANGED,
    SECRETS,
    TODAY,
    Company,
    add_company,
    add_depot,
    add_property,
    add_route,
    add_task,
    add_visit,
)

pytestmark = pytest.mark.django_db
EVERY_AUDIENCE = ("property", "client", "crew", "depot", "company")


@pytest.fixture
def company() -> Company:
    return add_company()


def address_for(audience: str, company: Company, language: str = "en") -> Address:
    target = None if audience == "company" else getattr(company, audience)
    return actions.issue(audience, target, name=audience, language=language, by=None)[0]


def told(address: Address, today: date = TODAY) -> list[FeedEvent]:
    return queries.events(address, today)


def text_of(address: Address, today: date = TODAY) -> str:
    """The file as one text, unfolded."""
    return queries.calendar_file(address, today).decode().replace("\r\n ", "")


# --- The same as the database -----------------------------------------------------------------------


@pytest.mark.parametrize("zone", ["America/Denver", "America/Phoenix"])
@pytest.mark.parametrize("today", [date(2026, 10, 28), date(2027, 3, 10)])
def test_two_readers_find_the_visits_of_the_database_around_clock_changes(zone: str, today: date) -> None:
    """Clocks change in Denver on 1 Nov 2026 and 14 Mar 2027, in Phoenix never (IANA database)."""
    company = add_company(zone)
    states = ["published", "done", "published", "withdrawn"]
    visits = [
        add_visit(company.property, today + timedelta(n), state=states[n % 4], revision=n + 6)
        for n in range(-6, 12)
    ]
    add_route(company.crew, *visits)
    body = queries.calendar_file(address_for("crew", company), today)
    wanted = {_as_stored(visit, zone) for visit in visits}
    assert len(wanted) == 18
    assert check(body) == []
    assert _by_icalendar(body) == wanted
    assert _by_vobject(body) == wanted


def _as_stored(visit: Visit, zone: str) -> tuple[str, datetime, datetime, str]:
    assert visit.day
    assert visit.arrives_at
    assert visit.leaves_at
    starts = datetime.combine(visit.day, visit.arrives_at, ZoneInfo(zone)).astimezone(UTC)
    ends = datetime.combine(visit.day, visit.leaves_at, ZoneInfo(zone)).astimezone(UTC)
    return str(visit.uid), starts, ends, "CANCELLED" if visit.state == "withdrawn" else "CONFIRMED"


def _by_icalendar(body: bytes) -> set[tuple[str, datetime, datetime, str]]:
    calendar: Any = Calendar.from_ical(body)
    found: list[Any] = recurring_ical_events.of(calendar).between(date(2026, 1, 1), date(2028, 1, 1))
    return {
        (str(e["UID"]), e.start.astimezone(UTC), e.end.astimezone(UTC), str(e["STATUS"]))
        for e in found
        if isinstance(e.start, datetime)
    }


def _by_vobject(body: bytes) -> set[tuple[str, datetime, datetime, str]]:
    found = vobject.readOne(body.decode()).vevent_list
    return {
        (
            e.uid.value,
            e.dtstart.value.astimezone(UTC),
            e.dtend.value.astimezone(UTC),
            e.status.value,
        )
        for e in found
        if isinstance(e.dtstart.value, datetime)
    }


@pytest.mark.parametrize("zone", ["America/Denver", "America/Phoenix"])
@pytest.mark.parametrize("audience", [*EVERY_AUDIENCE, "windows"])
def test_four_libraries_find_in_every_calendar_what_the_database_tells(zone: str, audience: str) -> None:
    """UID, start, end and status; other programs are asked by `python -m tests.consumers`."""
    company = add_company(zone)
    _fill(company)
    changes = (date(2026, 10, 31), date(2026, 11, 1), date(2027, 3, 13), date(2027, 3, 14))
    for day in changes:
        for hour in (0, 1, 2, 9):
            add_visit(company.property, day, arrives_at=time(hour, 10), leaves_at=time(hour, 55))
    shows = {"windows": Options(shows="windows")}.get(audience, actions.USUAL)
    target = getattr(company, {"windows": "property"}.get(audience, audience), None)
    name = "property" if audience == "windows" else audience
    address = actions.issue(name, target, name="x", options=shows, by=None)[0]
    events = queries.entries(address, date(2027, 1, 20))[0]
    body = queries.calendar_file(address, date(2027, 1, 20))
    wanted = expected(events)
    assert len(wanted) >= (1 if audience == "windows" else 8)
    for library, read in READERS.items():
        assert read(body) == wanted, library


def test_a_list_to_do_says_what_is_due_done_or_off(company: Company) -> None:
    """RFC 5545, 3.6.2; read by icalendar, vobject and ics."""
    done = {
        "state": "done",
        "settled_on": date(2026, 10, 19),
        "changed_at": datetime(2026, 10, 19, 9, tzinfo=UTC),
    }
    off = {"state": "withdrawn", "changed_at": datetime(2026, 10, 18, 9, tzinfo=UTC)}
    tasks = {
        "NEEDS-ACTION": add_task(company.property, 1, due_on=date(2026, 10, 22)),
        "COMPLETED": add_task(company.property, 2, due_on=date(2026, 10, 19), **done),
        "CANCELLED": add_task(company.property, 3, due_on=date(2026, 10, 21), **off),
    }
    address = actions.issue("property", company.property, name="x", options=Options(shows="todos"), by=None)[
        0
    ]
    body = queries.calendar_file(address, TODAY)
    assert check(body) == []
    wanted = {(status, task.closes_on) for status, task in tasks.items()}
    calendar: Any = Calendar.from_ical(body)
    todos = calendar.walk("VTODO")
    assert {(str(each["STATUS"]), each["DUE"].dt) for each in todos} == wanted
    assert {
        (each.status.value, each.due.value) for each in vobject.readOne(body.decode()).vtodo_list
    } == wanted
    assert {(each.status, each.due.date()) for each in ics.Calendar(body.decode()).todos} == wanted
    assert [each["COMPLETED"].dt for each in todos if "COMPLETED" in each] == [done["changed_at"]]
    windows = actions.issue(
        "property", company.property, name="x", options=Options(shows="windows"), by=None
    )[0]
    twins = Calendar.from_ical(queries.calendar_file(windows, TODAY)).walk("VEVENT")
    assert len(twins) == len(todos)
    assert not {str(each["UID"]) for each in twins} & {str(each["UID"]) for each in todos}


def test_an_owner_reads_an_arrival_window_that_holds_the_planned_stop(company: Company) -> None:
    visit = add_visit(company.property, date(2026, 11, 3))
    address = address_for("property", company)
    denver = ZoneInfo("America/Denver")
    starts, ends = (datetime(2026, 11, 3, hour, 30, tzinfo=denver).astimezone(UTC) for hour in (8, 10))
    body = queries.calendar_file(address, TODAY)
    assert _by_icalendar(body) == _by_vobject(body) == {(str(visit.uid), starts, ends, "CONFIRMED")}
    (event,) = told(address)
    assert "We come between 8:30 am and 10:30 am; the work takes about 45 minutes." in event.description


@pytest.mark.parametrize("audience", EVERY_AUDIENCE)
@pytest.mark.parametrize("language", ["en", "es"])
def test_every_feed_passes_the_checker_and_stays_the_same(
    company: Company, audience: str, language: str
) -> None:
    _fill(company)
    address = address_for(audience, company, language)
    body = queries.calendar_file(address, TODAY)
    assert check(body) == []
    assert queries.calendar_file(address, TODAY) == body
    assert body.count(b"BEGIN:VEVENT") >= 4


def _fill(company: Company) -> None:
    """Visits of every state, seasonal care and a program, with a secret wherever one can stand."""
    settled = {"state": "skipped", "settled_on": date(2026, 10, 6), "skip_reason": "CANARY-SKIPPED"}
    done = {"state": "done", "settled_on": date(2026, 10, 6)}
    add_visit(
        company.property,
        date(2026, 10, 6),
        add_task(company.property, 1, **done),
        add_task(company.property, 2, title="Clear the skimmer", title_es="Limpiar el colector", **settled),
        state="done",
    )
    add_visit(company.property, date(2026, 10, 22), state="withdrawn", withdrawn_reason="CANARY-WITHDRAWN")
    note = {"lines": {"en": ["CANARY-FOLLOW-UP"], "es": ["CANARY-FOLLOW-UP"]}}
    follow_up = add_task(company.property, 3, cautions=["CHEM"], details=note)
    coming = add_visit(company.property, date(2026, 11, 3), follow_up)
    add_visit(company.property, date(2026, 11, 10), moved_from=date(2026, 11, 9), revision=1)
    add_visit(company.other, date(2026, 11, 3), add_task(company.other))
    add_season(company)
    add_program(company)
    add_route(company.crew, coming)


def add_season(company: Company, **values: Any) -> None:
    chosen: dict[str, Any] = {
        "rule": "swap-to-cool-season-colour",
        "stem": "planting",
        "occurrence": "2026-autumn",
        "title": "Plant winter colour",
        "title_es": "Plantar color de invierno",
        "due_on": date(2026, 10, 28),
        "details": {"lines": {"en": ["96 plants, 3 flats"], "es": ["96 plantas, 3 charolas"]}},
    }
    add_task(company.property, **chosen | values)


def add_program(company: Company, **values: Any) -> None:
    chosen: dict[str, Any] = {
        "rule": "irrigation-program",
        "stem": "irrigation",
        "occurrence": "2026-11",
        "title": "Set the November program",
        "title_es": "Poner el programa de noviembre",
        "due_on": date(2026, 11, 1),
        "details": {
            "lines": {
                "en": ["Z1: 12 min, Mon and Thu, 4:30", "Z9: unclear"],
                "es": ["Z1: 12 min, lun y jue, 4:30", "Z9: sin datos"],
            },
            "settings": {"Z1": {"set_minutes": 12, "set_weekdays": "14", "set_start": "04:30"}},
        },
    }
    add_task(company.property, 77, **chosen | values)


# --- Secrets ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("audience", ["property", "client"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_no_secret_reaches_an_owner(company: Company, audience: str, language: str) -> None:
    _fill(company)
    text = text_of(address_for(audience, company, language)).casefold()
    assert [secret for secret in SECRETS if secret.casefold() in text] == []


def test_the_secrets_are_where_the_canary_test_looks_for_them(company: Company) -> None:
    """Each secret is stored on a row that a feed reads, so the test above can fail."""
    _fill(company)
    rows = [company.property, company.other, company.client, company.crew, *Client.objects.all()]
    rows += [*company.property.visits.all(), *company.property.care_tasks.all()]
    stored = str([{name: getattr(row, name) for name in row.__dict__ if name[0] != "_"} for row in rows])
    assert [secret for secret in SECRETS if secret not in stored] == []


def test_a_crew_never_reads_a_gate_code_but_its_access_note(company: Company) -> None:
    _fill(company)
    text = text_of(address_for("crew", company))
    assert "CANARY-ACCESS" in text
    assert "7713" not in text
    assert "(code: see the crew page)" in text
    # The other garden is on its route, and a crew's follow-up is for the next crew.
    allowed = ("CANARY-ACCESS", "CANARY-CREW", "CANARY-OTHER-GARDEN", "CANARY-FOLLOW-UP")
    hidden = [secret for secret in SECRETS if secret not in allowed]
    assert [secret for secret in hidden if secret in text] == []


# --- Owners -----------------------------------------------------------------------------------------


def by_summary(events: list[FeedEvent]) -> dict[str, FeedEvent]:
    return {event.summary: event for event in events}


def test_an_owner_reads_what_is_done_what_to_expect_and_what_to_leave_open(company: Company) -> None:
    add_visit(company.property, date(2026, 11, 3), add_task(company.property, cautions=["CHEM"]))
    (event,) = told(address_for("property", company))
    assert event.summary == "Garden visit – 1 task"
    arrival, work, expect, leave_open = event.description.split("\n\n")
    assert arrival.startswith("We come between 8:30 am and 10:30 am")
    assert work.splitlines() == ["What we will do:", "- Backwash the sand filter"]
    assert expect.splitlines() == [
        "What to expect:",
        "- Pump and falling water may rest for a while.",
        "- A garden product is used: keep children and pets away until we say it is safe.",
    ]
    assert leave_open.splitlines() == [
        "Please leave open:",
        "- The way to the garden; pets indoors.",
        "- The tap or main valve that feeds the garden, turned on.",
        "- The way to the outlet, timer and transformer.",
    ]
    assert event.transparent
    assert event.place is None


def test_an_owner_may_read_spanish(company: Company) -> None:
    _fill(company)
    events = by_summary(told(address_for("property", company, "es")))
    assert "Visita al jardín – 1 tarea" in events
    assert "- Retrolavar el filtro de arena" in events["Visita al jardín – 1 tarea"].description
    assert "Cancelada: Visita al jardín" in events
    assert "Plantar color de invierno" in events


def test_a_visit_that_is_done_says_what_was_done_and_what_was_not(company: Company) -> None:
    _fill(company)
    event = by_summary(told(address_for("property", company)))["✓ Garden visit"]
    assert event.status == "CONFIRMED"
    assert event.description == (
        "What was done:\n- Backwash the sand filter\n\nNot done this time:\n- Clear the skimmer"
    )


def test_a_withdrawn_visit_stays_cancelled_for_fourteen_days_after_its_date(company: Company) -> None:
    day = date(2026, 10, 22)
    visit = add_visit(company.property, day, state="withdrawn", revision=2)
    address = address_for("property", company)
    (event,) = told(address, day + timedelta(14))
    assert (event.uid, event.status, event.sequence) == (visit.uid, "CANCELLED", 2)
    assert event.summary == "Cancelled: Garden visit"
    assert "This visit is cancelled. Nobody comes on Thu 22 Oct." in event.description
    assert [e.summary for e in told(address, day + timedelta(15))] == [
        "Care calendar set up, no visit planned yet"
    ]


def test_a_visit_taken_back_after_it_was_told_is_cancelled_in_words(company: Company) -> None:
    add_visit(company.property, state="planned", announced=True)
    (event,) = told(address_for("property", company))
    assert event.status == "CANCELLED"
    assert "If it is planned again, it shows up here." in event.description


def test_a_visit_nobody_was_told_of_is_not_shown(company: Company) -> None:
    add_visit(company.property, state="planned", announced=False)
    add_visit(company.property, state="withdrawn", announced=False)
    (event,) = told(address_for("property", company))
    assert event.summary == "Care calendar set up, no visit planned yet"


@pytest.mark.parametrize(("days_ago", "shown"), [(364, True), (365, True), (366, False)])
def test_a_done_visit_is_kept_for_a_year(company: Company, days_ago: int, shown: bool) -> None:
    add_visit(company.property, TODAY - timedelta(days_ago), state="done")
    assert ("✓ Garden visit" in by_summary(told(address_for("property", company)))) is shown


def test_a_new_calendar_is_valid_and_honest(company: Company) -> None:
    for audience in EVERY_AUDIENCE:
        address = address_for(audience, company)
        body = queries.calendar_file(address, TODAY)
        assert check(body) == []
        assert body == queries.calendar_file(address, TODAY + timedelta(40))
        assert body.count(b"BEGIN:VEVENT") == 1
        (event,) = told(address)
        assert event.summary in (
            "Calendar set up, no stops published yet",
            "Care calendar set up, no visit planned yet",
        )


def test_seasonal_care_lies_over_its_window_and_programs_on_their_day(company: Company) -> None:
    add_season(company)
    add_task(company.property, 2, rule="deadhead-colour")
    add_program(company)
    events = by_summary(told(address_for("property", company)))
    season, program = events["Plant winter colour"], events["New irrigation program"]
    assert len(events) == 2
    assert season.span == Days(date(2026, 10, 25), date(2026, 10, 31))
    assert season.description == "Planned between Sun 25 Oct and Sat 31 Oct.\n- 96 plants, 3 flats"
    assert season.categories == ("Care season",)
    assert program.span == Days(date(2026, 11, 1), date(2026, 11, 1))
    assert program.description == "- Z1: 12 min, Mon and Thu, 4:30"
    assert program.categories == ("Irrigation",)
    assert season.transparent
    assert program.transparent


def test_care_of_a_thing_names_it_by_its_tag(company: Company) -> None:
    place = company.property
    bed = Bed.objects.create(
        property=place,
        kind="bed",
        tag="B1",
        name="Entry bed",
        installed_on=TODAY,
        area_ft2=40,
        note="CANARY-NOTE",
    )
    add_season(company, thing=bed)
    visit = add_visit(place, date(2026, 11, 3), place.care_tasks.get())
    add_route(company.crew, visit)
    season = by_summary(told(address_for("property", company)))["Plant winter colour"]
    assert season.description.endswith("\n- B1 Entry bed: 96 plants, 3 flats")
    (stop,) = (event for event in told(address_for("crew", company)) if event.uid == visit.uid)
    assert "[ ] Plant winter colour · B1 Entry bed, 30 min\n    96 plants, 3 flats" in stop.description
    assert "CANARY-NOTE" not in season.description + stop.description


def test_one_season_on_several_beds_is_one_entry_whose_sequence_grows(company: Company) -> None:
    add_season(company, series="a", details={})
    address = address_for("property", company)
    (before,) = told(address)
    later = CHANGED + timedelta(days=1)
    add_task(
        company.property, 2, rule="swap-to-cool-season-colour", stem="planting", occurrence="2026-autumn",
        title="Plant winter colour", title_es="x", due_on=date(2026, 10, 29), changed_at=later,
    )  # fmt: skip
    (after,) = told(address)
    assert after.uid == before.uid
    assert (before.sequence, after.sequence) == (0, 1)
    assert after.changed_at == later
    withdrawn_at = datetime(2026, 10, 19, 12, tzinfo=UTC)
    company.property.care_tasks.update(state="withdrawn", revision=1, changed_at=withdrawn_at)
    (gone,) = told(address)
    assert (gone.uid, gone.status, gone.sequence) == (before.uid, "CANCELLED", 3)
    assert gone.description == "This is no longer planned."
    assert told(address, withdrawn_at.date() + timedelta(14))[0].uid == before.uid
    assert told(address, withdrawn_at.date() + timedelta(15))[0].uid != before.uid


def test_a_client_reads_all_own_gardens_by_name_and_no_other(company: Company) -> None:
    depot = add_depot("tucson", "America/Phoenix")
    second = add_property("casa-2", company.client, depot, name="Casa 2")
    add_visit(company.property, date(2026, 11, 3))
    add_visit(second, date(2026, 11, 4))
    add_visit(company.other, date(2026, 11, 5))
    address = address_for("client", company)
    assert sorted(event.summary for event in told(address)) == [
        "Casa 2: Garden visit",
        "Casa casa-14: Garden visit",
    ]
    assert {event.categories for event in told(address)} == {("Visit", "Casa 2"), ("Visit", "Casa casa-14")}
    body = text_of(address)
    assert body.count("BEGIN:VTIMEZONE") == 2


def test_a_long_calendar_keeps_what_is_nearest_and_says_that_it_was_cut(company: Company) -> None:
    for number in range(520):
        add_visit(company.property, TODAY + timedelta(number % 300), slot=f"n{number}")
    address = address_for("property", company)
    events = told(address)
    assert len(events) == 500
    assert max(event.first_day() for event in events) < TODAY + timedelta(300)
    assert "Shows the 500 entries nearest to today\\; 20 more are left out." in text_of(address)
    assert len(queries.calendar_file(address, TODAY)) < 450_000


# --- Crews and the office ---------------------------------------------------------------------------


def test_a_crew_reads_stops_in_order_with_all_it_needs(company: Company) -> None:
    second = add_visit(company.property, date(2026, 11, 3), arrives_at=time(10), leaves_at=time(11))
    tasks = [
        add_task(company.other, 1, cautions=["ELEC"], people=2),
        add_task(company.other, 2, state="done", settled_on=date(2026, 11, 3), title="Sweep"),
    ]
    first = add_visit(company.other, date(2026, 11, 3), *tasks, crew_name="renamed since")
    add_program(company)
    VisitTask.objects.create(visit=second, task=company.property.care_tasks.get())
    add_route(company.crew, first, second)
    address = address_for("crew", company)
    one, two, heading = sorted(told(address), key=lambda event: event.summary)
    assert [one.summary, two.summary] == ["1 · CANARY-OTHER-GARDEN", "2 · Casa casa-14"]
    assert heading.summary == "Crew day, CANARY-CREW"
    assert (heading.span, heading.changed_at) == (
        Days(date(2026, 11, 3), date(2026, 11, 3)),
        address.issued_at,
    )
    assert heading.url == one.url
    assert one.place == (35.1, -106.65)
    assert one.location == "14 Acequia Lane, Albuquerque"
    assert one.url.endswith("/crew/north/2026-11-03/")
    assert one.description.endswith(one.url)
    assert (
        "Access 7:00 am to 4:00 pm · CANARY-ACCESS: side gate, ••• (code: see the crew page)"
        in one.description
    )
    assert "! Electricity" in one.description
    assert "[ ] Backwash the sand filter, 30 min, 2 people" in one.description
    assert "[x] Sweep" in one.description
    assert "Leave set:\n    Z1: 12 min, Mon and Thu, 4:30\n    Z9: unclear" in two.description
    assert not one.transparent


def test_a_visit_given_to_another_crew_leaves_the_calendar_of_the_first(company: Company) -> None:
    south = Crew.objects.create(
        code="south", name="South", depot=company.depot, shift_opens=time(7), shift_closes=time(16)
    )
    visit = add_visit(company.property, date(2026, 11, 3))
    assert visit.uid in {event.uid for event in told(address_for("crew", company))}
    add_route(south, visit)
    assert told(address_for("crew", company))[0].summary == "Calendar set up, no stops published yet"
    address = actions.issue(Audience.CREW, south, name="s", by=None)[0]
    assert visit.uid in {event.uid for event in told(address)}


def test_the_office_reads_reasons_notes_and_visits_that_wait_for_a_day(company: Company) -> None:
    _fill(company)
    task = add_task(company.property, 9)
    add_visit(company.property, None, task, state="planned", announced=False, crew_name="")
    events = by_summary(told(address_for("depot", company)))
    waiting = events["No day yet: Casa casa-14"]
    assert waiting.status == "TENTATIVE"
    assert "about 30 minutes in all" in waiting.description
    assert "Reason: CANARY-WITHDRAWN" in events["Cancelled: Casa casa-14"].description
    assert any("CANARY-OFFICE-NOTE" in event.description for event in events.values())
    assert not any("7713" in event.description for event in events.values())


def test_a_depot_does_not_read_the_visits_of_another(company: Company) -> None:
    tucson = add_depot("tucson", "America/Phoenix")
    add_visit(add_property("far", company.client, tucson), date(2026, 11, 4))
    add_visit(company.property, date(2026, 11, 3))
    assert len(told(address_for("depot", company))) == 1
    assert len(told(address_for("company", company))) == 2


# --- Command ----------------------------------------------------------------------------------------


def test_the_command_issues_writes_and_checks(
    company: Company, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    add_visit(company.property)
    call_command("calendars", "--issue", "property", "casa-14", "--name", "owner, phone", "--language", "es")
    shown = capsys.readouterr().out
    token = shown.strip().rsplit("/", 1)[1].removesuffix(".ics")
    address = queries.live_address(token)
    assert address is not None
    assert (address.property, address.language, address.name) == (company.property, "es", "owner, phone")
    call_command("calendars", "--out", tmp_path)
    file = tmp_path / "property-casa-14-es.ics"
    assert check(file.read_bytes()) == []
    assert token.encode() not in file.read_bytes()
    call_command("calendars", "--check", str(file))
    assert "No fault found." in capsys.readouterr().out
    file.write_bytes(file.read_bytes()[:-40])
    with pytest.raises(CommandError, match="faults"):
        call_command("calendars", "--check", str(file))
    assert "RFC 5545 3.1: the last line does not end with CR LF" in capsys.readouterr().out


def test_the_command_issues_with_choices_and_names_a_wrong_one(company: Company) -> None:
    chosen = ["--shows", "visits", "--kinds", "water_feature", "planting", "--alarm-minutes", "90"]
    span = ["--past-days", "10", "--ahead-days", "60"]
    call_command("calendars", "--issue", "property", "casa-14", *chosen, *span)
    options = Address.objects.get().options()
    assert options == Options("visits", ("water_feature", "planting"), 10, 60, 90)
    for wrong, said in (
        (["--kinds", "pets"], "stems pets: some of"),
        (["--past-days", "900"], "past_days 900: 0 to 365 is right"),
        (["--shows", "windows", "--alarm-minutes", "5"], "whole days sound no alarm"),
    ):
        with pytest.raises(CommandError, match=said):
            call_command("calendars", "--issue", "property", "casa-14", *wrong)
    assert Address.objects.count() == 1


@pytest.mark.parametrize("words", [["property"], ["company", "x"], ["nobody", "x"], ["property", "unknown"]])
def test_the_command_refuses_an_address_for_nothing(company: Company, words: list[str]) -> None:
    with pytest.raises(CommandError):
        call_command("calendars", "--issue", *words)
    assert Address.objects.count() == 0
