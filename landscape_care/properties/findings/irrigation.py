"""Valves that water plants of different needs, draw too much, or stand nowhere on the controller."""

from collections import Counter
from collections.abc import Iterator

from landscape_care.properties.findings.emission import USUAL_LOSSES
from landscape_care.properties.findings.finding import WATCH, WRONG, Finding, Record
from landscape_care.trades.hydraulics import (
    FASTEST_FPS,
    TUBING,
    WORKING_PSI,
    Tubing,
    tapped_line_psi,
    velocity_fps,
)
from landscape_care.trades.kinds import Controller, Planting, Zone
from landscape_care.trades.plants import WATER_CLASSES

# Common practice: a valve draws at most three quarters of what the supply gives at working pressure.
SUPPLY_SHARE = 0.75
MOST_STATIC_PSI = 80.0
MOST_EMITTER_FLOWS = 2

_TUBING_WORDS = {
    "quarter_inch": ("quarter-inch", "un cuarto de pulgada"),
    "half_inch": ("half-inch", "media pulgada"),
    "three_quarter_inch": ("three-quarter-inch", "tres cuartos de pulgada"),
}
_DEEP_ROLES = ("shrub", "rose", "vine", "tree", "palm")
_NEEDS_NO_VALVE = ("succulent",)


def sprays_and_drip_on_one_planting(record: Record) -> Iterator[Finding]:
    """A planting that sprays and drip both water: no run time is right for it."""
    devices: dict[int, set[bool]] = {}
    for zone in record.standing(Zone):
        for uid in zone.planting_ids:
            devices.setdefault(uid, set()).add(zone.device == "drip")
    for planting in record.standing(Planting):
        if len(devices.get(planting.uid, ())) > 1:
            yield Finding(
                planting.tag,
                WRONG,
                "Sprays and drip both water this planting, so neither run time is right.",
                "Lo riegan aspersores y goteo a la vez; ningún tiempo de riego le queda bien.",
                "Take one of the two off: cap the heads, or plug the emitters.",
                "Quite uno de los dos: tape los aspersores o los goteros.",
                "two-devices",
            )


def shallow_and_deep_on_one_valve(record: Record) -> Iterator[Finding]:
    """A valve for seasonal colour that waters shrubs or trees too.

    Ten minutes that suit shallow roots bring a shrub a tenth of what it needs (common practice).
    """
    for zone in record.standing(Zone):
        roles = {planting.role for planting in record.plantings(zone.planting_ids)}
        if "seasonal_colour" in roles and roles & set(_DEEP_ROLES):
            yield Finding(
                zone.tag,
                WRONG,
                "One valve waters seasonal colour and deep roots: short daily runs against rare long ones.",
                "Una válvula riega color de temporada y raíces hondas: riegos cortos diarios contra largos.",
                "Give the deep-rooted plants a drip valve of their own.",
                "Ponga las plantas de raíz honda en su propia válvula de goteo.",
                "shared-valve",
            )


def unlike_water_needs(record: Record) -> Iterator[Finding]:
    """A valve whose plants differ by more than one class of water need."""
    for zone in record.standing(Zone):
        plantings = record.plantings(zone.planting_ids)
        known = [plant for planting in plantings if (plant := record.plant(planting))]
        classes = sorted({WATER_CLASSES.index(plant.water_class) for plant in known})
        if classes and classes[-1] - classes[0] > 1:
            low, high = WATER_CLASSES[classes[0]], WATER_CLASSES[classes[-1]]
            yield Finding(
                zone.tag,
                WATCH,
                f"Plants of water class {low} and {high} share this valve; it must run for the thirstiest.",
                f"Plantas de consumo {low} y {high} comparten la válvula; debe regar para la más sedienta.",
                "Group plants of like need on a valve, or swap the odd ones.",
                "Agrupe plantas de consumo parecido o cambie las que no van.",
                "unlike-needs",
            )


def flow(record: Record) -> Iterator[Finding]:
    """A valve that draws more than three quarters of the supply, or more than all of it."""
    supply_gpm = record.as_built.supply_gpm
    for zone in record.standing(Zone) if supply_gpm else ():
        drawn_gpm = zone.gallons_per_minute
        share = drawn_gpm / (supply_gpm or 1)
        if share > SUPPLY_SHARE:
            yield Finding(
                zone.tag,
                WRONG if share > 1 else WATCH,
                f"The zone draws {drawn_gpm:.1f} of {supply_gpm:g} gpm the supply gives ({share:.0%}).",
                f"La zona toma {drawn_gpm:.1f} de {supply_gpm:g} gpm disponibles ({share:.0%}).",
                "Split the zone, or fit smaller nozzles; at most 75 % of the supply.",
                "Divida la zona o ponga boquillas menores; a lo más 75 % del suministro.",
                "zone-flow",
            )


def drip_tubing(record: Record) -> Iterator[Finding]:
    """A drip zone that takes more than its lines of tubing carry; half-inch where the record is silent.

    Wrong over 5 ft/s, the trade's limit of speed, where the tubing is known; to be watched over the
    length and flow of common practice, 200 ft and 200 gal/h for half-inch.
    """
    for zone in record.standing(Zone):
        if zone.device != "drip":
            continue
        size = "half_inch" if zone.tubing == "unknown" else zone.tubing
        line_gph = zone.gallons_per_minute * 60 / zone.lines
        if line_gph > TUBING[size].most_gph or (zone.line_ft or 0) > TUBING[size].longest_ft:
            yield _tubing_finding(zone, size, line_gph)


def _tubing_finding(zone: Zone, size: str, line_gph: float) -> Finding:
    tubing, (english, spanish) = TUBING[size], _TUBING_WORDS[size]
    speed_fps = velocity_fps(line_gph / 60, tubing.inside_diameter_in)
    is_wrong = zone.tubing != "unknown" and speed_fps > FASTEST_FPS
    loss_en, loss_es = _friction_in_words(zone, tubing, line_gph)
    return Finding(
        zone.tag,
        WRONG if is_wrong else WATCH,
        f"A {english} line carries {tubing.most_gph:g} gph over {tubing.longest_ft:g} ft; this one takes"
        f" {line_gph:.0f} gph at {speed_fps:.1f} ft/s{loss_en}.",
        f"Una línea de {spanish} lleva {tubing.most_gph:g} gph en {tubing.longest_ft:g} pies; esta toma"
        f" {line_gph:.0f} gph a {speed_fps:.1f} pies/s{loss_es}.",
        "See that more lines or wider ones feed it, or split the zone.",
        "Vea que la alimenten más líneas o más anchas, o divida la zona.",
        "drip-tubing",
    )


def _friction_in_words(zone: Zone, tubing: Tubing, line_gph: float) -> tuple[str, str]:
    """What the line loses when its emitters take the water evenly along it."""
    if zone.line_ft is None:
        return "", ""
    outlets = max(1, zone.emitters // zone.lines)
    lost_psi = tapped_line_psi(
        line_gph / 60, tubing.inside_diameter_in, length_ft=zone.line_ft, outlets=outlets
    )
    return (
        f" and loses {lost_psi:.1f} psi in {zone.line_ft:g} ft",
        f" y pierde {lost_psi:.1f} psi en {zone.line_ft:g} pies",
    )


def pressure(record: Record) -> Iterator[Finding]:
    """A static pressure too low for the heads, or so high that plumbing codes ask for a regulator.

    Lowest working pressures are common practice; 80 psi is the limit of US plumbing codes for a
    building supply (from memory). Friction takes more, so a pressure that just reaches is watched.
    """
    static_psi = record.as_built.static_pressure_psi
    if static_psi is None:
        return
    for zone in record.standing(Zone):
        least_psi, _ = WORKING_PSI[zone.device]
        if static_psi < least_psi * USUAL_LOSSES:
            yield _weak(zone, static_psi, least_psi)
    if static_psi > MOST_STATIC_PSI:
        yield from (_strong(controller, static_psi) for controller in record.standing(Controller)[:1])


def _weak(zone: Zone, static_psi: float, least_psi: float) -> Finding:
    return Finding(
        zone.tag,
        WRONG if static_psi < least_psi else WATCH,
        f"The supply stands at {static_psi:g} psi; these heads work from {least_psi:g} psi at the head up.",
        f"El suministro tiene {static_psi:g} psi; estos emisores trabajan desde {least_psi:g} psi.",
        "Measure at the last head; fit low-pressure heads or shorter lines, or ask about a booster.",
        "Mida en el último emisor; use emisores de baja presión o líneas cortas, o un hidroneumático.",
        "low-pressure",
    )


def _strong(controller: Controller, static_psi: float) -> Finding:
    return Finding(
        controller.tag,
        WATCH,
        f"The supply stands at {static_psi:g} psi; over {MOST_STATIC_PSI:g} a regulator is asked for.",
        f"El suministro tiene {static_psi:g} psi; arriba de {MOST_STATIC_PSI:g} se pide un regulador.",
        "See that a pressure regulator stands before the valves; local plumbing code comes first.",
        "Vea que haya un regulador antes de las válvulas; primero el código local de plomería.",
        "high-pressure",
    )


def emitter_mix(record: Record) -> Iterator[Finding]:
    """A planting whose drip emitters have more than two flows: no run time is right for all."""
    flows: dict[int, set[float]] = {}
    for zone in record.standing(Zone):
        for uid in zone.planting_ids if zone.device == "drip" and zone.emitter_gph else ():
            flows.setdefault(uid, set()).add(zone.emitter_gph or 0.0)
    for planting in record.standing(Planting):
        found = sorted(flows.get(planting.uid, ()))
        if len(found) > MOST_EMITTER_FLOWS:
            words = ", ".join(f"{flow:g}" for flow in found)
            yield Finding(
                planting.tag,
                WATCH,
                f"Emitters of {words} gph water this planting; no run time suits them all.",
                f"La riegan goteros de {words} gph; ningún tiempo de riego les queda a todos.",
                "Fit emitters of one flow, more of them where a plant is larger.",
                "Ponga goteros de un solo gasto, más en las plantas grandes.",
                "emitter-mix",
            )


def stations(record: Record) -> Iterator[Finding]:
    """A zone on a station that its controller does not have, or on no controller, or beside another."""
    zones = record.standing(Zone)
    taken = Counter((zone.controller_id, zone.station) for zone in zones)
    for zone in zones:
        controller = record.thing(zone.controller_id)
        if controller is None:
            yield _nowhere(zone)
        elif zone.station > controller.stations:
            yield _beyond(zone, controller)
        elif taken[zone.controller_id, zone.station] > 1:
            yield _beside(zone)


def _nowhere(zone: Zone) -> Finding:
    return Finding(
        zone.tag,
        WRONG,
        "The zone is on no controller that stands, so it gets no program.",
        "La zona no está en ningún programador instalado; no recibe programa.",
        "Name the controller it is wired to.",
        "Indique a qué programador está conectada.",
        "no-controller",
    )


def _beyond(zone: Zone, controller: Controller) -> Finding:
    return Finding(
        zone.tag,
        WRONG,
        f"Station {zone.station} is beyond the {controller.stations} stations of {controller.tag}.",
        f"La estación {zone.station} no existe: {controller.tag} tiene {controller.stations}.",
        "Read the number on the controller again.",
        "Lea otra vez el número en el programador.",
        "station",
    )


def _beside(zone: Zone) -> Finding:
    return Finding(
        zone.tag,
        WATCH,
        f"Station {zone.station} has more than one zone: they open together and add up their flow.",
        f"La estación {zone.station} tiene más de una zona: abren juntas y suman su gasto.",
        "Check the wiring, or correct the station number.",
        "Revise el cableado o corrija el número de estación.",
        "station",
    )


def unwatered(record: Record) -> Iterator[Finding]:
    """A planting that no valve waters, where the property has valves at all."""
    zones = record.standing(Zone)
    served = {uid for zone in zones for uid in zone.planting_ids}
    for planting in record.standing(Planting) if zones else ():
        if planting.uid not in served and planting.role not in _NEEDS_NO_VALVE:
            yield Finding(
                planting.tag,
                WATCH,
                "No zone on the record waters this planting.",
                "Ninguna zona del registro riega esta planta.",
                "Add it to its zone, or note that it is watered by hand.",
                "Agréguela a su zona o anote que se riega a mano.",
                "unwatered",
            )


LOOKS = (
    sprays_and_drip_on_one_planting,
    shallow_and_deep_on_one_valve,
    unlike_water_needs,
    flow,
    drip_tubing,
    pressure,
    emitter_mix,
    stations,
    unwatered,
)
