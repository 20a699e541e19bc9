"""A forecast in the form of the U.S. National Weather Service; the answers here are written by hand."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from landscape_care.almanac.climate import climate
from landscape_care.care.catalog import WEATHER, catalog
from landscape_care.care.forecasts import check_address
from landscape_care.care.forecasts import read as read_by_clock
from landscape_care.care.generation import History, Reported
from landscape_care.care.observations import DayObserved
from landscape_care.care.weather_events import Known, happenings, is_hot, spell_name, spells
from landscape_care.care.weather_limits import DayAhead
from tests.unit.care_garden import courtyard, of_rule, tasks


def period(start: str, degrees: Any, *, day: bool, **more: Any) -> dict[str, Any]:
    base = {"startTime": start, "isDaytime": day, "temperature": degrees, "temperatureUnit": "F"}
    return base | {"windSpeed": "5 to 10 mph", "windGust": None} | more


MOUNTAIN = ZoneInfo("America/Denver")


def read(given: Any) -> list[DayAhead]:
    return read_by_clock(given, MOUNTAIN)


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
    found = spells(day for day, low in lows.items() if low <= 34)
    assert [spell[0] for spell in found] == [date(2027, 1, 2), date(2027, 1, 9)]
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
    assert drain.window.opens == date(2027, 1, 7)


def test_no_other_address_is_asked() -> None:
    check_address("https://api.weather.gov/gridpoints/ABQ/97,120/forecast")
    for url in ("http://api.weather.gov/x", "file:///etc/passwd", "https://api.weather.gov.example.org/"):
        with pytest.raises(ValueError, match="forecast_url"):
            check_address(url)


# --- Figures by layer ---


def layer(uom: str, *values: tuple[str, Any]) -> dict[str, Any]:
    return {"uom": f"wmoUnit:{uom}", "values": [{"validTime": at, "value": value} for at, value in values]}


def test_layers_give_highs_lows_gusts_and_rain_by_the_clock_of_the_place() -> None:
    found = read(
        {
            "properties": {
                "maxTemperature": layer("degC", ("2027-01-10T14:00:00+00:00/PT12H", 10)),
                "minTemperature": layer("degC", ("2027-01-11T01:00:00+00:00/PT13H", -2)),
                "windGust": layer("km_h-1", ("2027-01-10T20:00:00+00:00/PT2H", 80.4672)),
                "quantitativePrecipitation": layer("mm", ("2027-01-11T04:00:00+00:00/PT6H", 25.4)),
                "probabilityOfPrecipitation": layer("percent", ("2027-01-11T04:00:00+00:00/PT6H", 70)),
            }
        }
    )
    # 4:00 UTC is 21:00 of the day before in Denver: three of the six hours lie before midnight.
    ten, eleven = found
    assert (ten.day, ten.tmax_f) == (date(2027, 1, 10), 50)
    assert ten.gust_mph == pytest.approx(50)
    assert ten.rain_in == pytest.approx(0.5)
    assert eleven.rain_in == pytest.approx(0.5)
    assert eleven.tmin_f == pytest.approx(28.4)
    assert ten.rain_percent == 70


@pytest.mark.parametrize(
    ("name", "given", "words"),
    [
        ("maxTemperature", {"values": 3}, "maxTemperature has no list of values"),
        ("maxTemperature", layer("degF", ("2027-01-10T14:00:00+00:00/PT12H", 60)), "uom of maxTemperature"),
        ("maxTemperature", layer("degC", ("2027-01-10T14:00:00+00:00/PT12H", "warm")), "wanted a number"),
        (
            "maxTemperature",
            layer("degC", ("2027-01-10T14:00:00+00:00/PT12H", float("nan"))),
            "wanted a number",
        ),
        ("maxTemperature", layer("degC", ("2027-01-10T14:00:00+00:00/PT12H", 90)), "tmax_f is 194"),
        ("maxTemperature", layer("degC", ("2027-01-10T14:00:00/PT12H", 20)), "time zone"),
        ("maxTemperature", layer("degC", ("2027-01-10T14:00:00+00:00/soon", 20)), "span 'soon'"),
        ("quantitativePrecipitation", layer("mm", ("2027-01-10T14:00:00+00:00/PT6H", -3)), "rain_in is -0.1"),
    ],
)
def test_layers_of_another_form_are_refused(name: str, given: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        read({"properties": {name: given}})


# --- What the weather asks for ---

WARM = DayObserved(date(2027, 1, 1), 60, 45, 0)


def told(
    kind: str,
    observed: list[DayObserved],
    forecast: list[DayAhead],
    known_on: dict[date, date] | None = None,
) -> list[tuple[date, str]]:
    known = Known(
        climate("albuquerque"),
        {each.day: each for each in observed},
        known_on or {},
        {each.day: each for each in forecast},
    )
    return [(each.on, each.name) for each in happenings(known) if each.kind == kind]


def test_a_freeze_without_a_forecast_is_covered_for_from_the_first_measured_one_on() -> None:
    frosty = [replace(WARM, day=date(2027, 1, 9) + timedelta(n), tmin_f=31) for n in range(3)]
    assert told("freeze", frosty, []) == [(date(2027, 1, 9), "2027-W01")]


def test_what_came_in_too_late_sends_nobody_out_and_a_spell_is_acted_on_when_it_is_known() -> None:
    frosty = [replace(WARM, day=date(2027, 1, 9) + timedelta(n), tmin_f=27, gust_mph=50) for n in range(4)]
    came = date(2027, 1, 13)
    all_at_once = {each.day: came for each in frosty}
    assert told("freeze", frosty, [], all_at_once) == [(came, "2027-W01")]
    assert [on for on, _ in told("storm", frosty, [], all_at_once)] == [each.day for each in frosty]
    a_month_on = {each.day: came + timedelta(30) for each in frosty}
    for kind in ("freeze", "storm", "hard_freeze"):
        assert told(kind, frosty, [], a_month_on) == []


def test_a_forecast_freeze_that_came_keeps_its_name_and_day() -> None:
    ahead = [DayAhead(date(2027, 1, 9), tmin_f=30)]
    came = [replace(WARM, day=date(2027, 1, 9), tmin_f=29)]
    assert told("freeze", came, ahead) == told("freeze", [], ahead) == [(date(2027, 1, 8), "2027-W01")]
    assert told("freeze", [replace(WARM, day=date(2027, 1, 9))], ahead) == []


def test_the_first_hard_freeze_of_a_winter_is_one() -> None:
    cold = [replace(WARM, day=date(2026, 12, 20) + timedelta(20 * n), tmin_f=25) for n in range(3)]
    assert told("hard_freeze", cold, []) == [(date(2026, 12, 20), "2026-27-winter")]
    # One that is brought in later and lies before keeps the name.
    earlier = [replace(WARM, day=date(2026, 12, 1), tmin_f=27), *cold]
    assert told("hard_freeze", earlier, []) == [(date(2026, 12, 1), "2026-27-winter")]


def test_heat_is_hot_in_itself_and_unusual_at_the_place() -> None:
    # Usual July highs, NOAA 1991-2020 normals: Albuquerque 92, Phoenix 106.
    july = date(2027, 7, 12)
    assert is_hot(climate("albuquerque"), july, 101)
    assert not is_hot(climate("albuquerque"), july, 96)
    assert not is_hot(climate("phoenix"), july, 108)
    assert is_hot(climate("phoenix"), july, 116)
    assert not is_hot(climate("denver"), date(2027, 1, 12), 75)


def test_a_heat_spell_is_one_and_what_was_measured_counts_before_what_was_forecast() -> None:
    hot = [DayAhead(date(2027, 7, 12) + timedelta(n), tmax_f=102) for n in range(5)]
    assert told("heat", [], hot) == [(date(2027, 7, 12), "2027-W28")]
    cooler = [DayObserved(date(2027, 7, 12), 90, 65, 0)]
    assert told("heat", cooler, hot) == [(date(2027, 7, 13), "2027-W28")]


def test_gusts_of_45_mph_are_a_storm_before_and_after() -> None:
    blown = [replace(WARM, day=date(2027, 3, 1) + timedelta(n), gust_mph=44 + n) for n in range(3)]
    assert told("storm", blown, []) == [(date(2027, 3, 2), "2027-03-02"), (date(2027, 3, 3), "2027-03-03")]
    ahead = [DayAhead(date(2027, 3, 5), gust_mph=50), DayAhead(date(2027, 3, 6), gust_mph=47)]
    assert told("storm_ahead", [], ahead) == [(date(2027, 3, 4), "2027-W09")]


def test_each_kind_of_weather_has_rules_that_follow_it() -> None:
    followed = {rule.event.on for rule in catalog().values() if rule.event is not None}
    assert set(WEATHER) <= followed
