"""A crew's day in the heat."""

from datetime import time

import pytest

from landscape_care.almanac.heat_plan import LEVELS, DayHeat, heat_plan

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
