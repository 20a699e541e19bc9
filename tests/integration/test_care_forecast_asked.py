"""Asking a forecast service: a real server on this machine that answers well, badly, slowly or elsewhere."""

import json
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest

from landscape_care.care import forecast_asking, weather_intake
from landscape_care.care.forecast_asking import ASK_AGAIN, TRY_AGAIN, ask, ask_for, stations_to_ask
from landscape_care.care.models import Forecast, WeatherStation
from landscape_care.config.celery import app
from tests.integration.care_company import garden
from tests.integration.test_care_moved_by_weather import days_ahead

NOW = datetime(2026, 11, 10, 15, tzinfo=UTC)
ADDRESS = "https://api.weather.gov/gridpoints/ABQ/97,120/forecast"


class Service(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        status, headers, body = self.answer()
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def answer(self) -> tuple[int, dict[str, str], bytes]:
        if self.path == "/good":
            return 200, {}, json.dumps(days_ahead(NOW.date(), 5, 40)).encode()
        if self.path == "/moved":
            return 302, {"Location": "/good"}, b""
        if self.path == "/large":
            return 200, {}, b" " * (forecast_asking.LARGEST_ANSWER + 1)
        if self.path == "/text":
            return 200, {}, b"<html>busy</html>"
        if self.path == "/deep":
            return 200, {}, b"[" * 200_000
        return 503, {}, b"busy"

    def log_message(self, *_: Any) -> None:
        """Say nothing."""


@pytest.fixture(scope="module")
def service() -> Iterator[str]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), Service)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()


def station(url: str = ADDRESS) -> WeatherStation:
    values = {
        "code": "valley", "name": "Valley station", "latitude_deg": 35.1, "longitude_deg": -106.6,
        "climate": "albuquerque", "forecast_url": url,
    }  # fmt: skip
    return weather_intake.add_station(values, by=None)


def test_an_answer_is_read(service: str) -> None:
    assert "periods" in ask(f"{service}good", service=service)["properties"]


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("moved", "redirects are not followed"),
        ("large", "larger than 2000000 bytes"),
        ("text", "Expecting value"),
        ("away", "503"),
    ],
)
def test_answers_that_are_none_are_refused(service: str, path: str, words: str) -> None:
    with pytest.raises((OSError, ValueError), match=words):
        ask(service + path, service=service)


def test_an_answer_that_drips_in_is_given_up(service: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(forecast_asking, "LONGEST_S", -1.0)
    with pytest.raises(TimeoutError, match="took longer"):
        ask(f"{service}good", service=service)


def test_no_other_service_is_asked(service: str) -> None:
    with pytest.raises(ValueError, match="begins with https"):
        ask(f"{service}good")


@pytest.mark.django_db
@pytest.mark.both
def test_a_forecast_is_asked_for_once_in_three_hours(service: str) -> None:
    here = station()
    asked: list[str] = []

    def asking(url: str) -> Any:
        asked.append(url)
        return ask(f"{service}good", service=service)

    assert ask_for(here.pk, now=NOW, asking=asking) == 2
    assert ask_for(here.pk, now=NOW + timedelta(minutes=31), asking=asking) is None
    assert ask_for(here.pk, now=NOW + ASK_AGAIN, asking=asking) == 0
    assert asked == [ADDRESS, ADDRESS]
    here.refresh_from_db()
    assert (here.forecast_trouble, here.forecast_from) == ("", NOW.date())


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["text", "away", "moved", "deep"])
def test_trouble_is_kept_and_the_last_forecast_holds_for_two_days(service: str, path: str) -> None:
    place, here = garden(), station()
    weather_intake.take_forecast(here, days_ahead(NOW.date(), 5, 40), today=NOW.date(), by=None)
    WeatherStation.objects.update(forecast_taken_at=NOW)

    def failing(_url: str) -> Any:
        return ask(service + path, service=service)

    later = NOW + timedelta(hours=4)
    assert ask_for(here.pk, now=later, asking=failing) == 0
    here.refresh_from_db()
    assert here.forecast_trouble
    assert here.forecast_from == NOW.date()
    assert Forecast.objects.count() == 2
    assert not stations_to_ask(later + timedelta(minutes=10)).exists()
    assert stations_to_ask(later + TRY_AGAIN).exists()
    place.refresh_from_db()
    asked_before = place.plan_wanted_at
    ask_for(here.pk, now=NOW + timedelta(days=2, hours=1), asking=failing)
    here.refresh_from_db()
    place.refresh_from_db()
    assert WeatherStation.objects.get().forecast_from is None
    assert place.plan_wanted_at != asked_before


@pytest.mark.django_db
def test_a_station_without_an_address_is_never_asked_for() -> None:
    here = station("")
    assert not stations_to_ask(NOW).exists()
    assert ask_for(here.pk, now=NOW) is None
    here.refresh_from_db()
    assert (here.forecast_asked_at, here.forecast_trouble) == (None, "")


def test_the_clock_looks_for_forecasts_that_are_due() -> None:
    assert "care.background.ask_forecasts" in app.conf.beat_schedule
