"""Outlines of areas: read, refused, measured."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.pages.drawing_table import table
from landscape_care.properties.outlines import area_ft2, checked, crosses_itself, read_corners, written
from landscape_care.trades.limits import Refused

SQUARE = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))
feet = st.integers(-4000, 4000).map(lambda half: half / 2)


def test_the_area_of_an_outline_is_that_of_the_shoelace_formula() -> None:
    # A 3-4-5 triangle, and five corners worked out by hand with Gauss's formula.
    assert area_ft2(((0, 0), (3, 0), (0, 4))) == 6
    assert area_ft2(((3, 4), (5, 11), (12, 8), (9, 5), (5, 6))) == 30


def test_an_outline_measures_the_same_wherever_it_lies_and_whichever_way_it_turns() -> None:
    away = tuple((x + 123.5, y - 77) for x, y in SQUARE)
    assert area_ft2(away) == area_ft2(SQUARE) == area_ft2(SQUARE[::-1]) == 100


@given(st.lists(st.tuples(feet, feet), max_size=12))
def test_what_was_written_is_read_again(corners: list[tuple[float, float]]) -> None:
    assert read_corners(written(corners)) == tuple(corners)


@pytest.mark.parametrize("text", ["12", "a, b", "1, 2, 3", "1e9, 2", "nan, 1", "0, 0\n10, x\n"])
def test_a_line_that_is_no_corner_is_named(text: str) -> None:
    with pytest.raises(Refused, match="two numbers on line"):
        read_corners(text)


@pytest.mark.parametrize(
    ("corners", "wanted"),
    [
        (SQUARE[:2], "3 to 60 corners"),
        (((0, 0), (10, 10), (10, 0), (0, 10)), "does not cross itself"),
        (((0, 0), (5, 0), (10, 0)), "not all on one line"),
        (((0, 0), (10, 0), (0, 9000)), "within 5,000 ft"),
        (((0, 0), (10, 0), (0, float("nan"))), "within 5,000 ft"),
        (((0, 0), (10, 0), (10, 10), (5, 0), (0, 10)), "does not cross itself"),
    ],
)
def test_an_outline_that_cannot_be_is_refused(corners: tuple[tuple[float, float], ...], wanted: str) -> None:
    with pytest.raises(Refused, match=wanted):
        checked(corners)


def test_a_bed_with_a_bay_is_an_outline_and_nothing_takes_one_away() -> None:
    assert not crosses_itself(((0, 0), (10, 0), (10, 10), (5, 3), (0, 10)))
    assert checked(()) == ()


def test_the_sheet_has_room_around_what_is_drawn_and_north_is_up() -> None:
    sheet = table({"B1": SQUARE})
    assert sheet.view_box == "-10 -50 60 60"
    assert (sheet.right_ft, sheet.bottom) == (50, 10)
    assert sheet.shapes[0].points.split()[2] == "10,-10"
