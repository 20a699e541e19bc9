"""Transformers with too much on them, and lights too far along too thin a cable."""

from collections.abc import Iterator

from landscape_care.properties.findings.finding import WATCH, WRONG, Finding, Record
from landscape_care.trades.kinds import Fixture, Transformer, WireRun
from landscape_care.trades.lighting import (
    LOAD_LIMIT,
    Segment,
    transformer_within_80_percent,
    voltage_by_segment,
)

# Common practice for 12 V light: under this the last lamp is dim. LED sheets often allow less.
LEAST_SHARE_OF_VOLTS = 10.8 / 12


def load(record: Record) -> Iterator[Finding]:
    """A transformer with more than 80 % of its rating on it, or more than all of it."""
    for transformer in record.standing(Transformer):
        watts = sum(light.watts * light.quantity for light in _lights_of(record, transformer))
        if not transformer_within_80_percent(watts, transformer.capacity_va):
            yield _load_finding(transformer, watts)


def _load_finding(transformer: Transformer, watts: float) -> Finding:
    rating_va = transformer.capacity_va
    share = watts / rating_va
    return Finding(
        transformer.tag,
        WRONG if share > 1 else WATCH,
        f"{watts:.0f} W of lights on {rating_va:.0f} VA is {share:.0%}; {LOAD_LIMIT:.0%} is the most.",
        f"{watts:.0f} W de luces en {rating_va:.0f} VA son {share:.0%}; lo más es {LOAD_LIMIT:.0%}.",
        "Move lights elsewhere or fit lower wattage; the line side is for a licensed electrician.",
        "Pase luces a otro o use menos watts; el lado de línea es de electricista con licencia.",
        "transformer-load",
    )


def _lights_of(record: Record, transformer: Transformer) -> list[Fixture]:
    """Lights of a transformer, whether named by it or by one of its cables."""
    runs = {run.uid for run in record.standing(WireRun) if run.transformer_id == transformer.uid}
    return [
        light
        for light in record.standing(Fixture)
        if light.wire_run_id in runs or light.transformer_id == transformer.uid
    ]


def voltage(record: Record) -> Iterator[Finding]:
    """A cable at whose end the voltage falls under nine tenths of the transformer's."""
    for run in record.standing(WireRun):
        transformer = record.thing(run.transformer_id)
        lights = [light for light in record.standing(Fixture) if light.wire_run_id == run.uid]
        if transformer is None or not lights:
            continue
        chain = _chain(run, lights, transformer.volts)
        least_v = LEAST_SHARE_OF_VOLTS * transformer.volts
        dim = [light.tag for light, segment in chain if segment.reaches_v < least_v]
        if dim:
            yield _voltage_finding(run, chain[-1][1].reaches_v, dim)


def _chain(run: WireRun, lights: list[Fixture], supply_v: float) -> list[tuple[Fixture, Segment]]:
    """The lights of a cable from the transformer on; one without a distance is taken at the end."""
    placed = sorted(lights, key=lambda light: (_distance_ft(light, run), light.watts * light.quantity))
    ends_ft = [_distance_ft(light, run) for light in placed]
    pieces_ft = [end - start for start, end in zip([0.0, *ends_ft], ends_ft, strict=False)]
    loads = [(piece, light.watts * light.quantity) for piece, light in zip(pieces_ft, placed, strict=True)]
    return list(zip(placed, voltage_by_segment(run.awg, loads, supply_v=supply_v), strict=True))


def _distance_ft(light: Fixture, run: WireRun) -> float:
    return run.length_ft if light.distance_ft is None else light.distance_ft


def _voltage_finding(run: WireRun, last_v: float, dim: list[str]) -> Finding:
    return Finding(
        run.tag,
        WATCH,
        f"About {last_v:.1f} V reach the last light of this cable; dim from {dim[0]} on.",
        f"A la última luz de este cable llegan unos {last_v:.1f} V; débiles desde {dim[0]}.",
        "Measure there; use a thicker cable, a higher tap as the maker allows, or fewer lights.",
        "Mida ahí; use cable más grueso, otra toma según el fabricante o menos luces.",
        "voltage",
    )


LOOKS = (load, voltage)
