"""The weather of a day from what a station measures, the rest estimated as FAO-56 chapter 3 says.

What was estimated is told with the answer, because an estimate is weaker than a reading.
"""

from dataclasses import dataclass

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac.bounds import check, check_whole

# Every reading is looked at, also one that a better one makes needless.
_READINGS = {
    "dew_point_c": (-60, 60),
    "rh_max_pct": (0, 100),
    "rh_min_pct": (0, 100),
    "rh_mean_pct": (0, 100),
    "solar_mj_m2": (0, 50),
    "sunshine_h": (0, 24),
    "wind_m_s": (0, 90),
}


@dataclass(frozen=True)
class Place:
    """Where and on which day of the year weather is looked at."""

    latitude_deg: float
    elevation_m: float
    day_of_year: int

    def __post_init__(self) -> None:
        """Refuse a place off the globe."""
        check("latitude_deg", self.latitude_deg, -90, 90)
        check("elevation_m", self.elevation_m, -430, 5500)
        check_whole("day_of_year", self.day_of_year, 1, 366)


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What is known of a day: the extremes always, the rest where there is an instrument.

    Of several readings of one thing the better counts: dew point, then both humidities, the night's,
    the mean; radiation, then hours of sun. `wind_height_m` is the height of the wind gauge.
    """

    tmax_c: float
    tmin_c: float
    dew_point_c: float | None = None
    rh_max_pct: float | None = None
    rh_min_pct: float | None = None
    rh_mean_pct: float | None = None
    solar_mj_m2: float | None = None
    sunshine_h: float | None = None
    wind_m_s: float | None = None
    wind_height_m: float = 2.0
    is_arid: bool = False
    is_coast: bool = False
    is_island: bool = False

    def __post_init__(self) -> None:
        """Refuse half a pair of humidities, and a gauge in the clouds."""
        check("wind_height_m", self.wind_height_m, 0.5, 200)
        for name, (low, high) in _READINGS.items():
            reading = getattr(self, name)
            if reading is not None:
                check(name, reading, low, high)
        if self.rh_min_pct is not None and self.rh_max_pct is None:
            raise ValueError(f"rh_min_pct is {self.rh_min_pct!r}: give rh_max_pct with it")


@dataclass(frozen=True)
class Completed:
    """The whole weather of a day, and which of humidity, radiation and wind were estimated."""

    weather: et.DayWeather
    estimated: tuple[str, ...]


def complete(measured: Measured, place: Place) -> Completed:
    """Return the weather of a day with what no instrument gave estimated (FAO-56 chapter 3)."""
    weather = et.DayWeather(
        tmax_c=measured.tmax_c,
        tmin_c=measured.tmin_c,
        vapour_pressure_kpa=vapour_pressure_kpa(measured),
        solar_mj_m2=solar_mj_m2(measured, place),
        wind_2m_m_s=wind_2m_m_s(measured),
    )
    given = {
        "humidity": (measured.dew_point_c, measured.rh_max_pct, measured.rh_mean_pct),
        "radiation": (measured.solar_mj_m2, measured.sunshine_h),
        "wind": (measured.wind_m_s,),
    }
    return Completed(weather, tuple(name for name, readings in given.items() if set(readings) == {None}))


def eto_mm(measured: Measured, place: Place) -> float:
    """Return the reference evapotranspiration of a day from what is known of it, mm/d (equation 6)."""
    return et.eto_penman_monteith(
        complete(measured, place).weather,
        latitude_deg=place.latitude_deg,
        elevation_m=place.elevation_m,
        day_of_year=place.day_of_year,
    )


def vapour_pressure_kpa(measured: Measured) -> float:
    """Return the actual vapour pressure from the best reading there is, kPa (equations 14 to 19, 48)."""
    high, low = measured.tmax_c, measured.tmin_c
    if measured.dew_point_c is not None:
        check("dew_point_c", measured.dew_point_c, -60, high)
        return et.actual_vapour_pressure_from_dew(measured.dew_point_c)
    if measured.rh_max_pct is not None and measured.rh_min_pct is not None:
        return et.actual_vapour_pressure_from_rh(
            high, low, rh_max_pct=measured.rh_max_pct, rh_min_pct=measured.rh_min_pct
        )
    if measured.rh_max_pct is not None:
        return et.actual_vapour_pressure_from_rh_max(low, measured.rh_max_pct)
    if measured.rh_mean_pct is not None:
        return et.actual_vapour_pressure_from_rh_mean(high, low, rh_mean_pct=measured.rh_mean_pct)
    return et.actual_vapour_pressure_from_tmin(low, et.ARID_DEW_BELOW_C if measured.is_arid else 0)


def solar_mj_m2(measured: Measured, place: Place) -> float:
    """Return the solar radiation from the best reading there is, MJ m⁻² d⁻¹ (equations 35, 50 and 51)."""
    if measured.solar_mj_m2 is not None:
        return measured.solar_mj_m2
    if measured.sunshine_h is not None:
        return et.solar_radiation_from_sunshine(
            measured.sunshine_h, place.latitude_deg, day_of_year=place.day_of_year
        )
    above_mj_m2 = et.extraterrestrial_radiation(place.latitude_deg, place.day_of_year)
    if measured.is_island:
        return et.solar_radiation_on_island(above_mj_m2, place.elevation_m)
    return et.solar_radiation_from_temperature(
        measured.tmax_c,
        measured.tmin_c,
        extraterrestrial_mj_m2=above_mj_m2,
        elevation_m=place.elevation_m,
        krs=et.KRS_COAST if measured.is_coast else et.KRS_INLAND,
    )


def wind_2m_m_s(measured: Measured) -> float:
    """Return the wind at two metres, m/s (equation 47); 2 m/s where there is no gauge."""
    if measured.wind_m_s is None:
        return et.USUAL_WIND_M_S
    if measured.wind_height_m == 2:
        check("wind_m_s", measured.wind_m_s, 0, 60)
        return measured.wind_m_s
    return et.wind_at_2m(measured.wind_m_s, measured.wind_height_m)
