"""Windows that the weather shortens: what is avoided, where the care goes, and that names stay."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.almanac.dates import Window
from landscape_care.care.weather_limits import Avoid, DayAhead, around_weather

FIRST = date(2027, 6, 1)
WINDY = Avoid(gust_mph_over=25)


def day(number: int) -> date:
    return FIRST + timedelta(number)


def ahead(*gusts_mph: float | None, first: int = 0) -> dict[date, DayAhead]:
    return {day(first + n): DayAhead(day(first + n), gust_mph=gust) for n, gust in enumerate(gusts_mph)}


def test_good_days_change_nothing_and_silence_is_no_bad_day() -> None:
    window = Window(day(1), day(3), day(5))
    assert around_weather(window, WINDY, ahead(10, 10, 25, None, 10, 10)) is None
    assert around_weather(window, WINDY, {}) is None


def test_care_due_on_a_bad_day_goes_to_the_nearest_good_one_and_says_why() -> None:
    found = around_weather(Window(day(1), day(3), day(5)), WINDY, ahead(10, 10, 10, 40, 10, 10, 10))
    assert found is not None
    assert (found.window.opens, found.window.due, found.window.closes) == (day(4), day(4), day(5))
    assert (found.met.day, found.met.value, found.met.bound, found.usual_due) == (day(3), 40, 25, day(3))


def test_a_bad_day_at_the_edge_is_cut_off_and_the_due_day_stays() -> None:
    found = around_weather(Window(day(0), day(3), day(6)), WINDY, ahead(10, 10, 10, 10, 10, 10, 33))
    assert found is not None
    assert found.window == Window(day(0), day(3), day(5))


def test_a_long_season_keeps_its_long_end_when_one_day_in_it_is_bad() -> None:
    window = Window(day(-40), day(-20), day(30))
    found = around_weather(window, WINDY, ahead(10, 10, 40, 10))
    assert found is not None
    assert found.window == Window(day(3), day(3), day(30))


def test_where_all_days_that_are_left_are_bad_the_window_stays_for_the_office() -> None:
    window = Window(day(-3), day(0), day(2))
    found = around_weather(window, WINDY, ahead(40, 41, 42, 10))
    assert found is not None
    assert found.nowhere
    assert found.window == window


@pytest.mark.parametrize(
    ("avoid", "ahead_day", "value"),
    [
        (Avoid(high_f_over=103), DayAhead(FIRST, tmax_f=104), 104),
        (Avoid(low_f_under=34), DayAhead(FIRST, tmin_f=30), 30),
        (Avoid(rain_in_over=0.1), DayAhead(FIRST, rain_in=0.5), 0.5),
        (Avoid(rain_percent_over=50), DayAhead(FIRST, rain_percent=60), 60),
    ],
)
def test_each_bound_is_held_against_its_own_figure(avoid: Avoid, ahead_day: DayAhead, value: float) -> None:
    met = avoid.met_by(ahead_day)
    assert met is not None
    assert met.value == value
    assert avoid.met_by(DayAhead(FIRST, 80, 50, 10, 0, 10)) is None


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({}, "avoid is empty"),
        ({"gust_mph_over": 500}, "avoid gust_mph_over is 500: wanted 5 to 100"),
        ({"high_f_over": "hot"}, "avoid high_f_over is 'hot'"),
        ({"rain_in_over": True}, "avoid rain_in_over is True"),
    ],
)
def test_bounds_that_make_no_sense_are_refused(values: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Avoid(**values)


@given(
    st.integers(-30, 10), st.integers(0, 40), st.integers(0, 40), st.lists(st.integers(0, 60), max_size=14)
)
def test_a_window_only_gets_shorter_and_holds_no_bad_day(
    opens: int, early: int, late: int, gusts: list[int]
) -> None:
    window = Window(day(opens), day(opens + early), day(opens + early + late))
    weather = ahead(*gusts)
    found = around_weather(window, WINDY, weather)
    bad = {each for each, seen in weather.items() if (seen.gust_mph or 0) > 25 and window.contains(each)}
    assert (found is None) == (not bad)
    if found is None or found.nowhere:
        return
    assert window.opens <= found.window.opens <= found.window.due <= found.window.closes <= window.closes
    assert not any(found.window.contains(each) for each in bad)
    assert around_weather(found.window, WINDY, weather) is None
