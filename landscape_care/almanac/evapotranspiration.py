"""Reference evapotranspiration by FAO Irrigation and Drainage Paper 56 (Allen and others 1998).

Temperatures in °C, pressures in kPa, radiation in MJ m⁻² d⁻¹, wind in m/s, results in mm/d. Each
equation stands once, for a day or for an array of days; the public functions check what they get.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from landscape_care.almanac.bounds import check, check_all, check_not_negative, check_whole, numbers

MM_PER_INCH = 25.4
KRS_INLAND = 0.16
KRS_COAST = 0.19
# FAO-56 equation 51: what a small island lacks of seven tenths of the radiation above the air, MJ m⁻² d⁻¹.
ISLAND_LOSS_MJ_M2 = 4.0
HIGHEST_ISLAND_M = 100.0
# FAO-56 chapter 3: where no wind is measured, the mean of two thousand stations.
USUAL_WIND_M_S = 2.0
# FAO-56 chapter 3: in arid air the dew point lies two to three degrees under the minimum.
ARID_DEW_BELOW_C = 2.5
# Psychrometer coefficients, per °C (FAO-56 equation 16).
VENTILATED, NATURAL, INDOOR = 0.000662, 0.000800, 0.001200

_SOLAR_CONSTANT = 0.0820
_STEFAN_BOLTZMANN = 4.903e-9
_ALBEDO = 0.23
_KELVIN = 273.16
_HOTTEST_C = 60.0

Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class DayWeather:
    """The weather of a day: temperatures in °C, kPa, MJ m⁻² d⁻¹, wind in m/s at two metres."""

    tmax_c: float
    tmin_c: float
    vapour_pressure_kpa: float
    solar_mj_m2: float
    wind_2m_m_s: float

    def __post_init__(self) -> None:
        """Refuse weather that no station records."""
        _check_temperatures(self.tmax_c, self.tmin_c)
        check("vapour_pressure_kpa", self.vapour_pressure_kpa, 0, saturation_vapour_pressure_kpa(_HOTTEST_C))
        check("vapour_pressure_kpa", self.vapour_pressure_kpa, 0, saturation_vapour_pressure_kpa(self.tmax_c))
        check("solar_mj_m2", self.solar_mj_m2, 0, 50)
        check("wind_2m_m_s", self.wind_2m_m_s, 0, 60)

    @property
    def tmean_c(self) -> float:
        """Mean of the day's extremes, °C (equation 9)."""
        return (self.tmax_c + self.tmin_c) / 2


@dataclass(frozen=True)
class Days:
    """The weather of many days as arrays of equal length, in the units of `DayWeather`."""

    tmax_c: Values
    tmin_c: Values
    vapour_pressure_kpa: Values
    solar_mj_m2: Values
    wind_2m_m_s: Values

    def __post_init__(self) -> None:
        """Refuse days that no station records; the first wrong one is named by its place."""
        for name in self.__dataclass_fields__:
            object.__setattr__(self, name, numbers(name, getattr(self, name)))
            _check_as_many(name, getattr(self, name), self.tmax_c)
        check_all("tmax_c", self.tmax_c, -60, _HOTTEST_C)
        check_all("tmin_c", self.tmin_c, -60, _HOTTEST_C)
        check_all("tmax_c above tmin_c", self.tmax_c - self.tmin_c, 0, math.inf)
        check_all("vapour_pressure_kpa", self.vapour_pressure_kpa, 0, math.inf)
        lacking = _saturation(self.tmax_c) - self.vapour_pressure_kpa
        check_all("saturation at tmax_c above vapour_pressure_kpa", lacking, 0, math.inf)
        check_all("solar_mj_m2", self.solar_mj_m2, 0, 50)
        check_all("wind_2m_m_s", self.wind_2m_m_s, 0, 60)


def pressure_kpa(elevation_m: float) -> float:
    """Return the air pressure at a height in metres, kPa (equation 7)."""
    check("elevation_m", elevation_m, -430, 5500)
    return 101.3 * math.pow((293 - 0.0065 * elevation_m) / 293, 5.26)


def psychrometric_constant(pressure_kpa: float) -> float:
    """Return the psychrometric constant at an air pressure, kPa/°C (equation 8)."""
    check("pressure_kpa", pressure_kpa, 45, 110)
    return 0.665e-3 * pressure_kpa


def saturation_vapour_pressure_kpa(temperature_c: float) -> float:
    """Return the saturation vapour pressure at a temperature, kPa (equation 11)."""
    check("temperature_c", temperature_c, -60, _HOTTEST_C)
    return float(_saturation(temperature_c))


def mean_saturation_vapour_pressure_kpa(tmax_c: float, tmin_c: float) -> float:
    """Return the day's mean saturation vapour pressure, kPa (equation 12)."""
    _check_temperatures(tmax_c, tmin_c)
    return float(_mean_saturation(tmax_c, tmin_c))


def slope_kpa_per_c(temperature_c: float) -> float:
    """Return the slope of the saturation vapour pressure curve, kPa/°C (equation 13)."""
    check("temperature_c", temperature_c, -60, _HOTTEST_C)
    return float(_slope(temperature_c))


def actual_vapour_pressure_from_dew(dew_point_c: float) -> float:
    """Return the actual vapour pressure from the dew point, kPa (equation 14)."""
    check("dew_point_c", dew_point_c, -60, _HOTTEST_C)
    return float(_saturation(dew_point_c))


def actual_vapour_pressure_from_wet_bulb(
    dry_bulb_c: float, wet_bulb_c: float, *, pressure_kpa: float, per_c: float = VENTILATED
) -> float:
    """Return the actual vapour pressure from a psychrometer, kPa (equation 15).

    `per_c` is 0.000662 with a fan, 0.0008 in moving air, 0.0012 indoors.
    """
    check("dry_bulb_c", dry_bulb_c, -20, _HOTTEST_C)
    check("wet_bulb_c", wet_bulb_c, -20, _HOTTEST_C)
    check("wet_bulb_c", wet_bulb_c, -20, dry_bulb_c)
    check("pressure_kpa", pressure_kpa, 45, 110)
    check("per_c", per_c, 0.0005, 0.0015)
    pressure = float(_saturation(wet_bulb_c)) - per_c * pressure_kpa * (dry_bulb_c - wet_bulb_c)
    if pressure < 0:
        raise ValueError(f"wet_bulb_c is {wet_bulb_c!r}: no air is so dry at {dry_bulb_c:g} °C")
    return pressure


def actual_vapour_pressure_from_rh(
    tmax_c: float, tmin_c: float, *, rh_max_pct: float, rh_min_pct: float
) -> float:
    """Return the actual vapour pressure from the humidity extremes, kPa (equation 17)."""
    _check_temperatures(tmax_c, tmin_c)
    check("rh_max_pct", rh_max_pct, 0, 100)
    check("rh_min_pct", rh_min_pct, 0, 100)
    check("rh_min_pct", rh_min_pct, 0, rh_max_pct)
    at_night = saturation_vapour_pressure_kpa(tmin_c) * rh_max_pct / 100
    by_day = saturation_vapour_pressure_kpa(tmax_c) * rh_min_pct / 100
    return (at_night + by_day) / 2


def actual_vapour_pressure_from_rh_max(tmin_c: float, rh_max_pct: float) -> float:
    """Return the actual vapour pressure from the night's humidity alone, kPa (equation 18)."""
    check("tmin_c", tmin_c, -60, _HOTTEST_C)
    check("rh_max_pct", rh_max_pct, 0, 100)
    return float(_saturation(tmin_c)) * rh_max_pct / 100


def actual_vapour_pressure_from_rh_mean(tmax_c: float, tmin_c: float, *, rh_mean_pct: float) -> float:
    """Return the actual vapour pressure from the day's mean humidity, kPa (equation 19)."""
    _check_temperatures(tmax_c, tmin_c)
    check("rh_mean_pct", rh_mean_pct, 0, 100)
    return float(_mean_saturation(tmax_c, tmin_c)) * rh_mean_pct / 100


def actual_vapour_pressure_from_tmin(tmin_c: float, dew_below_c: float = 0) -> float:
    """Return the actual vapour pressure where no humidity is measured, kPa (equation 48).

    The dew point is taken at the minimum temperature, in arid air two to three °C under it.
    """
    check("tmin_c", tmin_c, -60, _HOTTEST_C)
    check("dew_below_c", dew_below_c, 0, 10)
    return float(_saturation(max(tmin_c - dew_below_c, -60)))


def extraterrestrial_radiation(latitude_deg: float, day_of_year: int) -> float:
    """Return the radiation above the air on a day of the year, MJ m⁻² d⁻¹ (equation 21)."""
    _check_place_and_day(latitude_deg, day_of_year)
    return float(_radiation_by_day(latitude_deg)[int(day_of_year)])


def daylight_hours(latitude_deg: float, day_of_year: int) -> float:
    """Return the geometric daylight on a day of the year, hours (equation 34).

    Without refraction, so some ten minutes shorter than from sunrise to sunset.
    """
    _check_place_and_day(latitude_deg, day_of_year)
    return float(24 / math.pi * _sunset_hour_angle(math.radians(latitude_deg), _declination(day_of_year)))


def solar_radiation_from_sunshine(sunshine_h: float, latitude_deg: float, *, day_of_year: int) -> float:
    """Return the solar radiation of a day with so many hours of sun, MJ m⁻² d⁻¹ (equation 35)."""
    check("sunshine_h", sunshine_h, 0, 24)
    daylight_h = daylight_hours(latitude_deg, day_of_year)
    check("sunshine_h", sunshine_h, 0, daylight_h + 0.5)
    share = min(sunshine_h / daylight_h, 1.0) if daylight_h else 0.0
    return (0.25 + 0.50 * share) * extraterrestrial_radiation(latitude_deg, day_of_year)


def solar_radiation_from_temperature(
    tmax_c: float,
    tmin_c: float,
    *,
    extraterrestrial_mj_m2: float,
    elevation_m: float = 0,
    krs: float = KRS_INLAND,
) -> float:
    """Return the solar radiation guessed from the day's extremes, MJ m⁻² d⁻¹ (equation 50).

    `krs` is 0.16 inland and 0.19 at the coast; never more than a clear sky lets through.
    """
    _check_temperatures(tmax_c, tmin_c)
    check("krs", krs, 0.1, 0.25)
    clear = clear_sky_radiation(extraterrestrial_mj_m2, elevation_m)
    return min(krs * math.sqrt(tmax_c - tmin_c) * extraterrestrial_mj_m2, clear)


def solar_radiation_on_island(extraterrestrial_mj_m2: float, elevation_m: float = 0) -> float:
    """Return the solar radiation of a month on a small low island, MJ m⁻² d⁻¹: 0.7 Ra − 4 (equation 51).

    For up to 100 m, where the sea and not the sky's clearness makes the range of temperatures; from
    memory. Never less than nothing.
    """
    check("extraterrestrial_mj_m2", extraterrestrial_mj_m2, 0, 55)
    check("elevation_m", elevation_m, -430, HIGHEST_ISLAND_M)
    return max(0.7 * extraterrestrial_mj_m2 - ISLAND_LOSS_MJ_M2, 0.0)


def clear_sky_radiation(extraterrestrial_mj_m2: float, elevation_m: float) -> float:
    """Return the solar radiation under a clear sky, MJ m⁻² d⁻¹ (equation 37)."""
    check("extraterrestrial_mj_m2", extraterrestrial_mj_m2, 0, 55)
    check("elevation_m", elevation_m, -430, 5500)
    return (0.75 + 2e-5 * elevation_m) * extraterrestrial_mj_m2


def net_longwave_radiation(weather: DayWeather, clear_sky_mj_m2: float) -> float:
    """Return the heat the ground sends out, MJ m⁻² d⁻¹ (equation 39)."""
    check_not_negative("clear_sky_mj_m2", clear_sky_mj_m2)
    return float(_net_longwave(weather, clear_sky_mj_m2))


def wind_at_2m(wind_m_s: float, height_m: float) -> float:
    """Return the wind at two metres from that measured at a height, m/s (equation 47)."""
    check("wind_m_s", wind_m_s, 0, 90)
    check("height_m", height_m, 0.5, 200)
    return wind_m_s * 4.87 / math.log(67.8 * height_m - 5.42)


def soil_heat_flux_monthly(previous_c: float, this_c: float) -> float:
    """Return the month's soil heat flux from this and last month's mean, MJ m⁻² d⁻¹ (equation 44)."""
    check("previous_c", previous_c, -60, _HOTTEST_C)
    check("this_c", this_c, -60, _HOTTEST_C)
    return 0.14 * (this_c - previous_c)


def soil_heat_flux_between(previous_c: float, next_c: float) -> float:
    """Return the month's soil heat flux from the means before and after, MJ m⁻² d⁻¹ (equation 43)."""
    check("previous_c", previous_c, -60, _HOTTEST_C)
    check("next_c", next_c, -60, _HOTTEST_C)
    return 0.07 * (next_c - previous_c)


def eto_penman_monteith(
    weather: DayWeather,
    *,
    latitude_deg: float,
    elevation_m: float,
    day_of_year: int,
    soil_heat_flux_mj_m2: float = 0,
) -> float:
    """Return the reference evapotranspiration of a day, mm/d (equation 6).

    The soil heat flux is 0 for a day; use `soil_heat_flux_monthly` for a month. Below zero on
    days when more dew falls than water leaves.
    """
    check("soil_heat_flux_mj_m2", soil_heat_flux_mj_m2, -10, 10)
    above = extraterrestrial_radiation(latitude_deg, day_of_year)
    return float(_penman_monteith(weather, above, elevation_m, soil_heat_flux_mj_m2))


def eto_penman_monteith_days(
    days: Days, *, latitude_deg: float, elevation_m: float, day_of_year: npt.ArrayLike
) -> Values:
    """Return the reference evapotranspiration of many days at a place, mm/d (equation 6).

    `day_of_year` are whole numbers, one for each day.
    """
    check("latitude_deg", latitude_deg, -90, 90)
    told = numbers("day_of_year", day_of_year)
    _check_as_many("day_of_year", told, days.tmax_c)
    check_all("day_of_year", told, 1, 366)
    above = _radiation_by_day(latitude_deg)[told.astype(np.intp)]
    return np.asarray(_penman_monteith(days, above, elevation_m, 0.0), dtype=np.float64)


def eto_of_months(
    months: Sequence[DayWeather], *, latitude_deg: float, elevation_m: float
) -> tuple[float, ...]:
    """Return the reference evapotranspiration of a usual year's twelve months, each in mm/d.

    The soil heat flux follows from the months before and after (equation 43), December before
    January; radiation is that of the middle day, the whole part of 30.4 M − 15 (equation 26).
    """
    if len(months) != 12:
        raise ValueError(f"months has {len(months)} values: give the weather of twelve")
    means = [month.tmean_c for month in months]
    return tuple(
        eto_penman_monteith(
            month,
            latitude_deg=latitude_deg,
            elevation_m=elevation_m,
            day_of_year=middle_day(number),
            soil_heat_flux_mj_m2=soil_heat_flux_between(means[number - 2], means[number % 12]),
        )
        for number, month in enumerate(months, 1)
    )


def middle_day(month: int) -> int:
    """Return the day of the year in the middle of a month, the whole part of 30.4 M − 15 (equation 26)."""
    check_whole("month", month, 1, 12)
    return int(30.4 * month - 15)


def eto_hargreaves(tmax_c: float, tmin_c: float, *, latitude_deg: float, day_of_year: int) -> float:
    """Return the reference evapotranspiration from temperature alone, mm/d (equation 52).

    For means of five days or longer; it reads low in a windy desert.
    """
    _check_temperatures(tmax_c, tmin_c)
    extraterrestrial_mm = 0.408 * extraterrestrial_radiation(latitude_deg, day_of_year)
    tmean_c = (tmax_c + tmin_c) / 2
    # Below -17.8 °C the equation would give less than nothing.
    return 0.0023 * max(tmean_c + 17.8, 0.0) * math.sqrt(tmax_c - tmin_c) * extraterrestrial_mm


def _penman_monteith(weather: DayWeather | Days, above: Any, elevation_m: float, soil_heat: float) -> Any:
    """Equation 6, for a day or for an array of days; radiation above the air in MJ m⁻² d⁻¹."""
    check("elevation_m", elevation_m, -430, 5500)
    clear = (0.75 + 2e-5 * elevation_m) * above
    tmean_c = (weather.tmax_c + weather.tmin_c) / 2
    wind = weather.wind_2m_m_s
    slope, gamma = _slope(tmean_c), psychrometric_constant(pressure_kpa(elevation_m))
    net = (1 - _ALBEDO) * weather.solar_mj_m2 - _net_longwave(weather, clear) - soil_heat
    deficit = _mean_saturation(weather.tmax_c, weather.tmin_c) - weather.vapour_pressure_kpa
    drawn = 0.408 * slope * net + gamma * 900 / (tmean_c + 273) * wind * deficit
    return drawn / (slope + gamma * (1 + 0.34 * wind))


def _saturation(temperature_c: Any) -> Any:
    return 0.6108 * np.exp(17.27 * temperature_c / (temperature_c + 237.3))


def _mean_saturation(tmax_c: Any, tmin_c: Any) -> Any:
    return (_saturation(tmax_c) + _saturation(tmin_c)) / 2


def _slope(temperature_c: Any) -> Any:
    return 4098 * _saturation(temperature_c) / np.square(temperature_c + 237.3)


def _net_longwave(weather: DayWeather | Days, clear: Any) -> Any:
    """Equation 39; without any sun to tell by the sky is taken as cloudy."""
    dark = np.full(np.shape(clear), 0.3)
    bright = np.divide(weather.solar_mj_m2, clear, out=dark, where=np.greater(clear, 0))
    cloud = 1.35 * np.clip(bright, 0.3, 1.0) - 0.35
    air = 0.34 - 0.14 * np.sqrt(weather.vapour_pressure_kpa)
    warmth = np.square(np.square(weather.tmax_c + _KELVIN)) + np.square(np.square(weather.tmin_c + _KELVIN))
    return _STEFAN_BOLTZMANN * warmth / 2 * air * cloud


@lru_cache(maxsize=4096)
def _radiation_by_day(latitude_deg: float) -> Values:
    """Equation 21 for every day of the year, in its own place; place 0 stands for none."""
    day_of_year = np.arange(367)
    latitude, declination = math.radians(latitude_deg), _declination(day_of_year)
    sunset = _sunset_hour_angle(latitude, declination)
    distance = 1 + 0.033 * np.cos(2 * math.pi / 365 * day_of_year)
    beam = sunset * math.sin(latitude) * np.sin(declination)
    beam = beam + math.cos(latitude) * np.cos(declination) * np.sin(sunset)
    # The last bits of a polar night may fall below zero.
    radiation: Values = np.maximum(24 * 60 / math.pi * _SOLAR_CONSTANT * distance * beam, 0)
    radiation.setflags(write=False)
    return radiation


def _declination(day_of_year: Any) -> Any:
    return 0.409 * np.sin(2 * math.pi / 365 * day_of_year - 1.39)


def _sunset_hour_angle(latitude: float, declination: Any) -> Any:
    # Past the polar circles the sun may stay up or down: the cosine is held to its range.
    return np.arccos(np.clip(-math.tan(latitude) * np.tan(declination), -1.0, 1.0))


def _check_temperatures(tmax_c: float, tmin_c: float) -> None:
    check("tmax_c", tmax_c, -60, _HOTTEST_C)
    check("tmin_c", tmin_c, -60, _HOTTEST_C)
    check("tmin_c", tmin_c, -60, tmax_c)


def _check_as_many(field: str, values: Values, days: Values) -> None:
    if values.shape != days.shape:
        raise ValueError(f"{field} has {values.size} values: it must have one for each of {days.size} days")


def _check_place_and_day(latitude_deg: float, day_of_year: int) -> None:
    check("latitude_deg", latitude_deg, -90, 90)
    check_whole("day_of_year", day_of_year, 1, 366)
