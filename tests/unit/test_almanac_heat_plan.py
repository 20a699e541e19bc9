"""A crew's day in the heat."""

from datetime import time

import pytest

from landscape_care.almanac.climate import climate
from landscape_care.almanac.dates import say_clock
from landscape_care.almanac.heat_plan import LEVELS, DayHeat, heat_plan, usual_dew_point_f

RISE, SET = time(5, 20), time(19, 40)


def day(high_f: float, low_f: float, dew_f: float) -> DayHeat:
    return DayHeat(high_f, low_f, dew_f, RISE, SET)


def test_a_mild_day_keeps_its_usual_hours() -> None:
    plan = heat_plan(day(75, 55, 45))
    assert (plan.start, plan.heavy_until, plan.ends) == (time(7), time(15), time(15))
    assert (plan.rest_minutes, plan.lines) == (0, ())


def test_a_desert_day_starts_at_first_light_and_ends_heavy_work_by_the_air() -> None:
    """105 °F in the air puts heavy work off (common practice); first light is half an hour before sunrise."""
    plan = heat_plan(day(109, 82, 55))
    assert plan.start == time(5)
    assert plan.heavy_until == time(10)
    assert [hour.level for hour in plan.hours if hour.begins >= time(10)] == ["put_off"] * 3


def test_rest_is_a_quarter_hour_for_every_two_hours_of_high_heat() -> None:
    """89 FR 70698, proposed: fifteen minutes at least every two hours from an index of 90 °F."""
    plan = heat_plan(day(109, 82, 55))
    hot = [hour for hour in plan.hours if LEVELS.index(hour.level) >= LEVELS.index("rest")]
    assert plan.rest_minutes == 15 * -(-len(hot) // 2)


def test_work_stops_before_extreme_danger() -> None:
    """Heat index 125 °F, extreme danger in the bands of the weather service."""
    plan = heat_plan(day(112, 88, 80))
    assert plan.ends < time(13)
    assert all(hour.index_f < 125 for hour in plan.hours)


def test_the_day_is_coldest_at_sunrise_and_hottest_in_the_afternoon() -> None:
    hot = day(100, 70, 50)
    by_hour = [hot.temperature_f(quarter / 4) for quarter in range(96)]
    assert min(by_hour) == pytest.approx(70, abs=0.5)
    assert max(by_hour) == pytest.approx(100, abs=0.1)
    assert 4.5 <= by_hour.index(min(by_hour)) / 4 <= 5.5
    assert 13 <= by_hour.index(max(by_hour)) / 4 <= 16


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ((80, 90, 50, RISE, SET), "tmin_f"),
        ((90, 80, 92, RISE, SET), "dew_point_f"),
        ((90, float("nan"), 50, RISE, SET), "tmin_f"),
        ((90, 80, 50, SET, RISE), "sunset"),
    ],
)
def test_a_day_that_cannot_be_is_refused(values, field) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=field):
        DayHeat(*values)


def test_the_usual_dew_point_of_a_desert_is_that_of_its_rainy_season_at_most() -> None:
    """Measured at Maricopa AZ in July and August 2003 to 2020: 56 to 59 °F on average; lows of 78 °F."""
    for key in ("phoenix", "maricopa", "las_vegas"):
        assert usual_dew_point_f(climate(key), 7) == 65.0
    assert usual_dew_point_f(climate("atlanta"), 7) == climate("atlanta").tmin_f[6]
    assert usual_dew_point_f(climate("phoenix"), 1) == climate("phoenix").tmin_f[0]


def test_a_plan_says_in_two_languages_when_to_start_and_when_to_put_heavy_work_off() -> None:
    plan = heat_plan(DayHeat(108, 84, 60, time(5, 25), time(19, 40)), usual_start=time(7))
    assert plan.level == "put_off"
    until = say_clock("en", plan.heavy_until)
    assert plan.lines[0][0] == f"Start at 5:00 am; heavy work until {until}, all work until 1:00 pm."
    assert plan.lines[0][1].startswith("Empiece a las 5:00 a. m.; trabajo pesado hasta las")
    assert plan.lines[1][0].startswith("Plan ")
    cool = heat_plan(DayHeat(70, 50, 40, time(6), time(18)))
    assert (cool.level, cool.lines) == ("usual", ())
