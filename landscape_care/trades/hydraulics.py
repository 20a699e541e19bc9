"""Flow and pressure in irrigation pipe.

US customary: gallons a minute, inches inside diameter, feet, psi.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landscape_care.almanac.bounds import check, check_not_negative, check_positive, check_whole

# Trade rule: faster water wears pipe and slams valves.
FASTEST_FPS = 5.0
PLASTIC_C = 150.0

_FPS_PER_GPM_IN2 = 0.4085
_FLOW_POWER = 1.852


def velocity_fps(gallons_per_minute: float, inside_diameter_in: float) -> float:
    """Return the speed of water in a pipe, ft/s: 0.4085 gpm / d² (geometry)."""
    check_not_negative("gallons_per_minute", gallons_per_minute)
    _check_diameter(inside_diameter_in)
    return _FPS_PER_GPM_IN2 * gallons_per_minute / inside_diameter_in**2


def max_gpm_for_velocity(inside_diameter_in: float, limit_fps: float = FASTEST_FPS) -> float:
    """Return the flow at which water reaches a speed, gal/min; 5 ft/s is the trade's limit."""
    _check_diameter(inside_diameter_in)
    check("limit_fps", limit_fps, 0.1, 30)
    return limit_fps * inside_diameter_in**2 / _FPS_PER_GPM_IN2


def hazen_williams_psi(
    gallons_per_minute: float, inside_diameter_in: float, *, length_ft: float, roughness_c: float = PLASTIC_C
) -> float:
    """Return the pressure lost to friction, psi: 4.52 Q^1.852 L / (C^1.852 d^4.8704).

    Hazen-Williams; C is 150 for polyethylene and PVC.
    """
    check_not_negative("gallons_per_minute", gallons_per_minute)
    _check_diameter(inside_diameter_in)
    check_not_negative("length_ft", length_ft)
    check("roughness_c", roughness_c, 40, 160)
    flow = math.pow(gallons_per_minute / roughness_c, _FLOW_POWER)
    return 4.52 * flow * length_ft / math.pow(inside_diameter_in, 4.8704)


def christiansen_factor(outlets: int, flow_power: float = _FLOW_POWER) -> float:
    """Return the share of the friction that is left when a line gives off water evenly.

    Christiansen 1942: 1/(m+1) + 1/(2n) + √(m−1)/(6n²).
    """
    check_whole("outlets", outlets, 1, 100_000)
    check("flow_power", flow_power, 1, 2)
    even = 1 / (flow_power + 1) + 1 / (2 * outlets)
    return even + math.sqrt(flow_power - 1) / (6 * outlets**2)


def orifice_flow(flow: float, pressure_psi: float, *, at_psi: float) -> float:
    """Return the flow of an outlet that does not compensate at another pressure, in its own unit.

    Flow grows with the square root of pressure.
    """
    check_not_negative("flow", flow)
    check_positive("pressure_psi", pressure_psi)
    check_not_negative("at_psi", at_psi)
    return flow * math.sqrt(at_psi / pressure_psi)


def zone_gpm(emitters: int = 0, emitter_gph: float = 0, *, heads_gpm: float = 0) -> float:
    """Return the flow of a zone with its emitters and heads open, gal/min."""
    check_whole("emitters", emitters, 0, 100_000)
    check_not_negative("emitter_gph", emitter_gph)
    check_not_negative("heads_gpm", heads_gpm)
    return emitters * emitter_gph / 60 + heads_gpm


@dataclass(frozen=True)
class Tubing:
    """Polyethylene drip tubing: inside diameter, and the length and flow the trade stays within."""

    inside_diameter_in: float
    longest_ft: float
    most_gph: float


# Inside diameters as usually sold; lengths and flows are common practice ("200 and 200").
TUBING: Mapping[str, Tubing] = MappingProxyType(
    {
        "quarter_inch": Tubing(0.170, 30, 30),
        "half_inch": Tubing(0.600, 200, 200),
        "three_quarter_inch": Tubing(0.820, 480, 480),
    }
)
# Pressure at the outlet in psi, lowest and highest, common practice.
WORKING_PSI: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "drip": (15, 30),
        "bubbler": (15, 30),
        "micro_spray": (20, 30),
        "spray": (25, 40),
        "rotor": (40, 60),
    }
)


# Pressure within which drip emitters work, psi, by their kind: common practice, as their makers' sheets
# give it or near it. Others give twice the flow at four times the pressure.
EMITTER_PSI: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"compensating": (10, 50), "non_compensating": (10, 30), "unknown": WORKING_PSI["drip"]}
)
# Exponent of flow over pressure by kind: an orifice, and one that keeps its flow (Keller and Karmeli
# 1974; from memory). What nobody looked at is taken as an orifice.
EMITTER_EXPONENT: Mapping[str, float] = MappingProxyType(
    {"compensating": 0.0, "non_compensating": 0.5, "unknown": 0.5}
)
# Design practice for drip: emitters of a line give within a tenth of each other, beyond a fifth it is
# unacceptable (ASABE EP405; from memory).
EVEN_SHARE, UNEVEN_SHARE = 0.10, 0.20
FT_OF_WATER_PER_PSI = 144 / 62.4


@dataclass(frozen=True)
class TubingLine:
    """What happens to water in a line of tubing whose emitters take it evenly along the way."""

    velocity_fps: float
    most_gph_by_velocity: float
    loss_psi: float
    end_psi: float
    is_within_practice: bool
    is_within_velocity: bool


def tubing_line(
    tubing: str, emitters: int, *, emitter_gph: float, length_ft: float, inlet_psi: float
) -> TubingLine:
    """Return speed, friction and the pressure left at the end of a line of drip tubing, ft/s and psi.

    Hazen-Williams with the Christiansen factor; the end pressure may fall below zero, which says
    that the line cannot carry that flow so far. Limits of length and flow are common practice.
    """
    line = tubing_of(tubing)
    check_whole("emitters", emitters, 1, 100_000)
    check("emitter_gph", emitter_gph, 0.01, 1000)
    check("length_ft", length_ft, 0, 10_000)
    check("inlet_psi", inlet_psi, 0, 150)
    flow_gpm = zone_gpm(emitters, emitter_gph)
    loss_psi = tapped_line_psi(flow_gpm, line.inside_diameter_in, length_ft=length_ft, outlets=emitters)
    speed = velocity_fps(flow_gpm, line.inside_diameter_in)
    return TubingLine(
        velocity_fps=speed,
        most_gph_by_velocity=60 * max_gpm_for_velocity(line.inside_diameter_in),
        loss_psi=loss_psi,
        end_psi=inlet_psi - loss_psi,
        is_within_practice=length_ft <= line.longest_ft and 60 * flow_gpm <= line.most_gph,
        is_within_velocity=speed <= FASTEST_FPS,
    )


def tapped_line_psi(
    gallons_per_minute: float, inside_diameter_in: float, *, length_ft: float, outlets: int
) -> float:
    """Return the friction of a line that gives its water off evenly, psi: Hazen-Williams · Christiansen."""
    whole_psi = hazen_williams_psi(gallons_per_minute, inside_diameter_in, length_ft=length_ft)
    return whole_psi * christiansen_factor(outlets)


def branched_line_psi(
    emitters: int,
    emitter_gph: float,
    *,
    length_ft: float,
    branch_emitters: int,
    branch_ft: float,
) -> float:
    """Return the friction from the start of a half-inch line to the last emitter of its last branch, psi.

    The branches are quarter-inch, each with so many emitters and so long; the half-inch line feeds
    all emitters through them evenly.
    """
    check_whole("emitters", emitters, 1, 100_000)
    check_whole("branch_emitters", branch_emitters, 1, 1000)
    check_whole("branch_emitters", branch_emitters, 1, emitters)
    check("length_ft", length_ft, 0, 10_000)
    check("branch_ft", branch_ft, 0, 1000)
    main, branch = TUBING["half_inch"], TUBING["quarter_inch"]
    branches = math.ceil(emitters / branch_emitters)
    along_psi = tapped_line_psi(
        zone_gpm(emitters, emitter_gph), main.inside_diameter_in, length_ft=length_ft, outlets=branches
    )
    aside_psi = tapped_line_psi(
        zone_gpm(branch_emitters, emitter_gph),
        branch.inside_diameter_in,
        length_ft=branch_ft,
        outlets=branch_emitters,
    )
    return along_psi + aside_psi


def emission_spread(most_psi: float, least_psi: float, *, exponent: float = 0.5) -> float:
    """Return by which share the emitter at the least pressure gives less than that at the most.

    1 − (least / most)^x; x is 0.5 for an orifice and near 0 for one that compensates.
    """
    check_positive("most_psi", most_psi)
    check_not_negative("least_psi", least_psi)
    check("least_psi", least_psi, 0, most_psi)
    check("exponent", exponent, 0, 1)
    return 1 - math.pow(least_psi / most_psi, exponent)


def head_psi(height_ft: float) -> float:
    """Return the pressure that a column of water of a height makes, psi: ft · 62.4 / 144 (geometry)."""
    check("height_ft", height_ft, -10_000, 10_000)
    return height_ft / FT_OF_WATER_PER_PSI


def tubing_of(tubing: str) -> Tubing:
    """Return the tubing of a nominal size such as 'half_inch'."""
    if tubing not in TUBING:
        raise ValueError(f"tubing is {tubing!r}: it must be one of {', '.join(TUBING)}")
    return TUBING[tubing]


def _check_diameter(inside_diameter_in: float) -> None:
    check("inside_diameter_in", inside_diameter_in, 0.05, 48)
