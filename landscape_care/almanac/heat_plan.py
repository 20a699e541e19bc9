"""A crew's day in the heat, hour by hour: when to start, how long heavy work goes on, when to rest.

The plan is for a usual worker who is used to the heat; new and returning people do less. Local
rules and what people feel come first.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import time

from landscape_care.almanac.bounds import check, check_whole
from landscape_care.almanac.climate import Climate
from landscape_care.almanac.dates import check_clock, say_clock
from landscape_care.almanac.evapotranspiration import saturation_vapour_pressure_kpa
from landscape_care.almanac.heat import HeatAdvice, Line, heat_advice

LEVELS = ("usual", "water", "rest", "put_off", "stop")
USUAL_START = time(7, 0)
EARLIEST_START = time(5, 0)
# 89 FR 70698, proposed: fifteen minutes of paid rest at least every two hours at a high index.
REST_MINUTES = 15
WORK_BETWEEN_RESTS_H = 2.0

# Parton and Logan 1981, air at 1.5 m: lag of the highest temperature after noon, decay by night, and
# lag of the lowest after sunrise, hours; from memory. Beside a summer of hourly weather (TMY3,
# Greensboro NC) it is off by 3 °F (RMSE), between 6:00 and 16:00 by 2 °F to the warm side.
_HOTTEST_LAG_H, _NIGHT_DECAY, _COLDEST_LAG_H = 1.86, 2.20, -0.17


# UNEP's index of aridity: a year's rain over a year's reference evapotranspiration (from memory).
ARID_BELOW = 0.20
# The dew point of a usual day is the daily low (FAO-56 chapter 3), but seldom higher than this, °F: in a
# desert even in its rainy season (Maricopa AZ, July and August 2003 to 2020: 56 to 59 on average), and in
# the humid south (from memory).
MOST_DEW_ARID_F, MOST_DEW_F = 65.0, 76.0


def usual_dew_point_f(climate: Climate, month: int) -> float:
    """Return a usual dew point of a month where no humidity is known, °F, on the humid, careful side.

    The daily low (FAO-56 equation 48), held to what the air of an arid or a humid place usually holds.
    """
    check_whole("month", month, 1, 12)
    is_arid = sum(climate.rain_in) < ARID_BELOW * sum(climate.eto_in)
    return min(climate.tmin_f[month - 1], MOST_DEW_ARID_F if is_arid else MOST_DEW_F)


@dataclass(frozen=True)
class DayHeat:
    """A day's highest and lowest temperature and dew point in °F, and its light by the clock."""

    tmax_f: float
    tmin_f: float
    dew_point_f: float
    sunrise: time
    sunset: time

    def __post_init__(self) -> None:
        """Refuse a day that no thermometer shows."""
        check("tmax_f", self.tmax_f, -40, 135)
        check("tmin_f", self.tmin_f, -40, 135)
        check("tmin_f", self.tmin_f, -40, self.tmax_f)
        check("dew_point_f", self.dew_point_f, -60, 95)
        check("dew_point_f", self.dew_point_f, -60, self.tmax_f)
        check_clock("sunrise", self.sunrise)
        check_clock("sunset", self.sunset)
        if self.daylight_h <= 2:
            raise ValueError(
                f"sunset is {self.sunset:%H:%M}: at least two hours after sunrise {self.sunrise}"
            )

    @property
    def daylight_h(self) -> float:
        """Hours from sunrise to sunset."""
        return _hours(self.sunset) - _hours(self.sunrise)

    def temperature_f(self, clock_h: float) -> float:
        """Return the air temperature at an hour of the clock, °F.

        A sine by day and an exponential by night, Parton and Logan 1981; from memory.
        """
        check("clock_h", clock_h, 0, 24)
        since_h = clock_h - _hours(self.sunrise) - _COLDEST_LAG_H
        day_h = self.daylight_h - _COLDEST_LAG_H
        if 0 <= since_h <= day_h:
            return self._by_day(since_h, day_h)
        at_sunset_f, night_h = self._by_day(day_h, day_h), 24 - day_h
        cooled = 1 - math.exp(-_NIGHT_DECAY * ((since_h - day_h) % 24) / night_h)
        return at_sunset_f + (self.tmin_f - at_sunset_f) * cooled / (1 - math.exp(-_NIGHT_DECAY))

    def _by_day(self, since_h: float, day_h: float) -> float:
        risen = math.sin(math.pi * since_h / (day_h + 2 * _HOTTEST_LAG_H))
        return self.tmin_f + (self.tmax_f - self.tmin_f) * risen

    def humidity_pct(self, clock_h: float) -> float:
        """Return the relative humidity at an hour of the clock, %, the dew point staying all day."""
        air_c = (self.temperature_f(clock_h) - 32) / 1.8
        dew_c = min((self.dew_point_f - 32) / 1.8, air_c)
        share = saturation_vapour_pressure_kpa(dew_c) / saturation_vapour_pressure_kpa(air_c)
        # Where both are equal the last bit of the quotient may lie above one.
        return min(100 * share, 100.0)

    def advice(self, clock_h: float) -> HeatAdvice:
        """Return the advice for an hour of the clock."""
        return heat_advice(self.temperature_f(clock_h), self.humidity_pct(clock_h))


@dataclass(frozen=True)
class WorkHour:
    """An hour of the shift at its hottest: air and index in °F, and the level of care."""

    begins: time
    temperature_f: float
    index_f: float
    level: str


@dataclass(frozen=True)
class HeatPlan:
    """A crew's shift: start and end, until when heavy work goes on, minutes of rest, and what to do.

    `level` is that of the worst hour that is worked, `index_f` its heat index. `heavy_until` is the
    start where no hour is fit for heavy work; `ends` comes earlier where work must stop.
    """

    level: str
    index_f: float
    start: time
    heavy_until: time
    ends: time
    rest_minutes: int
    hours: tuple[WorkHour, ...]
    lines: tuple[Line, ...]


def heat_plan(day: DayHeat, *, work_hours: float = 8, usual_start: time = USUAL_START) -> HeatPlan:
    """Return the plan of a shift of so many hours on a day.

    A shift that would meet the level 'rest' starts at first light instead, a whole half hour, never
    before 5:00. Heavy work ends before the first hour of 'put_off', all work before 'stop'; from the
    first hour of 'rest' on there are 15 minutes of rest every two hours (89 FR 70698, proposed).
    """
    check("work_hours", work_hours, 1, 12)
    check_clock("usual_start", usual_start)
    check("usual_start", _hours(usual_start), 0, 12)
    start_h = _start_h(day, work_hours, usual_start)
    hours = _shift(day, start_h, work_hours)
    fit = _until(hours, "stop")
    heavy = _until(fit, "put_off")
    ends_h = min(start_h + work_hours, start_h + len(fit)) if len(fit) < len(hours) else start_h + work_hours
    hot_h = ends_h - start_h - len(_until(fit, "rest"))
    worst = max(fit or hours, key=lambda hour: (LEVELS.index(hour.level), hour.index_f))
    plan = HeatPlan(
        level=worst.level,
        index_f=worst.index_f,
        start=_clock(start_h),
        heavy_until=_clock(min(start_h + len(heavy), ends_h)),
        ends=_clock(ends_h),
        rest_minutes=REST_MINUTES * math.ceil(max(hot_h, 0) / WORK_BETWEEN_RESTS_H - 1e-9),
        hours=fit,
        lines=_lines(day, start_h, ends_h),
    )
    return replace(plan, lines=(*_shift_in_words(plan), *plan.lines)) if plan.lines else plan


def _start_h(day: DayHeat, work_hours: float, usual_start: time) -> float:
    usual_h = _hours(usual_start)
    if not any(_is_at_least(hour, "rest") for hour in _shift(day, usual_h, work_hours)):
        return usual_h
    first_light_h = math.ceil((_hours(day.sunrise) - 0.5) * 2) / 2
    return min(usual_h, max(_hours(EARLIEST_START), first_light_h))


def _shift(day: DayHeat, start_h: float, work_hours: float) -> tuple[WorkHour, ...]:
    begins = (start_h + count for count in range(math.ceil(work_hours)))
    return tuple(_hottest(day, hour, min(hour + 1, start_h + work_hours)) for hour in begins)


def _hottest(day: DayHeat, begins_h: float, ends_h: float) -> WorkHour:
    moments = [begins_h + (ends_h - begins_h) * part / 4 for part in range(5)]
    found = max(
        moments, key=lambda moment: (LEVELS.index(day.advice(moment).level), day.temperature_f(moment))
    )
    advice = day.advice(found)
    return WorkHour(_clock(begins_h), day.temperature_f(found), advice.index_f, advice.level)


def _until(hours: tuple[WorkHour, ...], level: str) -> tuple[WorkHour, ...]:
    """Return the hours before the first one at a level."""
    first = next((place for place, hour in enumerate(hours) if _is_at_least(hour, level)), len(hours))
    return hours[:first]


def _is_at_least(hour: WorkHour, level: str) -> bool:
    return LEVELS.index(hour.level) >= LEVELS.index(level)


def _lines(day: DayHeat, start_h: float, ends_h: float) -> tuple[Line, ...]:
    moments = [start_h + (ends_h - start_h) * part / 16 for part in range(17)]
    worst = max((day.advice(moment) for moment in moments), key=lambda each: LEVELS.index(each.level))
    return tuple(worst.lines)


def _shift_in_words(plan: HeatPlan) -> Iterator[Line]:
    """Say when to start, until when heavy work goes on, and how much rest the shift takes."""
    start, heavy, ends = (
        [say_clock(language, clock) for language in ("en", "es")]
        for clock in (plan.start, plan.heavy_until, plan.ends)
    )
    if plan.ends == plan.start:
        yield "No hour of this day is fit for work outdoors.", "Ninguna hora de este día sirve para trabajar."
        return
    if plan.heavy_until == plan.start:
        yield (
            f"Start at {start[0]}, end by {ends[0]}; no heavy work today.",
            f"Empiece a las {start[1]} y termine a las {ends[1]}; hoy sin trabajo pesado.",
        )
    else:
        yield (
            f"Start at {start[0]}; heavy work until {heavy[0]}, all work until {ends[0]}.",
            f"Empiece a las {start[1]}; trabajo pesado hasta las {heavy[1]}, todo hasta las {ends[1]}.",
        )
    if plan.rest_minutes:
        yield (
            f"Plan {plan.rest_minutes} minutes of rest in the shade.",
            f"Cuente con {plan.rest_minutes} minutos de descanso a la sombra.",
        )


def _hours(clock: time) -> float:
    return clock.hour + clock.minute / 60 + clock.second / 3600


def _clock(hours: float) -> time:
    minutes = min(round(hours * 60), 1439)
    return time(*divmod(minutes, 60))
