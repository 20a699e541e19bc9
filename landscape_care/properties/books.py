"""Reads of the plants and climates to choose from: those that come along and the company's own.

What stands on the record keeps the facts of its plants and its climate, also when the company
offers them no more. Keys that came along are answered without a question to the database.
"""

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from django.db.models import Q, QuerySet

from landscape_care.almanac.climate import Climate, ClimateBook, climates
from landscape_care.almanac.refusals import OWN_PREFIX
from landscape_care.properties.models import OwnClimate, OwnPlant, Planting, Property
from landscape_care.properties.records import ClimateRecord
from landscape_care.trades.limits import limits_of
from landscape_care.trades.plants import Plant, PlantBook

_PLANT_FIELDS = tuple(field.name for field in fields(Plant))
_MONTHLY = tuple(name for name, limit in limits_of(ClimateRecord).items() if limit.kind == "months")


def plant_book(*, keep: Iterable[str] = ()) -> PlantBook:
    """The plants that are offered, and those of some keys that are no longer."""
    rows = OwnPlant.objects.filter(Q(ended_at=None) | Q(key__in=[*keep]))
    return PlantBook(tuple(map(as_plant, rows)))


def plants_named(keys: Iterable[str]) -> PlantBook:
    """A book that knows the plants of some keys, whether they are offered or not."""
    own = {key for key in keys if key.startswith(OWN_PREFIX)}
    return PlantBook(tuple(map(as_plant, OwnPlant.objects.filter(key__in=own)))) if own else PlantBook()


def as_plant(row: OwnPlant) -> Plant:
    """An own plant as everything computes with it."""
    return Plant(**{name: getattr(row, name) for name in _PLANT_FIELDS})


def climate_book(*, keep: Iterable[str] = ()) -> ClimateBook:
    """The climates that are offered, and those of some keys that are no longer."""
    rows = OwnClimate.objects.filter(Q(ended_at=None) | Q(key__in=[*keep]))
    return ClimateBook(tuple(record_of(row).climate for row in rows))


def climate_at(key: str) -> Climate:
    """The climate of a key, whether it is offered or not."""
    if (known := climates().get(key)) is not None:
        return known
    row = OwnClimate.objects.filter(key=key).first()
    return record_of(row).climate if row else climate_book().named(key)


def climates_at(keys: Iterable[str]) -> dict[str, Climate]:
    """The climates of some keys, each looked up once."""
    return {key: climate_at(key) for key in set(keys)}


def record_of(row: OwnClimate) -> ClimateRecord:
    """An own climate as it was given."""
    values: dict[str, Any] = {name: getattr(row, name) for name in limits_of(ClimateRecord)}
    months = {name: tuple(values[name]) for name in _MONTHLY if values[name] is not None}
    return ClimateRecord(**values | months)


def plantings_of(key: str) -> QuerySet[Planting]:
    """The plantings on which a plant stands or takes its turn, gone ones left out."""
    rows = Planting.objects.select_related("property").filter(removed_on=None)
    return rows.filter(Q(plant=key) | Q(partner=key)).order_by("property__code", "tag")


def properties_in(key: str) -> QuerySet[Property]:
    """The properties of a climate."""
    return Property.objects.filter(climate=key)


def properties_with_plant(key: str) -> QuerySet[Property]:
    """The properties whose record names a plant, also of what is gone."""
    rows = Planting.objects.filter(Q(plant=key) | Q(partner=key))
    return Property.objects.filter(pk__in=rows.values("property_id"))
