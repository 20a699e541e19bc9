"""Voltage, transformers and timers of low-voltage garden lights.

Line voltage and new circuits are for a licensed electrician; local code comes first.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from functools import partial
from itertools import accumulate
from types import MappingProxyType

import numpy as np

from landscape_care.almanac.bounds import check, check_not_negative, check_positive, check_whole
from landscape_care.almanac.climate import DAYS_IN_YEAR
from landscape_care.almanac.sun import Values, sunset_minutes
from landscape_care.trades.kinds import TIMERS
from landscape_care.trades.stretches import fewest_stretches, stretches

# NEC Chapter 9 Table 8, stranded uncoated copper at 75 °C, ohm per 1000 ft; from memory.
OHM_PER_KFT: Mapping[int, float] = MappingProxyType(
    {18: 7.95, 16: 4.99, 14: 3.14, 12: 1.98, 10: 1.24, 8: 0.778}
)
LOAD_LIMIT = 0.80

_ALPHA_AT_75_C = 0.00323


def resistance_at(ohm_per_kft: float, temperature_c: float) -> float:
    """Return a copper resistance given at 75 °C at another temperature, ohm per 1000 ft.

    NEC Chapter 9 Table 8, note 2: R [1 + 0.00323 (T − 75)].
    """
    check_positive("ohm_per_kft", ohm_per_kft)
    check("temperature_c", temperature_c, -60, 150)
    return ohm_per_kft * (1 + _ALPHA_AT_75_C * (temperature_c - 75))


def voltage_drop_v(awg: int, length_ft: float, *, amperes: float) -> float:
    """Return the volts lost on a two-conductor cable of a one-way length: 2 L R I."""
    if awg not in OHM_PER_KFT:
        raise ValueError(f"awg is {awg!r}: it must be one of {', '.join(map(str, OHM_PER_KFT))}")
    check_not_negative("length_ft", length_ft)
    check_not_negative("amperes", amperes)
    return 2 * length_ft / 1000 * OHM_PER_KFT[awg] * amperes


@dataclass(frozen=True)
class Segment:
    """A piece of cable up to a light: its current, what it loses, and the volts that reach the light."""

    length_ft: float
    amperes: float
    drop_v: float
    reaches_v: float


def voltage_by_segment(
    awg: int, segments: Sequence[tuple[float, float]], *, supply_v: float = 12
) -> tuple[Segment, ...]:
    """Return what each piece of a chain loses and the volts that reach each light.

    A segment is the feet of cable before a fixture and its watts; each carries the current of
    everything beyond it, at the supply voltage.
    """
    check("supply_v", supply_v, 6, 48)
    for length_ft, watts in segments:
        check_not_negative("length_ft of segments", length_ft)
        check_not_negative("watts of segments", watts)
    beyond_w = list(accumulate(watts for _, watts in reversed(segments)))[::-1]
    found, reaches_v = [], supply_v
    for (length_ft, _), watts in zip(segments, beyond_w, strict=True):
        drop_v = voltage_drop_v(awg, length_ft, amperes=watts / supply_v)
        reaches_v -= drop_v
        found.append(Segment(length_ft, watts / supply_v, drop_v, reaches_v))
    return tuple(found)


def voltage_drop_chain_v(awg: int, segments: Sequence[tuple[float, float]], *, supply_v: float = 12) -> float:
    """Return the volts lost at the last fixture of a chain, segment by segment."""
    return sum(each.drop_v for each in voltage_by_segment(awg, segments, supply_v=supply_v))


def load_share(watts: float, rating_va: float, *, power_factor: float = 1) -> float:
    """Return the connected load over the rating of a transformer; 0.80 is the most in practice."""
    check_not_negative("watts", watts)
    check_positive("rating_va", rating_va)
    check("power_factor", power_factor, 0.2, 1)
    return watts / power_factor / rating_va


def transformer_within_80_percent(watts: float, rating_va: float, *, power_factor: float = 1) -> bool:
    """Tell whether the connected load stays within 80 % of the rating; common practice."""
    return load_share(watts, rating_va, power_factor=power_factor) <= LOAD_LIMIT * (1 + 1e-12)


def lamp_life_years(rated_hours: float, hours_per_night: float) -> float:
    """Return the years until a lamp has burnt its rated hours (L70); the driver often fails first."""
    check_positive("rated_hours", rated_hours)
    check("hours_per_night", hours_per_night, 0.1, 24)
    return rated_hours / (hours_per_night * 365.25)


@dataclass(frozen=True)
class TimerSetting:
    """The time a plain timer switches on, and the days it is right for, both included."""

    first_day: date
    last_day: date
    on: time

    def __post_init__(self) -> None:
        """Refuse a setting that ends before it begins."""
        if self.last_day < self.first_day:
            raise ValueError(f"last_day {self.last_day} is before first_day {self.first_day}")


def timer_resets(
    latitude_deg: float,
    longitude_deg: float,
    time_zone: str,
    year_or_first_day: int | date,
    days: int | None = None,
    tolerance_minutes: float = 20,
) -> list[TimerSetting]:
    """Return the fewest settings of a plain timer that stay within minutes of every sunset.

    From a first day the settings cover so many days, a year when none are given. From a year they
    cover twelve months from the day of that year on which the fewest suffice. Days without a sunset
    ask for nothing: a setting may last over them, and none begins or ends on one. Whole minutes by the
    clock on the wall, so summer time counts. Taking each setting as long as it goes uses the fewest.
    """
    check("tolerance_minutes", tolerance_minutes, 1, 120)
    place = (latitude_deg, longitude_deg, time_zone)
    if not isinstance(year_or_first_day, date):
        check_whole("year_or_first_day", year_or_first_day, 1700, 2198)
    if isinstance(year_or_first_day, date):
        first_day, count = year_or_first_day, 365 if days is None else days
        return _settings(first_day, sunset_minutes(first_day, count, *place), tolerance_minutes)
    if days is not None:
        return timer_resets(*place, date(year_or_first_day, 1, 1), days, tolerance_minutes)
    first_day = date(year_or_first_day, 1, 1)
    two_years = sunset_minutes(first_day, 2 * DAYS_IN_YEAR, *place)
    return _yearly_settings(first_day, two_years, tolerance_minutes)


def resets_of(timer: str, resets: Sequence[TimerSetting]) -> list[TimerSetting]:
    """Return the settings somebody must make: those of a plain timer; the others follow dusk themselves."""
    if timer not in TIMERS:
        raise ValueError(f"timer is {timer!r}: it must be one of {', '.join(TIMERS)}")
    return list(resets) if timer == "plain" else []


def _settings(first_day: date, minutes: Values, tolerance_minutes: float) -> list[TimerSetting]:
    if np.isnan(minutes).all():
        return []
    runs = stretches(_continued(minutes), partial(_one_minute_fits, tolerance_minutes))
    return [_setting(first_day, minutes, run) for run in runs]


def _yearly_settings(first_day: date, minutes: Values, tolerance_minutes: float) -> list[TimerSetting]:
    if np.isnan(minutes).all():
        return []
    fits = partial(_one_minute_fits, tolerance_minutes)
    runs = fewest_stretches(_continued(minutes), fits, span=DAYS_IN_YEAR)
    return [_setting(first_day, minutes, run) for run in runs if not np.isnan(minutes[run]).all()]


def _continued(minutes: Values) -> list[float]:
    """Sunsets without gaps or leaps at midnight: a day without one repeats the one before, if any.

    A repeated value is in the stretch already, so it cuts none short; sunsets of white nights that pass
    midnight go on past 24 hours.
    """
    known = np.flatnonzero(~np.isnan(minutes))
    before = np.maximum(np.searchsorted(known, np.arange(len(minutes)), side="right") - 1, 0)
    continued: list[float] = np.unwrap(minutes[known], period=1440)[before].tolist()
    return continued


def _one_minute_fits(tolerance_minutes: float, earliest: float, latest: float) -> bool:
    # A timer is set to whole minutes; one of them must be near enough to both ends.
    return math.ceil(latest - tolerance_minutes) <= math.floor(earliest + tolerance_minutes)


def _setting(first_day: date, minutes: Values, run: range) -> TimerSetting:
    evenings = run.start + np.flatnonzero(~np.isnan(minutes[run.start : run.stop]))
    told = np.unwrap(minutes[evenings], period=1440)
    hour, minute = divmod(round((float(told.min()) + float(told.max())) / 2) % 1440, 60)
    first, last = (first_day + timedelta(days=int(evenings[end])) for end in (0, -1))
    return TimerSetting(first, last, time(hour, minute))
