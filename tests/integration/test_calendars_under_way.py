"""Calendars are read while a month is published, and while the broker is away: old or new, never mixed."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from threading import Event, Thread

import pytest
import redis.connection
import time_machine
from django.db import connection, transaction
from django.test import Client as Browser

from landscape_care.calendars import actions as calendars
from landscape_care.calendars.models import CalendarFile
from landscape_care.dispatch import actions as dispatch
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Visit
from tests.integration import calendars_company, dispatch_company
from tests.integration.dispatch_company import MONDAY

pytestmark = [pytest.mark.urls("landscape_care.calendars.urls")]
NOW = datetime(2026, 11, 30, 16, 0, tzinfo=UTC)
ROUNDS = 12
_ENTRY = re.compile(rb"BEGIN:VEVENT\r\nUID:([\w-]+).*?DTSTART[^:]*:(\w+)", re.S)
Entries = frozenset[tuple[bytes, bytes]]


def entries(body: bytes) -> Entries:
    """UID and start of each entry."""
    return frozenset(_ENTRY.findall(body))


@contextmanager
def readers(tokens: list[str]) -> Iterator[dict[str, set[Entries]]]:
    """Programs that read all the time, each one calendar; what they saw by its token."""
    seen: dict[str, set[Entries]] = {token: set() for token in tokens}
    faults: list[object] = []
    over = Event()

    def read(token: str) -> None:
        browser, tag = Browser(), ""
        while not over.is_set():
            answer = browser.get(f"/calendars/{token}.ics", headers={"if-none-match": tag})
            if answer.status_code == 200:
                tag = answer["ETag"]
                seen[token].add(entries(answer.content))
            elif answer.status_code != 304:
                faults.append((answer.status_code, answer.content))
        connection.close()

    threads = [Thread(target=read, args=[token]) for token in tokens for _ in range(2)]
    for thread in threads:
        thread.start()
    try:
        yield seen
    finally:
        over.set()
        for thread in threads:
            thread.join()
    assert faults == []


def read_once(tokens: list[str]) -> dict[str, Entries]:
    return {token: entries(Browser().get(f"/calendars/{token}.ics").content) for token in tokens}


def issued(**targets: object) -> list[str]:
    return [
        calendars.issue(audience, target, name=audience, by=None)[1]  # type: ignore[arg-type]
        for audience, target in targets.items()
    ]


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_while_visits_move_together_readers_see_them_before_or_after() -> None:
    """Ten visits move to and fro, each round in one transaction of ten statements."""
    company = calendars_company.add_company()
    days = [date(2026, 12, 7) + timedelta(number) for number in range(10)]
    moved = [calendars_company.add_visit(company.property, day).pk for day in days]
    tokens = issued(property=company.property, client=company.client, crew=company.crew, company=None)
    with time_machine.travel(NOW):
        before = read_once(tokens)
        with readers(tokens) as seen:
            for step in range(ROUNDS):
                with transaction.atomic():
                    for pk, day in zip(moved, days, strict=True):
                        Visit.objects.filter(pk=pk).update(day=day + timedelta(28 * (1 - step % 2)))
        Visit.objects.filter(pk__in=moved).update(revision=ROUNDS)
        home = read_once(tokens)
        with transaction.atomic():
            for pk, day in zip(moved, days, strict=True):
                Visit.objects.filter(pk=pk).update(day=day + timedelta(28))
        away = read_once(tokens)
    assert home == before
    for token in tokens:
        assert len(before[token]) >= 10
        assert away[token] != before[token]
        assert seen[token] <= {before[token], away[token]}
        assert len(seen[token]) == 2, "nobody read between two rounds, so nothing was tried"


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_while_a_month_is_published_readers_see_none_of_it_or_all_of_it() -> None:
    company = dispatch_company.add_company(gardens=3)
    for number, garden in enumerate(company.gardens):
        for week in range(3):
            opens = MONDAY + timedelta(1 + 7 * week)
            dispatch_company.add_task(garden, f"care{number}-{week}", opens, opens + timedelta(6))
        visits.bundle_property(garden.pk, today=MONDAY)
    tokens = issued(client=company.gardens[0].client, crew=company.crew, depot=company.depot)
    with time_machine.travel(NOW):
        plan = dispatch.propose(company.depot, date(2026, 12, 1), by=company.office, today=MONDAY, seconds=1)
        dispatch.solve_plan(plan.pk, today=MONDAY)
        before = read_once(tokens)
        with readers(tokens) as seen:
            dispatch.publish(plan.pk, by=company.office, today=MONDAY)
        after = read_once(tokens)
    for token in tokens:
        assert seen[token]
        assert seen[token] <= {before[token], after[token]}
    assert len(after[tokens[0]]) > len(before[tokens[0]])
    assert Visit.objects.filter(state="published").count() == len(after[tokens[0]])


@pytest.mark.both
@pytest.mark.django_db
def test_calendars_need_no_broker(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever would ask it is refused, as by a broker that is away; nobody does."""
    asked: list[object] = []

    def away(self: object, *_: object, **__: object) -> None:
        asked.append(self)
        raise redis.ConnectionError("away")

    monkeypatch.setattr(redis.connection.AbstractConnection, "connect", away)
    company = calendars_company.add_company()
    visit = calendars_company.add_visit(company.property, date(2026, 12, 7))
    (token,) = issued(property=company.property)
    browser, path = Browser(), f"/calendars/{token}.ics"
    with time_machine.travel(NOW):
        first = browser.get(path)
        assert first.status_code == 200
        assert browser.get(path, headers={"if-none-match": first["ETag"]}).status_code == 304
        Visit.objects.filter(pk=visit.pk).update(day=date(2026, 12, 8))
        assert b"20261208" in browser.get(path).content
        CalendarFile.objects.all().delete()
        assert b"20261208" in browser.get(path).content
    assert asked == []
