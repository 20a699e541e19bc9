"""What people write in cells, and what spreadsheet programs make of it."""

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.properties.intake.cells import Unclear, value_of, wanted
from landscape_care.trades.limits import Limit

RIGHT: list[tuple[str, Any, Any]] = [
    ("day", datetime(2024, 3, 11), date(2024, 3, 11)),
    ("day", "2024-03-11", date(2024, 3, 11)),
    ("day", "3/11/2024", date(2024, 3, 11)),
    ("day", " 2024-03-11 00:00:00", date(2024, 3, 11)),
    ("clock", time(5, 30), time(5, 30)),
    ("clock", "5:30", time(5, 30)),
    ("clock", "05:30:15", time(5, 30, 15)),
    ("clock", "5:30 PM", time(17, 30)),
    ("clock", "12:05 a.m.", time(0, 5)),
    ("clock", datetime(1899, 12, 30, 5, 30), time(5, 30)),
    ("clock", timedelta(hours=5, minutes=30), time(5, 30)),
    ("number", 12, 12.0),
    ("number", " 1,250.5 ", 1250.5),
    ("number", "-106.6", -106.6),
    ("number", ".25", 0.25),
    ("whole", 3.0, 3),
    ("whole", "1,200", 1200),
    ("whole", 2.5, 2.5),
    ("flag", True, True),
    ("flag", "Sí", True),
    ("flag", "si", True),
    ("flag", "No", False),
    ("flag", 0, False),
    ("choice", "Full sun", "full_sun"),
    ("choice", "micro-spray", "micro_spray"),
    ("text", 135, "135"),
    ("text", 135.0, "135"),
    ("text", "  Casa 14 ", "Casa 14"),
    ("many", "P1, P2;P1\nP3", ("P1", "P2", "P3")),
]

WRONG: list[tuple[str, Any]] = [
    ("day", "11.3.2024"),
    ("day", "2024-02-30"),
    ("day", "13/45/2024"),
    ("day", "3/11/24"),
    ("day", 45362),
    ("day", True),
    ("clock", "25:00"),
    ("clock", "13:00 pm"),
    ("clock", "half past five"),
    ("clock", 0.23),
    ("clock", datetime(2024, 3, 11, 5, 30)),
    ("clock", timedelta(hours=25)),
    ("number", "1,5"),
    ("number", "12 ft"),
    ("number", "nan"),
    ("number", "inf"),
    ("number", True),
    ("number", datetime(2024, 1, 2)),
    ("flag", "perhaps"),
    ("flag", 2),
    ("text", "bell \x07"),
    ("text", timedelta(hours=1)),
]


@pytest.mark.parametrize(("kind", "cell", "value"), RIGHT)
def test_a_cell_is_read_as_what_its_column_holds(kind: str, cell: Any, value: Any) -> None:
    read = value_of(cell, Limit(kind, high=99))
    assert read == value
    assert type(read) is type(value)


@pytest.mark.parametrize(("kind", "cell"), WRONG)
def test_a_cell_of_another_kind_is_unclear_and_says_what_would_be_right(kind: str, cell: Any) -> None:
    with pytest.raises(Unclear, match=r"\w+"):
        value_of(cell, Limit(kind, low=0, high=99))


def said_of(cell: str, limit: Limit) -> str:
    try:
        value_of(cell, limit)
    except Unclear as unclear:
        return str(unclear)
    return ""


@given(st.sampled_from(["number", "whole", "text", "choice", "flag", "day", "clock", "many"]), st.text())
def test_no_text_breaks_the_reader(kind: str, cell: str) -> None:
    limit = Limit(kind, low=0, high=99, choices=("a",))
    assert said_of(cell, limit) in ("", wanted(limit))


@given(st.dates(min_value=date(1000, 1, 1)))
def test_a_date_is_read_back_from_both_ways_of_writing_it(day: date) -> None:
    limit = Limit("day")
    assert value_of(day.isoformat(), limit) == value_of(f"{day.month}/{day.day}/{day.year}", limit) == day


@given(st.times().map(lambda clock: clock.replace(microsecond=0)))
def test_a_clock_time_is_read_back_from_both_ways_of_writing_it(clock: time) -> None:
    limit = Limit("clock")
    assert value_of(f"{clock:%H:%M:%S}", limit) == value_of(f"{clock:%I:%M:%S %p}", limit) == clock
