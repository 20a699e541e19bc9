"""Whatever is handed to a computation, it names the input and its bounds, or answers with numbers."""

import math
from dataclasses import fields, is_dataclass
from datetime import date, datetime, time
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac import sun
from landscape_care.almanac.climate import smooth_days
from landscape_care.almanac.heat_plan import DayHeat
from landscape_care.trades import reckoning
from landscape_care.trades.irrigation import ZoneNeed, controller_program

HUGE = 10**400
WILD: list[Any] = [
    math.nan,
    math.inf,
    -math.inf,
    1e308,
    -1e308,
    5e-324,
    -5e-324,
    -0.0,
    0,
    -1,
    1e-12,
    1e12,
    HUGE,
    -HUGE,
    95.0,
    2.5,
    True,
    "hot",
    "",
    "1",
    b"7",
    [],
    {},
    np.float64("nan"),
    np.int64(-3),
]
NAMES = sorted(reckoning.reckonings())


def _values(asked: reckoning.Reckoning) -> dict[str, Any]:
    """The example of a reckoning as Python values."""
    return dict(reckoning.answer(asked, asked.example).given)


def _numbers_of(asked: reckoning.Reckoning) -> list[str]:
    return [each.name for each in asked.inputs if each.kind in ("number", "whole")]


def _check_answer(asked: reckoning.Reckoning, given_values: dict[str, Any]) -> None:
    try:
        value = asked.function(**given_values)
    except ValueError as refused:
        said = str(refused)
        assert any(name in said for name in given_values), said
        assert len(said) < 400
    else:
        assert not _has_nan(value), (asked.name, given_values)


@pytest.mark.parametrize("name", NAMES)
def test_a_wild_value_is_refused_by_its_name_or_computed(name: str) -> None:
    """The functions themselves, without the reading of what was typed."""
    asked = reckoning.reckoning(name)
    usual = _values(asked)
    for field in _numbers_of(asked):
        for wild in WILD:
            _check_answer(asked, {**usual, field: wild})


@given(data=st.data(), name=st.sampled_from(NAMES))
@settings(max_examples=400, deadline=None)
def test_several_wild_numbers_at_once_never_make_what_is_no_number(data: st.DataObject, name: str) -> None:
    asked = reckoning.reckoning(name)
    wild = st.sampled_from(WILD) | st.floats() | st.floats(0, 1000) | st.integers(-10, 10_000)
    chosen = dict.fromkeys(_numbers_of(asked), wild)
    taken = data.draw(st.fixed_dictionaries({}, optional=chosen))
    _check_answer(asked, {**_values(asked), **taken})


@pytest.mark.parametrize("name", NAMES)
def test_what_is_no_number_is_never_an_answer(name: str) -> None:
    """Nan and text for every number that must be given: none of them is computed with."""
    asked = reckoning.reckoning(name)
    for each in asked.inputs:
        if each.kind not in ("number", "whole"):
            continue
        for wrong in (math.nan, "hot", True):
            with pytest.raises(ValueError, match=each.name):
                asked.function(**{**_values(asked), each.name: wrong})


BED = {
    "station": 1,
    "device": "spray",
    "plant_factor": 0.8,
    "microclimate": 1.0,
    "area_ft2": 100.0,
    "root_depth_in": 8.0,
    "depletion": 0.4,
    "soil": "loam",
    "precipitation_in_h": 1.5,
}


@pytest.mark.parametrize("field", [name for name, value in BED.items() if not isinstance(value, str)])
def test_a_zone_takes_no_wild_number(field: str) -> None:
    for wild in WILD:
        zone = _made_or_refused(ZoneNeed, {**BED, field: wild}, (field, "no flow"))
        if zone is None:
            continue
        program = controller_program(
            [zone],
            eto_in_per_day=0.3,
            allowed_weekdays=range(7),
            window_opens=time(4),
            window_closes=time(9),
        )
        assert not _has_nan(program)


@pytest.mark.parametrize("field", ["tmax_c", "tmin_c", "vapour_pressure_kpa", "solar_mj_m2", "wind_2m_m_s"])
def test_days_take_no_wild_number(field: str) -> None:
    usual = {"tmax_c": 30.0, "tmin_c": 15.0, "vapour_pressure_kpa": 1.2, "solar_mj_m2": 22.0}
    usual["wind_2m_m_s"] = 2.0
    for wild in WILD:
        columns: dict[str, Any] = {name: [value] * 3 for name, value in usual.items()}
        columns[field] = [usual[field], wild, usual[field]]
        days = _made_or_refused(et.Days, columns, (field, "tmax_c above", "saturation at tmax_c"))
        if days is None:
            continue
        found = et.eto_penman_monteith_days(days, latitude_deg=35, elevation_m=100, day_of_year=[1, 180, 366])
        assert np.isfinite(found).all()


def _made_or_refused(make: Any, given_values: dict[str, Any], words: tuple[str, ...]) -> Any:
    """What is made of values, or None where one is refused with one of some words."""
    try:
        return make(**given_values)
    except ValueError as error:
        refused = str(error)
    assert any(word in refused for word in words), refused
    return None


def test_days_of_unequal_length_and_days_that_are_none_are_refused() -> None:
    with pytest.raises(ValueError, match="tmin_c has 2 values"):
        et.Days([30.0] * 3, [15.0] * 2, [1.2] * 3, [20.0] * 3, [2.0] * 3)  # type: ignore[arg-type]
    days = et.Days([30.0] * 3, [15.0] * 3, [1.2] * 3, [20.0] * 3, [2.0] * 3)  # type: ignore[arg-type]
    wrong_days: list[Any] = [[1, 2], [0, 1, 2], [1, 2, 367], [1, math.nan, 3], ["a", 1, 2]]
    for wrong in wrong_days:
        with pytest.raises(ValueError, match="day_of_year"):
            et.eto_penman_monteith_days(days, latitude_deg=35, elevation_m=100, day_of_year=wrong)


@pytest.mark.parametrize("find", [sun.sunset, sun.sunrise, sun.civil_dusk, sun.civil_dawn])
def test_a_moment_is_no_day(find: Any) -> None:
    """A moment may be another date elsewhere, and would silently find no sunset."""
    for wrong in (datetime(2026, 6, 1, 12), "2026-06-01", None, 20260601):
        with pytest.raises(ValueError, match="day"):
            find(wrong, 35.0, -106.0, "America/Denver")


def test_a_clock_is_a_clock_and_a_sum_a_number() -> None:
    with pytest.raises(ValueError, match="sunrise"):
        DayHeat(100, 70, 40, "5:30", time(19))  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="monthly_sums"):
        smooth_days([math.nan] * 12)
    with pytest.raises(ValueError, match="time_zone"):
        sun.sunset(date(2026, 6, 1), 35.0, -106.0, None)  # type: ignore[arg-type]


def _has_nan(value: object) -> bool:
    if isinstance(value, float | np.floating):
        return math.isnan(value)
    if is_dataclass(value) and not isinstance(value, type):
        return any(_has_nan(getattr(value, each.name)) for each in fields(value))
    if isinstance(value, list | tuple):
        return any(map(_has_nan, value))
    return isinstance(value, dict) and any(map(_has_nan, value.values()))
