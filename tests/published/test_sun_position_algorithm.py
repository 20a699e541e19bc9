"""Sunset and dusk against the solar position algorithm of NREL, and against astral on the same terms.

Reda and Andreas 2004, NREL/TP-560-34302, good to 0.0003 degrees, as coded in pvlib. It settles who is
right where other solvers differ: astral bends light at six degrees under the horizon too (20.774" over
the tangent, 0.055 degrees), where civil dusk is geometric; asked for the geometric angle it agrees with
us. Our equations are off by up to 0.015 degrees. In time that is seconds, unless the sun grazes the
angle: slower than a fiftieth of a degree a minute no clock time is well defined.
"""

from datetime import date, timedelta

import numpy as np
import pytest
from astral import Observer, SunDirection
from astral import sun as astral_sun
from pvlib import spa

from landscape_care.almanac import sun
from landscape_care.almanac.sun import Values

FIRST, WEEKS = date(2026, 1, 1), 52
PLACES, FARTHEST_DEG = 1000, 72.0
# TT less UT1 in 2026, s; sea level, no refraction where none is asked for.
DELTA_T_S = 69.2
# Measured 0.0148; at GRAZING_DEG_A_MINUTE that is 44 s.
DEGREES_OFF = 0.016
GRAZING_DEG_A_MINUTE = 0.02
GOAL_S = 60
BENT_BY_ASTRAL_DEG = 20.774 / np.tan(np.radians(6)) / 3600


def _elevations(unix: Values, latitude_deg: Values, longitude_deg: Values) -> Values:
    """Elevation of the sun's centre over the horizon without air, degrees."""
    found: Values = spa.solar_position_numpy(
        unix, latitude_deg, longitude_deg, 0, 1013.25, 12, DELTA_T_S, 0.5667, 1
    )[3]
    return found


def _unix(day: date) -> float:
    return (day - date(1970, 1, 1)) / timedelta(seconds=1)


def _places() -> tuple[Values, Values]:
    chance = np.random.default_rng(2026)
    return (chance.uniform(-FARTHEST_DEG, FARTHEST_DEG, PLACES), chance.uniform(-30, 30, PLACES))


def _moments(minutes: Values) -> Values:
    """Moments of every seventh day in seconds of Unix time, a row for each place."""
    days = _unix(FIRST) + np.arange(0, minutes.shape[1], 7) * 86400.0
    return np.asarray(days + minutes[:, ::7] * 60, dtype=np.float64)


@pytest.mark.parametrize(
    ("find", "elevation_deg"), [(sun.dusk_of_places, -6.0), (sun.sunset_of_places, -0.833)]
)
def test_the_sun_stands_where_it_should_at_a_thousand_places(find, elevation_deg) -> None:  # type: ignore[no-untyped-def]
    latitudes, longitudes = _places()
    places = [(float(lat), float(lon), "Etc/UTC") for lat, lon in zip(latitudes, longitudes, strict=True)]
    moments = _moments(find(FIRST, WEEKS * 7, places))
    row, column = np.nonzero(np.isfinite(moments))
    at = moments[row, column]
    off = _elevations(at, latitudes[row], longitudes[row]) - elevation_deg
    sinks = off - (_elevations(at + 60, latitudes[row], longitudes[row]) - elevation_deg)
    assert len(at) > 40_000
    assert np.abs(off).max() < DEGREES_OFF
    steep = sinks > GRAZING_DEG_A_MINUTE
    assert steep.mean() > 0.99
    assert np.abs(off[steep] / sinks[steep]).max() * 60 < GOAL_S
    usual = np.abs(latitudes[row]) <= 55
    assert np.abs(off[usual] / sinks[usual]).max() * 60 < 10


def test_where_no_dusk_is_told_the_sun_stays_above_six_degrees_or_has_no_evening() -> None:
    """The sun's lowest and highest point of a day without dusk, every ten minutes by the algorithm."""
    for latitude_deg in (62.0, 68.0, 72.0, 80.0, -66.0, -85.0):
        minutes = sun.dusk_of_places(FIRST, 365, [(latitude_deg, 0.0, "Etc/UTC")])[0]
        without = np.flatnonzero(np.isnan(minutes))
        assert without.size
        for day in without[1:-1:9]:
            # From noon to noon: at longitude 0 the evening is in the middle.
            times = _unix(FIRST) + day * 86400.0 + 43200 + np.arange(0, 86400, 600.0)
            heights = _elevations(times, np.full(144, latitude_deg), np.zeros(144))
            assert heights.min() > -6 - DEGREES_OFF or heights.max() < -6 + DEGREES_OFF, (latitude_deg, day)


@pytest.mark.parametrize("latitude_deg", [0.0, 33.45, 45.0, 55.0, 60.0, 65.0, -50.0])
def test_astral_asked_for_the_geometric_angle_gives_our_dusk(latitude_deg: float) -> None:
    ours = sun.dusk_of_places(FIRST, 365, [(latitude_deg, 0.0, "Etc/UTC")])[0]
    off = _seconds_to_astral(ours, latitude_deg, with_refraction=False)
    assert len(off) > 250
    assert np.abs(off).max() < GOAL_S
    if latitude_deg <= 60:
        assert np.abs(off).max() < 1


@pytest.mark.parametrize("latitude_deg", [0.0, 33.45, 45.0, 55.0, 60.0])
def test_astral_as_it_comes_is_late_by_the_light_it_bends(latitude_deg: float) -> None:
    """Within a minute wherever the sun sinks by more than the bent 0.055 degrees a minute."""
    ours = sun.dusk_of_places(FIRST, 365, [(latitude_deg, 0.0, "Etc/UTC")])[0]
    off = _seconds_to_astral(ours, latitude_deg, with_refraction=True)
    at = _unix(FIRST) + np.arange(365) * 86400.0 + ours * 60
    place = (np.full(365, latitude_deg), np.zeros(365))
    sinks = _elevations(at, *place) - _elevations(at + 60, *place)
    assert np.abs(off)[sinks > BENT_BY_ASTRAL_DEG * 1.05].max() < GOAL_S
    assert (off < 0).all()
    # The difference is that angle and no other: it shrinks as the sun sinks faster.
    assert np.abs(off * sinks / 60 + BENT_BY_ASTRAL_DEG).max() < 0.012


def _seconds_to_astral(ours: Values, latitude_deg: float, *, with_refraction: bool) -> Values:
    """How much earlier (below zero) our evenings are than those that astral finds."""
    off = []
    for count, minute in enumerate(ours):
        try:
            moment = astral_sun.time_of_transit(
                Observer(latitude_deg, 0.0),
                FIRST + timedelta(count),
                96.0,
                SunDirection.SETTING,
                with_refraction=with_refraction,
            )
        except ValueError:
            continue
        theirs = moment.hour * 60 + moment.minute + (moment.second + moment.microsecond / 1e6) / 60
        if np.isfinite(minute):
            off.append(((minute - theirs + 720) % 1440 - 720) * 60)
    return np.array(off)
