"""What the office sees of the weather: forecasts and their trouble, days that are missing, told care."""

import io
from collections.abc import Iterator
from datetime import date, timedelta

import pytest
import time_machine
from django.test import Client
from django.utils.translation import override
from pypdf import PdfReader

from landscape_care.care import actions, weather_intake
from landscape_care.care.models import CareTask, WeatherStation
from landscape_care.properties.models import Property
from tests.integration.care_company import START, crew, office
from tests.integration.test_care_moved_by_weather import days_ahead, tell
from tests.integration.test_care_weather_kept import HEADER, station, watered

pytestmark = pytest.mark.django_db
ADDRESS = "https://api.weather.gov/gridpoints/ABQ/97,120/forecast"


@pytest.fixture
def place() -> Iterator[Property]:
    with time_machine.travel(f"{START}T19:00:00Z"), override("en"):
        found = watered()
        actions.plan_care(found.pk, today=START)
        yield found


@pytest.fixture
def here(place: Property) -> WeatherStation:
    return station()


@pytest.fixture
def desk(place: Property) -> Client:
    browser = Client()
    browser.force_login(office())
    return browser


def text(desk: Client, address: str) -> str:
    return desk.get(address).content.decode()


def test_told_care_in_bad_weather_waits_for_a_decision_on_the_first_page(
    desk: Client, place: Property, here: WeatherStation
) -> None:
    task = CareTask.objects.get(property=place, key="property:leaf-litter:1")
    tell(task, task.due_on)
    weather_intake.take_forecast(here, days_ahead(task.due_on, 40, 5), today=START, by=None)
    actions.plan_care(place.pk, today=START)
    for address in ("/", f"/properties/{place.code}/weather/"):
        page = text(desk, address)
        assert "The weather wants it elsewhere" in page
        assert f'href="/tasks/{task.pk}/"' in page
    assert "People were told" in text(desk, f"/tasks/{task.pk}/")
    desk.cookies["django_language"] = "es"
    assert "El tiempo pide otro día" in text(desk, "/")


def test_the_days_ahead_and_those_that_are_missing_are_named(
    desk: Client, place: Property, here: WeatherStation
) -> None:
    rows = "".join(f"{START - timedelta(n)},70,40,0,,5\n" for n in range(1, 30) if n != 3)
    weather_intake.take_observations(here, HEADER + rows, today=START, by=None)
    weather_intake.take_forecast(here, days_ahead(START, 10, 20, high_f=77), today=START, by=None)
    page = text(desk, f"/properties/{place.code}/weather/")
    assert "77 / –" in page
    missing = page.partition("Not measured and taken as they usually are:")[2].partition("</p>")[0]
    assert missing.split(", ") != []
    assert [day.strip(" .") for day in missing.split(", ")] == ["Sat Oct 3", "Fri Oct 30"]
    assert "Not forecast and taken as they usually are:" in page


def test_trouble_with_the_forecast_is_said_and_what_holds_instead(
    desk: Client, place: Property, here: WeatherStation
) -> None:
    assert "No forecast is asked for." in text(desk, "/weather/")
    WeatherStation.objects.update(forecast_url=ADDRESS, forecast_trouble="503 busy")
    page = text(desk, "/weather/")
    assert "503 busy" in page
    assert "Days ahead are taken as they usually are." in page
    assert "503 busy" in text(desk, f"/properties/{place.code}/weather/")


def test_the_office_switches_a_forecast_on_and_off(desk: Client, here: WeatherStation) -> None:
    address = f"/weather/{here.code}/forecast/"
    assert desk.post(address, {"forecast_url": ADDRESS}).status_code == 302
    assert WeatherStation.objects.get().forecast_url == ADDRESS
    desk.post(address, {"forecast_url": "http://127.0.0.1/"})
    assert WeatherStation.objects.get().forecast_url == ADDRESS
    weather_intake.take_forecast(WeatherStation.objects.get(), days_ahead(START, 5), today=START, by=None)
    desk.post(address, {"forecast_url": ""})
    row = WeatherStation.objects.get()
    assert (row.forecast_url, row.forecast_from) == ("", None)
    other = Client()
    other.force_login(crew())
    assert other.post(address, {"forecast_url": ""}).status_code == 403


def test_the_api_says_the_same_of_the_fortnight_and_of_told_care(
    desk: Client, place: Property, here: WeatherStation
) -> None:
    task = CareTask.objects.get(property=place, key="property:leaf-litter:1")
    tell(task, task.due_on)
    weather_intake.take_observations(here, f"{HEADER}2026-11-01,70,40,0,,5\n", today=START, by=None)
    weather_intake.take_forecast(here, days_ahead(task.due_on, 40, 5), today=START, by=None)
    actions.plan_care(place.pk, today=START)
    found = desk.get(f"/api/properties/{place.code}/weather/").json()
    assert (found["station"], found["forecast_trouble"], len(found["missing"])) == (here.code, "", 29)
    [zone] = found["adjusts"]
    assert (zone["tag"], zone["measured_days"], zone["bridged_days"]) == ("Z1", 1, 29)
    assert (
        zone["forecast_days"] + zone["usual_days"] == len(found["unforecast"]) + zone["forecast_days"] == 14
    )
    assert found["ahead"][0]["gust_mph"] == 40
    [other] = found["elsewhere"]
    assert (other["task"], other["told_for"], other["why"]) == (task.pk, str(task.due_on), "weather")


# --- The year on paper ---


def test_the_year_as_pdf_says_what_the_page_says(desk: Client, place: Property) -> None:
    answer = desk.get(f"/properties/{place.code}/year.pdf")
    assert answer["Content-Type"] == "application/pdf"
    document = PdfReader(io.BytesIO(answer.content))
    said = " ".join(" ".join(page.extract_text() for page in document.pages).split())
    rows = CareTask.objects.filter(property=place, state="open", opens_on__lte=date(2027, 10, 31))
    assert rows.count() > 20
    assert [title for title in rows.values_list("title", flat=True).distinct() if title not in said] == []
    assert place.name in said
    assert str(document.root_object["/Lang"]) == "en"
    assert f'href="/properties/{place.code}/year.pdf"' in text(desk, f"/properties/{place.code}/year/")


def test_the_year_as_pdf_in_spanish(desk: Client, place: Property) -> None:
    desk.cookies["django_language"] = "es"
    document = PdfReader(io.BytesIO(desk.get(f"/properties/{place.code}/year.pdf").content))
    assert str(document.root_object["/Lang"]) == "es"
    assert "Un año de cuidado" in document.pages[0].extract_text()


def test_the_year_as_pdf_is_for_the_office(place: Property) -> None:
    browser = Client()
    browser.force_login(crew())
    assert browser.get(f"/properties/{place.code}/year.pdf").status_code == 403
