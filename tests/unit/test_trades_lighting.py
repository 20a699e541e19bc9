"""Timers and cables of garden lights."""

from datetime import date, time, timedelta
from itertools import pairwise

import pytest

from landscape_care.almanac.sun import sunset_minutes
from landscape_care.trades.lighting import (
    TimerSetting,
    timer_resets,
    transformer_within_80_percent,
    voltage_drop_chain_v,
    voltage_drop_v,
)

ALBUQUERQUE = (35.08, -106.65, "America/Denver")


def test_settings_follow_one_another_without_a_gap() -> None:
    found = timer_resets(*ALBUQUERQUE, date(2027, 1, 1), 400, 20)
    assert found[0].first_day == date(2027, 1, 1)
    assert found[-1].last_day == date(2027, 1, 1) + timedelta(days=399)
    for before, after in pairwise(found):
        assert after.first_day == before.last_day + timedelta(days=1)


def test_a_year_of_settings_lasts_a_year_from_its_best_day() -> None:
    found = timer_resets(*ALBUQUERQUE, 2027, tolerance_minutes=20)
    assert found[0].first_day.year == 2027
    assert found[-1].last_day - found[0].first_day == timedelta(days=364)


def test_a_plain_timer_is_reset_on_the_day_the_clock_changes() -> None:
    """With 20 minutes either way no setting can span a jump of an hour."""
    starts = [setting.first_day for setting in timer_resets(*ALBUQUERQUE, date(2027, 1, 1), 365, 20)]
    assert date(2027, 3, 14) in starts
    assert date(2027, 11, 7) in starts


def test_four_calendar_quarters_miss_in_phoenix_where_four_chosen_settings_do_not() -> None:
    """Settings by calendar quarter would be wrong by up to 44 min; the four best stay within 30."""
    minutes = sunset_minutes(date(2025, 1, 1), 365, 33.45, -112.07, "America/Phoenix")
    quarters = [minutes[:90], minutes[90:181], minutes[181:273], minutes[273:]]
    worst = max((quarter.max() - quarter.min()) / 2 for quarter in quarters)
    assert worst == pytest.approx(44, abs=2)
    assert len(timer_resets(33.45, -112.07, "America/Phoenix", 2025, tolerance_minutes=30)) == 4


def test_the_polar_night_asks_for_no_setting() -> None:
    assert timer_resets(78.22, 15.65, "Arctic/Longyearbyen", date(2027, 12, 1), 30, 20) == []


def test_days_and_a_year_start_on_new_year() -> None:
    assert timer_resets(*ALBUQUERQUE, 2027, 30, 20) == timer_resets(*ALBUQUERQUE, date(2027, 1, 1), 30, 20)


def test_a_setting_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="before first_day"):
        TimerSetting(date(2027, 1, 2), date(2027, 1, 1), time(18))


def test_a_timer_cannot_be_asked_for_the_second() -> None:
    with pytest.raises(ValueError, match="tolerance_minutes"):
        timer_resets(*ALBUQUERQUE, 2027, tolerance_minutes=0)


def test_a_chain_of_one_is_a_plain_cable() -> None:
    assert voltage_drop_chain_v(12, [(100, 30)]) == pytest.approx(voltage_drop_v(12, 100, amperes=2.5))
    assert voltage_drop_chain_v(12, []) == 0


def test_an_unknown_wire_gauge_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="18, 16, 14, 12, 10, 8"):
        voltage_drop_v(11, 100, amperes=2.5)


def test_exactly_eighty_percent_is_within() -> None:
    assert transformer_within_80_percent(240, 300)
    assert not transformer_within_80_percent(241, 300)
    assert not transformer_within_80_percent(240, 300, power_factor=0.9)
