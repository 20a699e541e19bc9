"""When what was last set on a controller or a timer is no longer good enough, and what to set then.

A setting stays until the need leaves its band: 12.5 points of the peak month's water for a zone,
20 minutes of sunset for a plain timer. What was last set is what a crew left, or what the task
that was done last asked for. `COMPUTED` are the computations that rules name in `computed`.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache
from types import MappingProxyType

from landscape_care.almanac.dates import month_starts, say_clock
from landscape_care.almanac.sun import sunset_minutes
from landscape_care.care.details import Computed, Details, Scene, notes, of_class
from landscape_care.trades.irrigation import ControllerProgram, ZoneProgram
from landscape_care.trades.kinds import AsBuilt, Controller, Thing, Transformer, Zone
from landscape_care.trades.lighting import TimerSetting, timer_resets
from landscape_care.trades.zone_needs import (
    Needs,
    eto_in_per_day,
    needs_of,
    peak_eto_in_per_day,
    program_on_supply,
    water_is_off,
)

# The names of the days on a controller's sheet, Monday first.
WEEKDAYS = {
    "en": ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su"),
    "es": ("lu", "ma", "mi", "ju", "vi", "sá", "do"),
}
# Share of the peak month's run time by which need and setting may differ (common practice, 12.5 points).
PROGRAM_BAND = 0.125
TIMER_TOLERANCE_MIN = 20.0
# Longer than any stretch of one timer setting, so that the end of the horizon changes none.
TIMER_LOOK_AHEAD_DAYS = 400


@dataclass(frozen=True, slots=True)
class LastSet:
    """What is known of the last setting: the occurrence done last, its day, and days of leaving by thing."""

    done: str = ""
    done_on: date = date.min
    left_on: Mapping[int, date] = field(default_factory=dict)

    def left_since_done(self, thing: Thing) -> date | None:
        """The day on which a setting was left on a thing, unless a task was done after it."""
        left_on = self.left_on.get(thing.uid)
        return left_on if left_on and left_on >= self.done_on else None


NOTHING_SET = LastSet()


@dataclass(frozen=True, slots=True)
class Held:
    """What a zone is set to: minutes of a watering day, the weekdays, and minutes in a week on average."""

    minutes: int
    weekdays: str
    weekly_minutes: float

    def reads_as(self, other: "Held") -> bool:
        """Whether both look the same on the controller."""
        return (self.minutes, self.weekdays) == (other.minutes, other.weekdays)


# --- Irrigation ---


def irrigation_program(
    scene: Scene, thing: Thing, *, start: date, through: date, last: LastSet = NOTHING_SET
) -> Iterator[Computed]:
    """The programs of the months in which a zone's need leaves the band of what was last set.

    None while the water is off; the first month with water has a program of its own.
    """
    controller = of_class(Controller, thing)
    needs_on = _needs_by_stretch(scene.as_built, controller)
    first, held = _set_before(scene, controller, start, last)
    for month in month_starts(first, through) if first <= through else []:
        needs = needs_on(month)
        planned = _month_program(scene, controller, month, needs)
        if planned is None:
            held = None
            continue
        peak = _peak_minutes(scene, controller, month, needs)
        if held is None or _leaves_band(scene, planned, held, peak):
            told = _program_notes(scene, month, needs, planned)
            yield Computed(f"{month:%Y-%m}", month, told if held is not None else _set_anew(told))
            held = _held_by(planned)
        else:
            held = dict(held) | _as_asked(planned, held)


def _set_anew(told: Details) -> Details:
    """Say with the numbers that no setting from before counts."""
    return {**told, "nothing_set": True}


def _as_asked(planned: ControllerProgram, held: Mapping[int, Held]) -> dict[int, Held]:
    """Zones that are set just as asked; a run every second week cannot be read from its weekday alone."""
    return {
        station: asked
        for station, asked in _held_by(planned).items()
        if station in held and asked.reads_as(held[station])
    }


def _set_before(
    scene: Scene, controller: Controller, start: date, last: LastSet
) -> tuple[date, dict[int, Held] | None]:
    """The day from which to look, and what the zones were set to by then; None where that is unknown."""
    zones = [
        z for z in scene.as_built.of_kind(Zone) if z.controller_id == controller.uid and z.removed_on is None
    ]
    left = [last.left_since_done(zone) for zone in zones]
    left_on = min((day for day in left if day), default=start) if all(left) else start
    if last.done:
        month = date.fromisoformat(f"{last.done}-01")
        after = (month + timedelta(31)).replace(day=1)
        return max(start, after, left_on), _held_after(scene, controller, month, zones, last)
    if not zones or any(zone.set_minutes is None for zone in zones):
        return start, None
    return max(start, left_on), {zone.station: _held_on(zone) for zone in zones}


def _held_after(
    scene: Scene, controller: Controller, month: date, zones: list[Zone], last: LastSet
) -> dict[int, Held] | None:
    """What the zones were set to once the program of a month was done."""
    planned = _month_program(scene, controller, month, needs_of(scene.as_built, controller, month))
    if planned is None:
        return None
    left = {z.station: _held_on(z) for z in zones if z.set_minutes is not None and last.left_since_done(z)}
    return _held_by(planned) | left | _as_asked(planned, left)


def _held_on(zone: Zone) -> Held:
    minutes = zone.set_minutes or 0
    return Held(minutes, zone.set_weekdays, float(minutes * len(zone.set_weekdays)))


def _held_by(planned: ControllerProgram) -> dict[int, Held]:
    return {zone.station: _held_in(zone) for zone in planned.zones}


def _held_in(zone: ZoneProgram) -> Held:
    weeks = max(1, zone.interval_days // 7)
    return Held(zone.run_minutes, _digits(zone), zone.run_minutes * len(zone.weekdays) / weeks)


def _digits(zone: ZoneProgram) -> str:
    return "".join(str(day + 1) for day in zone.weekdays)


def _leaves_band(
    scene: Scene, planned: ControllerProgram, held: Mapping[int, Held], peak: Mapping[int, float]
) -> bool:
    allowed = {str(day + 1) for day in scene.as_built.watering_weekdays}
    programmed = {zone.station for zone in planned.zones}
    if any(held[station].minutes for station in held.keys() & peak.keys() - programmed):
        return True  # a station that does not fit into the hours any more
    return any(
        _zone_leaves_band(_held_in(zone), held.get(zone.station), peak.get(zone.station, 0.0), allowed)
        for zone in planned.zones
    )


def _zone_leaves_band(wanted: Held, held: Held | None, peak_minutes: float, allowed: set[str]) -> bool:
    if held is None or not set(held.weekdays) <= allowed:
        return True
    if held.reads_as(wanted):
        return False
    return abs(wanted.weekly_minutes - held.weekly_minutes) > PROGRAM_BAND * peak_minutes


def _peak_minutes(scene: Scene, controller: Controller, month: date, needs: Needs) -> dict[int, float]:
    """Minutes in a week of each station in the month that asks for most."""
    peak_in = peak_eto_in_per_day(scene.climate)
    planned = program_on_supply(scene.as_built, controller, needs, day=month, eto_in_per_day=peak_in)
    return {station: held.weekly_minutes for station, held in _held_by(planned).items()}


def _needs_by_stretch(as_built: AsBuilt, controller: Controller) -> Callable[[date], Needs]:
    """What the zones need on a day; between two changes of the garden it is worked out once."""
    days = ((thing.installed_on, thing.removed_on) for thing in as_built.things)
    changes = sorted({day for pair in days for day in pair if day})
    known: dict[int, Needs] = {}

    def on(day: date) -> Needs:
        stretch = bisect_right(changes, day)
        if stretch not in known:
            known[stretch] = needs_of(as_built, controller, day)
        return known[stretch]

    return on


def _month_program(
    scene: Scene, controller: Controller, month: date, needs: Needs
) -> ControllerProgram | None:
    if not needs.zones or water_is_off(scene.climate, month):
        return None
    eto_in = eto_in_per_day(scene.climate, month)
    return program_on_supply(scene.as_built, controller, needs, day=month, eto_in_per_day=eto_in)


def _program_notes(scene: Scene, month: date, needs: Needs, planned: ControllerProgram) -> Details:
    tag_of = dict(zip((need.station for need in needs.zones), needs.tags, strict=True))
    gallons = sum(zone.gallons_per_week for zone in planned.zones)
    eto_in = eto_in_per_day(scene.climate, month)
    numbers = {
        "eto_in_per_day": eto_in,
        "gallons_per_week": gallons,
        "percent_of_peak": 100 * eto_in / peak_eto_in_per_day(scene.climate),
    }
    told = notes(
        numbers,
        [_zone_line(tag_of[zone.station], zone, "en") for zone in planned.zones],
        [_zone_line(tag_of[zone.station], zone, "es") for zone in planned.zones],
    )
    told["settings"] = {tag_of[zone.station]: _zone_settings(zone) for zone in planned.zones}
    _add_conflicts(told, needs, planned)
    return told


def _zone_settings(zone: ZoneProgram) -> dict[str, object]:
    return {
        "set_minutes": zone.run_minutes,
        "set_weekdays": _digits(zone),
        "set_start": f"{zone.start:%H:%M}",
    }


def _zone_line(tag: str, zone: ZoneProgram, language: str) -> str:
    off, station, soak, weeks = {
        "en": ("off", "station", "min apart", "every {} weeks"),
        "es": ("apagada", "estación", "min entre ciclos", "cada {} semanas"),
    }[language]
    head = f"{tag} ({station} {zone.station})"
    if zone.is_off:
        return f"{head}: {off}"
    days = " ".join(WEEKDAYS[language][day] for day in zone.weekdays)
    if zone.interval_days >= 14:
        days += f" {weeks.format(zone.interval_days // 7)}"
    cycles = (
        f" = {zone.cycles} × {zone.cycle_minutes} min, {zone.soak_minutes} {soak}" if zone.cycles > 1 else ""
    )
    return f"{head}: {zone.run_minutes} min{cycles}, {days}, {say_clock(language, zone.start)}"


def _add_conflicts(told: Details, needs: Needs, planned: ControllerProgram) -> None:
    lines = told["lines"]
    lines["en"] += planned.conflicts
    lines["es"] += planned.conflicts_es
    for tag in needs.unclear:
        lines["en"].append(
            f"{tag}: the record does not say what it waters; set it by eye and tell the office."
        )
        lines["es"].append(f"{tag}: el registro no dice qué riega; ajústela a ojo y avise a la oficina.")


# --- Lights ---


def timer_reset(
    scene: Scene, thing: Thing, *, start: date, through: date, last: LastSet = NOTHING_SET
) -> Iterator[Computed]:
    """Each new on time of a plain timer, on the day sunset leaves the band of the one before.

    A clock change moves sunset by an hour and so brings one of its own.
    """
    timer = of_class(Transformer, thing)
    nearby = _nearby(scene)
    first = _first_day_off(nearby, timer, start, last)
    if first > through:
        return
    unknown = first == start and not timer.set_on and not last.done
    days = (through - first).days + TIMER_LOOK_AHEAD_DAYS
    for setting in _timer_settings(nearby, first, years=days // 366 + 1):
        if setting.first_day > through:
            return
        if setting.first_day.isoformat() != last.done:
            # Early is wrong by an hour where the clock changes that day.
            told = _timer_notes(timer.tag, setting)
            anew = _set_anew(told) if unknown and setting.first_day == first else told
            yield Computed(setting.first_day.isoformat(), setting.first_day, anew, may_be_early=False)


@dataclass(frozen=True, slots=True)
class _Nearby:
    """Where the sun sets alike; neighbours and the nights of a year share what was computed."""

    latitude_deg: float
    longitude_deg: float
    time_zone: str


def _nearby(scene: Scene) -> _Nearby:
    place = scene.as_built
    # A tenth of a degree is 12 seconds of sun.
    return _Nearby(round(place.latitude_deg, 1), round(place.longitude_deg, 1), place.time_zone)


def _first_day_off(nearby: _Nearby, timer: Transformer, start: date, last: LastSet) -> date:
    """The day from which the on time that was last set is wrong; the start where nobody knows it."""
    left_on = last.left_since_done(timer)
    after = max(start, date.fromisoformat(last.done)) if last.done else start
    if timer.set_on and (left_on or not last.done):
        on_minutes = timer.set_on.hour * 60 + timer.set_on.minute
        return _first_off(nearby, max(after, left_on or after), on_minutes)
    return after


@lru_cache(maxsize=1024)
def _first_off(nearby: _Nearby, start: date, on_minutes: int) -> date:
    """The first day on which sunset is further from an on time than a timer may be; the start at once."""
    place = (nearby.latitude_deg, nearby.longitude_deg, nearby.time_zone)
    suns = sunset_minutes(start, TIMER_LOOK_AHEAD_DAYS, *place)
    off = abs(suns - on_minutes) > TIMER_TOLERANCE_MIN
    return start + timedelta(int(off.argmax()) if off.any() else TIMER_LOOK_AHEAD_DAYS)


@lru_cache(maxsize=256)
def _timer_settings(nearby: _Nearby, start: date, *, years: int) -> tuple[TimerSetting, ...]:
    place = (nearby.latitude_deg, nearby.longitude_deg, nearby.time_zone)
    return tuple(timer_resets(*place, start, years * 366, TIMER_TOLERANCE_MIN))


def _timer_notes(tag: str, setting: TimerSetting) -> Details:
    until = setting.last_day + timedelta(days=1)
    told = notes(
        {"on_minutes": setting.on.hour * 60 + setting.on.minute},
        [f"{tag}: on at {say_clock('en', setting.on)}"],
        [f"{tag}: enciende a las {say_clock('es', setting.on)}"],
    )
    told["settings"] = {tag: {"set_on": f"{setting.on:%H:%M}"}}
    told["until"] = until.isoformat()
    return told


COMPUTED: Mapping[str, Callable[..., Iterator[Computed]]] = MappingProxyType(
    {each.__name__: each for each in (irrigation_program, timer_reset)}
)
