"""Driving estimates against a published worked example."""

import numpy as np
import pytest

from landscape_care.dispatch.travel import (
    CIRCUITY,
    EARTH_RADIUS_MILES,
    Place,
    Travel,
    estimate,
    great_circle_miles,
)


def test_the_great_circle_from_los_angeles_to_new_york_agrees_with_a_published_example() -> None:
    # Ed Williams, Aviation Formulary, 'Distance between points': LAX 33°57'N 118°24'W to JFK
    # 40°38'N 73°47'W is 0.623585 radians; met from memory.
    places = [Place(33 + 57 / 60, -(118 + 24 / 60)), Place(40 + 38 / 60, -(73 + 47 / 60))]
    radians = great_circle_miles(places)[0, 1] / EARTH_RADIUS_MILES
    assert radians == pytest.approx(0.623585, abs=1e-6)


def test_a_degree_of_latitude_is_sixty_nautical_miles() -> None:
    # A nautical mile was defined as a minute of latitude; 1.15078 statute miles each.
    miles = great_circle_miles([Place(35, -106), Place(36, -106)])[0, 1]
    assert miles == pytest.approx(60 * 1.15078, rel=0.002)


def test_driving_time_is_road_miles_over_speed() -> None:
    travel = estimate([Place(35, -106), Place(35.1, -106)], speed_mph=30)
    straight = great_circle_miles([Place(35, -106), Place(35.1, -106)])[0, 1]
    assert travel.miles[0, 1] == pytest.approx(straight * CIRCUITY)
    assert travel.minutes[0, 1] == pytest.approx(travel.miles[0, 1] * 2)
    assert travel.minutes[0, 0] == 0


@pytest.mark.parametrize(("latitude", "longitude"), [(91, 0), (0, 181), (float("nan"), 0)])
def test_a_place_that_is_not_on_earth_is_refused(latitude: float, longitude: float) -> None:
    with pytest.raises(ValueError, match="wanted"):
        Place(latitude, longitude)


def test_tables_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="shape"):
        Travel(np.zeros((2, 2)), np.zeros((3, 3)))
    with pytest.raises(ValueError, match="negative"):
        Travel(np.full((2, 2), -1.0), np.zeros((2, 2)))
    with pytest.raises(ValueError, match="speed_mph"):
        estimate([Place(0, 0)], speed_mph=0)
