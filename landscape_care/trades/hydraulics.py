"""Flow and pressure in irrigation pipe.

US customary: gallons a minute, inches inside diameter, feet, psi.
"""

import math

from landscape_care.almanac.bounds import check, check_not_negative, check_positive

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
    check("outlets", outlets, 1, 100_000)
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
    check("emitters", emitters, 0, 100_000)
    check_not_negative("emitter_gph", emitter_gph)
    check_not_negative("heads_gpm", heads_gpm)
    return emitters * emitter_gph / 60 + heads_gpm


def _check_diameter(inside_diameter_in: float) -> None:
    check("inside_diameter_in", inside_diameter_in, 0.05, 48)
