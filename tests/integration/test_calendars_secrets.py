"""Whatever a company writes down reaches no owner's calendar or page, unless it is listed here as told.

A word of its own is planted into every text of every row, so a column that is added later is
a secret until somebody lists it.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from itertools import count
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.apps import apps
from django.db import models
from django.test import Client as Browser
from django.utils import timezone

from landscape_care.calendars import actions, filing
from landscape_care.calendars.models import Address
from landscape_care.calendars.options import Options
from landscape_care.care.models import CareTask, Report, RuleAdjustment
from landscape_care.dispatch.models import CrewDayOff, PreferredCrew
from landscape_care.people.models import AuditEntry, Role, User
from landscape_care.properties.models import InstalledThing, ThingChange
from landscape_care.visits.models import Completion, DayRequest, Visit
from tests.integration.calendars_company import (
    Company,
    add_company,
    add_property,
    add_route,
    add_task,
    add_visit,
)

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 10, 20, 15, 0, tzinfo=UTC)
ROOMS = ("people", "properties", "care", "visits", "dispatch")
# What owners are told of their own garden.
TOLD = {
    *("properties.Property.name", "properties.Property.street", "properties.Property.town"),
    *("properties.Client.name", "properties.InstalledThing.tag", "properties.InstalledThing.name"),
    *("care.CareTask.title", "care.CareTask.title_es"),
}
# Names by which the house finds its way; another word there would make another company.
NAMES = {
    *("properties.Property.code", "properties.Property.time_zone", "properties.Property.climate"),
    *("properties.Property.watering_weekdays", "properties.Agreement.weekdays", "properties.Agreement.stems"),
    *("properties.Depot.time_zone", "properties.Depot.holiday_region", "properties.Depot.holidays_worked"),
    *("care.CareTask.rule", "care.CareTask.stem", "care.CareTask.series", "care.CareTask.occurrence"),
    *("care.CareTask.cautions", "care.CareTask.details", "visits.Visit.weekdays", "dispatch.Crew.weekdays"),
    *("properties.InstalledThing.outline", "properties.ThingChange.field", "care.RuleAdjustment.rule"),
}
TEXTS = (models.CharField, models.TextField, models.JSONField)


def add_everything() -> Company:
    """Rows of every sort, also for a stranger, in every state."""
    company, office = add_company(), User.objects.create_user("office", role=Role.OFFICE)
    company.crew.members.add(User.objects.create_user("lead", role=Role.CREW))
    for place in (
        company.property,
        company.other,
        add_property("third", company.other.client, company.depot),
    ):
        _add_to(place, company, office)
    add_route(company.crew, *Visit.objects.filter(day=date(2026, 11, 3)))
    CrewDayOff.objects.create(crew=company.crew, day=date(2026, 11, 20), reason="x")
    return company


def _add_to(place: Any, company: Company, office: User) -> None:
    thing = InstalledThing.objects.create(
        property=place, kind="pump", tag="P1", installed_on=date(2026, 1, 5)
    )
    ThingChange.objects.create(thing=thing, field="note", was="x", now="y", reason="x", by=office)
    done = add_task(place, 1, thing=thing, state="done", settled_on=date(2026, 10, 6))
    skipped = add_task(place, 2, state="skipped", settled_on=date(2026, 10, 6), skip_reason="x")
    past = add_visit(place, date(2026, 10, 6), done, skipped, state="done")
    for task, outcome in ((done, "done"), (skipped, "skipped")):
        row = {"outcome": outcome, "reason": "x", "done_on": date(2026, 10, 6), "by": office}
        Completion.objects.create(id=uuid4(), visit=past, task=task, **row)
    coming = add_visit(place, date(2026, 11, 3), add_task(place, 3, thing=thing, cautions=["CHEM"]))
    add_visit(place, date(2026, 10, 22), state="withdrawn", withdrawn_reason="x")
    add_visit(place, None, state="planned", announced=False)
    add_task(place, 4, occurrence="2026-autumn", due_on=date(2026, 10, 28), stem="planting")
    DayRequest.objects.create(visit=coming, day=date(2026, 11, 3), words="x", answer="x")
    Report.objects.create(property=place, kind="storm", happened_on=date(2026, 10, 3), note="x", by=office)
    RuleAdjustment.objects.create(property=place, rule="sand-filter-backwash", minutes=40, reason="x")
    PreferredCrew.objects.create(property=place, crew=company.crew)


def plant() -> dict[str, str]:
    """Write a word of its own into every text that is not told; where each stands, by word."""
    words, planted = count(), {}
    for model in apps.get_models():
        if model._meta.app_label not in ROOMS or model is AuditEntry:  # whose rows are never changed
            continue
        for field in model._meta.local_concrete_fields:
            name = f"{model._meta.label}.{field.name}"
            if isinstance(field, TEXTS) and not field.choices and name not in TOLD | NAMES:
                for row in model._default_manager.values_list("pk", flat=True):
                    word = f"zq{next(words):04}"
                    value: object = [[word, word]] if isinstance(field, models.JSONField) else word
                    model._default_manager.filter(pk=row).update(**{field.name: value})
                    planted[word] = name
    return planted


@pytest.fixture
def company() -> Iterator[Company]:
    with time_machine.travel(NOW, tick=False):
        yield add_everything()


@pytest.fixture
def planted(company: Company) -> dict[str, str]:
    # A stranger's garden is a secret as a whole, also what its own owner is told.
    words = plant()
    for number, name in enumerate(("name", "street", "town")):
        type(company.other).objects.exclude(pk=company.property.pk).update(**{name: f"qx{number}"})
        words[f"qx{number}"] = f"a stranger's {name}"
    CareTask.objects.exclude(property=company.property).update(title="qx8", title_es="qx9")
    return words | {"qx8": "a stranger's care", "qx9": "a stranger's care"}


def found_in(text: str, planted: dict[str, str]) -> dict[str, str]:
    return {word: where for word, where in planted.items() if word in text}


def issued(company: Company, audience: str, language: str, shows: str) -> tuple[Address, str]:
    target = None if audience == "company" else getattr(company, audience)
    return actions.issue(audience, target, name="x", language=language, options=Options(shows=shows), by=None)


@pytest.mark.parametrize("shows", ["all", "windows", "todos"])
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("audience", ["property", "client"])
def test_no_planted_word_reaches_an_owners_calendar(
    company: Company, planted: dict[str, str], audience: str, language: str, shows: str
) -> None:
    address, _ = issued(company, audience, language, shows)
    text = filing.current_file(address, timezone.now()).decode().replace("\r\n ", "")
    assert text.count("\r\nSUMMARY:") >= 3
    assert found_in(text, planted) == {}


@pytest.mark.parametrize("audience", ["property", "client"])
def test_no_planted_word_reaches_an_owners_pages(
    company: Company, planted: dict[str, str], audience: str
) -> None:
    address, token = issued(company, audience, "en", "all")
    file = filing.current_file(address, timezone.now()).decode().replace("\r\n ", "")
    visit = next(line for line in file.splitlines() if "/garden/visit/" in line).partition("/garden/")[2]
    for page in (f"/garden/{token}/", f"/garden/{visit}", "/subscribing/"):
        answer = Browser().get(page)
        assert answer.status_code == 200, page
        assert found_in(answer.content.decode(), planted) == {}, page


@pytest.mark.parametrize("audience", ["crew", "depot", "company"])
def test_what_the_company_reads_in_calendars_holds_no_codes_and_nothing_of_people(
    company: Company, planted: dict[str, str], audience: str
) -> None:
    """These lie on phones and with strangers' servers too; codes stay behind the sign-in."""
    address, _ = issued(company, audience, "en", "all")
    text = filing.current_file(address, timezone.now()).decode().replace("\r\n ", "")
    told = set(found_in(text, planted).values())
    assert not {name for name in told if name.split(".")[0] == "people" or "gate_code" in name}
    assert not {f"properties.Client.{name}" for name in ("email", "phone", "note", "code")} & told
    assert not {name for name in told if name.startswith(("visits.Completion", "visits.DayRequest"))}


def test_words_are_planted_where_secrets_stand(company: Company, planted: dict[str, str]) -> None:
    assert {
        *("properties.Property.gate_code", "properties.Property.access_note", "properties.Client.phone"),
        *("properties.Client.email", "properties.Client.note", "properties.InstalledThing.note"),
        *("care.CareTask.skip_reason", "care.Report.note", "care.RuleAdjustment.reason"),
        *("visits.Visit.withdrawn_reason", "visits.Visit.notes", "visits.Visit.crew_name"),
        *("visits.Completion.note", "visits.Completion.reason", "visits.DayRequest.answer"),
        *("people.User.username", "people.User.email", "dispatch.Crew.name"),
    } <= set(planted.values())
    assert len(planted) > 100
