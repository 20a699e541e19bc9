"""Valves whose emitters or heads do not get the pressure they work at, or do not get it evenly."""

from collections.abc import Iterator
from dataclasses import dataclass

from landscape_care.properties.findings.finding import WATCH, WRONG, Finding, Record
from landscape_care.trades.hydraulics import (
    EMITTER_EXPONENT,
    EMITTER_PSI,
    EVEN_SHARE,
    TUBING,
    UNEVEN_SHARE,
    WORKING_PSI,
    emission_spread,
    head_psi,
    tapped_line_psi,
)
from landscape_care.trades.kinds import Planting, Zone

# Common practice: pipe, valve and backflow assembly take about a fifth of the pressure between them.
USUAL_LOSSES = 1.25
# What drip lines are usually fed with where nobody measured: common practice.
USUAL_INLET_PSI = 25.0
LEAST_PSI = 0.01


@dataclass(frozen=True)
class _Pressure:
    """The pressure at a zone's valve, what its longest line takes of it, and what its outlets work at."""

    valve_psi: float
    line_psi: float
    low_psi: float
    high_psi: float

    @property
    def far_psi(self) -> float:
        """What is left at the end of the line."""
        return self.valve_psi - self.line_psi


def regulator(record: Record) -> Iterator[Finding]:
    """A regulator that holds less than the outlets need, or none where the supply is too much for them."""
    for zone in record.standing(Zone):
        low_psi, high_psi = _works_at(zone)
        held_psi, static_psi = zone.regulator_psi, record.as_built.static_pressure_psi
        if held_psi and held_psi < low_psi:
            yield _holds_too_little(zone, held_psi, low_psi)
        elif held_psi and held_psi > high_psi:
            yield _too_strong(zone, held_psi, high_psi)
        elif held_psi == 0 and static_psi is not None and static_psi / USUAL_LOSSES > high_psi:
            yield _too_strong(zone, static_psi / USUAL_LOSSES, high_psi)


def end_of_the_line(record: Record) -> Iterator[Finding]:
    """A line whose last emitter gets less than it works at, where friction and slope are known."""
    for zone, pressure in _lines(record):
        if pressure.valve_psi >= pressure.low_psi > pressure.far_psi:
            yield Finding(
                zone.tag,
                WRONG if pressure.far_psi <= 0 else WATCH,
                f"Of {pressure.valve_psi:.0f} psi at the valve {max(pressure.far_psi, 0):.0f} reach the last"
                f" emitter; it works from {pressure.low_psi:g} psi.",
                f"De {pressure.valve_psi:.0f} psi en la válvula llegan {max(pressure.far_psi, 0):.0f} al"
                f" último gotero; trabaja desde {pressure.low_psi:g} psi.",
                "Feed the line from its middle or by a wider one, or split the zone.",
                "Alimente la línea por el medio o con una más ancha, o divida la zona.",
                "end-of-line",
            )


def uneven_emission(record: Record) -> Iterator[Finding]:
    """Emitters that do not compensate on a long or sloping line: the last gives less than the first.

    To be watched over a tenth, wrong over a fifth of the flow (ASABE EP405; from memory).
    """
    for zone, pressure in _lines(record):
        if zone.emitter_kind != "non_compensating":
            continue
        spread = emission_spread(
            max(pressure.valve_psi, LEAST_PSI),
            min(max(pressure.far_psi, 0), max(pressure.valve_psi, LEAST_PSI)),
            exponent=EMITTER_EXPONENT[zone.emitter_kind],
        )
        if spread > EVEN_SHARE:
            yield Finding(
                zone.tag,
                WRONG if spread > UNEVEN_SHARE else WATCH,
                f"Friction and slope take {pressure.line_psi:.1f} of {pressure.valve_psi:.0f} psi: plain"
                f" emitters at the end give {spread:.0%} less.",
                f"La fricción y la pendiente quitan {pressure.line_psi:.1f} de {pressure.valve_psi:.0f} psi:"
                f" los goteros simples del final dan {spread:.0%} menos.",
                "Fit pressure-compensating emitters, or shorter lines on the level.",
                "Ponga goteros autocompensantes o líneas más cortas a nivel.",
                "uneven-emission",
            )


def unlike_emitters(record: Record) -> Iterator[Finding]:
    """A planting with emitters that compensate and others that do not: they drift apart."""
    kinds: dict[int, set[str]] = {}
    for zone in record.standing(Zone):
        for uid in zone.planting_ids if zone.device == "drip" else ():
            kinds.setdefault(uid, set()).add(zone.emitter_kind)
    for planting in record.standing(Planting):
        if {"compensating", "non_compensating"} <= kinds.get(planting.uid, set()):
            yield Finding(
                planting.tag,
                WATCH,
                "Compensating and plain emitters water this planting; with the pressure they drift apart.",
                "La riegan goteros autocompensantes y simples; con la presión dejan de dar lo mismo.",
                "Fit one kind.",
                "Ponga de un solo tipo.",
                "emitter-kinds",
            )


def _lines(record: Record) -> Iterator[tuple[Zone, _Pressure]]:
    """Drip zones of which a line's length or slope is known, with their pressures."""
    for zone in record.standing(Zone):
        if zone.device == "drip" and (zone.line_ft is not None or zone.slope_ft is not None):
            valve_psi = _valve_psi(zone, record.as_built.static_pressure_psi)
            yield zone, _Pressure(valve_psi, _line_psi(zone), *_works_at(zone))


def _valve_psi(zone: Zone, static_psi: float | None) -> float:
    held_psi = zone.regulator_psi or USUAL_INLET_PSI
    if static_psi is None:
        return held_psi
    supplied_psi = static_psi / USUAL_LOSSES
    return supplied_psi if zone.regulator_psi == 0 else min(held_psi, supplied_psi)


def _line_psi(zone: Zone) -> float:
    """Friction along the longest line, half-inch where the record is silent, and its rise or fall."""
    tubing = TUBING["half_inch" if zone.tubing == "unknown" else zone.tubing]
    friction_psi = tapped_line_psi(
        zone.gallons_per_minute / zone.lines,
        tubing.inside_diameter_in,
        length_ft=zone.line_ft or 0.0,
        outlets=max(1, zone.emitters // zone.lines),
    )
    return friction_psi + head_psi(zone.slope_ft or 0.0)


def _works_at(zone: Zone) -> tuple[float, float]:
    return EMITTER_PSI[zone.emitter_kind] if zone.device == "drip" else WORKING_PSI[zone.device]


def _holds_too_little(zone: Zone, held_psi: float, low_psi: float) -> Finding:
    return Finding(
        zone.tag,
        WRONG,
        f"Its regulator holds {held_psi:g} psi; these outlets work from {low_psi:g} psi.",
        f"Su regulador mantiene {held_psi:g} psi; estos emisores trabajan desde {low_psi:g} psi.",
        "Fit a regulator for these outlets.",
        "Ponga un regulador adecuado para estos emisores.",
        "regulator",
    )


def _too_strong(zone: Zone, psi: float, high_psi: float) -> Finding:
    return Finding(
        zone.tag,
        WATCH,
        f"About {psi:.0f} psi reach the outlets; they work up to {high_psi:g} psi and mist or pop off above.",
        f"Llegan cerca de {psi:.0f} psi; los emisores trabajan hasta {high_psi:g} psi y arriba nebulizan.",
        "Fit a pressure regulator at the valve, or heads that regulate.",
        "Ponga un regulador de presión en la válvula o emisores que regulen.",
        "regulator",
    )


LOOKS = (regulator, end_of_the_line, uneven_emission, unlike_emitters)
