"""Setting up, searching and lists, asked by a browser without scripts."""

import csv
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from io import BytesIO, StringIO
from uuid import uuid4

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django.utils.translation import override
from PIL import Image
from pytest_django import DjangoAssertNumQueries, DjangoDbBlocker

from landscape_care.dispatch.models import Crew, CrewDayOff
from landscape_care.pages.lists import LISTS
from landscape_care.people.models import SavedList, User
from landscape_care.properties import actions as record
from landscape_care.properties import background, record_checks
from landscape_care.properties import models as properties
from landscape_care.visits.models import Completion
from tests.integration.pages_company import NOON, PASSWORD, TODAY, Company, open_company

pytestmark = pytest.mark.django_db
NEW_PASSWORD = "quite another adobe wall"
PLACES = (
    "/setup/",
    "/setup/clients/",
    "/setup/clients/new/",
    "/setup/clients/acequia/",
    "/setup/depots/",
    "/setup/depots/new/",
    "/setup/depots/yard/",
    "/setup/crews/",
    "/setup/crews/new/",
    "/setup/crews/north/",
    "/setup/people/",
    "/setup/people/new/",
    "/properties/casa-14/plan/",
    "/properties/casa-14/plan/B1/",
    "/search/",
    "/search/?q=casa",
    "/lists/",
    *(f"/lists/{key}/" for key in LISTS),
    *(f"/lists/{key}/csv/" for key in LISTS),
)


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


def text_of(answer: object) -> str:
    return answer.content.decode()  # type: ignore[attr-defined, no-any-return]


def rows_of(answer: object) -> list[list[str]]:
    sent = b"".join(answer.streaming_content).decode("utf-8-sig")  # type: ignore[attr-defined]
    return list(csv.reader(StringIO(sent)))


@pytest.mark.parametrize("address", PLACES)
def test_a_page_of_the_office_opens_to_the_office_alone(address: str, company: Company) -> None:
    wanted = {"office": 200, "dispatcher": 200, "crew": 403, "owner": 403}
    for role, status in wanted.items():
        browser = Client()
        browser.force_login(company.people[role])
        assert browser.get(address).status_code == status, role
    assert Client().get(address).status_code == 302


# --- Setting up ---------------------------------------------------------------------------------------


def test_a_client_is_added_changed_and_refused_in_words(office: Client) -> None:
    new = {"code": "library", "name": "Reading garden trust", "language": "es", "email": "garden@example.org"}
    assert office.post("/setup/clients/new/", new).status_code == 302
    assert office.post("/setup/clients/new/", new).status_code == 422
    answer = office.post("/setup/clients/library/", {**new, "email": "nowhere"})
    assert answer.status_code == 422
    assert "garden@example.org" in text_of(answer)
    office.post("/setup/clients/library/", {**new, "name": "Reading trust", "code": "other"})
    row = properties.Client.objects.get(code="library")
    assert (row.name, row.language) == ("Reading trust", "es")


def test_a_depot_keeps_its_holidays_and_refuses_a_place_off_the_earth(office: Client) -> None:
    values = {"name": "Rio yard", "latitude_deg": "35.1", "longitude_deg": "-106.6"}
    values |= {"time_zone": "America/Denver", "holiday_region": "US-NM"}
    assert office.post("/setup/depots/yard/", values).status_code == 302
    assert "Thanksgiving" in text_of(office.get("/setup/depots/yard/"))
    assert office.post("/setup/depots/yard/", {**values, "latitude_deg": "95"}).status_code == 422
    assert properties.Depot.objects.get(code="yard").latitude_deg == pytest.approx(35.1)


def test_a_crew_gets_its_shift_its_skills_and_its_members(office: Client, company: Company) -> None:
    values = {
        "name": "Crew East",
        "depot": "yard",
        "people": "3",
        "skills": ["gardener", "mason"],
        "shift_opens": "06:30",
        "shift_closes": "15:00",
        "break_minutes": "45",
        "weekdays": ["1", "3", "5"],
        "members": [str(company.people["crew"].pk)],
    }
    assert office.post("/setup/crews/new/", {**values, "code": "east"}).status_code == 302
    crew = Crew.objects.get(code="east")
    assert (crew.skills, crew.weekdays, crew.break_minutes) == (["gardener", "mason"], "135", 45)
    assert list(crew.members.all()) == [company.people["crew"]]
    wrong = office.post("/setup/crews/east/", {**values, "shift_closes": "05:00"})
    assert wrong.status_code == 422
    office.post("/setup/crews/east/", {**values, "members": []})
    assert not crew.members.exists()


def test_a_crew_rests_and_a_day_off_is_taken_back(office: Client, company: Company) -> None:
    office.post("/crew/north/days-off/", {"day": "2026-12-24", "reason": "Inventory"})
    off = CrewDayOff.objects.get(crew__code="north")
    assert "Inventory" in text_of(office.get("/setup/crews/north/"))
    office.post(f"/setup/crews/north/days-off/{off.pk}/take-back/")
    assert not CrewDayOff.objects.exists()
    for active in (False, True):
        office.post("/setup/crews/north/rest/")
        assert Crew.objects.get(code="north").active is active


def test_somebody_new_signs_in_until_the_account_is_closed(office: Client) -> None:
    given = {"username": "rosa", "first_name": "Rosa", "role": "crew", "language": "es"}
    assert office.post("/setup/people/new/", {**given, "password": "short"}).status_code == 422
    assert office.post("/setup/people/new/", {**given, "password": NEW_PASSWORD}).status_code == 302
    assert office.post("/setup/people/new/", {**given, "password": NEW_PASSWORD}).status_code == 422
    rosa = User.objects.get(username="rosa")
    browser = Client()
    tried = {"username": "rosa", "password": NEW_PASSWORD}
    assert browser.post("/sign-in/", tried).status_code == 302
    office.post(f"/setup/people/{rosa.pk}/account/")
    assert browser.get("/crew/").status_code == 302
    assert Client().post("/sign-in/", tried).status_code == 200


def test_a_new_password_ends_what_was_signed_in_under_the_old_one(office: Client, company: Company) -> None:
    crew = company.people["crew"]
    browser = Client()
    browser.post("/sign-in/", {"username": "crew", "password": PASSWORD})
    assert browser.get("/crew/").status_code == 200
    assert office.post(f"/setup/people/{crew.pk}/password/", {"password": NEW_PASSWORD}).status_code == 302
    assert browser.get("/crew/").status_code == 302


def test_nobody_closes_the_door_behind_themselves_or_takes_over_an_administrator(
    office: Client, company: Company
) -> None:
    own = company.people["office"]
    office.post(f"/setup/people/{own.pk}/account/")
    demoted = office.post(
        f"/setup/people/{own.pk}/", {"first_name": "Office", "role": "crew", "language": "en"}
    )
    assert demoted.status_code == 422
    own.refresh_from_db()
    assert own.is_active
    assert own.in_office()
    chief = User.objects.create_superuser("chief", password=PASSWORD)
    answer = office.post(f"/setup/people/{chief.pk}/password/", {"password": NEW_PASSWORD})
    assert answer.status_code == 422
    chief.refresh_from_db()
    assert chief.check_password(PASSWORD)


# --- Searching ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "leads_to"),
    [
        ("casa", "/properties/casa-14/"),
        ("acequia", "/setup/clients/acequia/"),
        ("casa-16 W1", "/properties/casa-16/things/W1/"),
        ("river", "/setup/crews/river/"),
        ("dispatcher", "/setup/people/"),
        ("pansy", "/plants/?search="),
        ("backwash", "/rules/sand-filter-backwash/"),
        ("casa-14 backwash", "/tasks/"),
    ],
)
def test_the_search_leads_to(words: str, leads_to: str, office: Client) -> None:
    assert f'href="{leads_to}' in text_of(office.get("/search/", {"q": words}))


def test_a_search_that_finds_nothing_says_so(office: Client) -> None:
    assert "Nothing is called that." in text_of(office.get("/search/", {"q": "no such garden"}))
    assert "Two letters or more." in text_of(office.get("/search/", {"q": "x"}))


# --- Lists --------------------------------------------------------------------------------------------


def test_a_list_is_narrowed_by_words_depot_and_days(office: Client) -> None:
    every = rows_of(office.get("/lists/due/csv/"))
    mine = rows_of(office.get("/lists/due/csv/", {"words": "casa-14"}))
    assert 1 < len(mine) < len(every)
    assert {row[3] for row in mine[1:]} == {"casa-14"}
    assert len(rows_of(office.get("/lists/due/csv/", {"depot": "nowhere"}))) == len(every)
    day = rows_of(office.get("/lists/due/csv/", {"first": "2026-12-01", "last": "2026-12-01"}))
    assert {row[5] for row in day[1:]} <= {"2026-12-01"}


def test_a_spreadsheet_runs_nothing_of_a_list(office: Client, company: Company) -> None:
    for number, start in enumerate(("=1+1", "+1", "-1", "@SUM(1)", "\t=1", " =1")):
        properties.Client.objects.create(code=f"c{number}", name=f"{start} gardens")
    names = [row[0] for row in rows_of(office.get("/lists/clients/csv/"))[1:]]
    assert len(names) == 7
    assert not [name for name in names if name.lstrip().startswith(("=", "+", "-", "@"))]


def test_a_list_is_kept_under_a_name_by_the_one_who_kept_it(office: Client, company: Company) -> None:
    asked = {"words": "casa-14", "depot": "yard", "name": "Fourteen", "junk": "x"}
    assert office.post("/lists/due/keep/", asked).status_code == 302
    office.post("/lists/due/keep/", asked)
    kept = SavedList.objects.get()
    assert (kept.user, kept.narrowed) == (company.people["office"], "words=casa-14&depot=yard")
    assert "Fourteen" in text_of(office.get("/lists/"))
    other = Client()
    other.force_login(company.people["dispatcher"])
    assert "Fourteen" not in text_of(other.get("/lists/"))
    assert other.post(f"/lists/{kept.pk}/forget/").status_code == 404
    office.post(f"/lists/{kept.pk}/forget/")
    assert not SavedList.objects.exists()


# --- Drawing the plan ---------------------------------------------------------------------------------


def test_an_area_is_drawn_by_numbers_and_stands_on_its_history(office: Client, company: Company) -> None:
    corners = "0, 0\n12, 0\n12 10\n0; 10\n"
    assert office.post("/properties/casa-14/plan/B1/", {"corners": corners}).status_code == 302
    bed = company.place.things.get(tag="B1")
    assert bed.outline == [[0, 0], [12, 0], [12, 10], [0, 10]]
    assert bed.changes.get(field="outline").was == []
    page = text_of(office.get("/properties/casa-14/plan/B1/"))
    assert 'points="0,-0 12,-0 12,-10 0,-10"' in page
    crossed = office.post("/properties/casa-14/plan/B1/", {"corners": "0,0\n9,9\n9,0\n0,9"})
    assert crossed.status_code == 422
    office.post("/language/", {"language": "es"})
    crossed = office.post("/properties/casa-14/plan/B1/", {"corners": "0,0\n9,9\n9,0\n0,9"})
    assert "que no se cruce consigo mismo" in text_of(crossed)
    office.post("/properties/casa-14/plan/B1/", {"corners": ""})
    bed.refresh_from_db()
    assert bed.outline == []


def test_the_sheet_shows_the_measured_plan_once_every_area_is_drawn(office: Client) -> None:
    assert "Sketch" in text_of(office.get("/properties/casa-16/"))
    for place, tag in enumerate(("B1", "A1", "W1")):
        x = place * 20
        square = f"{x}, 0\n{x + 15}, 0\n{x + 15}, 15\n{x}, 15"
        office.post(f"/properties/casa-16/plan/{tag}/", {"corners": square})
    assert "Drawn from measured outlines" in text_of(office.get("/properties/casa-16/"))


# --- Pictures -----------------------------------------------------------------------------------------


def _photo(company: Company, *, tag: str = "", at: datetime = NOON) -> properties.Photo:
    drawn = BytesIO()
    Image.new("RGB", (60, 40), "olive").save(drawn, "PNG")
    thing = company.place.things.get(tag=tag) if tag else None
    photo = record.add_photo(company.place, BytesIO(drawn.getvalue()), thing=thing, by=None)
    properties.Photo.objects.filter(pk=photo.pk).update(taken_at=at)
    return photo


def test_an_owner_sees_the_pictures_of_care_done_in_the_own_garden_alone(company: Company) -> None:
    of_care, of_the_office = _photo(company), _photo(company)
    visit = next(stop.visit for stop in company.stops() if stop.visit.property == company.place)
    task = visit.visit_tasks.all()[0].task
    done = Completion.objects.create(
        pk=uuid4(), visit=visit, task=task, outcome="done", done_on=TODAY, body_digest="x"
    )
    done.photos.add(of_care)
    page = text_of(Client().get(f"/garden/{company.token}/"))
    assert f"/photos/{of_care.pk}/" in page
    assert f"/photos/{of_the_office.pk}/" not in page
    answers = {
        number: Client().get(f"/garden/{token}/photos/{number}/").status_code
        for token, number in ((company.token, of_care.pk), (company.token, of_the_office.pk))
    }
    assert answers == {of_care.pk: 200, of_the_office.pk: 404}
    assert Client().get(f"/garden/{'x' * 43}/photos/{of_care.pk}/").status_code == 404
    for photo in (of_care, of_the_office):
        photo.picture.delete(save=False)


def test_the_oldest_and_the_newest_picture_of_a_thing_stand_side_by_side(
    office: Client, company: Company
) -> None:
    days = (NOON - timedelta(60), NOON - timedelta(30), NOON)
    photos = [_photo(company, tag="B1", at=at) for at in days]
    page = text_of(office.get("/properties/casa-14/"))
    pair = page[page.index("Before and after") : page.index("</section>", page.index("Before and after"))]
    shown = [photo for photo in photos if f"/photos/{photo.pk}/" in pair]
    assert shown == [photos[0], photos[2]]
    for photo in photos:
        photo.picture.delete(save=False)


# --- What stands on the first page --------------------------------------------------------------------


def _wrong(company: Company) -> set[tuple[str, str, str]]:
    found = record_checks.wrong_findings(company.people["office"], TODAY, most=50)
    assert found.waiting == 0
    assert found.count == len(found.shown)
    return {(place.code, finding.tag, finding.message_en) for place, finding in found.shown}


def test_a_kept_look_at_a_record_says_what_a_fresh_one_says_until_the_record_changes(
    company: Company,
) -> None:
    office, place = company.people["office"], company.place
    lamps = {"tag": "L1", "watts": 60.0, "quantity": 9, "installed_on": date(2021, 4, 1)}
    transformer = place.things.get(tag="T1")
    record.install(place, "fixture", {**lamps, "transformer_id": transformer.pk}, by=office)
    fresh = _wrong(company)
    assert ("casa-14", "T1") in {(code, tag) for code, tag, _ in fresh}
    background.check_due()
    every = list(record_checks.to_check(TODAY).values_list("pk", flat=True))
    assert record_checks.check_together(every, TODAY) == 2
    assert not record_checks.to_check(TODAY).exists()
    assert _wrong(company) == fresh
    record.change(place.things.get(tag="L1"), {"quantity": 1}, reason="counted again", by=office)
    assert list(record_checks.to_check(TODAY)) == [place]
    assert {tag for code, tag, _ in _wrong(company) if code == "casa-14"}.isdisjoint({"T1"})
    assert record_checks.to_check(TODAY + timedelta(1)).count() == 2


def test_the_first_page_asks_for_all_gardens_at_once(
    office: Client, company: Company, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    record_checks.check_together(list(properties.Property.objects.values_list("pk", flat=True)), TODAY)
    with django_assert_max_num_queries(30):
        page = text_of(office.get("/"))
    assert "This month:" in page
