"""The pages of office, crews and owners, asked by a browser without scripts."""

import re
from collections.abc import Iterator
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path
from uuid import uuid4

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils.translation import gettext, override
from pytest_django import DjangoDbBlocker

from landscape_care.care import actions as care
from landscape_care.care.models import CareTask, Reading, RuleAdjustment, TaskState
from landscape_care.dispatch import actions as dispatch
from landscape_care.dispatch.models import MonthPlan, Stop
from landscape_care.pages import words
from landscape_care.people.models import Role, User
from landscape_care.properties.models import InstalledThing, Property, ThingChange, Transformer
from landscape_care.visits.models import Completion
from tests.integration import gardens
from tests.integration.pages_company import GATE_CODE, NOON, PASSWORD, STARTED, TODAY, Company, open_company

pytestmark = pytest.mark.django_db
CATALOG = Path(words.__file__).parent / "locale" / "es" / "LC_MESSAGES" / "django.po"
TEMPLATES = Path(__file__).parents[2] / "templates"
ROLES = ("stranger", *Role.values)


@pytest.fixture(scope="module")
def company(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Company]:
    """One company for all tests here; what a test changes is undone after it."""
    with django_db_blocker.unblock(), time_machine.travel(NOON), transaction.atomic():
        yield open_company()
        transaction.set_rollback(True)


@pytest.fixture(autouse=True)
def _language_of_the_thread_comes_back() -> Iterator[None]:
    """A request leaves its language behind in the thread; the next test begins in English."""
    with override("en"):
        yield


@pytest.fixture
def office(client: Client, company: Company) -> Client:
    client.force_login(company.people["office"])
    return client


@pytest.fixture
def crew(client: Client, company: Company) -> Client:
    client.force_login(company.people["crew"])
    return client


def text_of(answer: object) -> str:
    return answer.content.decode()  # type: ignore[attr-defined, no-any-return]


# --- Who may see what -------------------------------------------------------------------------

PLACES = {
    "first page": ("/", {"stranger": 302, "owner": 302, "crew": 302}),
    "board": ("/board/yard/2026-11/", {}),
    "boards": ("/board/", {"office": 302, "dispatcher": 302}),
    "publish": ("/board/yard/2026-11/publish/1/", {}),
    "take back": ("/board/yard/2026-11/withdraw/1/", {}),
    "something came up": ("/board/yard/2026-11/disruptions/", {}),
    "letters": ("/letters/", {}),
    "properties": ("/properties/", {}),
    "property": ("/properties/casa-14/", {}),
    "kinds": ("/properties/casa-14/things/", {}),
    "install": ("/properties/casa-14/things/install/bed/", {}),
    "change": ("/properties/casa-14/things/B1/", {}),
    "remove": ("/properties/casa-14/things/B1/remove/", {}),
    "place": ("/properties/casa-14/place/", {}),
    "agreement": ("/properties/casa-14/agreement/", {}),
    "rules": ("/rules/", {}),
    "rule": ("/rules/sand-filter-backwash/", {}),
    "rules of a property": ("/properties/casa-14/rules/", {}),
    "intake": ("/intake/", {}),
    "template": ("/intake/template/", {}),
    "crews": ("/crew/", {"crew": 200, "owner": 200}),
    "crew day": ("/crew/river/2026-11-25/", {"crew": 200, "owner": 404}),
}


@pytest.mark.parametrize("name", PLACES)
def test_a_page_opens_only_to_those_it_is_for(name: str, company: Company) -> None:
    address, exceptions = PLACES[name]
    usual = {"stranger": 302, "owner": 403, "crew": 403, "dispatcher": 200, "office": 200}
    for role in ROLES:
        browser = Client()
        if role != "stranger":
            browser.force_login(company.people[role])
        assert browser.get(address).status_code == {**usual, **exceptions}[role], role


def test_a_stranger_is_led_to_the_door_and_back(client: Client, company: Company) -> None:
    answer = client.get("/properties/")
    assert answer.headers["Location"] == "/sign-in/?next=/properties/"
    answer = client.post(
        answer.headers["Location"], {"username": "office", "password": PASSWORD, "next": "/properties/"}
    )
    assert answer.headers["Location"] == "/properties/"


@pytest.mark.parametrize(("role", "landing"), [("office", "/"), ("dispatcher", "/"), ("crew", "/crew/")])
def test_a_person_lands_where_the_role_begins(
    role: str, landing: str, client: Client, company: Company
) -> None:
    answer = client.post("/sign-in/", {"username": role, "password": PASSWORD})
    assert answer.headers["Location"] == landing


def test_ten_wrong_tries_close_the_door_for_that_name_and_place_alone(
    client: Client, company: Company
) -> None:
    for _ in range(10):
        client.post("/sign-in/", {"username": "office", "password": "wrong"})
    right = {"username": "office", "password": PASSWORD}
    assert client.post("/sign-in/", right).status_code == 200
    assert client.post("/sign-in/", right, REMOTE_ADDR="203.0.113.9").status_code == 302
    assert client.post("/sign-in/", {"username": "crew", "password": PASSWORD}).status_code == 302


def test_signing_out_forgets_the_person(office: Client) -> None:
    assert office.get("/sign-out/").status_code == 405
    office.post("/sign-out/")
    assert office.get("/").status_code == 302


def test_the_language_is_kept_for_the_person(office: Client, company: Company) -> None:
    answer = office.post("/language/", {"language": "es", "next": "/properties/"})
    assert answer.headers["Location"] == "/properties/"
    assert "Propiedades" in text_of(office.get("/properties/"))
    assert User.objects.get(username="office").language == "es"
    assert (
        office.post("/language/", {"language": "es", "next": "https://elsewhere.example/"}).headers[
            "Location"
        ]
        == "/"
    )


def test_pages_may_not_be_kept_by_browsers_and_run_no_foreign_code(office: Client) -> None:
    answer = office.get("/properties/casa-14/")
    assert answer.headers["Cache-Control"] == "private, no-store"
    policy = answer.headers["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy
    assert not re.search(r"<[^>]+\s(style|on\w+)=", text_of(answer))


# --- Office -----------------------------------------------------------------------------------


def test_the_first_page_names_what_is_late_with_its_days(office: Client, company: Company) -> None:
    task = CareTask.objects.filter(property=company.place, state=TaskState.OPEN).earliest("closes_on")
    late_days = 9
    CareTask.objects.filter(pk=task.pk).update(
        opens_on=TODAY - timedelta(20), due_on=TODAY - timedelta(15), closes_on=TODAY - timedelta(late_days)
    )
    page = text_of(office.get("/"))
    assert task.title in page
    assert f"{late_days} days late" in page


def test_the_list_finds_a_property_by_parts_of_its_names(office: Client) -> None:
    page = text_of(office.get("/properties/", {"q": "acequia 16"}))
    assert "Casa 16" in page
    assert "Casa 14" not in page


def test_the_sheet_shows_plan_things_findings_and_charts(office: Client, company: Company) -> None:
    page = text_of(office.get("/properties/casa-14/"))
    for tag in company.place.things.values_list("tag", flat=True):
        assert f'id="t-{tag}"' in page
        assert f'href="#t-{tag}"' in page
    assert "timer against sunset" in page
    assert "set run time against need" in page


def test_a_thing_is_installed_and_nonsense_is_refused_beside_its_field(
    office: Client, company: Company
) -> None:
    address = "/properties/casa-14/things/install/bed/"
    values = {
        "tag": "B2",
        "installed_on": "2026-11-01",
        "area_ft2": "-5",
        "exposure": "shade",
        "soil": "loam",
    }
    more = {"amended_depth_in": "12", "mulch": "organic", "mulch_depth_in": "2"}
    answer = office.post(address, {**values, **more})
    assert answer.status_code == 422
    assert not company.place.things.filter(tag="B2").exists()
    answer = office.post(address, {**values, **more, "area_ft2": "55"})
    assert answer.status_code == 302
    assert InstalledThing.objects.get(property=company.place, tag="B2").installed_on == date(2026, 11, 1)


def test_a_tag_that_is_taken_is_refused(office: Client) -> None:
    values = {"tag": "B1", "installed_on": "2026-11-01", "measures": "rain"}
    answer = office.post("/properties/casa-14/things/install/sensor/", values)
    assert answer.status_code == 422
    assert "in use already" in text_of(answer)


def test_a_change_keeps_what_was_and_why(office: Client, company: Company) -> None:
    address = reverse("pages:change", args=["casa-14", "T1"])
    form = {"tag": "T1", "installed_on": "2020-04-01", "capacity_va": "300", "volts": "12", "timer": "plain"}
    answer = office.post(
        address, {**form, "set_on": "19:00", "set_off": "23:00", "reason": "new transformer"}
    )
    assert answer.status_code == 302
    changes = ThingChange.objects.filter(thing__property=company.place, thing__tag="T1")
    assert list(changes.values_list("field", "was", "now", "reason")) == [
        ("capacity_va", 150.0, 300.0, "new transformer")
    ]
    assert "new transformer" in text_of(office.get(address))


def test_what_was_taken_out_leaves_the_plan_and_keeps_its_history(office: Client, company: Company) -> None:
    answer = office.post("/properties/casa-14/things/A1/remove/", {"on": "2026-11-20", "reason": "lifted"})
    assert answer.status_code == 302
    page = text_of(office.get("/properties/casa-14/"))
    assert 'id="t-A1"' not in page
    assert "2026-11-20" in page
    assert company.place.things.get(tag="A1").removed_on == date(2026, 11, 20)


def test_the_office_changes_how_to_get_in_and_planning_hears_of_it(office: Client, company: Company) -> None:
    page = text_of(office.get("/properties/casa-14/place/"))
    given = dict(re.findall(r'name="(\w+)" value="([^"]*)"', page)) | {
        "access_note": "",
        "reason": "new lock",
    }
    Property.objects.filter(pk=company.place.pk).update(plan_wanted_at=None)
    wrong = {**given, "access_opens": "17:00", "access_closes": "09:00"}
    assert office.post("/properties/casa-14/place/", wrong).status_code == 422
    assert office.post("/properties/casa-14/place/", {**given, "gate_code": "0815"}).status_code == 302
    place = Property.objects.get(pk=company.place.pk)
    assert (place.gate_code, place.access_note) == ("0815", "")
    assert place.plan_wanted_at is not None


def test_the_agreement_is_changed_on_a_page(office: Client, company: Company) -> None:
    sent = {"cadence": "monthly", "weekdays": ["2", "4"], "stems": ["planting", "irrigation"]}
    assert office.post("/properties/casa-14/agreement/", sent).status_code == 302
    agreement = Property.objects.get(pk=company.place.pk).agreement
    assert (agreement.cadence, agreement.weekdays) == ("monthly", "24")
    assert agreement.stems == ["planting", "irrigation"]


def test_a_rule_takes_the_companys_own_values_and_gives_them_back(office: Client, company: Company) -> None:
    address = "/properties/casa-14/rules/sand-filter-backwash/"
    assert office.post(address, {"reason": "nothing given"}).status_code == 422
    assert office.post(address, {"every_days": "10", "reason": "clear water"}).status_code == 302
    live = RuleAdjustment.objects.get(property=company.place, ended_at=None)
    assert (live.rule, live.every_days) == ("sand-filter-backwash", 10)
    office.post(f"/adjustments/{live.pk}/end/")
    assert not RuleAdjustment.objects.filter(property=company.place, ended_at=None).exists()


@pytest.mark.parametrize(
    ("rule", "english", "spanish"),
    [
        (
            "sand-filter-backwash",
            "5 min to set up and 12 min at work",
            "5 min para preparar y 12 min de trabajo",
        ),
        ("drain-clearing", "for each grate", "por cada rejilla"),
        ("bed-weeding", "for each 100 sq ft", "por cada 100 pies²"),
    ],
)
def test_the_minutes_of_a_rule_read_as_a_sentence(
    rule: str, english: str, spanish: str, office: Client
) -> None:
    assert english in text_of(office.get(f"/rules/{rule}/"))
    office.post("/language/", {"language": "es"})
    assert spanish in text_of(office.get(f"/rules/{rule}/"))


def test_a_task_tells_why_it_is_there_and_the_office_may_hold_and_settle_it(
    office: Client, company: Company
) -> None:
    task = CareTask.objects.filter(property=company.place, state=TaskState.OPEN).latest("due_on")
    address = f"/tasks/{task.pk}/"
    assert "Why it is there" in text_of(office.get(address))
    office.post(f"{address}hold/")
    task.refresh_from_db()
    assert task.held
    assert office.post(f"{address}settle/", {"outcome": "skipped", "on": str(TODAY)}).status_code == 422
    office.post(f"{address}settle/", {"outcome": "skipped", "on": str(TODAY), "reason": "owner away"})
    task.refresh_from_db()
    assert (task.state, task.skip_reason) == (TaskState.SKIPPED, "owner away")
    office.post(f"{address}unsettle/", {"reason": "owner is back"})
    task.refresh_from_db()
    assert task.state == TaskState.OPEN


def _drawn(name: str) -> SimpleUploadedFile:
    from PIL import Image

    drawn = BytesIO()
    Image.new("RGB", (40, 30), "olive").save(drawn, "PNG")
    return SimpleUploadedFile(name, drawn.getvalue(), "image/png")


def test_a_picture_is_shown_only_to_people_of_the_company(office: Client, company: Company) -> None:
    office.post("/properties/casa-14/photos/", {"picture": _drawn("bed.png"), "caption": "The bed"})
    photo = company.place.photos.get()
    answer = office.get(f"/photos/{photo.pk}/")
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert b"".join(answer.streaming_content).startswith(b"\xff\xd8")  # type: ignore[attr-defined]
    assert Client().get(f"/photos/{photo.pk}/").status_code == 302
    photo.picture.delete(save=False)


def test_a_thing_has_its_note_and_its_pictures(office: Client, company: Company) -> None:
    thing = company.place.things.get(tag="T1")
    office.post(
        "/properties/casa-14/photos/", {"picture": _drawn("t1.png"), "tag": "T1", "caption": "Inside"}
    )
    (photo,) = thing.photos.all()
    page = office.get("/properties/casa-14/things/T1/")
    assert f"/photos/{photo.pk}/" in page.content.decode()
    photo.picture.delete(save=False)
    form = page.context["form"]
    sent = {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
    sent = {name: value for name, value in sent.items() if value not in (None, False)}
    office.post(page.request["PATH_INFO"], {**sent, "note": "Behind the rosemary", "reason": "hard to find"})
    thing.refresh_from_db()
    assert thing.note == "Behind the rosemary"
    assert [change.field for change in thing.changes.all()] == ["note"]
    assert "Behind the rosemary" in text_of(office.get("/properties/casa-14/"))


# --- Calendar addresses and the owner's page --------------------------------------------------


def test_an_address_is_shown_once_works_and_is_revoked(office: Client, company: Company) -> None:
    page = text_of(
        office.post("/properties/casa-14/addresses/", {"name": "Gardener's friend", "language": "es"})
    )
    found = re.search(r"/calendars/([\w-]{32,})\.ics", page)
    assert found
    token = found[1]
    assert "<svg" in page
    assert token not in text_of(office.get("/properties/casa-14/"))
    assert Client().get(f"/calendars/{token}.ics").status_code == 200
    assert "Próximas visitas" in text_of(Client().get(f"/garden/{token}/"))
    address = company.place.addresses.get(hint=token[:6])
    office.post(f"/addresses/{address.pk}/revoke/")
    assert Client().get(f"/garden/{token}/").status_code == 404


def test_the_owners_page_tells_the_day_and_keeps_what_is_not_the_owners(
    client: Client, company: Company
) -> None:
    answer = client.get(f"/garden/{company.token}/")
    page = text_of(answer)
    assert "Wednesday, November 25, 2026" in page
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert "noindex" in answer.headers["X-Robots-Tag"]
    for kept_back in (GATE_CODE, "Dog in the side yard", "Casa 16", "Crew River"):
        assert kept_back not in page


def test_the_owner_chooses_the_language_by_a_link(client: Client, company: Company) -> None:
    client.get(f"/garden/{company.token}/", {"language": "es"})
    assert "miércoles 25 de noviembre de 2026" in text_of(client.get(f"/garden/{company.token}/")).lower()


@pytest.mark.parametrize("token", ["x", "a" * 43])
def test_an_unknown_garden_is_not_there(token: str, client: Client, company: Company) -> None:
    assert client.get(f"/garden/{token}/").status_code == 404


# --- Crews ------------------------------------------------------------------------------------


def crew_page(company: Company) -> str:
    stop = company.stop_today()
    return f"/crew/{stop.crew.code}/{stop.day}/"


def open_task(company: Company, *, settings: bool = False) -> CareTask:
    tasks = CareTask.objects.filter(visit_task__visit=company.stop_today().visit, state=TaskState.OPEN)
    return next(task for task in tasks if bool(task.details.get("settings")) == settings)


def check_off(company: Company, task: CareTask) -> str:
    return f"{crew_page(company)}{company.stop_today().visit_id}/{task.pk}/"


def test_the_gate_code_is_told_to_its_crew_on_the_day_and_to_nobody_earlier(
    crew: Client, company: Company
) -> None:
    gate = f"{crew_page(company)}{company.stop_today().visit_id}/gate/"
    answer = crew.get(gate)
    assert GATE_CODE in text_of(answer)
    assert "no-store" in answer.headers["Cache-Control"]
    link = f'href="{company.stop_today().visit_id}/gate/"'
    assert link in text_of(crew.get(crew_page(company)))
    with time_machine.travel(NOON - timedelta(1)):
        crew.force_login(company.people["crew"])
        assert crew.get(gate).status_code == 403
        page = text_of(crew.get(crew_page(company)))
    assert "Casa 14" in page
    assert link not in page


def test_no_page_that_a_phone_keeps_holds_a_gate_code(crew: Client, company: Company) -> None:
    place = company.stop_today().visit.property
    Property.objects.filter(pk=place.pk).update(access_note=f"Code {GATE_CODE} at the blue door.")
    page = crew.get(crew_page(company))
    kept = re.findall(r'data-keep="([^"]*)"', text_of(page))[0].split()
    assert crew_page(company) in kept
    for address in [
        *kept,
        "/crew/no-signal/",
        "/crew/worker.js",
        "/crew/hello/",
        "/crew/manifest.webmanifest",
    ]:
        assert GATE_CODE not in text_of(crew.get(address)), address


def test_a_crew_sees_no_other_crews_day(crew: Client, company: Company) -> None:
    stop = company.stop_today()
    stop.crew.members.clear()
    assert crew.get(crew_page(company)).status_code == 404


def test_a_day_without_stops_leads_to_the_next_one_with_stops(crew: Client, company: Company) -> None:
    code = company.stops()[0].crew.code
    first = min(stop.day for stop in company.stops() if stop.crew.code == code)
    page = crew.get(f"/crew/{code}/{first - timedelta(7)}/").content.decode()
    assert f'class="button" href="/crew/{code}/{first}/"' in page


def test_a_form_sent_twice_is_noted_once(crew: Client, company: Company) -> None:
    task, number = open_task(company), str(uuid4())
    sent = {"number": number, "outcome": "done", "note": "all fine"}
    for _ in range(2):
        assert crew.post(check_off(company, task), sent).status_code == 302
    assert Completion.objects.filter(task=task).count() == 1
    task.refresh_from_db()
    assert (task.state, task.settled_on) == (TaskState.DONE, TODAY)


def test_a_picture_of_what_was_done_is_kept_once_with_the_note(
    crew: Client, office: Client, company: Company
) -> None:
    task, number = open_task(company), str(uuid4())
    for _ in range(2):
        sent = {"number": number, "outcome": "done", "photo": _drawn("done.png")}
        assert crew.post(check_off(company, task), sent).status_code == 302
    (photo,) = Completion.objects.get(task=task).photos.all()
    assert (photo.property, photo.caption) == (task.property, task.title)
    assert f"/photos/{photo.pk}/" in office.get(f"/tasks/{task.pk}/").content.decode()
    photo.picture.delete(save=False)


def test_a_picture_that_is_none_is_refused_together_with_its_note(crew: Client, company: Company) -> None:
    task, number = open_task(company), str(uuid4())
    no_picture = SimpleUploadedFile("done.jpg", b"hello", content_type="image/jpeg")
    answer = crew.post(check_off(company, task), {"number": number, "outcome": "done", "photo": no_picture})
    assert answer.status_code == 422
    assert "Photo: wanted a JPEG, PNG or WebP picture." in text_of(answer)
    task.refresh_from_db()
    assert (task.state, Completion.objects.filter(task=task).count()) == (TaskState.OPEN, 0)
    assert crew.post(check_off(company, task), {"number": number, "outcome": "done"}).status_code == 302


def test_other_words_under_the_same_number_are_refused_in_words(crew: Client, company: Company) -> None:
    task, number = open_task(company), str(uuid4())
    crew.post(check_off(company, task), {"number": number, "outcome": "done"})
    answer = crew.post(check_off(company, task), {"number": number, "outcome": "skipped", "reason": "rain"})
    assert answer.status_code == 422
    assert "noted before with other words" in text_of(answer)
    assert Completion.objects.get(task=task).outcome == "done"


def test_what_could_not_be_done_needs_a_reason_and_reaches_the_office(crew: Client, company: Company) -> None:
    task = open_task(company)
    sent = {"number": str(uuid4()), "outcome": "skipped", "reason": ""}
    answer = crew.post(check_off(company, task), sent)
    assert answer.status_code == 422
    assert "why it could not be done" in text_of(answer)
    crew.post(check_off(company, task), {**sent, "number": str(uuid4()), "reason": "gate was locked"})
    office = Client()
    office.force_login(company.people["office"])
    assert "gate was locked" in text_of(office.get("/"))


def test_what_is_wrong_with_a_form_is_told_in_spanish_too(crew: Client, company: Company) -> None:
    crew.post("/language/", {"language": "es"})
    task = open_task(company)
    sent = {"number": str(uuid4()), "outcome": "skipped", "reason": ""}
    answer = text_of(crew.post(check_off(company, task), sent))
    assert "Motivo: se espera por qué no se pudo hacer." in answer


def test_settings_left_on_the_timer_reach_the_record(crew: Client, company: Company) -> None:
    task = open_task(company, settings=True)
    page = text_of(crew.get(crew_page(company)))
    assert f'name="set:T1:set_on" type="time" value="{task.details["settings"]["T1"]["set_on"]}"' in page
    sent = {"number": str(uuid4()), "outcome": "done", "set:T1:set_on": "17:30"}
    crew.post(check_off(company, task), sent)
    assert f"{Transformer.objects.get(property=task.property, tag='T1').set_on:%H:%M}" == "17:30"


def test_a_reading_is_kept_with_its_unit(crew: Client, company: Company) -> None:
    task = open_task(company)
    filter_tag = InstalledThing.objects.get(property=task.property, tag="F1")
    CareTask.objects.filter(pk=task.pk).update(rule="sand-filter-backwash", thing=filter_tag)
    assert "Filter pressure (psi)" in text_of(crew.get(crew_page(company)))
    wrong = {"number": str(uuid4()), "outcome": "done", "reading:filter_pressure_psi": "sixteen"}
    answer = crew.post(check_off(company, task), wrong)
    assert answer.status_code == 422
    assert "Filter pressure: wanted a number." in text_of(answer)
    right = {"number": str(uuid4()), "outcome": "done", "reading:filter_pressure_psi": "16,5"}
    assert crew.post(check_off(company, task), right).status_code == 302
    reading = Reading.objects.get(thing=filter_tag)
    assert (reading.value, reading.unit) == (16.5, "psi")
    office = Client()
    office.force_login(company.people["office"])
    assert "Filter pressure: 16.5 psi" in text_of(office.get(f"/tasks/{task.pk}/"))


def test_a_follow_up_becomes_a_task_of_its_own(crew: Client, company: Company) -> None:
    task = open_task(company)
    sent = {"number": str(uuid4()), "outcome": "follow_up", "follow_up": "bring a new lid"}
    crew.post(check_off(company, task), sent)
    assert CareTask.objects.filter(property=task.property, series=f"{task.series}:follow-up").count() == 1


# --- The month board --------------------------------------------------------------------------


def test_the_board_shows_each_published_visit_once(office: Client, company: Company) -> None:
    page = text_of(office.get("/board/yard/2026-11/"))
    for stop in company.stops():
        assert page.count(f'id="stop-{stop.pk}"') == 1
    assert office.get("/board/yard/2026-13/").status_code == 404
    assert office.get("/board/nowhere/2026-11/").status_code == 404


def test_a_visit_is_moved_by_a_form_without_scripts(office: Client, company: Company) -> None:
    stop = company.stop_today()
    other = company.crew if stop.crew_id != company.crew.pk else company.other_crew
    address = f"/stops/{stop.pk}/move/"
    assert 'name="day"' in text_of(office.get(address))
    sent = {"day": str(TODAY), "crew": other.pk, "version": stop.version}
    weighed = text_of(office.post(address, sent))
    assert "Driving of both routes" in weighed
    stop.refresh_from_db()
    assert stop.crew != other
    answer = office.post(address, sent | {"sure": "1"})
    assert answer.status_code == 302
    stop.refresh_from_db()
    assert stop.crew == other


def test_the_office_takes_a_visit_back_and_the_board_shows_it(office: Client, company: Company) -> None:
    stop = company.stops()[-1]
    place, address = stop.visit.property, f"/visits/{stop.visit_id}/withdraw/"
    page = text_of(office.get(f"/properties/{place.code}/"))
    assert f'action="{address}"' in page
    office.post(address, {"reason": " "})
    stop.visit.refresh_from_db()
    assert stop.visit.state == "published"
    answer = office.post(address, {"reason": "The owner is away"}, follow=True)
    assert "The visit is withdrawn" in text_of(answer)
    board = text_of(office.get(f"/board/yard/{stop.day:%Y-%m}/"))
    row = board.split(f'id="stop-{stop.pk}"')[1].split("</li>")[0]
    assert "Withdrawn" in row
    assert f"/stops/{stop.pk}/move/" not in row.split(">", 1)[1]
    crew = Client()
    crew.force_login(company.people["crew"])
    assert crew.post(address, {"reason": "rain"}).status_code == 403


def test_a_second_dispatcher_is_told_that_somebody_moved_it_before(office: Client, company: Company) -> None:
    stop = company.stop_today()
    other = company.crew if stop.crew_id != company.crew.pk else company.other_crew
    sent = {"day": str(TODAY), "crew": other.pk, "version": stop.version, "sure": "1"}
    office.post(f"/stops/{stop.pk}/move/", sent)
    answer = office.post(f"/stops/{stop.pk}/move/", sent)
    assert answer.status_code == 422
    assert "changed by office" in text_of(answer)


def test_a_stop_is_held_and_released(office: Client, company: Company) -> None:
    stop = company.stop_today()
    office.post(f"/stops/{stop.pk}/hold/", {"version": stop.version})
    stop.refresh_from_db()
    assert stop.held
    office.post(f"/stops/{stop.pk}/release/", {"version": stop.version})
    stop.refresh_from_db()
    assert not stop.held


def test_a_proposal_waits_and_the_page_asks_how_far_it_is(office: Client, company: Company) -> None:
    office.post("/board/yard/2026-12/propose/")
    page = text_of(office.get("/board/yard/2026-12/"))
    assert 'data-hx-get="/board/yard/2026-12/progress/"' in page
    assert "HX-Refresh" not in office.get("/board/yard/2026-12/progress/").headers
    assert office.get("/board/yard/2026-11/progress/").headers["HX-Refresh"] == "true"


def test_publishing_first_says_what_it_tells_whom(office: Client, company: Company) -> None:
    office.post("/board/yard/2026-11/propose/", {"seconds": "1"})
    plan = MonthPlan.objects.get(number=2)
    dispatch.solve_plan(plan.pk, today=TODAY)
    address = "/board/yard/2026-11/publish/2/"
    page = text_of(office.get(address))
    assert "Nothing changes of what people know." in page
    seen = re.search(r'name="seen" value="(\w+)"', page)
    assert seen
    assert office.post(address, {"seen": "something else"}).status_code == 409
    assert office.post(address, {"seen": seen[1]}).status_code == 302
    plan.refresh_from_db()
    assert plan.state == "published"
    page = text_of(office.get(address))
    assert "only a proposed one can be published" in page


def test_a_month_is_taken_back_with_a_reason(office: Client, company: Company) -> None:
    address = "/board/yard/2026-11/withdraw/1/"
    assert company.stop_today().visit.property.name in text_of(office.get(address))
    assert office.post(address, {"reason": " "}).status_code == 422
    assert office.post(address, {"reason": "Ice storm"}).status_code == 302
    assert company.stop_today().visit.withdrawn_reason == "Ice storm"
    assert "only a published one can be taken back" in text_of(office.post(address, {"reason": "again"}))


def test_rain_is_looked_at_and_then_confirmed(office: Client, company: Company) -> None:
    day = max(stop.day for stop in company.stops())
    sent = {"kind": "rain", "first_day": str(day)}
    assert "Wanted: a day of the same month" in text_of(
        office.post("/board/yard/2026-11/disruptions/", sent | {"last_day": "2026-11-01"})
    )
    answer = office.post("/board/yard/2026-11/disruptions/", sent)
    address = answer.headers["Location"]
    assert "being worked out" in text_of(office.get(address))
    assert "Waits for a decision" in text_of(office.get("/board/yard/2026-11/"))
    dispatch.solve_plan(MonthPlan.objects.get(number=2).pk, today=TODAY)
    assert office.get(f"{address}progress/").headers["HX-Refresh"] == "true"
    page = text_of(office.get(address))
    assert f"Rain on {day:%a} {day:%b} {day.day}" in page
    seen = re.search(r'name="seen" value="(\w+)"', page)
    assert seen
    assert office.post(f"{address}confirm/", {"seen": seen[1]}).status_code == 302
    assert not Stop.objects.filter(plan__state="published", day=day, visit__state="published").exists()
    assert "Confirmed at" in text_of(office.get(address))
    assert office.get("/letters/").status_code == 200


def test_what_was_done_on_days_gone_by_stands_on_the_board(office: Client, company: Company) -> None:
    task = company.place.care_tasks.filter(state="open").first()
    assert task
    care.settle(task, "done", on=STARTED + timedelta(3), by=None)
    row = text_of(office.get("/board/yard/2026-11/")).split('id="day-2026-11-12"')[1].split("</tr>")[0]
    assert "Casa 14" in row
    assert "1 task" in row


def test_refusals_of_the_board_are_told_in_spanish(office: Client, company: Company) -> None:
    stop = company.stop_today()
    office.post("/language/", {"language": "es"})
    sent = {"day": "2026-12-24", "crew": stop.crew_id, "version": stop.version, "sure": "1"}
    assert "un día de 2026-11" in text_of(office.post(f"/stops/{stop.pk}/move/", sent))
    sent |= {"day": str(TODAY), "version": 99}
    assert "Mírela de nuevo" in text_of(office.post(f"/stops/{stop.pk}/move/", sent))
    office.post("/board/yard/2020-01/propose/")
    assert "o posterior" in text_of(office.get("/board/yard/2020-01/"))


def test_the_crew_lead_changes_the_order_of_today(crew: Client, office: Client, company: Company) -> None:
    stops = company.stops()
    one, two = next((a, b) for a in stops for b in stops if a.pk < b.pk and a.day == b.day)
    sent = {"day": str(one.day), "crew": one.crew_id, "version": two.version, "sure": "1"}
    if two.crew_id != one.crew_id:
        office.post(f"/stops/{two.pk}/move/", sent)
    before = list(Stop.objects.filter(crew=one.crew, day=one.day).order_by("position"))
    address = f"/crew/{one.crew.code}/{one.day}/"
    by = crew if one.day == TODAY else office
    version = re.search(r'name="version" value="(\d+)"', text_of(by.get(address)))
    assert version
    by.post(f"{address}order/", {"version": version[1], "earlier": before[1].pk})
    after = list(Stop.objects.filter(crew=one.crew, day=one.day).order_by("position"))
    assert [stop.pk for stop in after[:2]] == [before[1].pk, before[0].pk]
    assert after[0].arrives_at < after[1].arrives_at
    late = by.post(f"{address}order/", {"version": version[1], "later": before[1].pk}, follow=True)
    assert "Look at it again" in text_of(late)


# --- Intake -----------------------------------------------------------------------------------


def sent_files(content: bytes) -> dict[str, SimpleUploadedFile]:
    return {"files": SimpleUploadedFile("gardens.xlsx", content)}


def test_a_wrong_cell_is_named_and_nothing_is_written(office: Client, company: Company) -> None:
    sheets = gardens.small_garden()
    sheets["beds"][1][2] = -4
    before = Property.objects.count()
    answer = office.post("/intake/", sent_files(gardens.workbook(sheets)), follow=True)
    page = text_of(answer)
    assert "area_ft2" in page
    assert "beds" in page
    office.post("/intake/take-in/")
    assert Property.objects.count() == before
    first = text_of(office.get("/"))
    assert "Not taken in" in first
    assert "gardens.xlsx" in first


def test_a_right_workbook_is_taken_in_once(office: Client, company: Company) -> None:
    sheets = gardens.small_garden()
    for name in ("clients", "depots", "properties"):
        sheets[name][1][0] = f"{name}-new"
    sheets["properties"][1][2:4] = ["clients-new", "depots-new"]
    for name in ("agreements", "beds", "plantings", "controllers", "zones"):
        sheets[name][1][0] = "properties-new"
    page = text_of(office.post("/intake/", sent_files(gardens.workbook(sheets)), follow=True))
    assert "Every row is right" in page
    answer = office.post("/intake/take-in/", follow=True)
    assert "1 properties and 4 things" in text_of(answer)
    assert Property.objects.get(code="properties-new").things.count() == 4
    assert office.post("/intake/take-in/").headers["Location"] == "/intake/checked/"


def test_the_empty_workbook_is_handed_out(office: Client) -> None:
    answer = office.get("/intake/template/")
    assert answer.content.startswith(b"PK")
    assert "attachment" in answer.headers["Content-Disposition"]


# --- Words ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "address", ["/", "/properties/casa-14/", "/board/yard/2026-11/", "/rules/", "/intake/", "/crew/"]
)
def test_a_page_in_spanish_has_no_english_headings_left(address: str, office: Client) -> None:
    def headings() -> set[str]:
        found = re.findall(
            r"<(h1|h2|th|dt|label|button|legend)[^>]*>(.*?)</\1>", text_of(office.get(address)), re.S
        )
        plain = (re.sub(r"<[^>]+>", "", words).strip() for _, words in found)
        return {words for words in plain if re.search(r"[a-z]{4}", words)}

    english = headings()
    office.post("/language/", {"language": "es"})
    names = {
        "Casa 14",
        "Casa 16",
        "Rio yard",
        "Crew North",
        "Crew River",
        "English",
        "Español",
        "Plan",
        "Material",
    }
    assert english & headings() - names == set()


def test_coordinates_of_drawings_keep_their_dot_in_spanish(office: Client) -> None:
    office.post("/language/", {"language": "es"})
    page = text_of(office.get("/properties/casa-14/"))
    assert not re.search(r'\s(?:x|y|cx|cy|width|height|r)="\d+,\d', page)


def catalog_entries() -> dict[str, str]:
    """The Spanish words by their English ones, as the catalog file holds them."""
    entries = [e for e in CATALOG.read_text(encoding="utf-8").split("\n\n")[1:] if "msgctxt" not in e]
    found = [re.search(r'^msgid "(.*)"$.*^msgstr(?:\[1\])? "(.*)"$', entry, re.M | re.S) for entry in entries]
    return {match[1].split('"\n')[0]: match[2] for match in found if match}


def words_in_templates() -> set[str]:
    """What the templates mark as words to translate, single sentences only."""
    texts = [file.read_text(encoding="utf-8") for file in TEMPLATES.rglob("*.html")]
    marked = re.compile(r"""{%\s*translate\s+(?:"([^"]+)"|'([^']+)')|_\("([^"]+)"\)""")
    return {"".join(found.groups(default="")) for text in texts for found in marked.finditer(text)}


def test_every_word_of_the_templates_has_its_spanish() -> None:
    entries = catalog_entries()
    assert len(entries) > 500
    assert [english for english, spanish in entries.items() if not spanish] == []
    assert {words for words in words_in_templates() if words not in entries} == set()


def test_the_compiled_words_are_those_of_the_catalog() -> None:
    with override("es"):
        plain = {en: es for en, es in catalog_entries().items() if "%(" not in en and "\\" not in en + es}
        differs = {en for en, es in plain.items() if gettext(en) != es}
    assert differs == set()
    with override("es"):
        assert words.word(words.KIND_NAMES, "bed") == "Arriate"
