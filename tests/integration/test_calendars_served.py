"""How calendars answer programs that read them: RFC 9110 and the promises about secret addresses."""

import gzip
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.db import OperationalError, connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext

from landscape_care.calendars import actions, filing, queries, views
from landscape_care.calendars.checking import check
from landscape_care.calendars.models import Address, Audience, CalendarFile
from landscape_care.calendars.restraint import Buckets
from landscape_care.people.models import AuditEntry, Role, User
from tests.integration.calendars_company import CHANGED, Company, add_company, add_task, add_visit

pytestmark = [pytest.mark.django_db, pytest.mark.urls("landscape_care.calendars.urls")]
NOW = datetime(2026, 10, 20, 15, 0, tzinfo=UTC)


@pytest.fixture
def company() -> Company:
    return add_company()


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as travelling:
        yield travelling


@pytest.fixture
def token(company: Company, clock: object) -> str:
    add_visit(company.property, date(2026, 11, 3), add_task(company.property))
    return actions.issue(Audience.PROPERTY, company.property, name="owner", by=None)[1]


@pytest.fixture
def browser() -> Browser:
    return Browser()


def test_a_calendar_is_served_with_the_headers_a_secret_file_needs(browser: Browser, token: str) -> None:
    answer = browser.get(f"/calendars/{token}.ics")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Cache-Control"] == "private, no-cache"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["X-Robots-Tag"] == "noindex"
    assert answer["Content-Length"] == str(len(answer.content))
    assert answer["Vary"] == "Accept-Encoding"
    assert not answer.cookies
    assert check(answer.content) == []


def test_head_says_the_same_without_the_file(browser: Browser, token: str) -> None:
    get, head = browser.get(f"/calendars/{token}.ics"), browser.head(f"/calendars/{token}.ics")
    assert head.content == b""
    assert {name: head[name] for name in ("ETag", "Content-Length", "Last-Modified", "Content-Type")} == {
        name: get[name] for name in ("ETag", "Content-Length", "Last-Modified", "Content-Type")
    }


def test_gzip_comes_only_on_request_and_has_a_tag_of_its_own(browser: Browser, token: str) -> None:
    plain = browser.get(f"/calendars/{token}.ics")
    zipped = browser.get(f"/calendars/{token}.ics", headers={"accept-encoding": "br, gzip;q=0.5"})
    refused = browser.get(f"/calendars/{token}.ics", headers={"accept-encoding": "gzip;q=0, *"})
    assert "Content-Encoding" not in plain
    assert "Content-Encoding" not in refused
    assert zipped["Content-Encoding"] == "gzip"
    assert gzip.decompress(zipped.content) == plain.content == refused.content
    assert zipped["ETag"] != plain["ETag"]
    assert not plain["ETag"].startswith("W/")
    assert zipped["Content-Length"] == str(len(zipped.content))


@pytest.mark.parametrize("form", ["{tag}", "W/{tag}", '"old", {tag}', '"a,b", W/{tag}', "*"])
def test_a_reader_that_has_the_file_gets_304(browser: Browser, token: str, form: str) -> None:
    tag = browser.get(f"/calendars/{token}.ics")["ETag"]
    answer = browser.get(f"/calendars/{token}.ics", headers={"if-none-match": form.format(tag=tag)})
    assert (answer.status_code, answer.content) == (304, b"")
    assert answer["ETag"] == tag
    assert answer["Cache-Control"] == "private, no-cache"
    assert answer["Content-Length"] != "0"


def test_a_foreign_tag_wins_over_a_fitting_date(browser: Browser, token: str) -> None:
    first = browser.get(f"/calendars/{token}.ics")
    both = {"if-none-match": '"foreign"', "if-modified-since": first["Last-Modified"]}
    assert browser.get(f"/calendars/{token}.ics", headers=both).status_code == 200


def test_the_tag_of_the_other_encoding_does_not_fit(browser: Browser, token: str) -> None:
    tag = browser.get(f"/calendars/{token}.ics")["ETag"]
    headers = {"if-none-match": tag, "accept-encoding": "gzip"}
    assert browser.get(f"/calendars/{token}.ics", headers=headers).status_code == 200


def test_if_modified_since_is_answered_and_never_falsely(
    browser: Browser, token: str, company: Company, clock: time_machine.Traveller
) -> None:
    first = browser.get(f"/calendars/{token}.ics")
    since = {"if-modified-since": first["Last-Modified"]}
    assert browser.get(f"/calendars/{token}.ics", headers=since).status_code == 304
    assert (
        browser.get(f"/calendars/{token}.ics", headers={"if-modified-since": "nonsense"}).status_code == 200
    )
    # A visit that vanishes leaves no later date behind in the rows; the file differs all the same,
    # and it does so within the very second of the first answer.
    company.property.visits.update(day=date(2025, 1, 1))
    again = browser.get(f"/calendars/{token}.ics", headers=since)
    assert again.status_code == 200
    assert again.content != first.content
    assert again["Last-Modified"] != first["Last-Modified"]


def test_unknown_and_revoked_addresses_answer_alike(browser: Browser, token: str) -> None:
    address = queries.live_address(token)
    assert address is not None
    assert actions.revoke(address, by=None) is True
    assert actions.revoke(address, by=None) is False
    revoked, unknown = browser.get(f"/calendars/{token}.ics"), browser.get("/calendars/never-issued.ics")
    assert (revoked.status_code, unknown.status_code) == (404, 404)
    assert revoked.content == unknown.content
    assert dict(revoked.headers) == dict(unknown.headers)
    assert revoked["Content-Type"] == "text/plain; charset=utf-8"
    assert b"VCALENDAR" not in revoked.content


@pytest.mark.parametrize("method", ["post", "put", "delete", "patch", "options"])
def test_a_calendar_can_only_be_read(token: str, method: str) -> None:
    answer = getattr(Browser(enforce_csrf_checks=True), method)(f"/calendars/{token}.ics")
    assert answer.status_code == 405
    assert answer["Allow"] == "GET, HEAD"


def test_only_the_digest_of_a_token_is_stored(token: str) -> None:
    row = Address.objects.values().get()
    assert len(token) >= 43  # 256 bits in base64
    assert token not in str(row)
    assert len(row["hint"]) <= 6
    assert token not in str(list(AuditEntry.objects.values()))


def test_reading_is_noted_at_most_once_an_hour(
    browser: Browser, token: str, clock: time_machine.Traveller
) -> None:
    agent = {"user-agent": "Mozilla/5.0 (X11; Linux) Gecko/20100101 Thunderbird/153.0"}
    browser.get(f"/calendars/{token}.ics", headers=agent)
    first = Address.objects.get()
    assert (first.last_read_at, first.last_reader) == (NOW, "Thunderbird")
    clock.shift(timedelta(minutes=59))
    browser.get(f"/calendars/{token}.ics")
    assert Address.objects.get().last_read_at == NOW
    clock.shift(timedelta(minutes=1))
    browser.get(f"/calendars/{token}.ics")
    assert Address.objects.get().last_read_at == NOW + timedelta(hours=1)


def test_an_unchanged_poll_is_one_query_that_reads_and_an_empty_304(
    browser: Browser, token: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    tag = browser.get(f"/calendars/{token}.ics")["ETag"]
    monkeypatch.setattr(filing, "opening", None)  # Whoever renders would fail.
    with CaptureQueriesContext(connection) as seen:
        answer = browser.get(f"/calendars/{token}.ics", headers={"if-none-match": tag})
    assert (answer.status_code, answer.content, answer["ETag"]) == (304, b"", tag)
    assert [query["sql"].split()[0] for query in seen] == ["SELECT"]
    with CaptureQueriesContext(connection) as seen:
        assert browser.get(f"/calendars/{token}.ics").status_code == 200
    assert [query["sql"].split()[0] for query in seen] == ["SELECT", "SELECT"]  # the address, the file


def test_a_poll_nobody_listens_to_is_one_statement_too(browser: Browser, token: str) -> None:
    """Polls go past the layer that counts queries, so SQLite itself is asked what it executes."""
    if connection.vendor != "sqlite":
        pytest.skip("the driver of PostgreSQL tells nobody of its statements; the test above counts there")
    tag = browser.get(f"/calendars/{token}.ics")["ETag"]
    executed: list[str] = []
    connection.connection.set_trace_callback(executed.append)
    answer = browser.get(f"/calendars/{token}.ics", headers={"if-none-match": tag})
    connection.connection.set_trace_callback(None)
    assert answer.status_code == 304
    assert [statement.split()[0] for statement in executed] == ["SELECT"]


def test_who_asks_too_often_waits_and_others_do_not(
    browser: Browser, token: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(views, "buckets", Buckets(per_second=0.5, most=25))
    path = f"/calendars/{token}.ics"
    assert browser.get(path, REMOTE_ADDR="203.0.113.7").status_code == 200
    assert browser.get("/calendars/unknown-unknown-unknown.ics", REMOTE_ADDR="203.0.113.7").status_code == 404
    assert [browser.get(path, REMOTE_ADDR="203.0.113.7").status_code for _ in range(4)] == [
        200,
        200,
        200,
        429,
    ]
    with CaptureQueriesContext(connection) as seen:
        refused = browser.get(path, REMOTE_ADDR="203.0.113.7")
    assert (refused.status_code, refused["Retry-After"], len(seen)) == (429, "3", 0)
    assert b"VCALENDAR" not in refused.content
    assert browser.get(path, REMOTE_ADDR="203.0.113.8").status_code == 200
    assert browser.get(path).status_code == 200


def test_the_number_of_queries_does_not_grow_with_the_visits(
    browser: Browser, token: str, company: Company
) -> None:
    browser.get(f"/calendars/{token}.ics")
    with CaptureQueriesContext(connection) as few:
        browser.get(f"/calendars/{token}.ics")
    for number in range(2, 30):
        add_visit(company.property, date(2026, 11, 3) + timedelta(number), add_task(company.property, number))
    browser.get(f"/calendars/{token}.ics")
    with CaptureQueriesContext(connection) as many:
        browser.get(f"/calendars/{token}.ics")
    assert len(many) == len(few)


def test_while_the_database_is_away_the_last_good_file_is_served(
    browser: Browser, token: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    good = browser.get(f"/calendars/{token}.ics")

    def away(*_: object) -> None:
        raise OperationalError("the server closed the connection")

    monkeypatch.setattr(connection, "ensure_connection", away)
    again = browser.get(f"/calendars/{token}.ics")
    assert (again.status_code, again.content, again["ETag"]) == (200, good.content, good["ETag"])
    views.last_good.forget(queries.digest_of(token))
    empty_handed = browser.get(f"/calendars/{token}.ics")
    assert (empty_handed.status_code, empty_handed["Retry-After"]) == (503, "300")
    assert b"VCALENDAR" not in empty_handed.content


def test_a_fault_of_ours_does_not_reach_subscribers_even_after_a_restart(
    browser: Browser, token: str, company: Company
) -> None:
    good = browser.get(f"/calendars/{token}.ics")
    company.property.time_zone = "Nowhere/Land"
    company.property.save()
    views.last_good.forget(queries.digest_of(token))  # as in a process that has just started
    again = browser.get(f"/calendars/{token}.ics")
    assert (again.status_code, again.content, again["ETag"]) == (200, good.content, good["ETag"])
    since = {"if-none-match": good["ETag"]}
    assert browser.get(f"/calendars/{token}.ics", headers=since).status_code == 304
    views.last_good.forget(queries.digest_of(token))
    CalendarFile.objects.all().delete()
    empty_handed = browser.get(f"/calendars/{token}.ics")
    assert (empty_handed.status_code, b"VCALENDAR" in empty_handed.content) == (503, False)


def test_a_change_moves_sequence_last_modified_and_dtstamp_together(
    browser: Browser, token: str, company: Company
) -> None:
    before = browser.get(f"/calendars/{token}.ics").content.decode()
    assert browser.get(f"/calendars/{token}.ics").content.decode() == before
    visit = company.property.visits.get()
    visit.moved_from, visit.day, visit.revision = visit.day, date(2026, 11, 5), visit.revision + 1
    visit.changed_at = CHANGED + timedelta(days=2)
    visit.save()
    after = browser.get(f"/calendars/{token}.ics").content.decode()
    assert "SEQUENCE:0\r\n" in before
    assert "SEQUENCE:1\r\n" in after
    for name in ("DTSTAMP", "LAST-MODIFIED"):
        assert f"{name}:20261001T153000Z\r\n" in before
        assert f"{name}:20261003T153000Z\r\n" in after
    assert f"UID:{visit.uid}\r\n" in before
    assert f"UID:{visit.uid}\r\n" in after
    assert "DESCRIPTION:Moved from Tue 3 Nov." in after


def test_only_the_office_issues_and_revokes(company: Company, token: str) -> None:
    from django.core.exceptions import PermissionDenied

    crew = User.objects.create_user("crew", role=Role.CREW)
    office = User.objects.create_user("office", role=Role.OFFICE)
    address = queries.live_address(token)
    assert address is not None
    with pytest.raises(PermissionDenied):
        actions.issue(Audience.CREW, company.crew, name="phone", by=crew)
    with pytest.raises(PermissionDenied):
        actions.revoke(address, by=crew)
    actions.issue(Audience.CREW, company.crew, name="phone", by=office)
    assert AuditEntry.objects.filter(verb="issue address", by=office).count() == 1


@pytest.mark.parametrize(
    ("audience", "target", "language"),
    [("property", "crew", "en"), ("company", "crew", "en"), ("crew", None, "en"), ("crew", "crew", "fr")],
)
def test_an_address_that_fits_no_audience_is_refused(
    company: Company, audience: str, target: str | None, language: str
) -> None:
    thing = getattr(company, target) if target else None
    with pytest.raises(ValueError, match=r"right|wants|give None"):
        actions.issue(audience, thing, name="x", language=language, by=None)
    assert Address.objects.count() == 0
