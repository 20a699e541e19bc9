"""Weather of a station: what is read, what is kept out, and what it asks of the controller."""

from dataclasses import replace
from datetime import date, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landscape_care.almanac.climate import climate, irrigation_eto_in_on
from landscape_care.care.observations import DayObserved, read, with_eto
from landscape_care.care.soil_water import (
    DayWater,
    adjust,
    allowed_in,
    coming_water,
    crop_factor,
    days_of_water,
    depletions,
    effective_rain_in,
    held_in,
    stress,
)
from landscape_care.care.weather_limits import Ahead, DayAhead
from landscape_care.trades.irrigation import ZoneNeed
from landscape_care.trades.kinds import Zone
from landscape_care.trades.zone_needs import program, zone_need
from tests.unit.care_garden import courtyard

TODAY = date(2027, 7, 20)
HEADER = "day,tmax_f,tmin_f,rain_in,eto_in,gust_mph\n"
PLACE = climate("maricopa")


def file_of(*rows: str) -> str:
    return HEADER + "\n".join(rows)


# --- What is read ---


def test_good_days_are_read_in_order_and_missing_ones_named() -> None:
    found = read(file_of("2027-07-04,105,80,0,0.34,12", "2027-07-01,104,79,0.1,,"), PLACE, today=TODAY)
    assert [each.day.day for each in found.days] == [1, 4]
    assert found.missing == (date(2027, 7, 2), date(2027, 7, 3))
    assert found.problems == ()


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("2027-07-01,4,1,0,,", "°F"),  # a July high of 4 °F is 40 °C in disguise
        ("2027-07-01,104,110,0,,", "tmin_f is 110"),
        ("2027-07-01,104,80,-1,,", "rain_in is -1"),
        ("2027-07-01,104,80,0,0.1,-5", "gust_mph is -5"),
        ("2027-07-01,hot,80,0,,", "tmax_f is 'hot'"),
        ("2027-07-01,104,,0,,", "tmin_f is empty"),
        ("01/07/2027,104,80,0,,", "day is '01/07/2027'"),
        ("2027-07-21,104,80,0,,", "day is 2027-07-21"),
        ("2027-07-01,nan,80,0,,", "tmax_f is nan"),
    ],
)
def test_a_row_that_cannot_be_is_named_and_harms_no_other(row: str, words: str) -> None:
    found = read(file_of(row, "2027-07-02,104,80,0,,"), PLACE, today=TODAY)
    assert [each.day.day for each in found.days] == [2]
    [problem] = found.problems
    assert problem.field == "row 2"
    assert words in problem.wanted


def test_a_day_twice_with_other_values_is_kept_out_and_the_same_again_is_not() -> None:
    same = "2027-07-01,104,80,0,,"
    found = read(file_of(same, same, "2027-07-02,104,80,0,,", "2027-07-02,90,70,0,,"), PLACE, today=TODAY)
    assert [each.day.day for each in found.days] == [1]
    assert [problem.field for problem in found.problems] == ["row 5 day"]


def test_a_file_without_its_columns_is_refused_as_a_whole() -> None:
    found = read("date,high\n2027-07-01,104\n", PLACE, today=TODAY)
    assert found.days == ()
    assert "tmax_f" in found.problems[0].wanted


def test_evapotranspiration_from_extremes_is_near_what_is_measured_in_june() -> None:
    # Source: AZMET Maricopa, June mean of 10.36 in over 30 days at 104/70 °F (measured 2003-2020).
    estimated = with_eto(DayObserved(date(2027, 6, 15), 104, 70, 0), PLACE)
    assert estimated == pytest.approx(10.36 / 30, rel=0.15)
    assert with_eto(DayObserved(date(2027, 6, 15), 104, 70, 0, eto_in=0.4), PLACE) == 0.4


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("2027-07-01,4,1,0,,", "wanted values in °F"),
        ("2027-07-01,105,75,7,,", "rain_in is 7: wanted inches, at most 5.0 here"),
        ("2027-07-01,105,75,0,0.79,", "eto_in is 0.79: wanted inches"),
        ("2027-07-01,75,105,0,,", "tmin_f is 105: wanted at most tmax_f, 75"),
        ("2027-07-01,105,75,0,,900", "gust_mph is 900: wanted 0 to 250"),
        ("2027-07-01,nan,75,0,,", "tmax_f is nan"),
        ("2027-07-01,105,75,,,", "rain_in is empty"),
        ("2030-07-01,105,75,0,,", "day is 2030-07-01"),
    ],
)
def test_a_day_that_cannot_be_is_kept_out_alone_and_named(row: str, words: str) -> None:
    found = read(file_of("2027-06-30,104,74,0,,", row, "2027-07-02,104,74,0,,"), PLACE, today=TODAY)
    assert [each.day.day for each in found.days] == [30, 2]
    [problem] = found.problems
    assert problem.field == "row 3"
    assert words in problem.wanted


def winter(tmax: float, tmin: float, rain: float = 0.0, days: int = 10) -> str:
    first = date(2027, 1, 5)
    return file_of(*(f"{first + timedelta(n)},{tmax},{tmin},{rain},," for n in range(days)))


def test_a_file_in_celsius_is_kept_out_though_each_of_its_days_could_be() -> None:
    # Maricopa, January: 66/39 °F is usual, which is 19/4 °C.
    found = read(winter(19, 4), PLACE, today=TODAY)
    assert found.days == ()
    assert "so this is °C" in found.problems[-1].wanted
    assert len(read(winter(66, 39), PLACE, today=TODAY).days) == 10
    # A cold wave is no other unit.
    assert len(read(winter(45, 25), PLACE, today=TODAY).days) == 10


def test_a_file_with_rain_in_millimetres_is_kept_out() -> None:
    assert "so this is mm" in read(winter(66, 39, rain=3), PLACE, today=TODAY).problems[-1].wanted
    assert len(read(winter(66, 39, rain=0.1), PLACE, today=TODAY).days) == 10


# --- The water in the ground ---


def zone_and_need(tag_uid: int = 11) -> tuple[Zone, ZoneNeed]:
    garden = courtyard("maricopa")
    zone = garden.thing(tag_uid)
    need = zone_need(garden, zone, TODAY)
    assert need is not None
    return zone, need


day_values = st.tuples(st.floats(0, 0.5), st.floats(0, 3))


@given(st.lists(day_values, min_size=1, max_size=60), st.floats(0, 0.6))
@settings(max_examples=60, deadline=None)
def test_the_ground_never_holds_more_than_it_can_nor_less_than_nothing(
    values: list[tuple[float, float]], given_in: float
) -> None:
    _, need = zone_and_need()
    days = [DayWater(TODAY + timedelta(n), eto, rain, "measured") for n, (eto, rain) in enumerate(values)]
    found = depletions(need, days, given_in_per_day=given_in)
    assert all(0 <= left <= held_in(need) for left in found)
    for before, after, each in zip([allowed_in(need) / 2, *found], found, days, strict=False):
        change = (
            each.eto_in * crop_factor(need) * stress(need, before)
            - effective_rain_in(each.rain_in)
            - given_in
        )
        inside = 0 < before + change < held_in(need)
        assert not inside or after == pytest.approx(before + change)


def test_what_is_given_as_it_is_taken_leaves_the_ground_as_it_was() -> None:
    _, need = zone_and_need()
    days = [DayWater(TODAY + timedelta(n), 0.3, 0.0, "measured") for n in range(20)]
    found = depletions(need, days, given_in_per_day=0.3 * crop_factor(need))
    assert found[-1] == pytest.approx(allowed_in(need) / 2)


@pytest.mark.parametrize("uid", [11, 12, 13])
def test_in_usual_weather_the_program_of_the_month_needs_no_adjusting(uid: int) -> None:
    zone, need = zone_and_need(uid)
    eto_in_per_day = PLACE.irrigation_eto_in[5] / 30
    [planned] = program((need,), eto_in_per_day, tuple(range(7)), (time(0), time(23, 59))).zones
    days = "".join(str(day + 1) for day in planned.weekdays)
    asked = replace(zone, set_minutes=planned.run_minutes, set_weekdays=days)
    first = date(2027, 6, 15)
    dry = [
        DayWater(first - timedelta(n), irrigation_eto_in_on(PLACE, first), 0.0, "measured") for n in range(30)
    ]
    found = adjust(asked, need, dry, coming=coming_water({}, PLACE, first=first))
    assert found is not None
    assert 80 <= found.percent <= 125


def test_rain_lowers_and_heat_raises_what_is_set() -> None:
    zone, need = zone_and_need()
    first = date(2027, 6, 15)
    usual = irrigation_eto_in_on(PLACE, first)
    minutes = round(usual * crop_factor(need) * need.minutes_for(1.0))
    asked = replace(zone, set_minutes=minutes, set_weekdays="1234567")

    def percent(eto_in: float, rain_in: float, coming: Ahead | None = None) -> int:
        days = [DayWater(first - timedelta(30 - n), eto_in, rain_in, "measured") for n in range(30)]
        found = adjust(asked, need, days, coming=coming_water(coming or {}, PLACE, first=first))
        assert found is not None
        return found.percent

    def ahead(**values: float) -> Ahead:
        return {first + timedelta(n): DayAhead(first + timedelta(n), **values) for n in range(7)}

    plain = percent(usual, 0.0)
    assert percent(usual, 1.0) < plain < percent(usual, 0.0, ahead(tmax_f=118, tmin_f=74))
    assert percent(usual, 0.0, ahead(rain_in=1.0)) < plain
    assert percent(usual, 0.0, ahead(tmax_f=85, tmin_f=60)) < plain


def test_missing_days_are_bridged_by_what_is_usual_and_counted() -> None:
    seen = {TODAY: DayObserved(TODAY, 105, 80, 0.0)}
    days = days_of_water(seen, PLACE, first=TODAY - timedelta(2), last=TODAY)
    assert [each.source for each in days] == ["usual", "usual", "measured"]
    assert days[0].eto_in == irrigation_eto_in_on(PLACE, TODAY - timedelta(2))


def test_a_zone_of_which_no_setting_is_noted_is_not_adjusted() -> None:
    zone, need = zone_and_need()
    days = [DayWater(TODAY, 0.3, 0.0, "measured")]
    assert adjust(zone, need, days, coming=coming_water({}, PLACE, first=TODAY)) is None


def test_a_fortnight_says_which_days_are_forecast_and_which_are_usual() -> None:
    ahead = {
        TODAY: DayAhead(TODAY, tmax_f=110, tmin_f=80),
        TODAY + timedelta(1): DayAhead(TODAY + timedelta(1), rain_in=0.4),
        TODAY + timedelta(2): DayAhead(TODAY + timedelta(2), gust_mph=30, tmax_f=100),
    }
    days = coming_water(ahead, PLACE, first=TODAY)
    assert [each.source for each in days] == ["forecast", "forecast"] + ["usual"] * 12
    assert days[1].rain_in == 0.4
    assert days[1].eto_in == irrigation_eto_in_on(PLACE, TODAY + timedelta(1))
