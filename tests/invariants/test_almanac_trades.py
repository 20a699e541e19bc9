"""Laws that almanac and trades keep for any input."""

import math
from contextlib import suppress
from dataclasses import fields, is_dataclass, replace
from datetime import date, time, timedelta
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac.anchors import NAMED_WINDOWS, windows_in_year
from landscape_care.almanac.climate import DAYS_IN_MONTH, climates, smooth_days
from landscape_care.almanac.dates import Window
from landscape_care.almanac.heat_plan import DayHeat, heat_plan
from landscape_care.almanac.sun import Values, sunset_minutes
from landscape_care.trades import reckoning
from landscape_care.trades.irrigation import SOILS, ControllerProgram, Supply, ZoneNeed, controller_program
from landscape_care.trades.lighting import timer_resets
from landscape_care.trades.limits import Refused
from landscape_care.trades.stretches import fewest_stretches, stretches
from landscape_care.trades.water_need import (
    RAIN_CREDIT,
    drip_minutes,
    effective_rain_in,
    longest_cycle_minutes,
    soil,
)
from landscape_care.trades.water_year import gallons_needed

DAYS = st.dates(date(2020, 1, 1), date(2040, 12, 31))
SPANS = st.tuples(DAYS, st.integers(0, 60), st.integers(0, 60)).map(
    lambda span: Window(
        span[0], span[0] + timedelta(days=span[1]), span[0] + timedelta(days=span[1] + span[2])
    )
)


@given(one=SPANS, other=SPANS)
def test_windows_overlap_exactly_when_a_day_lies_in_both(one: Window, other: Window) -> None:
    days = (one.opens + timedelta(days=count) for count in range(one.days))
    assert one.overlaps(other) == any(other.contains(day) for day in days)
    assert one.overlaps(other) == other.overlaps(one)


@given(window=SPANS, days=st.integers(-400, 400))
def test_a_window_moved_and_moved_back_is_the_same(window: Window, days: int) -> None:
    assert window.shifted(days).shifted(-days) == window
    assert window.shifted(days).days == window.days


@given(
    key=st.sampled_from(sorted(climates())),
    name=st.sampled_from(sorted(NAMED_WINDOWS)),
    first_shift=st.integers(-120, 120),
    length=st.integers(0, 120),
)
def test_every_year_of_windows_opens_each_of_them_once(
    key: str, name: str, first_shift: int, length: int
) -> None:
    expression = f"{name}.start{first_shift:+d}..{name}.start{first_shift + length:+d}"
    place = climates()[key]
    found = [window for year in range(2021, 2033) for window in windows_in_year(expression, place, year)]
    assert found == sorted(set(found))
    assert all((closes - opens).days == length for opens, closes in found)
    gaps = [(after[0] - before[0]).days for before, after in pairwise(found)]
    assert set(gaps) <= {365, 366}
    assert len(found) in ((0,) if not windows_in_year(name, place, 2025) else (11, 12, 13))


@given(sums=st.lists(st.floats(0, 20), min_size=12, max_size=12))
@settings(max_examples=25)
def test_daily_values_always_add_up_to_their_months(sums: list[float]) -> None:
    days = smooth_days(sums)
    assert days.min() >= 0
    monthly = [month.sum() for month in np.split(days, np.cumsum(DAYS_IN_MONTH)[:-1])]
    assert monthly == pytest.approx(sums, abs=1e-6)


@given(rain_in=st.floats(0, 40), crop_et_in=st.floats(0, 20))
def test_useful_rain_is_never_more_than_fell_or_was_needed(rain_in: float, crop_et_in: float) -> None:
    useful = effective_rain_in(rain_in, crop_et_in)
    assert 0 <= useful <= min(rain_in, crop_et_in)


def _within(band: float):  # type: ignore[no-untyped-def]
    return lambda low, high: high - low <= band


def _fewest(values: tuple[float, ...], band: float) -> int:
    """The least number of stretches, found by trying every cut."""

    @cache
    def from_start(start: int) -> int:
        if start == len(values):
            return 0
        ends = range(start + 1, len(values) + 1)
        fitting = [
            end for end in ends if max(values[start:end]) - min(values[start:end]) <= band or end == start + 1
        ]
        return 1 + min(from_start(end) for end in fitting)

    return from_start(0)


@given(values=st.lists(st.integers(0, 100), min_size=1, max_size=25), band=st.integers(0, 60))
def test_stretches_are_the_fewest_of_all_ways_to_cut(values: list[int], band: int) -> None:
    found = stretches(values, _within(band))
    assert [index for run in found for index in run] == list(range(len(values)))
    assert all(max(values[r.start : r.stop]) - min(values[r.start : r.stop]) <= band for r in found)
    assert len(found) == _fewest(tuple(values), band)


@given(values=st.lists(st.integers(0, 100), min_size=1, max_size=12), band=st.integers(0, 60))
def test_a_ring_is_cut_where_the_fewest_suffice(values: list[int], band: int) -> None:
    found = fewest_stretches(values * 2, _within(band), span=len(values))
    rings = [tuple(values[start:] + values[:start]) for start in range(len(values))]
    assert len(found) == min(_fewest(ring, band) for ring in rings)


@given(
    first_day=DAYS,
    days=st.integers(1, 400),
    latitude_deg=st.floats(-60, 60),
    tolerance_minutes=st.integers(2, 60),
)
@settings(max_examples=40)
def test_a_timer_is_never_wrong_by_more_than_was_asked(
    first_day: date, days: int, latitude_deg: float, tolerance_minutes: int
) -> None:
    place = (latitude_deg, -105.0, "America/Denver")
    found = timer_resets(*place, first_day, days, tolerance_minutes)
    minutes = sunset_minutes(first_day, days, *place)
    assert sum((each.last_day - each.first_day).days + 1 for each in found) == days
    for each in found:
        first = (each.first_day - first_day).days
        span = minutes[first : first + (each.last_day - each.first_day).days + 1]
        assert np.abs(span - (each.on.hour * 60 + each.on.minute)).max() <= tolerance_minutes + 1e-6


@st.composite
def zone_needs(draw: st.DrawFn, station: int) -> ZoneNeed:
    device = draw(st.sampled_from(["spray", "micro_spray", "rotor", "bubbler", "drip"]))
    point = device in ("bubbler", "drip")
    return ZoneNeed(
        station=station,
        device=device,
        plant_factor=draw(st.sampled_from([0.1, 0.3, 0.5, 0.8])),
        microclimate=draw(st.floats(0.5, 1.4)),
        area_ft2=draw(st.floats(10, 2000)),
        root_depth_in=draw(st.floats(4, 36)),
        depletion=draw(st.floats(0.3, 0.6)),
        soil=draw(st.sampled_from(sorted(SOILS))),
        precipitation_in_h=None if point else draw(st.floats(0.3, 3)),
        emitters=draw(st.integers(1, 60)) if point else 0,
        emitter_gph=draw(st.sampled_from([0.5, 1.0, 2.0, 4.0])) if point else 0.0,
    )


@st.composite
def controllers(draw: st.DrawFn) -> list[ZoneNeed]:
    count = draw(st.integers(1, 5))
    return [draw(zone_needs(station)) for station in range(1, count + 1)]


@given(
    zones=controllers(),
    eto_in=st.floats(0.01, 0.45),
    allowed=st.sets(st.integers(0, 6)),
    opens=st.integers(0, 23),
    length_h=st.integers(1, 12),
    rain_in=st.sampled_from([0.0, 0.05, 0.2]),
)
@settings(max_examples=120)
def test_a_controller_program_keeps_its_laws(
    zones: list[ZoneNeed], eto_in: float, allowed: set[int], opens: int, length_h: int, rain_in: float
) -> None:
    closes = (opens + length_h) % 24
    program = controller_program(
        zones,
        eto_in_per_day=eto_in,
        allowed_weekdays=allowed,
        window_opens=time(opens),
        window_closes=time(closes),
        rain_in_per_day=rain_in,
    )
    _one_valve_at_a_time(program)
    _inside_the_hours(program, opens, closes)
    _all_answered(program, zones)
    for zone in zones:
        need_in = max(0.0, eto_in * zone.plant_factor * zone.microclimate - RAIN_CREDIT * rain_in)
        _watered_as_the_roots_allow(program, zone, need_in, allowed)


def _open_minutes(program: ControllerProgram) -> list[tuple[int, int]]:
    return [
        (day, start + cycle * (zone.cycle_minutes + zone.soak_minutes) + minute)
        for zone in program.zones
        for start in [zone.start.hour * 60 + zone.start.minute]
        for day in zone.weekdays
        for cycle in range(zone.cycles)
        for minute in range(zone.cycle_minutes)
    ]


def _one_valve_at_a_time(program: ControllerProgram) -> None:
    opened = _open_minutes(program)
    assert len(opened) == len(set(opened))


def _inside_the_hours(program: ControllerProgram, opens: int, closes: int) -> None:
    for _, minute in _open_minutes(program):
        after_opening, before_closing = minute >= opens * 60, minute < (closes or 24) * 60
        assert minute < 24 * 60
        assert (
            (after_opening and before_closing)
            if opens < (closes or 24)
            else (after_opening or before_closing)
        )


def _all_answered(program: ControllerProgram, zones: list[ZoneNeed]) -> None:
    programmed = {zone.station for zone in program.zones}
    silent = [
        zone.station
        for zone in zones
        if zone.station not in programmed
        and not any(text.startswith(f"Station {zone.station}:") for text in program.conflicts)
    ]
    assert silent == []


def _watered_as_the_roots_allow(
    program: ControllerProgram, zone: ZoneNeed, need_in: float, allowed: set[int]
) -> None:
    found = next((each for each in program.zones if each.station == zone.station), None)
    if found is None or found.is_off:
        assert found is None or need_in == 0
        return
    assert set(found.weekdays) <= allowed
    assert found.run_minutes == found.cycles * found.cycle_minutes
    rounding = max(1.0, found.cycles / 2)
    assert found.run_minutes <= zone.minutes_for(zone.held_in) + rounding
    conflict = any(text.startswith(f"Station {zone.station}:") for text in program.conflicts)
    if not conflict:
        assert found.interval_days <= math.floor(zone.held_in / need_in + 1e-9)
        runs_a_week = found.gallons_per_week / found.gallons_per_run
        asked = zone.minutes_for(need_in * 7 / runs_a_week)
        assert found.run_minutes == pytest.approx(asked, abs=rounding)
    if not zone.is_point:
        ground = soil(zone.soil)
        longest = longest_cycle_minutes(
            zone.rate_in_h, ground.infiltration_in_h, surface_storage_in=ground.surface_storage_in
        )
        assert found.cycle_minutes <= max(longest, 1)


# --- Water ------------------------------------------------------------------------------------


@given(zones=controllers(), eto_in=st.floats(0.02, 0.4), more=st.floats(1, 1.5))
def test_more_evapotranspiration_never_asks_for_less_water(
    zones: list[ZoneNeed], eto_in: float, more: float
) -> None:
    month = [eto_in * 30] * 12
    less, most = gallons_needed(zones, month), gallons_needed(zones, [each * more for each in month])
    assert (most >= less - 1e-9).all()


@given(zone=zone_needs(1), net_in=st.floats(0.01, 3), times=st.floats(1, 5))
def test_minutes_scale_with_area_over_flow(zone: ZoneNeed, net_in: float, times: float) -> None:
    flow_gpm = zone.flow_gpm
    usual = replace(zone, gallons_per_minute=flow_gpm, precipitation_in_h=None)
    wider = replace(usual, area_ft2=zone.area_ft2 * times)
    stronger = replace(usual, gallons_per_minute=flow_gpm * times)
    assert wider.minutes_for(net_in) == pytest.approx(times * usual.minutes_for(net_in))
    assert stronger.minutes_for(net_in) == pytest.approx(usual.minutes_for(net_in) / times)


@given(gallons=st.floats(0.1, 1000), emitters=st.integers(1, 500), emitter_gph=st.floats(0.2, 10))
def test_twice_the_emitters_run_half_as_long(gallons: float, emitters: int, emitter_gph: float) -> None:
    single, double = (
        drip_minutes(gallons, count, emitter_gph=emitter_gph) for count in (emitters, 2 * emitters)
    )
    assert double == pytest.approx(single / 2)


@given(
    zones=controllers(),
    more_zones=controllers(),
    supply_gpm=st.floats(0.5, 60),
    eto_in=st.floats(0.05, 0.4),
)
@settings(max_examples=40, deadline=None)
def test_two_controllers_never_share_a_minute_that_the_supply_cannot_give(
    zones: list[ZoneNeed], more_zones: list[ZoneNeed], supply_gpm: float, eto_in: float
) -> None:
    first = _programmed(zones, eto_in, Supply(supply_gpm))
    second = _programmed(more_zones, eto_in, Supply(supply_gpm, others=(first,)))
    flows: dict[tuple[int, int], dict[int, float]] = {}
    for place, program in enumerate((first, second)):
        for zone in program.zones:
            one = ControllerProgram((zone,), ())
            for minute in _open_minutes(one):
                flow = zone.gallons_per_run / zone.run_minutes
                flows.setdefault(minute, {})[place] = flow
    together = [sum(drawn.values()) for drawn in flows.values() if len(drawn) == 2]
    assert all(gpm <= supply_gpm + 1e-6 for gpm in together)


def _programmed(zones: list[ZoneNeed], eto_in: float, supply: Supply) -> ControllerProgram:
    return controller_program(
        zones,
        eto_in_per_day=eto_in,
        allowed_weekdays=range(7),
        window_opens=time(21),
        window_closes=time(7),
        supply=supply,
    )


# --- Light ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "place",
    [
        (33.45, -112.07, "America/Phoenix"),
        (39.74, -104.98, "America/Denver"),
        (-33.87, 151.21, "Australia/Sydney"),
        (70.0, 25.0, "Europe/Oslo"),
    ],
)
@pytest.mark.parametrize("tolerance_minutes", [15, 30])
def test_in_no_minute_of_the_year_is_a_plain_timer_out_of_its_band(
    place: tuple[float, float, str], tolerance_minutes: int
) -> None:
    """More than the tolerance after sunset the lights are on; more than it before, they are off."""
    first, days = date(2026, 1, 1), 365
    sunsets = sunset_minutes(first, days, *place)
    on = np.full(days, np.nan)
    for each in timer_resets(*place, first, days, tolerance_minutes):
        begin = (each.first_day - first).days
        on[begin : begin + (each.last_day - each.first_day).days + 1] = each.on.hour * 60 + each.on.minute
    assert not np.isnan(on[~np.isnan(sunsets)]).any()
    has_sunset = ~np.isnan(sunsets)
    minute = np.arange(1440)
    # A white night's sunset falls after midnight: clock minutes are counted round the day.
    since_sunset = (minute - sunsets[has_sunset, None] + 720) % 1440 - 720
    since_on = (minute - on[has_sunset, None] + 720) % 1440 - 720
    assert (since_on[since_sunset > tolerance_minutes + 0.01] > -1e-6).all() or _only_far_side(
        since_sunset, since_on, tolerance_minutes
    )
    assert not ((since_sunset < -tolerance_minutes - 0.01) & (since_on >= 0) & (since_on < 360)).any()


def _only_far_side(since_sunset: Values, since_on: Values, tolerance_minutes: int) -> bool:
    """Whether what differs lies twelve hours away, where before and after meet."""
    odd = (since_sunset > tolerance_minutes + 0.01) & (since_on < -1e-6)
    return bool((since_sunset[odd] > 720 - 2 * tolerance_minutes).all())


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=15, deadline=None)
def test_days_at_once_are_the_days_one_by_one(seed: int) -> None:
    chance = np.random.default_rng(seed)
    low = chance.uniform(-30, 30, 20)
    high = low + chance.uniform(0, 25, 20)
    vapour = chance.uniform(0.05, 1, 20) * 0.6108 * np.exp(17.27 * low / (low + 237.3))
    solar, wind = chance.uniform(0, 35, 20), chance.uniform(0, 15, 20)
    latitude_deg, numbers = float(chance.uniform(-90, 90)), chance.integers(1, 367, 20)
    place = {"latitude_deg": latitude_deg, "elevation_m": float(chance.uniform(0, 4000))}
    at_once = et.eto_penman_monteith_days(
        et.Days(high, low, vapour, solar, wind), **place, day_of_year=numbers
    )
    one_by_one = [
        et.eto_penman_monteith(et.DayWeather(*map(float, day)), **place, day_of_year=int(number))
        for *day, number in zip(high, low, vapour, solar, wind, numbers, strict=True)
    ]
    assert np.isfinite(at_once).all()
    assert at_once == pytest.approx(one_by_one)


@given(
    tmin_f=st.floats(20, 95),
    spread_f=st.floats(0, 40),
    dry_f=st.floats(0, 60),
    hours=st.floats(1, 12),
)
@settings(deadline=None)
def test_a_plan_for_the_heat_never_keeps_heavy_work_in_hours_that_put_it_off(
    tmin_f: float, spread_f: float, dry_f: float, hours: float
) -> None:
    day = DayHeat(tmin_f + spread_f, tmin_f, max(tmin_f - dry_f, -50), time(5, 30), time(19, 30))
    plan = heat_plan(day, work_hours=hours)
    assert plan.start <= plan.heavy_until <= plan.ends
    for hour in plan.hours:
        assert hour.level != "stop"
        if hour.begins < plan.heavy_until:
            assert hour.level != "put_off"
    assert time(5) <= plan.start <= time(7)


# --- Whatever is asked ------------------------------------------------------------------------

REAL_NUMBERS = st.floats(allow_nan=True, allow_infinity=True) | st.floats(-200, 2000)


@given(data=st.data())
@settings(max_examples=400, deadline=None)
def test_no_reckoning_turns_any_numbers_into_what_is_no_number(data: st.DataObject) -> None:
    asked = data.draw(st.sampled_from(list(reckoning.reckonings().values())))
    wild = [each for each in asked.inputs if each.kind in ("number", "whole")]
    chosen = data.draw(st.lists(st.sampled_from(wild), max_size=3)) if wild else []
    given_values = {**asked.example, **{each.name: data.draw(_within_or_wild(each)) for each in chosen}}
    with suppress(Refused):
        assert not _has_nan(reckoning.answer(asked, given_values).value)


def _within_or_wild(each: reckoning.Input) -> st.SearchStrategy[float]:
    if each.kind == "whole":
        return st.integers(-5, 400).map(float)
    low, high = each.low or 0.0, 1e6 if each.high is None else each.high
    return st.floats(min(low, high), high) | REAL_NUMBERS


def _has_nan(value: object) -> bool:
    if isinstance(value, float):
        return math.isnan(value)
    if is_dataclass(value) and not isinstance(value, type):
        return any(_has_nan(getattr(value, each.name)) for each in fields(value))
    if isinstance(value, list | tuple):
        return any(map(_has_nan, value))
    return isinstance(value, dict) and any(map(_has_nan, value.values()))
