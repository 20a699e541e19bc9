"""Windows, yearly dates and clock changes."""

from datetime import date

import pytest

from landscape_care.almanac.dates import Window, dst_changes, month_starts, on, parse_month_day

SPRING = Window(date(2027, 3, 1), date(2027, 3, 10), date(2027, 3, 20))


@pytest.mark.parametrize(
    ("opens", "due", "closes"),
    [
        (date(2027, 3, 2), date(2027, 3, 1), date(2027, 3, 3)),
        (date(2027, 3, 1), date(2027, 3, 4), date(2027, 3, 3)),
        (date(2027, 3, 4), date(2027, 3, 4), date(2027, 3, 3)),
    ],
)
def test_a_window_out_of_order_is_refused(opens: date, due: date, closes: date) -> None:
    with pytest.raises(ValueError, match="follow in that order"):
        Window(opens, due, closes)


def test_a_window_of_one_day_is_one_day_long() -> None:
    day = date(2027, 3, 1)
    assert Window(day, day, day).days == 1


def test_windows_that_share_their_last_and_first_day_overlap() -> None:
    touching = Window(date(2027, 3, 20), date(2027, 3, 25), date(2027, 3, 30))
    assert SPRING.overlaps(touching)
    assert touching.overlaps(SPRING)
    assert not SPRING.overlaps(touching.shifted(1))


def test_a_window_contains_its_ends_and_no_day_beside_them() -> None:
    assert SPRING.contains(date(2027, 3, 1))
    assert SPRING.contains(date(2027, 3, 20))
    assert not SPRING.contains(date(2027, 2, 28))
    assert not SPRING.contains(date(2027, 3, 21))


def test_windows_sort_by_the_day_they_open() -> None:
    assert sorted([SPRING, SPRING.shifted(-400)])[1] == SPRING


@pytest.mark.parametrize("text", ["2-7", "02/07", "0207", "13-01", "02-30", "00-10", "", "02-07 "])
def test_a_yearly_date_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="month_day"):
        parse_month_day(text)


def test_the_leap_day_falls_on_the_28th_in_a_common_year() -> None:
    assert on(2028, "02-29") == date(2028, 2, 29)
    assert on(2027, "02-29") == date(2027, 2, 28)
    assert on(1900, "02-29") == date(1900, 2, 28)


def test_month_starts_include_a_first_and_a_last_day_that_are_one() -> None:
    found = month_starts(date(2026, 11, 1), date(2027, 2, 1))
    assert found == [date(2026, 11, 1), date(2026, 12, 1), date(2027, 1, 1), date(2027, 2, 1)]
    assert month_starts(date(2026, 11, 2), date(2026, 11, 30)) == []


def test_days_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="earlier day first"):
        month_starts(date(2027, 1, 2), date(2027, 1, 1))
    with pytest.raises(ValueError, match="earlier day first"):
        dst_changes("America/Denver", date(2027, 1, 2), date(2027, 1, 1))


def test_a_clock_change_on_the_first_or_last_day_counts() -> None:
    change = date(2027, 3, 14)
    assert dst_changes("America/Denver", change, change) == [change]


@pytest.mark.parametrize("name", ["America/Albuquerque", "", "../etc/passwd", "Mountain Time"])
def test_an_unknown_time_zone_is_refused_by_name(name: str) -> None:
    with pytest.raises(ValueError, match="IANA name"):
        dst_changes(name, date(2027, 1, 1), date(2027, 1, 2))
