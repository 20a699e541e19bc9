"""Reference evapotranspiration by FAO Irrigation and Drainage Paper 56 (Allen and others 1998).

Temperatures in °C, pressures in kPa, radiation in MJ m⁻² d⁻¹, wind in m/s, results in mm/d.
"""

import math
from dataclasses import dataclass

from landscape_care.almanac.bounds import check, check_not_negative

MM_PER_INCH = 25.4
KRS_INLAND = 0.16
KRS_COAST = 0.19

_SOLAR_CONSTANT = 0.0820
_STEFAN_BOLTZMANN = 4.903e-9
_ALBEDO = 0.23
_KELVIN = 273.16


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
        check("vapour_pressure_kpa", self.vapour_pressure_kpa, 0, saturation_vapour_pressure_kpa(self.tmax_c))
        check("solar_mj_m2", self.solar_mj_m2, 0, 50)
        check("wind_2m_m_s", self.wind_2m_m_s, 0, 60)

    @property
    def tmean_c(self) -> float:
        """Mean of the day's extremes, °C (equation 9)."""
        return (self.tmax_c + self.tmin_c) / 2


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
    check("temperature_c", temperature_c, -60, 60)
    return 0.6108 * math.exp(17.27 * temperature_c / (temperature_c + 237.3))


def mean_saturation_vapour_pressure_kpa(tmax_c: float, tmin_c: float) -> float:
    """Return the day's mean saturation vapour pressure, kPa (equation 12)."""
    _check_temperatures(tmax_c, tmin_c)
    return (saturation_vapour_pressure_kpa(tmax_c) + saturation_vapour_pressure_kpa(tmin_c)) / 2


def slope_kpa_per_c(temperature_c: float) -> float:
    """Return the slope of the saturation vapour pressure curve, kPa/°C (equation 13)."""
    return 4098 * saturation_vapour_pressure_kpa(temperature_c) / (temperature_c + 237.3) ** 2


def actual_vapour_pressure_from_dew(dew_point_c: float) -> float:
    """Return the actual vapour pressure from the dew point, kPa (equation 14)."""
    return saturation_vapour_pressure_kpa(dew_point_c)


def actual_vapour_pressure_from_rh(
    tmax_c: float, tmin_c: float, *, rh_max_pct: float, rh_min_pct: float
) -> float:
    """Return the actual vapour pressure from the humidity extremes, kPa (equation 17)."""
    _check_temperatures(tmax_c, tmin_c)
    check("rh_max_pct", rh_max_pct, 0, 100)
    check("rh_min_pct", rh_min_pct, 0, rh_max_pct)
    at_night = saturation_vapour_pressure_kpa(tmin_c) * rh_max_pct / 100
    by_day = saturation_vapour_pressure_kpa(tmax_c) * rh_min_pct / 100
    return (at_night + by_day) / 2


def extraterrestrial_radiation(latitude_deg: float, day_of_year: int) -> float:
    """Return the radiation above the air on a day of the year, MJ m⁻² d⁻¹ (equation 21)."""
    _check_place_and_day(latitude_deg, day_of_year)
    latitude, declination = math.radians(latitude_deg), _declination(day_of_year)
    sunset = _sunset_hour_angle(latitude, declination)
    distance = 1 + 0.033 * math.cos(2 * math.pi / 365 * day_of_year)
    beam = sunset * math.sin(latitude) * math.sin(declination)
    beam += math.cos(latitude) * math.cos(declination) * math.sin(sunset)
    return 24 * 60 / math.pi * _SOLAR_CONSTANT * distance * beam


def daylight_hours(latitude_deg: float, day_of_year: int) -> float:
    """Return the geometric daylight on a day of the year, hours (equation 34).

    Without refraction, so some ten minutes shorter than from sunrise to sunset.
    """
    _check_place_and_day(latitude_deg, day_of_year)
    return 24 / math.pi * _sunset_hour_angle(math.radians(latitude_deg), _declination(day_of_year))


def solar_radiation_from_sunshine(sunshine_h: float, latitude_deg: float, *, day_of_year: int) -> float:
    """Return the solar radiation of a day with so many hours of sun, MJ m⁻² d⁻¹ (equation 35)."""
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


def clear_sky_radiation(extraterrestrial_mj_m2: float, elevation_m: float) -> float:
    """Return the solar radiation under a clear sky, MJ m⁻² d⁻¹ (equation 37)."""
    check("extraterrestrial_mj_m2", extraterrestrial_mj_m2, 0, 55)
    check("elevation_m", elevation_m, -430, 5500)
    return (0.75 + 2e-5 * elevation_m) * extraterrestrial_mj_m2


def net_longwave_radiation(weather: DayWeather, clear_sky_mj_m2: float) -> float:
    """Return the heat the ground sends out, MJ m⁻² d⁻¹ (equation 39)."""
    check_not_negative("clear_sky_mj_m2", clear_sky_mj_m2)
    brightness = weather.solar_mj_m2 / clear_sky_mj_m2 if clear_sky_mj_m2 else 0.3
    cloud = 1.35 * min(max(brightness, 0.3), 1.0) - 0.35
    air = 0.34 - 0.14 * math.sqrt(weather.vapour_pressure_kpa)
    warmth = ((weather.tmax_c + _KELVIN) ** 4 + (weather.tmin_c + _KELVIN) ** 4) / 2
    return _STEFAN_BOLTZMANN * warmth * air * cloud


def wind_at_2m(wind_m_s: float, height_m: float) -> float:
    """Return the wind at two metres from that measured at a height, m/s (equation 47)."""
    check("wind_m_s", wind_m_s, 0, 90)
    check("height_m", height_m, 0.5, 200)
    return wind_m_s * 4.87 / math.log(67.8 * height_m - 5.42)


def soil_heat_flux_monthly(previous_c: float, this_c: float) -> float:
    """Return the month's soil heat flux from this and last month's mean, MJ m⁻² d⁻¹ (equation 44)."""
    check("previous_c", previous_c, -60, 60)
    check("this_c", this_c, -60, 60)
    return 0.14 * (this_c - previous_c)


def eto_penman_monteith(
    weather: DayWeather,
    *,
    latitude_deg: float,
    elevation_m: float,
    day_of_year: int,
    soil_heat_flux_mj_m2: float = 0,
) -> float:
    """Return the reference evapotranspiration of a day, mm/d (equation 6).

    The soil heat flux is 0 for a day; use `soil_heat_flux_monthly` for a month.
    """
    check("soil_heat_flux_mj_m2", soil_heat_flux_mj_m2, -10, 10)
    clear = clear_sky_radiation(extraterrestrial_radiation(latitude_deg, day_of_year), elevation_m)
    net = (1 - _ALBEDO) * weather.solar_mj_m2 - net_longwave_radiation(weather, clear)
    slope = slope_kpa_per_c(weather.tmean_c)
    gamma = psychrometric_constant(pressure_kpa(elevation_m))
    deficit = (
        mean_saturation_vapour_pressure_kpa(weather.tmax_c, weather.tmin_c) - weather.vapour_pressure_kpa
    )
    by_sun = 0.408 * slope * (net - soil_heat_flux_mj_m2)
    by_wind = gamma * 900 / (weather.tmean_c + 273) * weather.wind_2m_m_s * deficit
    return (by_sun + by_wind) / (slope + gamma * (1 + 0.34 * weather.wind_2m_m_s))


def eto_hargreaves(tmax_c: float, tmin_c: float, *, latitude_deg: float, day_of_year: int) -> float:
    """Return the reference evapotranspiration from temperature alone, mm/d (equation 52).

    For means of five days or longer; it reads low in a windy desert.
    """
    _check_temperatures(tmax_c, tmin_c)
    extraterrestrial_mm = 0.408 * extraterrestrial_radiation(latitude_deg, day_of_year)
    tmean_c = (tmax_c + tmin_c) / 2
    return 0.0023 * (tmean_c + 17.8) * math.sqrt(tmax_c - tmin_c) * extraterrestrial_mm


def _declination(day_of_year: int) -> float:
    return 0.409 * math.sin(2 * math.pi / 365 * day_of_year - 1.39)


def _sunset_hour_angle(latitude: float, declination: float) -> float:
    # Past the polar circles the sun may stay up or down: the cosine is held to its range.
    cosine = -math.tan(latitude) * math.tan(declination)
    return math.acos(min(max(cosine, -1.0), 1.0))


def _check_temperatures(tmax_c: float, tmin_c: float) -> None:
    check("tmax_c", tmax_c, -60, 60)
    check("tmin_c", tmin_c, -60, tmax_c)


def _check_place_and_day(latitude_deg: float, day_of_year: int) -> None:
    check("latitude_deg", latitude_deg, -90, 90)
    check("day_of_year", day_of_year, 1, 366)
