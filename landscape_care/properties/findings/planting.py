"""Plants that stand in the wrong light or in too cold a place."""

from collections.abc import Iterator

from landscape_care.properties.findings.finding import WATCH, WRONG, Finding, Record
from landscape_care.trades.kinds import EXPOSURES, Planting
from landscape_care.trades.plants import Plant

# Rough, common practice: the coldest night of a usual winter lies about this far under the mean
# minimum of its coldest month; in a dry inland climate it may lie farther.
COLDEST_NIGHT_BELOW_MEAN_F = 15.0

_LIGHT = {
    "full_sun": ("full sun", "pleno sol"),
    "filtered_shade": ("filtered shade", "sombra filtrada"),
    "shade": ("shade", "sombra"),
}


def light(record: Record) -> Iterator[Finding]:
    """A plant in a bed whose light it does not bear; two steps off is wrong, one is to be watched."""
    for planting in record.standing(Planting):
        bed = record.thing(planting.bed_id)
        if bed is None:
            continue
        for key in filter(None, (planting.plant, planting.partner)):
            plant = record.as_built.plants.get(key)
            if plant and bed.exposure not in plant.exposures:
                yield _light_finding(planting, plant, bed.exposure)


def _light_finding(planting: Planting, plant: Plant, exposure: str) -> Finding:
    steps = min(abs(EXPOSURES.index(exposure) - EXPOSURES.index(good)) for good in plant.exposures)
    english, spanish = _LIGHT[exposure]
    wants_en = " or ".join(_LIGHT[good][0] for good in plant.exposures)
    wants_es = " o ".join(_LIGHT[good][1] for good in plant.exposures)
    return Finding(
        planting.tag,
        WRONG if steps > 1 else WATCH,
        f"{plant.common} stands in {english} and wants {wants_en}.",
        f"{plant.common_es}: está en {spanish} y pide {wants_es}.",
        "Move it to a bed with that light, or plant another kind there.",
        "Trasplántela a un arriate con esa luz o ponga ahí otra planta.",
        "light",
    )


def cold(record: Record) -> Iterator[Finding]:
    """A lasting plant that a usual winter harms.

    Wrong when even the mean minimum of the coldest month is under its limit. To be watched when
    the coldest night of a usual winter is, unless it is known as frost-tender: care covers that.
    """
    mean_f = min(record.climate.tmin_f)
    for planting in record.standing(Planting):
        plant = record.plant(planting)
        if plant is None or planting.role == "seasonal_colour":
            continue
        if plant.hardiness_f > mean_f:
            yield _cold_finding(planting, plant, mean_f, severity=WRONG)
        elif plant.hardiness_f > mean_f - COLDEST_NIGHT_BELOW_MEAN_F and not plant.frost_tender:
            yield _cold_finding(planting, plant, mean_f - COLDEST_NIGHT_BELOW_MEAN_F, severity=WATCH)


def _cold_finding(planting: Planting, plant: Plant, night_f: float, *, severity: str) -> Finding:
    return Finding(
        planting.tag,
        severity,
        f"{plant.common} bears about {plant.hardiness_f:.0f} °F; winter nights here reach {night_f:.0f} °F.",
        f"{plant.common_es}: resiste unos {plant.hardiness_f:.0f} °F; aquí se llega a {night_f:.0f} °F.",
        "Grow it in a pot that comes in, protect it each winter, or choose a hardier kind.",
        "Téngala en maceta que se guarda, protéjala cada invierno o elija una más resistente.",
        "cold",
    )


def unknown(record: Record) -> Iterator[Finding]:
    """A planting whose kind the catalog does not know any more."""
    for planting in record.standing(Planting):
        if record.plant(planting) is None:
            yield Finding(
                planting.tag,
                WATCH,
                f"{planting.plant} is not in the plant catalog, so care cannot fit it.",
                f"{planting.plant} no está en el catálogo; el cuidado no puede ajustarse.",
                "Name a plant of the catalog that is near to it.",
                "Ponga una planta parecida del catálogo.",
                "unknown-plant",
            )


LOOKS = (light, cold, unknown)
