"""What seasonal colour has to be ordered by when: kinds, counts and flats by bed and light."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

# From the order to the flats on the truck; a grower who raises them to order wants longer
# (common practice).
USUAL_LEAD_DAYS, LONGEST_LEAD_DAYS = 28, 180


@dataclass(frozen=True, slots=True)
class PocketOrder:
    """What one pocket takes at one change: keys of both kinds, bed and light, and the amounts."""

    task_id: int
    property_code: str
    property_name: str
    tag: str
    outgoing: str
    incoming: str
    bed: str
    exposure: str
    plants: int
    flats: int
    compost_yd3: float
    opens_on: date
    closes_on: date

    def order_on(self, lead_days: int) -> date:
        """The last day to order for plants that are there when the window opens."""
        return self.opens_on - timedelta(days=lead_days)


@dataclass(frozen=True, slots=True)
class KindOrder:
    """One kind for all pockets with the same day to order by; flats are counted pocket by pocket."""

    order_on: date
    incoming: str
    exposure: str
    plants: int
    flats: int
    pockets: tuple[PocketOrder, ...]


def lead_days_of(written: str) -> int:
    """The days of lead somebody wrote, or the usual ones; what makes no sense is refused."""
    if not written.strip():
        return USUAL_LEAD_DAYS
    days = int(written) if written.strip().isdecimal() else -1
    if not 0 <= days <= LONGEST_LEAD_DAYS:
        raise ValueError(f"lead_days is {written!r}: wanted 0 to {LONGEST_LEAD_DAYS} days")
    return days


def by_kind(pockets: Iterable[PocketOrder], lead_days: int) -> list[KindOrder]:
    """Orders by day, kind and light, the earliest first; pockets that take no plants are left out."""
    groups: dict[tuple[date, str, str], list[PocketOrder]] = defaultdict(list)
    for pocket in pockets:
        if pocket.plants:
            groups[pocket.order_on(lead_days), pocket.incoming, pocket.exposure].append(pocket)
    return [_together(*key, pockets=groups[key]) for key in sorted(groups)]


def _together(order_on: date, incoming: str, exposure: str, *, pockets: Sequence[PocketOrder]) -> KindOrder:
    ordered = tuple(sorted(pockets, key=lambda pocket: (pocket.property_code, pocket.tag)))
    plants, flats = sum(each.plants for each in ordered), sum(each.flats for each in ordered)
    return KindOrder(order_on, incoming, exposure, plants, flats, ordered)
