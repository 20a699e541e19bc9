"""Sunsets and timer settings, against tables computed with other code for 2025.

The sunsets agree with astral 3.2 within 18 s and, by the source of the table, with PyEphem within
4 s at 33 to 45 degrees north.
"""

from collections.abc import Callable
from datetime import date

import pytest

from landscape_care.almanac.sun import sunset, sunset_minutes
from landscape_care.trades.lighting import timer_resets
from landscape_care.trades.stretches import fewest_stretches

Place = tuple[float, float, str]

PHOENIX: Place = (33.4484, -112.074, "America/Phoenix")
LAS_VEGAS: Place = (36.17, -115.14, "America/Los_Angeles")
ALBUQUERQUE: Place = (35.08, -106.65, "America/Denver")
SACRAMENTO: Place = (38.58, -121.49, "America/Los_Angeles")
DENVER: Place = (39.74, -104.99, "America/Denver")
ATLANTA: Place = (33.75, -84.39, "America/New_York")

# Local clock on the 15th of each month, January first.
SUNSETS = [
    (PHOENIX, "17:43 18:13 18:36 18:59 19:22 19:39 19:38 19:13 18:34 17:54 17:25 17:22"),
    (LAS_VEGAS, "16:49 17:22 18:48 19:14 19:40 19:59 19:57 19:30 18:47 18:04 16:32 16:27"),
    (ALBUQUERQUE, "17:18 17:49 19:14 19:39 20:03 20:22 20:20 19:54 19:12 18:31 17:00 16:56"),
    (SACRAMENTO, "17:09 17:44 19:13 19:43 20:11 20:32 20:29 19:59 19:13 18:27 16:52 16:45"),
    (DENVER, "17:00 17:36 19:07 19:38 20:08 20:29 20:26 19:55 19:07 18:20 16:43 16:36"),
    (ATLANTA, "17:52 18:22 19:45 20:08 20:31 20:49 20:48 20:23 19:43 19:03 17:34 17:30"),
]

# Fewest settings a year within 15, 20 and 30 min, without and with summer time.
SETTINGS_BY_LATITUDE = [
    (33.0, (8, 6, 4), (10, 7, 6)),
    (36.0, (10, 6, 4), (10, 7, 6)),
    (39.0, (10, 8, 4), (10, 9, 6)),
    (42.0, (12, 8, 6), (12, 10, 6)),
    (45.0, (12, 10, 6), (14, 10, 7)),
]


@pytest.mark.parametrize(("place", "clocks"), SUNSETS)
def test_the_sun_sets_when_the_table_says(place: Place, clocks: str) -> None:
    for month, clock in enumerate(clocks.split(), 1):
        hour, minute = (int(part) for part in clock.split(":"))
        moment = sunset(date(2025, month, 15), *place)
        assert moment is not None
        seconds = (moment.hour - hour) * 3600 + (moment.minute - minute) * 60 + moment.second
        # The table has whole minutes and does not say how it rounds, nor where in town it stands.
        assert -90 < seconds < 90, (month, clock, moment)


def _ring_counts(latitude_deg: float, time_zone: str) -> tuple[int, ...]:
    """Fewest settings of 2025 taken as a ring, to fractions of a minute, as the table was made."""
    year = sunset_minutes(date(2025, 1, 1), 365, latitude_deg, -105, time_zone).tolist()
    return tuple(len(fewest_stretches(year * 2, _spans(2 * minutes), span=365)) for minutes in (15, 20, 30))


def _spans(minutes: float) -> Callable[[float, float], bool]:
    return lambda low, high: high - low <= minutes


@pytest.mark.parametrize(("latitude_deg", "plain", "summer_time"), SETTINGS_BY_LATITUDE)
def test_settings_grow_with_latitude_and_summer_time_as_in_the_table(
    latitude_deg: float, plain: tuple[int, ...], summer_time: tuple[int, ...]
) -> None:
    assert _ring_counts(latitude_deg, "Etc/GMT+7") == plain
    assert _ring_counts(latitude_deg, "America/Denver") == summer_time


@pytest.mark.parametrize(("latitude_deg", "plain", "summer_time"), SETTINGS_BY_LATITUDE)
def test_a_real_timer_needs_at_most_one_setting_more_or_less(
    latitude_deg: float, plain: tuple[int, ...], summer_time: tuple[int, ...]
) -> None:
    """A timer takes whole minutes, which may cost one; next year's clock change may spare one."""
    for time_zone, table in (("Etc/GMT+7", plain), ("America/Denver", summer_time)):
        for minutes, count in zip((15, 20, 30), table, strict=True):
            found = timer_resets(latitude_deg, -105, time_zone, 2025, tolerance_minutes=minutes)
            assert abs(len(found) - count) <= 1
