"""A forecast in the form of the U.S. National Weather Service; the answers here are written by hand."""

from datetime import date
from typing import Any

import pytest

from landscape_care.care.forecasts import check_address, freezing_nights, read, spell_name
from landscape_care.care.generation import History, Reported
from tests.unit.care_garden import courtyard, of_rule, tasks


def period(start: str, degrees: Any, *, day: bool, **more: Any) -> dict[str, Any]:
    base = {"startTime": start, "isDaytime": day, "temperature": degrees, "temperatureUnit": "F"}
    return base | {"windSpeed": "5 to 10 mph", "windGust": None} | more


def answer(*periods: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {"updated": "2027-01-10T12:00:00+00:00", "periods": list(periods)},
    }


def test_the_low_of_a_night_belongs_to_the_morning_after() -> None:
    found = read(
        answer(
            period("2027-01-10T06:00:00-07:00", 52, day=True, windGust="35 mph"),
            period("2027-01-10T18:00:00-07:00", 30, day=False),
            period("2027-01-11T06:00:00-07:00", 48, day=True),
        )
    )
    assert [(each.day.day, each.tmax_f, each.tmin_f) for each in found] == [(10, 52, None), (11, 48, 30)]
    assert found[0].gust_mph == 35


def test_degrees_in_celsius_and_wind_in_kilometres_are_turned_into_ours() -> None:
    [found] = read(
        answer(
            period("2027-01-10T06:00:00-07:00", 10, day=True, temperatureUnit="C", windSpeed="16 to 32 km/h")
        )
    )
    assert found.tmax_f == pytest.approx(50)
    assert found.gust_mph == pytest.approx(19.9, abs=0.1)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "properties.periods"),
        (None, "properties.periods"),
        ({"properties": {"periods": [3]}}, "properties.periods"),
        (answer(period("tomorrow", 50, day=True)), "startTime is 'tomorrow'"),
        (answer(period("2027-01-10T06:00:00-07:00", "cold", day=True)), "temperature is 'cold'"),
        (answer(period("2027-01-10T06:00:00-07:00", 500, day=True)), "temperature is 500"),
    ],
)
def test_an_answer_of_another_form_is_refused(given: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        read(given)


def test_a_spell_of_cold_nights_is_one_freeze() -> None:
    lows = {date(2027, 1, day): low for day, low in enumerate((40, 34, 30, 36, 33, 45, 45, 45, 34), 1)}
    assert freezing_nights(lows) == [date(2027, 1, 2), date(2027, 1, 9)]
    assert spell_name(date(2027, 1, 2)) == "2026-W53"


def test_a_freeze_is_prepared_the_day_before() -> None:
    told = Reported("freeze", date(2027, 1, 9), "2027-W01")
    found = tasks(courtyard(), history=History(reports={"freeze": [told]}))
    [drain] = of_rule(found, "backflow-freeze-drain")
    assert (drain.occurrence, drain.window.due, drain.window.closes) == (
        "2027-W01",
        date(2027, 1, 9),
        date(2027, 1, 9),
    )


def test_no_other_address_is_asked() -> None:
    check_address("https://api.weather.gov/gridpoints/ABQ/97,120/forecast")
    for url in ("http://api.weather.gov/x", "file:///etc/passwd", "https://api.weather.gov.example.org/"):
        with pytest.raises(ValueError, match="forecast_url"):
            check_address(url)
