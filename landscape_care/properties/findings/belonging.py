"""Things that belong to something which is gone."""

from collections.abc import Iterator

from landscape_care.properties.findings.finding import WATCH, Finding, Record
from landscape_care.trades.kinds import Thing, Zone
from landscape_care.trades.limits import limits_of


def gone(record: Record) -> Iterator[Finding]:
    """A standing thing whose bed, transformer or water feature was removed."""
    for thing in filter(record.stands, record.as_built.things):
        # The controller of a zone has a look of its own.
        if isinstance(thing, Zone):
            continue
        for owner in _owners(record, thing):
            if not record.stands(owner):
                yield Finding(
                    thing.tag,
                    WATCH,
                    f"It belongs to {owner.tag}, which was removed on {owner.removed_on}.",
                    f"Pertenece a {owner.tag}, que se retiró el {owner.removed_on}.",
                    "Remove it too, or say what it belongs to now.",
                    "Retírelo también o indique a qué pertenece ahora.",
                    "belongs-to-gone",
                )


def _owners(record: Record, thing: Thing) -> Iterator[Thing]:
    for name, limit in limits_of(type(thing)).items():
        owner = record.as_built.thing(getattr(thing, name)) if limit.kind == "reference" else None
        if owner is not None:
            yield owner


LOOKS = (gone,)
