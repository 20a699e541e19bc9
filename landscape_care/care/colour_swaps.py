"""A change of seasonal colour: what goes out and how, what comes in, and where.

A kind that reseeds is thinned, a kind that comes back is cut back and stays; the rest is pulled.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from landscape_care.trades.kinds import AsBuilt, Bed, Planting
from landscape_care.trades.plants import Plant

_LIGHT = {
    "full_sun": ("full sun", "pleno sol"),
    "filtered_shade": ("filtered shade", "sombra filtrada"),
    "shade": ("shade", "sombra"),
}
Words = tuple[str, str]
_ANY_KIND: Words = ("plants of the office's choice", "plantas que elija la oficina")


@dataclass(frozen=True, slots=True)
class Swap:
    """One pocket at one change of season; a kind is None where the record does not name it."""

    outgoing: Plant | None
    incoming: Plant | None
    bed: Bed | None

    @property
    def brings_plants(self) -> bool:
        """Whether something is planted: not where all that stands there comes back by itself."""
        return self.incoming is not None or self.outgoing is None or not self.outgoing.comes_back

    @property
    def incoming_names(self) -> Words:
        """What comes in, in English and Spanish."""
        return (self.incoming.common, self.incoming.common_es) if self.incoming else _ANY_KIND

    def facts(self) -> dict[str, str]:
        """Keys of both kinds, tag of the bed and its light, as a task carries them."""
        return {
            "out": self.outgoing.key if self.outgoing else "",
            "in": self.incoming.key if self.incoming else "",
            "bed": self.bed.tag if self.bed else "",
            "exposure": self.bed.exposure if self.bed else "",
        }

    def lines(self) -> Iterator[Words]:
        """Where it is, and what becomes of what stands there, in English and Spanish."""
        if self.bed:
            en, es = _LIGHT[self.bed.exposure]
            yield f"in bed {self.bed.tag}, {en}", f"en el arriate {self.bed.tag}, {es}"
        if self.outgoing:
            yield _farewell(self.outgoing)
        if self.incoming and self.incoming.reseeds:
            yield _welcome(self.incoming)


def swap_of(pocket: Planting, group: str, as_built: AsBuilt) -> Swap:
    """The change of a pocket to the group of the coming season."""
    kinds = [kind for key in (pocket.plant, pocket.partner) if (kind := as_built.plants.get(key))]
    incoming = next((kind for kind in kinds if kind.group == group), None)
    outgoing = next((kind for kind in kinds if kind is not incoming), None)
    return Swap(outgoing, incoming, as_built.thing(pocket.bed_id))


def _farewell(plant: Plant) -> Words:
    if plant.comes_back:
        return (
            f"{plant.common} comes back: cut it back ({plant.cutback}), do not pull or replace it",
            f"{plant.common_es} rebrota: recórtela, no la saque ni la reponga",
        )
    if plant.reseeds:
        thin = f"{plant.spacing_in:g}"
        return (
            f"{plant.common} reseeds: shake out ripe heads, pull what is spent, thin seedlings to {thin} in",
            f"{plant.common_es} se resiembra: sacuda cabezas maduras, saque lo agotado, aclare a {thin} in",
        )
    return f"goes out: {plant.common}, pulled with its roots", f"sale: {plant.common_es}, de raíz"


def _welcome(plant: Plant) -> Words:
    return (
        f"seedlings of {plant.common} are thinned to {plant.spacing_in:g} in first; plant only the gaps",
        f"primero aclare las plántulas de {plant.common_es} a {plant.spacing_in:g} pulgadas; plante huecos",
    )
