"""Reads of the properties room."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from datetime import date
from functools import lru_cache
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db.models import Q, QuerySet

from landscape_care.people.models import Role, User
from landscape_care.properties import books
from landscape_care.properties.models import (
    TABLES,
    Client,
    Depot,
    InstalledThing,
    OwnClimate,
    OwnPlant,
    Property,
    Zone,
)
from landscape_care.trades.kinds import KINDS, AsBuilt, Planting, Thing
from landscape_care.trades.limits import limits_of
from landscape_care.trades.plants import PlantBook

_SAME_NAME = (
    "latitude_deg",
    "longitude_deg",
    "elevation_m",
    "time_zone",
    "climate",
    "care_starts_on",
    "watering_opens",
    "watering_closes",
    "static_pressure_psi",
    "supply_gpm",
)
_SEES_ALL = (Role.OFFICE, Role.DISPATCHER, Role.CREW)


def sees_all(user: User | AnonymousUser) -> bool:
    """Whether somebody may know every property by name; gate codes are another matter."""
    return isinstance(user, User) and user.is_active and (user.is_superuser or user.role in _SEES_ALL)


def visible_properties(user: User | AnonymousUser) -> QuerySet[Property]:
    """The properties somebody may see."""
    rows = Property.objects.select_related("client", "depot", "agreement")
    return rows if sees_all(user) else rows.none()


def visible_clients(user: User | AnonymousUser) -> QuerySet[Client]:
    """The clients somebody may see: addresses and telephone numbers are for the office."""
    rows = Client.objects.all()
    return rows if isinstance(user, User) and user.in_office() else rows.none()


def visible_depots(user: User | AnonymousUser) -> QuerySet[Depot]:
    """The depots somebody may see."""
    rows = Depot.objects.all()
    return rows if sees_all(user) else rows.none()


def visible_things(user: User | AnonymousUser) -> QuerySet[InstalledThing]:
    """The installed things somebody may see, standing or gone."""
    rows = InstalledThing.objects.select_related("property")
    return rows if sees_all(user) else rows.none()


def visible_own_plants(user: User | AnonymousUser) -> QuerySet[OwnPlant]:
    """The company's own plants, offered or not."""
    rows = OwnPlant.objects.select_related("by")
    return rows if sees_all(user) else rows.none()


def visible_own_climates(user: User | AnonymousUser) -> QuerySet[OwnClimate]:
    """The company's own climates, offered or not."""
    rows = OwnClimate.objects.select_related("by")
    return rows if sees_all(user) else rows.none()


def installed(property: Property, today: date) -> QuerySet[InstalledThing]:
    """The things that stand on a property on a day, in tag order."""
    still_there = Q(removed_on=None) | Q(removed_on__gt=today)
    return InstalledThing.objects.filter(still_there, property=property, installed_on__lte=today)


def whole(thing: InstalledThing) -> InstalledThing:
    """The same thing with the columns of its kind."""
    return TABLES[thing.kind].objects.get(pk=thing.pk)


def record_of(thing: InstalledThing) -> Thing:
    """One installed thing as a plain value."""
    return as_builts([thing.property_id])[thing.property_id].thing(thing.pk)  # type: ignore[no-any-return]


def as_built(property: Property) -> AsBuilt:
    """The as-built record of a property as plain values, things that are gone included."""
    return as_builts([property.pk])[property.pk]


def as_builts(property_ids: Iterable[int]) -> dict[int, AsBuilt]:
    """The as-built records of several properties, in a number of queries that does not grow with them."""
    wanted = tuple(property_ids)
    there = InstalledThing.objects.filter(property_id__in=wanted).order_by()
    kinds = set(there.values_list("kind", flat=True).distinct())
    rows = {kind: _rows(kind, wanted) if kind in kinds else [] for kind in TABLES}
    plants = books.plants_named(key for row in rows["planting"] for key in (row["plant"], row["partner"]))
    things: dict[int, list[Thing]] = defaultdict(list)
    for property_id, thing in _things(rows, wanted, plants):
        things[property_id].append(thing)
    return {
        row.pk: _place(row, tuple(sorted(things[row.pk], key=lambda thing: thing.tag)), plants)
        for row in Property.objects.filter(pk__in=wanted)
    }


def _place(row: Property, things: tuple[Thing, ...], plants: PlantBook) -> AsBuilt:
    weekdays = tuple(int(digit) - 1 for digit in sorted(row.watering_weekdays))
    named = {key for thing in things if isinstance(thing, Planting) for key in (thing.plant, thing.partner)}
    return AsBuilt(
        uid=row.pk,
        things=things,
        plants=plants.only(named),
        watering_weekdays=weekdays,
        **{name: getattr(row, name) for name in _SAME_NAME},
    )


_Rows = Mapping[str, list[dict[str, Any]]]


def _rows(kind: str, property_ids: tuple[int, ...]) -> list[dict[str, Any]]:
    rows = TABLES[kind].objects.filter(property_id__in=property_ids)
    return list(rows.values("pk", "property_id", *_columns(kind)))


def _things(rows: _Rows, property_ids: tuple[int, ...], plants: PlantBook) -> Iterator[tuple[int, Thing]]:
    served, zones = _plantings_by_zone(property_ids), _zones_by_controller(property_ids)
    for kind, found in rows.items():
        for values in found:
            uid, property_id = values.pop("pk"), values.pop("property_id")
            more = _from_catalog(values, plants) if kind == "planting" else {}
            more |= _from_others(kind, uid, served=served, zones=zones)
            yield property_id, KINDS[kind](uid=uid, **values, **more)


@lru_cache(maxsize=len(TABLES))
def _columns(kind: str) -> tuple[str, ...]:
    return tuple(name for name, limit in limits_of(KINDS[kind]).items() if limit.kind != "many")


def _from_others(
    kind: str, uid: int, *, served: Mapping[int, tuple[int, ...]], zones: Counter[int | None]
) -> dict[str, Any]:
    """What a record holds of other rows."""
    if kind == "zone":
        return {"planting_ids": served.get(uid, ())}
    if kind == "controller":
        return {"zones": zones[uid]}
    return {}


def _from_catalog(row: Mapping[str, Any], plants: PlantBook) -> dict[str, Any]:
    """What a planting holds of its kind of plant."""
    plant = plants.get(row["plant"])
    if plant is None:
        return {}
    return {name: getattr(plant, name) for name in ("group", "frost_tender", "reseeds", "winter_cut")}


def _plantings_by_zone(property_ids: tuple[int, ...]) -> dict[int, tuple[int, ...]]:
    pairs = Zone.plantings.through.objects.filter(zone__property_id__in=property_ids)
    served: dict[int, tuple[int, ...]] = defaultdict(tuple)
    for zone_id, planting_id in pairs.order_by("planting_id").values_list("zone_id", "planting_id"):
        served[zone_id] += (planting_id,)
    return served


def _zones_by_controller(property_ids: tuple[int, ...]) -> Counter[int | None]:
    rows = Zone.objects.filter(property_id__in=property_ids, removed_on=None)
    return Counter(pair[0] for pair in rows.values_list("controller_id"))


def own_fields(kind: str) -> tuple[str, ...]:
    """The fields that only this kind has, in order, for a form or a page."""
    shared = {f.name for f in fields(Thing)}
    return tuple(name for name in limits_of(KINDS[kind]) if name not in shared)
