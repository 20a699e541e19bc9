"""From the calendar back: links in entries, wishes for another day, addresses chosen and given anew."""

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
import time_machine
from django.core.management import call_command
from django.test import Client as Browser

from landscape_care.calendars import actions, filing, queries
from landscape_care.calendars.checking import check
from landscape_care.calendars.links import read_link, visit_link
from landscape_care.calendars.models import Address, CalendarFile
from landscape_care.calendars.options import Options
from landscape_care.people.models import AuditEntry, Role, User
from landscape_care.visits.actions import ask_another_day
from landscape_care.visits.models import DayRequest, Visit
from tests.integration.calendars_company import SECRETS, Company, add_company, add_task, add_visit

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 10, 20, 15, 0, tzinfo=UTC)
TODAY = NOW.date()


@pytest.fixture
def company() -> Iterator[Company]:
    with time_machine.travel(NOW, tick=False):
        yield add_company()


@pytest.fixture
def office(client: Browser) -> Browser:
    client.force_login(User.objects.create_user("office", role=Role.OFFICE))
    return client


def issued(company: Company, audience: str = "property", **options: object) -> tuple[Address, str]:
    target = None if audience == "company" else getattr(company, audience)
    chosen = Options(**options)  # type: ignore[arg-type]
    return actions.issue(audience, target, name="Owner, phone", options=chosen, by=None)


def file_of(address: Address) -> str:
    body = filing.current_file(address, NOW)
    assert check(body) == []
    return body.decode().replace("\r\n ", "")


# --- Another day ------------------------------------------------------------------------------------


def link_in(address: Address) -> str:
    found = re.search(r"URL:https?://[^/]+(/garden/visit/\S+)", file_of(address).partition("BEGIN:VEVENT")[2])
    assert found
    return found[1]


def test_an_owners_entry_leads_to_a_page_where_another_day_is_asked_for(company: Company) -> None:
    visit = add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    address, _ = issued(company)
    link = link_in(address)
    assert f"To ask for another day: http://127.0.0.1:8000{link}" in file_of(address)
    owner = Browser(enforce_csrf_checks=True)  # as from a mail program: no cookie, no referrer
    page = owner.get(link).content.decode()
    assert "Backwash the sand filter" in page
    assert [secret for secret in SECRETS if secret in page] == []
    answer = owner.post(link, {"words": "Thursday, or any afternoon"})
    assert "Your wish is with the office" in answer.content.decode()
    wish = DayRequest.objects.get()
    assert (wish.visit, wish.day, wish.words) == (visit, date(2026, 11, 3), "Thursday, or any afternoon")
    # It moved nothing, and asking again adds nothing.
    assert Visit.objects.get().revision == visit.revision
    owner.post(link, {"words": "Friday"})
    assert list(DayRequest.objects.values_list("words", flat=True)) == ["Friday"]
    assert AuditEntry.objects.filter(verb="ask another day").count() == 1


def test_the_office_sees_a_wish_and_settles_it(company: Company, office: Browser) -> None:
    visit = add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    ask_another_day(visit, "<b>Thursday</b>", today=TODAY)
    page = office.get("/").content.decode()
    assert "Another day, please" in page
    assert "&lt;b&gt;Thursday&lt;/b&gt;" in page
    wish = DayRequest.objects.get()
    office.post(f"/day-requests/{wish.pk}/settle/", {"answer": "moved to Thursday"})
    wish.refresh_from_db()
    assert (wish.answer, wish.settled_by) == ("moved to Thursday", User.objects.get(username="office"))
    assert "Another day, please" not in office.get("/").content.decode()


def test_a_visit_that_was_moved_has_answered_its_wish(company: Company, office: Browser) -> None:
    visit = add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    ask_another_day(visit, "", today=TODAY)
    Visit.objects.update(day=date(2026, 11, 5))
    assert "Another day, please" not in office.get("/").content.decode()


@pytest.mark.parametrize(
    ("state", "day"), [("published", date(2026, 10, 19)), ("done", date(2026, 11, 3)), ("withdrawn", None)]
)
def test_what_is_over_can_no_longer_be_moved(company: Company, state: str, day: date | None) -> None:
    visit = add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    address, _ = issued(company)
    link = link_in(address)
    Visit.objects.update(state=state, **({"day": day} if day else {}))
    answer = Browser().post(link, {"words": "Thursday"})
    assert answer.status_code == 422
    assert "call the office" in answer.content.decode()
    assert not DayRequest.objects.filter(visit=visit).exists()


def test_a_link_falls_silent_with_its_address_and_opens_nothing_else(company: Company) -> None:
    add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    strange = add_visit(company.other, date(2026, 11, 3), add_task(company.other, 2))
    address, token = issued(company)
    link = link_in(address)
    assert token not in file_of(address)
    forged = visit_link(address.pk, strange.uid).partition("8000")[2]
    crew, _ = issued(company, "crew")
    crews = visit_link(crew.pk, strange.uid).partition("8000")[2]
    altered = link[:-3] + ("aa/" if link[-3:] != "aa/" else "bb/")
    assert [Browser().get(each).status_code for each in (link, forged, crews, altered)] == [
        200,
        404,
        404,
        404,
    ]
    assert read_link("1-nothing.signed") is None
    actions.revoke(address, by=None)
    assert Browser().get(link).status_code == 404


# --- Choices ------------------------------------------------------------------------------------------


def _season(company: Company) -> None:
    add_task(
        company.property,
        5,
        rule="winter-colour",
        occurrence="2026-winter",
        title="Plant winter colour",
        stem="planting",
        due_on=date(2026, 11, 10),
    )


def test_an_address_may_show_visits_alone_or_the_season_alone(company: Company) -> None:
    add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    _season(company)
    shown = {
        shows: [event.summary for event in queries.events(issued(company, shows=shows)[0], TODAY)]
        for shows in ("all", "visits", "seasons")
    }
    visit, season = "Garden visit – 1 task", "Plant winter colour"
    assert shown == {"all": [visit, season], "visits": [visit], "seasons": [season]}


def test_care_windows_are_whole_days_and_say_what_became_of_them(company: Company) -> None:
    add_task(company.property, 1)
    add_task(
        company.property,
        2,
        title="Done one",
        state="done",
        settled_on=date(2026, 10, 18),
        due_on=date(2026, 10, 18),
    )
    add_task(
        company.property, 3, title="Gone one", state="withdrawn", due_on=date(2026, 10, 25), changed_at=NOW
    )
    add_task(company.property, 4, title="Long gone", state="withdrawn", due_on=date(2026, 10, 25))
    address, _ = issued(company, shows="windows")
    found = {event.summary: event for event in queries.events(address, TODAY)}
    assert set(found) == {"Backwash the sand filter", "✓ Done one", "Cancelled: Gone one"}
    window = found["Backwash the sand filter"]
    assert str(window.span) == "Days(first=datetime.date(2026, 10, 31), last=datetime.date(2026, 11, 6))"
    assert window.transparent
    assert found["Cancelled: Gone one"].status == "CANCELLED"
    text = file_of(address)
    assert "DTSTART;VALUE=DATE:20261031\r\nDTEND;VALUE=DATE:20261107" in text
    assert "X-WR-CALNAME:Care windows: Casa casa-14" in text
    assert [secret for secret in SECRETS if secret in text] == []


def test_kinds_of_care_narrow_a_visit_and_leave_out_others(company: Company) -> None:
    water = add_task(company.property, 1)
    light = add_task(company.property, 2, stem="lighting", title="Reset the timer")
    add_visit(company.property, date(2026, 11, 3), water, light)
    add_visit(company.property, date(2026, 11, 5), add_task(company.property, 3))
    address, _ = issued(company, stems=("lighting",))
    (event,) = queries.events(address, TODAY)
    assert event.summary == "Garden visit – 1 task"
    assert "Reset the timer" in event.description
    assert "Backwash" not in event.description


def test_how_far_back_and_ahead_is_chosen_for_an_address(company: Company) -> None:
    for away in (-20, -5, 5, 40):
        add_visit(company.property, TODAY + timedelta(away), add_task(company.property, away + 50))
    address, _ = issued(company, past_days=7, ahead_days=30)
    days = [event.first_day() - TODAY for event in queries.events(address, TODAY)]
    assert days == [timedelta(-5), timedelta(5)]


def test_an_alarm_sounds_for_what_is_still_to_come(company: Company) -> None:
    add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    add_visit(company.property, date(2026, 10, 5), add_task(company.property, 2), state="done")
    for audience in ("property", "crew", "company"):
        text = file_of(issued(company, audience, alarm_minutes=60)[0])
        assert text.count("BEGIN:VALARM\r\nACTION:DISPLAY\r\nTRIGGER:-PT1H\r\n") == 1


@pytest.mark.parametrize(
    ("audience", "options"),
    [
        ("crew", {"shows": "windows"}),
        ("crew", {"stems": ("lighting",)}),
        ("depot", {"shows": "seasons"}),
        ("property", {"shows": "windows", "alarm_minutes": 10}),
    ],
)
def test_choices_that_fit_no_audience_are_refused(
    company: Company, audience: str, options: dict[str, object]
) -> None:
    with pytest.raises(ValueError, match=r"choose|leave it empty"):
        issued(company, audience, **options)


def test_a_choice_made_anew_is_told_at_the_next_reading(company: Company) -> None:
    add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    _season(company)
    address, token = issued(company)
    path, browser = f"/calendars/{token}.ics", Browser()
    tag = browser.get(path)["ETag"]
    actions.choose(address, Options(shows="visits"), by=None)
    answer = browser.get(path, headers={"if-none-match": tag})
    assert (answer.status_code, answer.content.count(b"BEGIN:VEVENT")) == (200, 1)


# --- Given anew -----------------------------------------------------------------------------------------


def test_an_address_given_anew_shows_the_same_and_silences_the_old_one(company: Company) -> None:
    add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    address, token = issued(company, shows="visits", ahead_days=30)
    browser = Browser()
    before = browser.get(f"/calendars/{token}.ics")
    fresh, new_token = actions.reissue(address, by=None)
    assert (fresh.name, fresh.options(), fresh.property) == (
        address.name,
        address.options(),
        company.property,
    )
    assert browser.get(f"/calendars/{token}.ics").status_code == 404
    after = browser.get(f"/calendars/{new_token}.ics")
    uid = re.compile(rb"UID:(\S+)")
    assert uid.findall(after.content) == uid.findall(before.content)
    assert not CalendarFile.objects.filter(address=address).exists()
    with pytest.raises(actions.AlreadySilent):
        actions.reissue(address, by=None)


# --- Pages ----------------------------------------------------------------------------------------------


def test_the_office_makes_chooses_and_renews_an_address_of_any_sort(
    company: Company, office: Browser
) -> None:
    given = {
        "audience": "depot",
        "target": "albuquerque",
        "name": "Wall screen",
        "language": "es",
        "shows": "windows",
        "stems": ["lighting"],
        "ahead_days": "30",
    }
    page = office.post("/addresses/", given).content.decode()
    (first,) = re.findall(r"/calendars/([\w-]{32,})\.ics", page)[:1]
    assert "webcal://" in page
    assert "<svg" in page
    Browser().get(f"/calendars/{first}.ics", headers={"user-agent": "Reader/2.0"})
    address = Address.objects.get()
    assert address.options() == Options(shows="windows", stems=("lighting",), ahead_days=30)
    listed = office.get("/addresses/").content.decode()
    assert "Wall screen" in listed
    assert "(Reader)" in listed
    assert first not in listed
    assert office.post(f"/addresses/{address.pk}/", {"shows": "seasons"}).status_code == 422
    assert office.post(f"/addresses/{address.pk}/", {"shows": "visits"}).status_code == 302
    page = office.post(f"/addresses/{address.pk}/reissue/").content.decode()
    (second,) = re.findall(r"/calendars/([\w-]{32,})\.ics", page)[:1]
    assert Browser().get(f"/calendars/{first}.ics").status_code == 404
    assert Browser().get(f"/calendars/{second}.ics").status_code == 200
    assert Address.objects.get(revoked_at=None).options() == Options(shows="visits")


@pytest.mark.parametrize(
    "wrong",
    [{"target": "nowhere"}, {"target": ""}, {"audience": "crew", "target": "north", "shows": "seasons"}],
)
def test_an_address_that_cannot_be_is_refused_beside_its_field(
    company: Company, office: Browser, wrong: dict[str, str]
) -> None:
    given = {"audience": "property", "target": "casa-14", "name": "x", "language": "en", "shows": "all"}
    assert office.post("/addresses/", given | wrong).status_code == 422
    assert not Address.objects.exists()


def test_how_to_subscribe_is_told_to_everybody_and_says_that_calendars_lag(client: Browser) -> None:
    page = client.get("/subscribing/").content.decode()
    assert "Calendars lag." in page
    assert "On a phone" in page


def test_wishes_and_addresses_are_for_the_office(company: Company, client: Browser) -> None:
    client.force_login(User.objects.create_user("crew", role=Role.CREW))
    visit = add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    wish = ask_another_day(visit, "", today=TODAY)
    assert client.get("/addresses/").status_code == 403
    assert client.post(f"/day-requests/{wish.pk}/settle/").status_code == 403


def test_every_address_has_a_file_of_its_own_when_calendars_are_written_out(
    company: Company, tmp_path: Path
) -> None:
    add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    _, token = issued(company)
    _, windows = issued(company, shows="windows")
    other, short = issued(company, past_days=3)
    call_command("calendars", "--out", str(tmp_path))
    names = {"property-casa-14-en", "property-casa-14-en-windows", f"property-casa-14-en-{other.hint}"}
    assert {file.stem for file in tmp_path.iterdir()} == names
    served = {
        "property-casa-14-en": Browser().get(f"/calendars/{token}.ics").content,
        "property-casa-14-en-windows": Browser().get(f"/calendars/{windows}.ics").content,
        f"property-casa-14-en-{other.hint}": Browser().get(f"/calendars/{short}.ics").content,
    }
    assert {file.stem: file.read_bytes() for file in tmp_path.iterdir()} == served


@pytest.mark.parametrize("shows", ["all", "windows"])
@pytest.mark.parametrize("audience", ["property", "client"])
def test_no_choice_lets_an_owner_read_what_is_not_theirs(company: Company, audience: str, shows: str) -> None:
    thing = {"skip_reason": "CANARY-SKIPPED", "state": "skipped", "settled_on": date(2026, 10, 19)}
    task = add_task(company.property, 1)
    add_visit(company.property, date(2026, 11, 3), task)
    add_task(company.property, 2, due_on=date(2026, 10, 19), **thing)
    add_visit(company.property, date(2026, 10, 25), state="withdrawn", withdrawn_reason="CANARY-WITHDRAWN")
    add_visit(company.other, date(2026, 11, 4), add_task(company.other, 3))
    text = file_of(issued(company, audience, shows=shows)[0])
    assert "Backwash" in text
    assert [secret for secret in SECRETS if secret in text] == []
