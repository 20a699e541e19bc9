"""Faults that the as-built record shows by itself, before anybody drives out."""

from datetime import date

from landscape_care.almanac.climate import Climate
from landscape_care.properties.findings import (
    belonging,
    emission,
    irrigation,
    lighting,
    planting,
    programs,
    water_feature,
)
from landscape_care.properties.findings.finding import WATCH, WRONG, Finding, Look, Record
from landscape_care.trades.kinds import AsBuilt

LOOKS: tuple[Look, ...] = (
    *planting.LOOKS,
    *irrigation.LOOKS,
    *emission.LOOKS,
    *programs.LOOKS,
    *lighting.LOOKS,
    *water_feature.LOOKS,
    *belonging.LOOKS,
)

__all__ = ["LOOKS", "WATCH", "WRONG", "Finding", "findings"]


def findings(as_built: AsBuilt, climate: Climate, *, today: date | None = None) -> tuple[Finding, ...]:
    """All faults of a record, the wrong ones first, then by tag."""
    record = Record(as_built, climate, today)
    found = (finding for look in LOOKS for finding in look(record))
    return tuple(sorted(found, key=lambda finding: (finding.severity != WRONG, finding.tag, finding.look)))
