"""The sun by the clock on the wall, at its edges."""

from datetime import date, timedelta

import numpy as np
import pytest

from landscape_care.almanac.sun import civil_dusk, day_length_h, sunrise, sunset, sunset_minutes

ALBUQUERQUE = (35.08, -106.65, "America/Denver")
LONGYEARBYEN = (78.22, 15.65, "Arctic/Longyearbyen")
FAIRBANKS = (64.84, -147.72, "America/Anchorage")


def test_a_sunset_belongs_to_the_local_day_even_where_it_is_tomorrow_in_greenwich() -> None:
    moment = sunset(date(2027, 6, 21), *ALBUQUERQUE)
    assert moment is not None
    assert moment.date() == date(2027, 6, 21)
    assert moment.tzinfo is not None


def test_the_polar_day_and_night_have_no_sunset() -> None:
    assert sunset(date(2027, 6, 21), *LONGYEARBYEN) is None
    assert sunrise(date(2027, 12, 21), *LONGYEARBYEN) is None
    assert day_length_h(date(2027, 6, 21), LONGYEARBYEN[0]) == 24
    assert day_length_h(date(2027, 12, 21), LONGYEARBYEN[0]) == 0


def test_a_white_night_has_its_sunset_after_midnight() -> None:
    moment = sunset(date(2027, 6, 21), *FAIRBANKS)
    assert moment is not None
    assert (moment.date(), moment.hour) == (date(2027, 6, 21), 0)


def test_no_civil_dusk_comes_in_a_white_night() -> None:
    assert civil_dusk(date(2027, 6, 21), *FAIRBANKS) is None


def test_minutes_in_a_row_are_those_of_single_days() -> None:
    minutes = sunset_minutes(date(2027, 3, 1), 40, *ALBUQUERQUE)
    for count, minute in enumerate(minutes):
        moment = sunset(date(2027, 3, 1) + timedelta(days=count), *ALBUQUERQUE)
        assert moment is not None
        assert minute == pytest.approx(moment.hour * 60 + moment.minute + moment.second / 60, abs=0.02)


def test_the_clock_jumps_an_hour_where_summer_time_begins() -> None:
    minutes = sunset_minutes(date(2027, 3, 13), 2, *ALBUQUERQUE)
    assert minutes[1] - minutes[0] == pytest.approx(61, abs=1)


def test_days_without_a_sunset_are_nan() -> None:
    minutes = sunset_minutes(date(2027, 6, 1), 10, *LONGYEARBYEN)
    assert np.isnan(minutes).all()
    assert len(sunset_minutes(date(2027, 6, 1), 0, *ALBUQUERQUE)) == 0


@pytest.mark.parametrize(
    ("place", "field"),
    [
        ((91.0, 0.0, "Etc/UTC"), "latitude_deg"),
        ((0.0, 181.0, "Etc/UTC"), "longitude_deg"),
        ((float("nan"), 0.0, "Etc/UTC"), "latitude_deg"),
        ((0.0, 0.0, "Sun/Time"), "time_zone"),
    ],
)
def test_a_place_off_the_globe_is_refused(place: tuple[float, float, str], field: str) -> None:
    with pytest.raises(ValueError, match=field):
        sunset(date(2027, 1, 1), *place)


def test_the_poles_answer_without_failing() -> None:
    assert sunset(date(2027, 6, 21), 90, 0, "Etc/UTC") is None
    assert sunset(date(2027, 6, 21), -90, 0, "Etc/UTC") is None


@pytest.mark.parametrize("year", [1, 1699, 2201, 9999])
def test_a_day_for_which_the_equations_are_not_made_is_refused(year: int) -> None:
    with pytest.raises(ValueError, match="year of day"):
        sunset(date(year, 1, 1), 35, -106, "America/Denver")
