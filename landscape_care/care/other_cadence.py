"""What care a property would ask for if its agreement came oftener or less often; nothing is written."""

from collections.abc import Iterator, Sequence
from datetime import date

from landscape_care.care import planning_book
from landscape_care.care.catalog import adjusted, agreed
from landscape_care.care.generation import Wanted, generate
from landscape_care.care.models import SETTLED, CareTask
from landscape_care.care.queries import CADENCE_DAYS, adjustments, every_rule
from landscape_care.properties.books import climate_at
from landscape_care.properties.models import Agreement, Property
from landscape_care.properties.queries import as_builts


def wanted_under(
    places: Sequence[Property], cadence: str, *, today: date, through: date
) -> Iterator[tuple[Property, list[Wanted]]]:
    """The care of some properties under another cadence, property by property, without what is settled."""
    if cadence not in CADENCE_DAYS:
        raise ValueError(f"cadence {cadence!r}, wanted one of {', '.join(CADENCE_DAYS)}")
    pages, records = planning_book.read(places), as_builts(place.pk for place in places)
    stems = dict(Agreement.objects.filter(property__in=places).values_list("property_id", "stems"))
    for place in places:
        rules = agreed(adjusted(every_rule(), *adjustments(place)), stems[place.pk], CADENCE_DAYS[cadence])
        scene = (records[place.pk], climate_at(place.climate), rules)
        last = min(through, place.care_ends_on or through)
        over = set(CareTask.objects.filter(property=place, state__in=SETTLED).values_list("key", flat=True))
        found = generate(*scene, pages[place.pk].history(), today=today, through=last)
        yield place, [want for want in found if want.key not in over]
