"""Pumps and filters that do not fit each other or the water."""

from collections.abc import Iterator

from landscape_care.properties.findings.finding import WATCH, WRONG, Finding, Record
from landscape_care.trades.kinds import Filter, Pump, WaterFeature
from landscape_care.trades.water_feature import brake_hp, filter_rate_gpm_ft2

# gal/min for each square foot: design rate and limit. Sand: published filter guidance. Cartridge and
# diatomaceous earth: common practice.
RATES_GPM_FT2 = {"sand": (15.0, 20.0), "cartridge": (0.75, 1.0), "de": (2.0, 2.5)}
PUMP_EFFICIENCY = 0.55
# Common practice: with fish all the water passes the filter within two hours.
SLOWEST_TURNOVER_H = 2.0


def filter_rate(record: Record) -> Iterator[Finding]:
    """A filter whose pumps push more through it than its medium holds."""
    for filter_ in record.standing(Filter):
        flow_gpm = _flow_gpm(record, filter_.water_feature_id)
        rates = RATES_GPM_FT2.get(filter_.medium)
        if not (flow_gpm and rates and filter_.area_ft2):
            continue
        rate = filter_rate_gpm_ft2(flow_gpm, filter_.area_ft2)
        if rate > rates[0]:
            yield _rate_finding(filter_, flow_gpm, rate)


def _rate_finding(filter_: Filter, flow_gpm: float, rate: float) -> Finding:
    design, limit = RATES_GPM_FT2[filter_.medium]
    return Finding(
        filter_.tag,
        WRONG if rate > limit else WATCH,
        f"{flow_gpm:g} gpm through {filter_.area_ft2:g} sq ft is {rate:.1f} gpm a sq ft;"
        f" {design:g} is a good rate, {limit:g} the limit.",
        f"{flow_gpm:g} gpm por {filter_.area_ft2:g} pies² son {rate:.1f} gpm por pie²;"
        f" {design:g} está bien, {limit:g} es el límite.",
        "Throttle the pump, or fit a smaller one or a larger filter; unplug it before hands go in.",
        "Reduzca el gasto o ponga bomba menor o filtro mayor; desenchufe antes de meter las manos.",
        "filter-rate",
    )


def pump_power(record: Record) -> Iterator[Finding]:
    """A pump too weak for the flow and head on the record."""
    for pump in record.standing(Pump):
        if pump.flow_gpm is None or pump.head_ft is None:
            continue
        needed_hp = brake_hp(pump.flow_gpm, pump.head_ft, pump_efficiency=PUMP_EFFICIENCY)
        if needed_hp > pump.power_hp:
            yield Finding(
                pump.tag,
                WATCH,
                f"{pump.flow_gpm:g} gpm at {pump.head_ft:g} ft take about {needed_hp:.2f} hp;"
                f" the record says {pump.power_hp:g} hp.",
                f"{pump.flow_gpm:g} gpm a {pump.head_ft:g} pies piden unos {needed_hp:.2f} hp;"
                f" el registro dice {pump.power_hp:g} hp.",
                "Measure the flow, and correct the record.",
                "Mida el gasto y corrija el registro.",
                "pump-power",
            )


def pump_head(record: Record) -> Iterator[Finding]:
    """A pump whose head is less than the height the water falls from: none of it gets up there."""
    for pump in record.standing(Pump):
        feature = record.thing(pump.water_feature_id)
        if feature is None or pump.head_ft is None or pump.head_ft > feature.fall_ft:
            continue
        if feature.fall_ft > 0:
            yield Finding(
                pump.tag,
                WRONG,
                f"The water falls {feature.fall_ft:g} ft and the pump's head is {pump.head_ft:g} ft.",
                f"El agua cae {feature.fall_ft:g} pies y la carga de la bomba es {pump.head_ft:g} pies.",
                "Read the pump's plate; fit a pump with head for the fall and the pipe, unplugged.",
                "Lea la placa; ponga una bomba con carga para la caída y el tubo, desenchufada.",
                "pump-head",
            )


def turnover(record: Record) -> Iterator[Finding]:
    """A water feature with fish whose pumps take longer than two hours to move all the water."""
    for feature in record.standing(WaterFeature):
        flow_gpm = _flow_gpm(record, feature.uid)
        if not (feature.fish and flow_gpm):
            continue
        hours = feature.volume_gal / flow_gpm / 60
        if hours > SLOWEST_TURNOVER_H:
            yield Finding(
                feature.tag,
                WATCH,
                f"With fish the water should turn over within two hours; the pump takes {hours:.1f}.",
                f"Con peces el agua debe pasar por el filtro en dos horas; la bomba tarda {hours:.1f}.",
                "Check the flow; fit a larger pump and a filter to match, unplugged while you work.",
                "Revise el gasto; ponga bomba mayor y filtro a su medida, desenchufada al trabajar.",
                "turnover",
            )


def _flow_gpm(record: Record, feature_uid: int | None) -> float:
    pumps = [pump for pump in record.standing(Pump) if pump.water_feature_id == feature_uid]
    return sum(pump.flow_gpm or 0.0 for pump in pumps) if feature_uid is not None else 0.0


LOOKS = (filter_rate, pump_power, pump_head, turnover)
