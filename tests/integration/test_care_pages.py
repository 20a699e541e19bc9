"""Pages of care for the office: reports, and the company's own values beside the catalog's."""

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils.translation import override

from landscape_care.care import actions, queries
from landscape_care.care.models import CareTask, Report, RuleAdjustment
from landscape_care.pages.years import WIDTH, year_of
from landscape_care.people.models import User
from landscape_care.properties.models import Property
from tests.integration.care_company import START, crew, garden, office, turf

pytestmark = pytest.mark.django_db
NOON = f"{START}T19:00:00Z"


@pytest.fixture
def place() -> Iterator[Property]:
    with time_machine.travel(NOON), override("en"):
        found = garden()
        turf(found)
        actions.plan_care(found.pk, today=START)
        yield found


@pytest.fixture
def desk(place: Property) -> Client:
    browser = Client()
    browser.force_login(office())
    return browser


def test_the_office_reports_a_storm_and_takes_it_back(desk: Client, place: Property) -> None:
    address = f"/properties/{place.code}/reports/"
    assert desk.get(address).status_code == 200
    assert desk.post(address, {"kind": "storm", "on": str(START)}).status_code == 302
    row = Report.objects.get()
    actions.plan_care(place.pk, today=START)
    assert CareTask.objects.filter(rule="storm-walk", state="open").exists()
    assert "Storm" in desk.get(address).content.decode()
    assert desk.post(f"/reports/{row.pk}/withdraw/", {"reason": ""}).status_code == 302
    assert queries.visible_reports(office_again()).count() == 1
    desk.post(f"/reports/{row.pk}/withdraw/", {"reason": "next door"})
    assert queries.visible_reports(office_again()).count() == 0


@pytest.mark.parametrize(
    "sent",
    [
        {"kind": "storm", "on": "2027-01-01"},
        {"kind": "storm", "on": "2020-01-01"},
        {"kind": "comet", "on": str(START)},
        {"kind": "owner_request", "on": str(START), "note": " "},
        {"kind": "storm", "on": str(START), "thing": "X9"},
    ],
)
def test_a_report_that_makes_no_sense_is_refused(desk: Client, place: Property, sent: dict[str, str]) -> None:
    assert desk.post(f"/properties/{place.code}/reports/", sent).status_code == 422
    assert not Report.objects.exists()


def test_crews_do_not_report_through_the_office_page(place: Property) -> None:
    browser = Client()
    browser.force_login(crew())
    assert browser.get(f"/properties/{place.code}/reports/").status_code == 403


def test_own_days_of_the_year_stand_beside_the_season_and_are_undone_in_one_step(
    desk: Client, place: Property
) -> None:
    address = f"/properties/{place.code}/rules/perennial-cutback/"
    assert desk.post(address, {"fixed": "spring", "reason": "early bulbs"}).status_code == 422
    assert desk.post(address, {"fixed": "01-20..02-10", "reason": "early bulbs"}).status_code == 302
    page = desk.get(f"/properties/{place.code}/rules/").content.decode()
    assert "early bulbs" in page
    assert "Jan 20, 2027 – Feb 10, 2027" in page
    live = RuleAdjustment.objects.get(ended_at=None)
    desk.post(f"/adjustments/{live.pk}/end/")
    assert not RuleAdjustment.objects.filter(ended_at=None).exists()
    assert "early bulbs" not in desk.get(f"/properties/{place.code}/rules/").content.decode()


def test_own_values_that_no_longer_fit_the_catalog_are_named(desk: Client, place: Property) -> None:
    RuleAdjustment.objects.create(rule="rule-of-long-ago", minutes=20, reason="once")
    RuleAdjustment.objects.create(rule="perennial-cutback", every_days=30, reason="was an interval")
    page = desk.get("/rules/").content.decode()
    assert "the rule is no longer in the catalog" in page
    assert "perennial-cutback does not repeat by days" in page
    assert not actions.plan_care(place.pk, today=START)


# --- Rules of the company's own ---


def own(**change: str) -> dict[str, str]:
    return {
        "name": "hot-spots",
        "kind": "turf",
        "every": "45",
        "tolerance_days": "5",
        "set_up": "5",
        "skill": "gardener",
        "people": "1",
        "title_en": "Look for hot spots",
        "how_en": "Feel it at noon.",
        "title_es": "Buscar puntos calientes",
        "how_es": "Toque al mediodía.",
        "source": "our own practice",
        "reason": "south wall",
        **change,
    }


def test_the_office_makes_a_rule_changes_and_ends_it(desk: Client, place: Property) -> None:
    assert desk.get("/rules/own/new/").status_code == 200
    assert desk.post("/rules/own/new/", own()).status_code == 302
    actions.plan_care(place.pk, today=START)
    assert CareTask.objects.filter(rule="own-hot-spots", state="open").exists()
    assert "Look for hot spots" in desk.get("/rules/").content.decode()
    assert desk.get("/rules/own-hot-spots/").status_code == 200
    assert 'value="45"' in desk.get("/rules/own/own-hot-spots/").content.decode()
    assert desk.post("/rules/own/own-hot-spots/", own(every="60")).status_code == 302
    desk.post("/rules/own/own-hot-spots/end/", {"reason": "shaded"})
    actions.plan_care(place.pk, today=START)
    assert not CareTask.objects.filter(rule="own-hot-spots", state="open").exists()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"every": ""}, "trigger is missing"),
        ({"season": "perennial_cutback"}, "exactly one"),
        ({"tolerance_days": "30"}, "under half"),
        ({"where": "role"}, "write it like"),
        ({"where": "role = dragon"}, "role"),
        ({"unit": "bushel"}, "bushel"),
        ({"name": "Hot Spots"}, "name"),
    ],
)
def test_a_rule_that_makes_no_sense_is_refused_on_the_page(
    desk: Client, place: Property, change: dict[str, str], words: str
) -> None:
    answer = desk.post("/rules/own/new/", own(**change))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "own-hot-spots" not in queries.every_rule()


# --- Weather ---


def test_the_office_keeps_the_weather_of_a_station(desk: Client, place: Property) -> None:
    station = {
        "code": "valley",
        "name": "Valley station",
        "latitude_deg": "35.1",
        "longitude_deg": "-106.6",
        "climate": "albuquerque",
    }
    assert desk.get("/weather/").status_code == 200
    assert desk.post("/weather/", {**station, "latitude_deg": "95"}).status_code == 422
    assert desk.post("/weather/", station).status_code == 302
    assert desk.post("/weather/", station).status_code == 422
    text = "day,tmax_f,tmin_f,rain_in\n2026-10-30,66,40,0\n2026-11-01,64,38,0.2\n2026-07-01,4,1,0\n"
    file = SimpleUploadedFile("days.csv", text.encode())
    page = desk.post("/weather/valley/days/", {"file": file}).content.decode()
    assert "2 days added" in page
    assert "row 4" in page
    assert "2026-10-31" in page
    assert "Valley station" in desk.get(f"/properties/{place.code}/weather/").content.decode()
    assert desk.post("/weather/valley/days/").status_code == 302


def test_weather_is_for_the_office(place: Property) -> None:
    browser = Client()
    browser.force_login(crew())
    assert browser.get("/weather/").status_code == 403
    assert browser.get(f"/properties/{place.code}/weather/").status_code == 403


# --- A year on one page ---


def test_a_year_of_care_stands_on_one_page(desk: Client, place: Property) -> None:
    page = desk.get(f"/properties/{place.code}/year/").content.decode()
    in_year = CareTask.objects.filter(property=place, state="open", opens_on__lte=date(2027, 10, 31))
    assert in_year.count() > 20
    assert all(f'href="/tasks/{task.pk}/"' in page for task in in_year.filter(due_on__lte=date(2027, 10, 31)))
    assert page.count('class="bar-1"') >= in_year.values("rule").distinct().count()
    with override("es"):
        assert desk.get(f"/properties/{place.code}/year/").status_code == 200


def test_bars_lie_inside_the_twelve_months_and_neighbours_are_one(place: Property) -> None:
    year = year_of(CareTask.objects.filter(property=place), START)
    lines = [line for _stem, lines in year.families for line in lines]
    assert lines
    for line in lines:
        assert all(bar.x >= 0 and bar.x + bar.width <= WIDTH + 0.1 for bar in line.bars)
        assert all(one.last + timedelta(1) < other.first for one, other in pairwise(line.bars))
    assert sum(line.times for line in lines) >= sum(len(tasks) for _month, tasks in year.by_month)


def office_again() -> User:
    return User.objects.get(username="office")
