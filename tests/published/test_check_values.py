"""Each row of check_values.csv: our answer against the printed one, its source shown on failure."""

import csv
import json
from collections.abc import Callable, Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from landscape_care.almanac import evapotranspiration as et
from landscape_care.almanac import sun
from landscape_care.almanac.anchors import seasonal_windows
from landscape_care.almanac.heat import heat_index_f
from landscape_care.trades import hydraulics, irrigation, lighting, planting, water_feature

ROWS = list(csv.DictReader(Path(__file__).with_name("check_values.csv").open(encoding="utf-8")))

Inputs = Mapping[str, Any]


def _eto(inputs: Inputs) -> float:
    weather = et.DayWeather(inputs["tmax"], inputs["tmin"], inputs["ea"], inputs["rs"], inputs["u2_"])
    return et.eto_penman_monteith(
        weather,
        latitude_deg=inputs["lat_deg"],
        elevation_m=inputs["z"],
        day_of_year=inputs["doy"],
        soil_heat_flux_mj_m2=inputs.get("g", 0),
    )


def _solar_from_temperature(inputs: Inputs) -> float:
    above = et.extraterrestrial_radiation(inputs["lat_deg"], inputs["doy"])
    return et.solar_radiation_from_temperature(
        inputs["tmax"], inputs["tmin"], extraterrestrial_mj_m2=above, krs=inputs["krs"]
    )


def _cycle_and_soak(inputs: Inputs) -> irrigation.CycleAndSoak:
    return irrigation.cycle_and_soak(
        inputs["total_min"],
        inputs["pr"],
        infiltration_in_h=inputs["infil_in_h"],
        surface_storage_in=inputs["surface_storage_in"],
    )


def _brake_hp(inputs: Inputs) -> float:
    return water_feature.brake_hp(inputs["gpm"], inputs["tdh_ft"], pump_efficiency=inputs["pump_eff"])


def _carrier(inputs: Inputs) -> float:
    return water_feature.evaporation_carrier_lb_h(
        inputs["area_ft2"],
        inputs["tw_c"] * 1.8 + 32,
        vapour_pressure_kpa=inputs["ea_kpa"],
        wind_mph=inputs["wind_mph"],
        wind_factors=(inputs.get("a", 95), inputs.get("b", 37.4)),
    )


def _sun_seconds(inputs: Inputs) -> float:
    moments = {
        (True, 90.833): sun.sunrise,
        (False, 90.833): sun.sunset,
        (False, 96): sun.civil_dusk,
    }
    find = moments[inputs["rising"], inputs.get("zenith", 90.833)]
    moment = find(date.fromisoformat(inputs["day"]), inputs["lat"], inputs["lon"], inputs["tz"])
    assert moment is not None
    return _seconds(moment)


def _seconds(moment: datetime) -> float:
    return moment.hour * 3600 + moment.minute * 60 + moment.second + moment.microsecond / 1e6


def _timer_settings(inputs: Inputs) -> int:
    return len(
        lighting.timer_resets(
            inputs["lat"],
            inputs["lon"],
            inputs["tz"],
            inputs["year"],
            tolerance_minutes=inputs["tol_min"],
        )
    )


def _watersense(inputs: Inputs) -> float:
    return irrigation.watersense_requirement_gal(
        inputs["eto_in"],
        inputs["kl"],
        area_ft2=inputs["area"],
        distribution_uniformity=inputs["du"],
        rain_in=inputs["peak_rain_in"],
    )


def _seasonal_window(inputs: Inputs) -> object:
    found = seasonal_windows(
        inputs["tmean"], inputs["last_frost_md"], first_frost_md=inputs["first_frost_md"]
    )
    return found[inputs["window"]]


NUMBERS: Mapping[str, Callable[[Inputs], float]] = {
    "pressure": lambda i: et.pressure_kpa(i["z_m"]),
    "psychrometric_constant": lambda i: et.psychrometric_constant(et.pressure_kpa(i["z_m"])),
    "saturation_vapour_pressure": lambda i: et.saturation_vapour_pressure_kpa(i["t_c"]),
    "vapour_pressure_from_humidity": lambda i: et.actual_vapour_pressure_from_rh(
        i["tmax"], i["tmin"], rh_max_pct=i["rhmax"], rh_min_pct=i["rhmin"]
    ),
    "extraterrestrial_radiation": lambda i: et.extraterrestrial_radiation(i["lat_deg"], i["doy"]),
    "daylight_hours": lambda i: et.daylight_hours(i["lat_deg"], i["doy"]),
    "solar_from_sunshine": lambda i: et.solar_radiation_from_sunshine(
        i["n_hours"], i["lat_deg"], day_of_year=i["doy"]
    ),
    "solar_from_temperature": _solar_from_temperature,
    "wind_at_2m": lambda i: et.wind_at_2m(i["uz"], i["z"]),
    "soil_heat_flux_monthly": lambda i: et.soil_heat_flux_monthly(i["t_prev"], i["t_this"]),
    "eto_penman_monteith": _eto,
    "plant_gallons": lambda i: irrigation.gallons_per_day(
        i["eto_in"], i["pf"], area_ft2=i["area_ft2"], efficiency=i.get("eff", 1)
    ),
    "canopy_area": lambda i: irrigation.canopy_area_ft2(i["diam_ft"]),
    "precip_rate": lambda i: irrigation.precipitation_rate_in_h(i["gpm"], i["area_ft2"]),
    "precip_rate_spacing": lambda i: irrigation.precipitation_rate_from_spacing(
        i["gpm_per_head"], i["row_ft"], head_ft=i["head_ft"]
    ),
    "rtm_ia": lambda i: irrigation.scheduling_multiplier(i["du"]),
    "spray_minutes": lambda i: irrigation.spray_minutes(i["net_in"], i["pr"], multiplier=i["rtm"]),
    "drip_minutes": lambda i: irrigation.drip_minutes(i["gal"], i["n"], emitter_gph=i["gph"]),
    "interval_days": lambda i: irrigation.interval_days(
        i["awc_in_per_ft"], i["root_in"], depletion=i["mad"], need_in_per_day=i["etl_in_day"]
    ),
    "taw_in": lambda i: irrigation.total_available_in(i["awc_in_per_ft"], i["root_in"]),
    "cycle_soak": lambda i: _cycle_and_soak(i).cycles,
    "cycle_minutes": lambda i: _cycle_and_soak(i).cycle_minutes,
    "max_cycle_min": lambda i: irrigation.longest_cycle_minutes(
        i["pr"], i["infil_in_h"], surface_storage_in=i["surface_storage_in"]
    ),
    "leaching_requirement": lambda i: irrigation.leaching_requirement(i["ecw"], i["ece_threshold"]),
    "scs_effective_rain_in": lambda i: irrigation.effective_rain_in(i["pt"], i["etc"]),
    "epa_baseline": lambda i: irrigation.watersense_baseline_gal(i["eto_in"], i["area"]),
    "epa_lwr": _watersense,
    "landscape_coefficient": lambda i: irrigation.landscape_coefficient(
        i["ks"], i["kd"], microclimate=i["kmc"]
    ),
    "irrigation_settings": lambda i: len(irrigation.settings_per_year(i["eto_month"], i["band_pts"])),
    "velocity_fps": lambda i: hydraulics.velocity_fps(i["gpm"], i["id_in"]),
    "max_gpm_for_velocity": lambda i: hydraulics.max_gpm_for_velocity(i["id_in"]),
    "hazen_williams_psi": lambda i: hydraulics.hazen_williams_psi(
        i["gpm"], i["id_in"], length_ft=i["length_ft"]
    ),
    "christiansen_f": lambda i: hydraulics.christiansen_factor(i["n"]),
    "orifice_flow": lambda i: hydraulics.orifice_flow(i["q0"], i["p0"], at_psi=i["p"]),
    "water_hp": lambda i: water_feature.water_hp(i["gpm"], i["tdh_ft"]),
    "brake_hp": _brake_hp,
    "kwh": lambda i: water_feature.energy_kwh(_brake_hp(i), i["hours"], motor_efficiency=i["motor_eff"]),
    "filter_rate": lambda i: water_feature.filter_rate_gpm_ft2(i["gpm"], i["area_ft2"]),
    "circle_basin_gal": lambda i: water_feature.round_basin_gal(i["diam_ft"], i["depth_ft"]),
    "evap_gal_day_from_eto": lambda i: water_feature.evaporation_gal_day(i["eto_in_day"], i["area_ft2"]),
    "evap_carrier_lb_h": _carrier,
    "cycles_blowdown": lambda i: water_feature.bleed_gal(i["evap_gal"], i["cycles"]),
    "vdrop": lambda i: lighting.voltage_drop_v(i["awg"], i["length_ft"], amperes=i["amps"]),
    "vdrop_daisy": lambda i: lighting.voltage_drop_chain_v(i["awg"], i["segments"]),
    "r_temp": lambda i: lighting.resistance_at(i["r75"], i["t_c"]),
    "years_to_hours": lambda i: lighting.lamp_life_years(i["rated_h"], i["h_per_day"]),
    "timer_resets": _timer_settings,
    "plants_triangular": lambda i: planting.plants_triangular(i["area_ft2"], i["oc_in"]),
    "plants_square": lambda i: planting.plants_square(i["area_ft2"], i["oc_in"]),
    "flats": lambda i: planting.flats(i["plants"], i["per_flat"]),
    "cubic_yards": lambda i: planting.cubic_yards(i["area_ft2"], i["depth_in"]),
    "fert_lb": lambda i: planting.fertiliser_lb(
        i["area_ft2"], i["n_rate_lb_per_1000"], nitrogen_pct=i["n_pct"]
    ),
    "heat_index_f": lambda i: heat_index_f(i["t"], i["rh"]),
}


def _rows(*checks: str) -> list[Any]:
    return [pytest.param(row, id=row["id"]) for row in ROWS if row["check"] in checks]


def _source(row: Mapping[str, str]) -> str:
    return f"{row['quantity']}: {row['source']} ({row['provenance']})"


@pytest.mark.parametrize("row", _rows(*NUMBERS))
def test_a_number_agrees_with_its_source(row: Mapping[str, str]) -> None:
    ours = NUMBERS[row["check"]](json.loads(row["inputs"]))
    assert ours == pytest.approx(float(row["expected"]), rel=0, abs=float(row["tolerance"])), _source(row)


@pytest.mark.parametrize("row", _rows("sun_local"))
def test_a_moment_of_the_sun_agrees_with_its_source(row: Mapping[str, str]) -> None:
    hours, minutes, *seconds = (int(part) for part in row["expected"].split(":"))
    expected = hours * 3600 + minutes * 60 + sum(seconds)
    ours = _sun_seconds(json.loads(row["inputs"]))
    assert ours == pytest.approx(expected, rel=0, abs=float(row["tolerance"])), _source(row)


@pytest.mark.parametrize("row", _rows("seasonal_windows"))
def test_a_seasonal_window_agrees_with_its_rule(row: Mapping[str, str]) -> None:
    assert str(_seasonal_window(json.loads(row["inputs"]))) == row["expected"], _source(row)


@pytest.mark.parametrize("row", _rows("transformer_ok"))
def test_a_transformer_keeps_the_eighty_percent_practice(row: Mapping[str, str]) -> None:
    inputs = json.loads(row["inputs"])
    within = lighting.transformer_within_80_percent(inputs["watts"], inputs["va"])
    assert str(within) == row["expected"], _source(row)


def test_no_row_is_left_unchecked() -> None:
    checked = {*NUMBERS, "sun_local", "seasonal_windows", "transformer_ok"}
    assert {row["check"] for row in ROWS} == checked
    assert len(ROWS) >= 110
