"""The program of an irrigation controller, computed from what its zones need.

A zone waters as seldom as its roots allow, on as few of the allowed weekdays as will do; a run
puts back what was used since the last one, split into cycles where sprays would run off. One
valve of a controller is open at a time, and none beside those of another controller with which it
would draw more than the supply gives. What cannot be had is said as a conflict, never made up for by watering
more than the roots hold.
"""

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import time
from functools import lru_cache, partial
from itertools import combinations
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from landscape_care.almanac.bounds import check, check_not_negative, check_positive, check_whole
from landscape_care.almanac.dates import check_clock
from landscape_care.trades.water_need import (
    GALLONS_PER_INCH_FT2,
    IN_H_FT2_PER_GPM,
    PLANT_FACTORS,
    RAIN_CREDIT,
    SOILS,
    CycleAndSoak,
    SeasonalSetting,
    Soil,
    canopy_area_ft2,
    cycle_and_soak,
    drip_minutes,
    effective_rain_in,
    gallons_per_day,
    interval_days,
    landscape_coefficient,
    leaching_requirement,
    longest_cycle_minutes,
    plant_factor,
    precipitation_rate_from_spacing,
    precipitation_rate_in_h,
    refill_in,
    scheduling_multiplier,
    settings_per_year,
    soil,
    spray_minutes,
    total_available_in,
    watersense_baseline_gal,
    watersense_multiplier,
    watersense_requirement_gal,
)

__all__ = [
    "DEVICES",
    "PLANT_FACTORS",
    "SOILS",
    "ControllerProgram",
    "CycleAndSoak",
    "SeasonalSetting",
    "Soil",
    "Supply",
    "ZoneNeed",
    "ZoneProgram",
    "canopy_area_ft2",
    "controller_program",
    "cycle_and_soak",
    "drip_minutes",
    "effective_rain_in",
    "gallons_per_day",
    "interval_days",
    "landscape_coefficient",
    "leaching_requirement",
    "longest_cycle_minutes",
    "plant_factor",
    "precipitation_rate_from_spacing",
    "precipitation_rate_in_h",
    "refill_in",
    "scheduling_multiplier",
    "settings_per_year",
    "soil",
    "spray_minutes",
    "total_available_in",
    "watersense_baseline_gal",
    "watersense_multiplier",
    "watersense_requirement_gal",
]

# EPA WaterSense water budget, distribution uniformity by device (from memory); drip and bubblers
# by their usual emission uniformity.
USUAL_UNIFORMITY: Mapping[str, float] = MappingProxyType(
    {"spray": 0.65, "micro_spray": 0.70, "rotor": 0.70, "bubbler": 0.85, "drip": 0.85}
)
DEVICES = tuple(USUAL_UNIFORMITY)
# Drip and bubblers wet a part of the ground under a canopy; common practice 0.3 to 0.6.
POINT_DEVICES = ("bubbler", "drip")
USUAL_WETTED_SHARE = 0.5
# Common practice: however deep the roots, thirsty plants are not left longer than this. From the
# plant factor at the left on, the days at the right.
LONGEST_WAIT_DAYS = ((0.7, 7), (0.4, 14), (0.2, 21), (0.0, 28))
# Common practice: no pause between cycles is shorter.
SHORTEST_SOAK_MINUTES = 30

_MINUTES_A_DAY = 1440
_WEEK = 7

Weekdays = tuple[int, ...]
Words = tuple[str, str]


@dataclass(frozen=True)
class ZoneNeed:
    """A zone as it is installed and planted; US customary units, shares from 0 to 1.

    Sprays need a precipitation rate or a flow; drip and bubblers need emitters or a flow. The area
    is the bed for sprays, the canopies together for drip. Left out, the uniformity and the wetted
    share are those usual for the device.
    """

    station: int
    device: str
    plant_factor: float
    microclimate: float
    area_ft2: float
    root_depth_in: float
    depletion: float
    soil: str
    precipitation_in_h: float | None = None
    gallons_per_minute: float | None = None
    distribution_uniformity: float | None = None
    emitters: int = 0
    emitter_gph: float = 0.0
    wetted_share: float | None = None

    def __post_init__(self) -> None:
        """Refuse a zone whose watering cannot be computed."""
        if self.device not in DEVICES:
            raise ValueError(f"device is {self.device!r}: it must be one of {', '.join(DEVICES)}")
        check_whole("station", self.station, 1, 999)
        check("plant_factor", self.plant_factor, 0.01, 1.2)
        check("microclimate", self.microclimate, 0.5, 1.4)
        check_positive("area_ft2", self.area_ft2)
        check("distribution_uniformity", self.uniformity, 0.2, 1)
        check_whole("emitters", self.emitters, 0, 100_000)
        check_not_negative("emitter_gph", self.emitter_gph)
        for name in ("precipitation_in_h", "gallons_per_minute"):
            # Nought stands for what is not known.
            if (known := getattr(self, name)) is not None and known != 0:
                check_positive(name, known)
        if not self.flow_gpm > 0:
            raise ValueError(
                f"station {self.station} has no flow: give gallons_per_minute, for sprays or"
                " precipitation_in_h, for drip or emitters and emitter_gph"
            )
        refill_in(
            soil(self.soil).available_in_per_ft,
            self.root_depth_in,
            depletion=self.depletion,
            wetted_share=self.share,
        )

    @property
    def is_point(self) -> bool:
        """Tell whether the zone waters points rather than an area."""
        return self.device in POINT_DEVICES

    @property
    def uniformity(self) -> float:
        """Distribution uniformity of sprays, emission uniformity of drip."""
        known = self.distribution_uniformity
        return USUAL_UNIFORMITY[self.device] if known is None else known

    @property
    def share(self) -> float:
        """Share of the area that gets wet."""
        if self.wetted_share is not None:
            return self.wetted_share
        return USUAL_WETTED_SHARE if self.is_point else 1.0

    @property
    def flow_gpm(self) -> float:
        """Flow while the valve is open, gal/min."""
        if self.gallons_per_minute:
            return self.gallons_per_minute
        if self.is_point:
            return self.emitters * self.emitter_gph / 60
        return (self.precipitation_in_h or 0.0) * self.area_ft2 / IN_H_FT2_PER_GPM

    @property
    def rate_in_h(self) -> float:
        """Depth put down in an hour, inches."""
        return self.precipitation_in_h or precipitation_rate_in_h(self.flow_gpm, self.area_ft2)

    @property
    def held_in(self) -> float:
        """Depth the roots may use up before the next watering, inches over the area."""
        return refill_in(
            soil(self.soil).available_in_per_ft,
            self.root_depth_in,
            depletion=self.depletion,
            wetted_share=self.share,
        )

    def minutes_for(self, net_in: float) -> float:
        """Return the minutes that give a depth to the driest spot."""
        if not self.is_point:
            return spray_minutes(net_in, self.rate_in_h, multiplier=scheduling_multiplier(self.uniformity))
        return net_in * self.area_ft2 * GALLONS_PER_INCH_FT2 / self.uniformity / self.flow_gpm


@dataclass(frozen=True)
class ZoneProgram:
    """What to set on the controller for a station.

    `run_minutes` are the minutes of a watering day, all cycles together. `weekdays` are the
    calendar days on which the run starts, 0 for Monday; no run goes on past midnight.
    `interval_days` is the longest gap between runs; 14 or more means the weekday of every second,
    third or fourth week. A station that needs nothing has no weekdays and no minutes.
    """

    station: int
    run_minutes: int
    cycles: int
    cycle_minutes: int
    soak_minutes: int
    weekdays: Weekdays
    start: time
    gallons_per_run: float
    gallons_per_week: float
    interval_days: int

    @property
    def is_off(self) -> bool:
        """Tell whether the station stays closed."""
        return not self.weekdays


@dataclass(frozen=True)
class Supply:
    """What the water supply gives, gal/min, and the programs that other controllers already run on it.

    Without a flow no two valves are open at once.
    """

    flow_gpm: float | None = None
    others: tuple["ControllerProgram", ...] = ()

    def __post_init__(self) -> None:
        """Refuse a supply without water."""
        if self.flow_gpm is not None:
            check_positive("supply_gpm", self.flow_gpm)


ONLY_ONE_VALVE = Supply()


@dataclass(frozen=True)
class ControllerProgram:
    """The program of all stations, and what days, hours or supply do not allow, in English and Spanish.

    `conflict_stations` names the station of each conflict.
    """

    zones: tuple[ZoneProgram, ...]
    conflicts: tuple[str, ...]
    conflicts_es: tuple[str, ...] = ()
    conflict_stations: tuple[int, ...] = ()


@dataclass(frozen=True)
class _Choice:
    """Weekdays to water on, of how many weeks one."""

    weekdays: Weekdays
    weeks: int = 1

    @property
    def gap_days(self) -> int:
        return max(_gaps(self.weekdays)) + _WEEK * (self.weeks - 1)

    @property
    def runs_per_week(self) -> float:
        return len(self.weekdays) / self.weeks


@dataclass(frozen=True)
class _Run:
    """A watering in whole minutes."""

    cycles: int
    cycle_minutes: int
    soak_minutes: int

    @property
    def minutes(self) -> int:
        return self.cycles * self.cycle_minutes

    @property
    def starts(self) -> range:
        step = self.cycle_minutes + self.soak_minutes
        return range(0, self.cycles * step, step)


class _Week:
    """The hours in which one valve at a time may be open, and those already taken."""

    def __init__(self, opens: time, closes: time, supply: Supply) -> None:
        check_clock("window_opens", opens)
        check_clock("window_closes", closes)
        if opens == closes:
            raise ValueError(f"window_opens and window_closes are both {opens:%H:%M}: they must differ")
        self._segments = _segments(_minute(opens), _minute(closes))
        self._taken = np.zeros((_WEEK, _MINUTES_A_DAY), dtype=np.bool_)
        self._is_alone = not supply.others
        self._drawn_gpm = _drawn_gpm(supply.others)
        # Where no flow is known, whatever is open takes all of it.
        self._supply_gpm = supply.flow_gpm or 0.0

    def take(self, run: _Run, weekdays: Weekdays, flow_gpm: float) -> time | None:
        """Take the earliest start that is free on all weekdays; None where there is none."""
        taken: npt.NDArray[np.bool_] = np.logical_or.reduce(self._taken[list(weekdays)], axis=0)
        if not self._is_alone:
            taken = taken | self._too_much(weekdays, flow_gpm)
        for segment in self._segments:
            start = _earliest(taken, segment, run)
            if start is not None:
                self._mark(start, run, weekdays)
                return time(*divmod(start, 60))
        return None

    def _too_much(self, weekdays: Weekdays, flow_gpm: float) -> npt.NDArray[np.bool_]:
        """Tell in which minutes the valve would draw more than the supply beside other controllers."""
        others: npt.NDArray[np.float64] = self._drawn_gpm[list(weekdays)].max(axis=0)
        return np.greater(others, 0) & np.greater(others + flow_gpm, self._supply_gpm + 1e-9)

    def _mark(self, start: int, run: _Run, weekdays: Weekdays) -> None:
        for offset in run.starts:
            begin = start + offset
            self._taken[list(weekdays), begin : begin + run.cycle_minutes] = True


def controller_program(  # noqa: PLR0913 - what a season, a town and a supply ask for
    zones: Sequence[ZoneNeed],
    *,
    eto_in_per_day: float,
    allowed_weekdays: Collection[int],
    window_opens: time,
    window_closes: time,
    rain_in_per_day: float = 0,
    supply: Supply = ONLY_ONE_VALVE,
) -> ControllerProgram:
    """Return the program for zones in a season of so much ETo and rain a day, inches.

    A window that closes before it opens goes on past midnight; a run stays on one side of it, so
    the weekdays are true calendar days. A quarter of the rain is counted (EPA WaterSense). A valve
    that draws more than the supply gives is programmed and said.
    """
    check("eto_in_per_day", eto_in_per_day, 0, 1)
    check("rain_in_per_day", rain_in_per_day, 0, 5)
    _check_stations(zones)
    allowed = _weekdays(allowed_weekdays)
    dry_in = RAIN_CREDIT * rain_in_per_day
    thirst = [(zone, max(0.0, _need_in_per_day(zone, eto_in_per_day) - dry_in)) for zone in zones]
    placed = _placed(thirst, allowed, partial(_Week, window_opens, window_closes, supply))
    hours = (f"{window_opens:%H:%M}", f"{window_closes:%H:%M}")
    programs: list[ZoneProgram] = []
    conflicts: list[tuple[int, Words]] = []
    for zone, need in sorted(thirst, key=lambda each: each[0].station):
        if not need:
            programs.append(_off(zone, window_opens))
            continue
        program = placed[zone.station]
        said = (
            *_overdrawn(zone, supply),
            *_conflicts(zone, need, program, allowed=allowed, window=hours),
        )
        conflicts.extend((zone.station, words) for words in said)
        programs.extend([program] if program else [])
    return ControllerProgram(
        tuple(programs),
        tuple(english for _, (english, _) in conflicts),
        tuple(spanish for _, (_, spanish) in conflicts),
        tuple(station for station, _ in conflicts),
    )


def _placed(
    thirst: Sequence[tuple[ZoneNeed, float]], allowed: Weekdays, new_week: Callable[[], _Week]
) -> dict[int, ZoneProgram | None]:
    """Place the zones that need water in the order of their stations; where some find no time, the
    shortest runs first, if that leaves fewer without.
    """
    thirsty = [(zone, need) for zone, need in thirst if need]

    def in_order(key: Callable[[tuple[ZoneNeed, float]], float]) -> dict[int, ZoneProgram | None]:
        week = new_week()
        return {
            zone.station: _place(zone, need, allowed=allowed, week=week)
            for zone, need in sorted(thirsty, key=key)
        }

    by_station = in_order(lambda each: each[0].station)
    if None not in by_station.values():
        return by_station
    shortest_first = in_order(lambda each: each[0].minutes_for(each[0].held_in))
    return min((by_station, shortest_first), key=lambda placed: list(placed.values()).count(None))


def _need_in_per_day(zone: ZoneNeed, eto_in_per_day: float) -> float:
    return eto_in_per_day * zone.plant_factor * zone.microclimate


def _off(zone: ZoneNeed, window_opens: time) -> ZoneProgram:
    return ZoneProgram(zone.station, 0, 0, 0, 0, (), window_opens, 0.0, 0.0, 0)


def _place(zone: ZoneNeed, need: float, *, allowed: Weekdays, week: _Week) -> ZoneProgram | None:
    for choice in _choices(allowed, _whole_days(zone, need)):
        run = _run(zone, need, choice)
        start = week.take(run, choice.weekdays, zone.flow_gpm)
        if start is not None:
            return _program(zone, run, choice, start=start)
    return None


def _program(zone: ZoneNeed, run: _Run, choice: _Choice, *, start: time) -> ZoneProgram:
    gallons = run.minutes * zone.flow_gpm
    return ZoneProgram(
        station=zone.station,
        run_minutes=run.minutes,
        cycles=run.cycles,
        cycle_minutes=run.cycle_minutes,
        soak_minutes=run.soak_minutes,
        weekdays=choice.weekdays,
        start=start,
        gallons_per_run=gallons,
        gallons_per_week=gallons * choice.runs_per_week,
        interval_days=choice.gap_days,
    )


def _run(zone: ZoneNeed, need: float, choice: _Choice) -> _Run:
    # Never more than the roots hold: the rest would run past them.
    net_in = min(need * _WEEK / choice.runs_per_week, zone.held_in)
    minutes = zone.minutes_for(net_in)
    if zone.is_point:
        return _Run(1, _whole_minutes(minutes), 0)
    ground = soil(zone.soil)
    split = cycle_and_soak(
        minutes,
        zone.rate_in_h,
        infiltration_in_h=ground.infiltration_in_h,
        surface_storage_in=ground.surface_storage_in,
    )
    soak = max(SHORTEST_SOAK_MINUTES, math.ceil(split.soak_minutes)) if split.cycles > 1 else 0
    return _whole_cycles(minutes, split.cycles, longest=_longest_minutes(zone), soak=soak)


def _whole_cycles(minutes: float, cycles: int, *, longest: float, soak: int) -> _Run:
    cycle_minutes = _whole_minutes(minutes / cycles)
    if cycle_minutes > longest >= 1:
        # Rounded up it would run off: one cycle more, each shorter.
        cycles, cycle_minutes = cycles + 1, _whole_minutes(minutes / (cycles + 1))
        soak = max(soak, SHORTEST_SOAK_MINUTES)
    return _Run(cycles, cycle_minutes, soak)


def _longest_minutes(zone: ZoneNeed) -> float:
    ground = soil(zone.soil)
    return longest_cycle_minutes(
        zone.rate_in_h, ground.infiltration_in_h, surface_storage_in=ground.surface_storage_in
    )


def _whole_minutes(minutes: float) -> int:
    return max(1, math.floor(minutes + 0.5))


def _conflicts(
    zone: ZoneNeed, need: float, program: ZoneProgram | None, *, allowed: Weekdays, window: Words
) -> Iterator[Words]:
    if not allowed:
        yield _about(zone, "no weekday is allowed for watering.", "no se permite ningún día de riego.")
        return
    if program is None:
        opens, closes = window
        yield _about(
            zone,
            f"no time is left between {opens} and {closes} for its runs; it is not programmed.",
            f"no queda tiempo entre {opens} y {closes} para sus riegos; queda sin programa.",
        )
        return
    if program.interval_days > _whole_days(zone, need):
        yield _shortage(zone, zone.held_in / need, program.interval_days)
    if not zone.is_point and _longest_minutes(zone) < 1:
        yield _about(
            zone,
            "its sprays run off within a minute; the precipitation rate is too high.",
            "sus aspersores escurren en menos de un minuto; la tasa de precipitación es muy alta.",
        )


def _about(zone: ZoneNeed, english: str, spanish: str) -> Words:
    return f"Station {zone.station}: {english}", f"Estación {zone.station}: {spanish}"


def _overdrawn(zone: ZoneNeed, supply: Supply) -> Iterator[Words]:
    if supply.flow_gpm is not None and zone.flow_gpm > supply.flow_gpm:
        yield _about(
            zone,
            f"it draws {zone.flow_gpm:.1f} gal/min and the supply gives {supply.flow_gpm:g};"
            " the zone must be split.",
            f"toma {zone.flow_gpm:.1f} gal/min y el suministro da {supply.flow_gpm:g};"
            " hay que dividir la zona.",
        )


def _shortage(zone: ZoneNeed, lasts_days: float, gap_days: int) -> Words:
    lasts_days = math.floor(lasts_days * 10) / 10  # not rounded up to what would do
    if gap_days == 1:
        return _about(
            zone,
            f"its roots hold water for {lasts_days:.1f} days; a run every day leaves it short.",
            f"sus raíces guardan agua para {lasts_days:.1f} días; un riego diario no le alcanza.",
        )
    return _about(
        zone,
        f"its roots hold water for {lasts_days:.1f} days, but the allowed weekdays leave"
        f" {gap_days} days between runs; it will be short of water.",
        f"sus raíces guardan agua para {lasts_days:.1f} días, pero los días permitidos dejan"
        f" {gap_days} días entre riegos; le faltará agua.",
    )


def _whole_days(zone: ZoneNeed, need: float) -> int:
    """Return the whole days a zone may wait; 0 when its roots do not even hold a day's water."""
    lasts_days = zone.held_in / need
    longest = next(days for factor, days in LONGEST_WAIT_DAYS if zone.plant_factor >= factor)
    return math.floor(min(longest, lasts_days + 1e-9))


@lru_cache(maxsize=1024)
def _choices(allowed: Weekdays, days: int) -> tuple[_Choice, ...]:
    """Return the ways to water at most so many days apart, fewest runs first, else every allowed day."""
    if not allowed:
        return ()
    seldom = [_Choice((day,), weeks) for weeks in range(days // _WEEK, 1, -1) for day in allowed]
    weekly = [_Choice(chosen) for count in range(1, 8) for chosen in combinations(allowed, count)]
    near = [choice for choice in weekly if choice.gap_days <= days]
    near.sort(key=lambda choice: (len(choice.weekdays), _unevenness(choice.weekdays), choice.weekdays))
    return tuple(seldom + near) or (_Choice(allowed),)


def _gaps(weekdays: Weekdays) -> list[int]:
    following = (*weekdays[1:], weekdays[0] + _WEEK)
    return [after - day for day, after in zip(weekdays, following, strict=True)]


def _unevenness(weekdays: Weekdays) -> int:
    return sum(gap * gap for gap in _gaps(weekdays))


def _weekdays(allowed_weekdays: Collection[int]) -> Weekdays:
    for day in allowed_weekdays:
        check_whole("allowed_weekdays", day, 0, 6)
    return tuple(sorted(set(allowed_weekdays)))


def _check_stations(zones: Sequence[ZoneNeed]) -> None:
    stations = [zone.station for zone in zones]
    twice = sorted({station for station in stations if stations.count(station) > 1})
    if twice:
        raise ValueError(f"station {twice[0]} is given twice: each station of a controller has one zone")


def _drawn_gpm(programs: Sequence[ControllerProgram]) -> npt.NDArray[np.float64]:
    """Return what programs draw in each minute of the week, gal/min.

    A zone that runs every second week counts for every week: which one is not said here.
    """
    drawn = np.zeros((_WEEK, _MINUTES_A_DAY))
    for zone in (zone for program in programs for zone in program.zones if zone.run_minutes):
        run = _Run(zone.cycles, zone.cycle_minutes, zone.soak_minutes)
        for offset in run.starts:
            begin = _minute(zone.start) + offset
            drawn[list(zone.weekdays), begin : begin + run.cycle_minutes] += (
                zone.gallons_per_run / zone.run_minutes
            )
    return drawn


def _minute(clock: time) -> int:
    return clock.hour * 60 + clock.minute


def _segments(opens: int, closes: int) -> list[range]:
    if closes == 0:
        return [range(opens, _MINUTES_A_DAY)]
    if opens < closes:
        return [range(opens, closes)]
    return [range(opens, _MINUTES_A_DAY), range(closes)]


def _earliest(taken: npt.NDArray[np.bool_], segment: range, run: _Run) -> int | None:
    last_start = segment.stop - run.starts[-1] - run.cycle_minutes
    if last_start < segment.start:
        return None
    before = np.concatenate([[0], np.cumsum(taken)])
    starts = np.arange(segment.start, last_start + 1)
    free = np.ones(len(starts), dtype=np.bool_)
    for offset in run.starts:
        begin = starts + offset
        free &= before[begin + run.cycle_minutes] == before[begin]
    return int(starts[free.argmax()]) if free.any() else None
