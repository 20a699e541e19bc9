"""The sketch of a route: north up, true in proportion, marks apart and inside."""

from itertools import combinations, pairwise
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.dispatch.travel import Place, great_circle_miles
from landscape_care.pages.route_sketch import HEIGHT, MARK, WIDTH, sketch

DEPOT = Place(35.1, -106.6)
places = st.builds(Place, st.floats(34.9, 35.3), st.floats(-106.9, -106.4))


def test_a_day_without_stops_has_no_sketch() -> None:
    assert sketch(DEPOT, []) is None


def test_north_is_up_east_is_right_and_distances_are_true() -> None:
    north, east = Place(35.2, -106.6), Place(35.1, -106.5)
    drawn = sketch(DEPOT, [north, east])
    assert drawn is not None
    up, right = drawn.marks
    assert up.x == pytest.approx(drawn.depot[0])
    assert right.y == pytest.approx(drawn.depot[1])
    assert up.y < drawn.depot[1]
    assert right.x > drawn.depot[0]
    unit = drawn.bar_width / drawn.bar_miles
    miles = great_circle_miles([DEPOT, north, east])
    for mark, number in ((up, 1), (right, 2)):
        drawn_far = hypot(mark.x - drawn.depot[0], mark.y - drawn.depot[1]) / unit
        assert drawn_far == pytest.approx(miles[0, number], rel=0.002)  # a plane instead of a sphere


def test_legs_run_from_the_depot_in_the_order_of_the_stops_and_back() -> None:
    stops = [Place(35.2, -106.6), Place(35.15, -106.5), Place(35.05, -106.7)]
    drawn = sketch(DEPOT, stops)
    assert drawn is not None
    at = [drawn.depot, *((mark.x, mark.y) for mark in drawn.marks), drawn.depot]
    assert [(leg.start, leg.end) for leg in drawn.legs] == list(pairwise(at))
    assert [mark.label for mark in drawn.marks] == ["1", "2", "3"]


def test_two_stops_at_one_place_share_a_mark() -> None:
    drawn = sketch(DEPOT, [Place(35.2, -106.6), Place(35.1, -106.5), Place(35.2, -106.6)])
    assert drawn is not None
    assert [mark.label for mark in drawn.marks] == ["1, 3", "2"]


@given(st.lists(places, min_size=1, max_size=14))
def test_marks_stay_inside_and_do_not_cover_each_other(stops: list[Place]) -> None:
    drawn = sketch(DEPOT, stops)
    assert drawn is not None
    points = [drawn.depot, *((mark.x, mark.y) for mark in drawn.marks)]
    assert all(0 < x < WIDTH and 0 < y < HEIGHT for x, y in points)
    for a, b in combinations(points, 2):
        assert hypot(a[0] - b[0], a[1] - b[1]) > 1.5 * MARK


def test_a_stop_at_the_yard_and_one_across_the_date_line_are_drawn() -> None:
    assert sketch(DEPOT, [DEPOT]) is not None
    far = sketch(Place(0, 179.9), [Place(0, -179.9)])
    assert far is not None
    assert far.bar_miles < 20
