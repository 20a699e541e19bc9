"""Work and driving of a month without planning it."""

from dataclasses import replace
from math import sqrt

import pytest

from landscape_care.dispatch.labour_ahead import (
    MonthOfWork,
    Solved,
    Streets,
    Territory,
    driving,
    hull_area_mi2,
    miles_on,
    streets_from,
    territory,
)
from landscape_care.dispatch.travel import Place

MONTH = MonthOfWork(visits=100, work_hours=320.0, working_days=20, crew_people=2.0, crew_hours=8.0)
TOWN = Territory(way_out_miles=5.0, area_mi2=100.0)


def test_the_area_of_a_square_mile_and_of_what_has_none() -> None:
    degree = 1 / 69.0934  # of latitude in a mile: 2 pi 3958.76 / 360
    square = [
        Place(0, 0),
        Place(0, degree),
        Place(degree, 0),
        Place(degree, degree),
        Place(degree / 2, degree / 2),
    ]
    assert hull_area_mi2(square) == pytest.approx(1.0, rel=1e-4)
    assert hull_area_mi2([Place(35, -106)]) == 0
    assert hull_area_mi2([Place(35, -106), Place(36, -106), Place(37, -106)]) == pytest.approx(0, abs=1e-6)
    assert territory(Place(35, -106), []) == Territory(0.0, 0.0)


def test_miles_are_daganzos_formula() -> None:
    """Ways out and back of each crew day, and 0.57 times the root of area and stops of each day (1984)."""
    one_day = replace(MONTH, visits=30, working_days=1)
    assert miles_on(TOWN, one_day, 3) == pytest.approx(1.3 * (2 * 5 * 3 + 0.57 * sqrt(100 * 30)))
    # Twenty days alike are twenty times one.
    assert miles_on(TOWN, replace(MONTH, visits=600), 60) == pytest.approx(20 * miles_on(TOWN, one_day, 3))


def test_crew_days_hold_work_and_driving() -> None:
    found = driving(TOWN, MONTH, Streets())
    assert found.crew_days * MONTH.crew_hours >= MONTH.work_hours / MONTH.crew_people + found.hours
    assert (found.crew_days - 1) * MONTH.crew_hours < MONTH.work_hours / MONTH.crew_people + found.hours
    assert found.person_hours == pytest.approx(2 * found.hours)
    assert found.hours == pytest.approx(found.miles / 25)


def test_nothing_to_do_and_nobody_to_do_it_drive_nothing() -> None:
    for month in (replace(MONTH, visits=0), replace(MONTH, crew_people=0), replace(MONTH, working_days=0)):
        assert driving(TOWN, month, Streets()).miles == 0
    with pytest.raises(ValueError, match="work_hours"):
        replace(MONTH, work_hours=float("nan"))


def test_solved_months_set_the_streets_right() -> None:
    solved = [Solved(MONTH, 25, drive_hours=1.2 * miles_on(TOWN, MONTH, 25) / 25)]
    streets = streets_from(TOWN, solved)
    assert streets.factor == pytest.approx(1.2)
    assert driving(TOWN, MONTH, streets).crew_days == pytest.approx(25, abs=1)
    assert streets_from(TOWN, []) == Streets()
    assert streets_from(TOWN, [Solved(replace(MONTH, visits=0), 0, 0.0)]) == Streets()
    assert streets_from(TOWN, [Solved(MONTH, 25, drive_hours=1e6)]).factor == 5.0
