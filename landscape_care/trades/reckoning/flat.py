"""Computations that take records, with their inputs as plain numbers."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time

import numpy as np

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac import weather
from landscape_care.almanac.anchors import windows_in_year
from landscape_care.almanac.bounds import check_whole
from landscape_care.almanac.climate import climate, irrigation_eto_in_on
from landscape_care.almanac.dates import check_day
from landscape_care.almanac.heat_plan import USUAL_START, DayHeat, HeatPlan, heat_plan
from landscape_care.trades.irrigation import ControllerProgram, Supply, ZoneNeed, controller_program
from landscape_care.trades.lighting import TimerSetting, timer_resets
from landscape_care.trades.water_year import (
    USUAL_BAND_POINTS,
    Hours,
    YearSetting,
    gallons_needed,
    gallons_set,
    programs_of_a_year,
)

EVERY_DAY = "1234567"


@dataclass(frozen=True)
class DayEto:
    """The reference evapotranspiration of a day, and the weather it was computed from."""

    eto_mm: float
    eto_in: float
    vapour_pressure_kpa: float
    solar_mj_m2: float
    wind_2m_m_s: float
    estimated: tuple[str, ...]


def eto_of_a_day(  # noqa: PLR0913 - as many as a weather station has instruments
    *,
    tmax_c: float,
    tmin_c: float,
    latitude_deg: float,
    elevation_m: float,
    day: date,
    dew_point_c: float | None = None,
    rh_max_pct: float | None = None,
    rh_min_pct: float | None = None,
    rh_mean_pct: float | None = None,
    solar_mj_m2: float | None = None,
    sunshine_h: float | None = None,
    wind_m_s: float | None = None,
    wind_height_m: float = 2.0,
    is_arid: bool = False,
    is_coast: bool = False,
    is_island: bool = False,
) -> DayEto:
    """Return the reference evapotranspiration of a day, mm and inches; what is left out is estimated.

    Penman-Monteith of FAO-56 equation 6 with the estimates of its chapter 3.
    """
    measured = weather.Measured(
        tmax_c=tmax_c,
        tmin_c=tmin_c,
        dew_point_c=dew_point_c,
        rh_max_pct=rh_max_pct,
        rh_min_pct=rh_min_pct,
        rh_mean_pct=rh_mean_pct,
        solar_mj_m2=solar_mj_m2,
        sunshine_h=sunshine_h,
        wind_m_s=wind_m_s,
        wind_height_m=wind_height_m,
        is_arid=is_arid,
        is_coast=is_coast,
        is_island=is_island,
    )
    check_day("day", day)
    place = weather.Place(latitude_deg, elevation_m, day.timetuple().tm_yday)
    completed, eto_mm = weather.complete(measured, place), weather.eto_mm(measured, place)
    found = completed.weather
    return DayEto(
        eto_mm,
        eto_mm / et.MM_PER_INCH,
        found.vapour_pressure_kpa,
        found.solar_mj_m2,
        found.wind_2m_m_s,
        completed.estimated,
    )


def eto_to_water_by(climate_key: str, day: date) -> float:
    """Return the usual reference evapotranspiration of a day in a known climate, inches to water by.

    A smooth curve through the published monthly sums; nine tenths where they come from an airport.
    """
    check_day("day", day)
    return irrigation_eto_in_on(climate(climate_key), day)


def eto_of_a_month(  # noqa: PLR0913 - as many as the equation has terms
    *,
    tmax_c: float,
    tmin_c: float,
    vapour_pressure_kpa: float,
    solar_mj_m2: float,
    wind_2m_m_s: float,
    latitude_deg: float,
    elevation_m: float,
    month: int,
    previous_c: float,
) -> float:
    """Return the reference evapotranspiration of a month, mm/d, with the soil heat of equation 44.

    `previous_c` is the mean of the month before; radiation is that of the month's middle day.
    """
    found = et.DayWeather(tmax_c, tmin_c, vapour_pressure_kpa, solar_mj_m2, wind_2m_m_s)
    return et.eto_penman_monteith(
        found,
        latitude_deg=latitude_deg,
        elevation_m=elevation_m,
        day_of_year=et.middle_day(month),
        soil_heat_flux_mj_m2=et.soil_heat_flux_monthly(previous_c, found.tmean_c),
    )


def plan_of_a_hot_day(  # noqa: PLR0913 - a day has so many
    *,
    tmax_f: float,
    tmin_f: float,
    dew_point_f: float,
    sunrise: time,
    sunset: time,
    work_hours: float = 8.0,
    usual_start: time = USUAL_START,
) -> HeatPlan:
    """Return a crew's shift on a hot day: start, end of heavy work and of all work, rest, hour by hour.

    Temperature by the hour after Parton and Logan 1981; a shift that meets high heat starts at first
    light, heavy work stops before it is put off, and rest is 15 minutes every two hours of high heat.
    """
    day = DayHeat(tmax_f, tmin_f, dew_point_f, sunrise, sunset)
    return heat_plan(day, work_hours=work_hours, usual_start=usual_start)


@dataclass(frozen=True)
class Season:
    """The first and last day of a window."""

    opens: date
    closes: date


def windows_of_a_year(expression: str, climate_key: str, year: int) -> list[Season]:
    """Return the windows of a season that open in a year in a known climate.

    A season is a name such as perennial_cutback, a rise or fall of the mean such as mean_rises_60F,
    a frost date, or a range of them such as first_frost_50-21..last_frost_50+14.
    """
    check_whole("year", year, 1900, 2199)
    try:
        windows = windows_in_year(expression, climate(climate_key), year)
    except ValueError as error:
        raise ValueError(f"expression: {error}") from error
    return [Season(*window) for window in windows]


def program_of_a_zone(  # noqa: PLR0913 - a zone has so many measures
    *,
    device: str,
    plant_factor: float,
    area_ft2: float,
    root_depth_in: float,
    depletion: float,
    soil: str,
    eto_in_per_day: float,
    precipitation_in_h: float | None = None,
    emitters: int = 0,
    emitter_gph: float = 0.0,
    microclimate: float = 1.0,
    distribution_uniformity: float | None = None,
    allowed_weekdays: str = EVERY_DAY,
    window_opens: time = time(4),
    window_closes: time = time(9),
    supply_gpm: float | None = None,
) -> ControllerProgram:
    """Return the program of one zone: minutes, cycles, days and start, and in words what cannot be had.

    Weekdays are digits from 1 for Monday to 7 for Sunday.
    """
    zone = ZoneNeed(
        station=1,
        device=device,
        plant_factor=plant_factor,
        microclimate=microclimate,
        area_ft2=area_ft2,
        root_depth_in=root_depth_in,
        depletion=depletion,
        soil=soil,
        precipitation_in_h=precipitation_in_h,
        distribution_uniformity=distribution_uniformity,
        emitters=emitters,
        emitter_gph=emitter_gph,
    )
    return controller_program(
        [zone],
        eto_in_per_day=eto_in_per_day,
        allowed_weekdays=_weekdays(allowed_weekdays),
        window_opens=window_opens,
        window_closes=window_closes,
        supply=Supply(supply_gpm),
    )


@dataclass(frozen=True)
class SettingOfAZone:
    """What to set for a zone between two yearly days, MM-DD."""

    first_day: str
    last_day: str
    percent: float
    run_minutes: int
    cycles: int
    weekdays: tuple[int, ...]


@dataclass(frozen=True)
class ZoneYear:
    """The settings of a zone in a year, and the water it takes and needs by month, gallons."""

    settings: tuple[SettingOfAZone, ...]
    set_by_month_gal: tuple[float, ...]
    needed_by_month_gal: tuple[float, ...]
    set_in_a_year_gal: float
    needed_in_a_year_gal: float
    conflicts: tuple[str, ...]
    conflicts_es: tuple[str, ...]


def year_of_a_zone(  # noqa: PLR0913 - a zone has so many measures
    *,
    device: str,
    plant_factor: float,
    area_ft2: float,
    root_depth_in: float,
    depletion: float,
    soil: str,
    eto_by_month: Sequence[float],
    rain_by_month: Sequence[float] | None = None,
    precipitation_in_h: float | None = None,
    emitters: int = 0,
    emitter_gph: float = 0.0,
    microclimate: float = 1.0,
    allowed_weekdays: str = EVERY_DAY,
    window_opens: time = time(4),
    window_closes: time = time(9),
    band_points: float = USUAL_BAND_POINTS,
) -> ZoneYear:
    """Return the fewest settings of a zone in a year, and its water by month, gal.

    A setting stays within the band of the daily need, in points of the peak; a quarter of the rain
    counts (EPA WaterSense).
    """
    zone = ZoneNeed(
        station=1,
        device=device,
        plant_factor=plant_factor,
        microclimate=microclimate,
        area_ft2=area_ft2,
        root_depth_in=root_depth_in,
        depletion=depletion,
        soil=soil,
        precipitation_in_h=precipitation_in_h,
        emitters=emitters,
        emitter_gph=emitter_gph,
    )
    hours = Hours(_weekdays(allowed_weekdays), window_opens, window_closes)
    settings = programs_of_a_year(
        [zone], eto_by_month, hours, band_points=band_points, rain_by_month=rain_by_month
    )
    given = gallons_set(settings).get(1, np.zeros(12))
    needed = gallons_needed([zone], eto_by_month, rain_by_month)[0]
    return ZoneYear(
        settings=tuple(_setting(each) for each in settings),
        set_by_month_gal=tuple(given.tolist()),
        needed_by_month_gal=tuple(needed.tolist()),
        set_in_a_year_gal=float(given.sum()),
        needed_in_a_year_gal=float(needed.sum()),
        conflicts=tuple(dict.fromkeys(text for each in settings for text in each.program.conflicts)),
        conflicts_es=tuple(dict.fromkeys(text for each in settings for text in each.program.conflicts_es)),
    )


def _setting(setting: YearSetting) -> SettingOfAZone:
    zone = next(iter(setting.program.zones), None)
    if zone is None:
        return SettingOfAZone(setting.first_day, setting.last_day, setting.percent, 0, 0, ())
    return SettingOfAZone(
        setting.first_day, setting.last_day, setting.percent, zone.run_minutes, zone.cycles, zone.weekdays
    )


def _weekdays(digits: str) -> tuple[int, ...]:
    if not isinstance(digits, str) or digits.strip("1234567"):
        raise ValueError(f"allowed_weekdays is {digits!r}: digits from 1 (Monday) to 7 (Sunday)")
    return tuple(sorted({int(digit) - 1 for digit in digits}))


def timer_settings_of_a_year(
    latitude_deg: float, longitude_deg: float, time_zone: str, year: int, tolerance_minutes: float = 20
) -> list[TimerSetting]:
    """Return the fewest settings of a plain timer that stay within minutes of every sunset of a year.

    They begin on the day of the year from which the fewest suffice, and count summer time.
    """
    check_whole("year", year, 1900, 2099)
    return timer_resets(latitude_deg, longitude_deg, time_zone, year, tolerance_minutes=tolerance_minutes)
