"""The settings of a plain timer are the fewest there can be, and right in every minute of every evening."""

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landscape_care.almanac.sun import Values, sunset_minutes
from landscape_care.trades.lighting import TimerSetting, timer_resets

Place = tuple[float, float, str]

# With and without summer time, in both halves of the world, past both polar circles.
PLACES: list[Place] = [
    (33.45, -112.07, "America/Phoenix"),
    (35.08, -106.65, "America/Denver"),
    (35.08, -106.65, "Etc/GMT+7"),
    (59.91, 10.75, "Europe/Oslo"),
    (64.84, -147.72, "America/Anchorage"),
    (69.65, 18.96, "Europe/Oslo"),
    (0.0, 36.8, "Africa/Nairobi"),
    (-33.87, 151.21, "Australia/Sydney"),
    (-45.03, 168.66, "Pacific/Auckland"),
    (-54.8, -68.3, "America/Argentina/Ushuaia"),
    (-67.57, -68.13, "America/Punta_Arenas"),
]
NEW_YEAR, DAYS = date(2026, 1, 1), 365


def _fewest(sunsets: Values, tolerance_minutes: int) -> int:
    """The least number of settings, by dynamic programming over every way to cut the year.

    `best[end]` is the least that serves the first `end` evenings; one setting serves a stretch when a
    whole minute lies within the tolerance of all its sunsets.
    """
    evenings = np.unwrap(sunsets[~np.isnan(sunsets)], period=1440).tolist()
    best = [0] + [len(evenings) + 1] * len(evenings)
    for end in range(1, len(evenings) + 1):
        low = high = evenings[end - 1]
        for start in range(end - 1, -1, -1):
            low, high = min(low, evenings[start]), max(high, evenings[start])
            if math.ceil(high - tolerance_minutes) > math.floor(low + tolerance_minutes):
                break
            best[end] = min(best[end], best[start] + 1)
    return best[-1]


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("tolerance_minutes", [5, 15, 20, 30])
def test_no_way_to_cut_a_year_needs_fewer_settings(place: Place, tolerance_minutes: int) -> None:
    found = timer_resets(*place, NEW_YEAR, DAYS, tolerance_minutes)
    assert len(found) == _fewest(sunset_minutes(NEW_YEAR, DAYS, *place), tolerance_minutes)
    _in_its_band_every_evening(found, place, tolerance_minutes)


@given(
    latitude_deg=st.floats(-70, 70),
    time_zone=st.sampled_from(["America/Denver", "Etc/GMT+7", "America/Punta_Arenas"]),
    first=st.dates(date(2020, 1, 1), date(2035, 1, 1)),
    days=st.integers(1, 200),
    tolerance_minutes=st.integers(2, 60),
)
@settings(max_examples=60, deadline=None)
def test_any_place_and_stretch_of_days_gets_the_fewest(
    latitude_deg: float, time_zone: str, first: date, days: int, tolerance_minutes: int
) -> None:
    place = (latitude_deg, -105.0, time_zone)
    found = timer_resets(*place, first, days, tolerance_minutes)
    assert len(found) == _fewest(sunset_minutes(first, days, *place), tolerance_minutes)


@pytest.mark.parametrize("place", PLACES)
def test_a_year_from_its_best_day_needs_no_more_than_from_any_other(place: Place) -> None:
    best = timer_resets(*place, 2026, tolerance_minutes=20)
    for later in range(0, 365, 15):
        begin = NEW_YEAR + timedelta(later)
        assert len(best) <= _fewest(sunset_minutes(begin, 365, *place), 20)
    _in_its_band_every_evening(best, place, 20)


@pytest.mark.parametrize(("time_zone", "has_change"), [("America/Denver", True), ("Etc/GMT+7", False)])
@pytest.mark.parametrize("latitude_deg", [-50.0, -20.0, 0.0, 25.0, 40.0, 55.0])
def test_a_change_of_the_clock_is_a_change_of_the_timer(
    latitude_deg: float, time_zone: str, has_change: bool
) -> None:
    """An hour is more than twice twenty minutes: the new setting begins on the day of the change."""
    starts = {each.first_day for each in timer_resets(latitude_deg, -105.0, time_zone, NEW_YEAR, DAYS, 20)}
    for change in (date(2026, 3, 8), date(2026, 11, 1)):
        assert not has_change or change in starts


def _in_its_band_every_evening(found: list[TimerSetting], place: Place, tolerance_minutes: int) -> None:
    """Minute by minute: dark for longer than the tolerance after sunset never, lit so early never."""
    for each in found:
        days = (each.last_day - each.first_day).days + 1
        sunsets = sunset_minutes(each.first_day, days, *place)
        assert not math.isnan(sunsets[0])
        assert not math.isnan(sunsets[-1])
        on = each.on.hour * 60 + each.on.minute
        minute = np.arange(-360, 361)
        since_sunset = minute[None, :]
        off = (on - sunsets[~np.isnan(sunsets), None] + 720) % 1440 - 720
        lit = since_sunset >= off
        assert lit[np.broadcast_to(since_sunset > tolerance_minutes, lit.shape)].all()
        assert not lit[np.broadcast_to(since_sunset < -tolerance_minutes, lit.shape)].any()
