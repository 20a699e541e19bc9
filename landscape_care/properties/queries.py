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
from landscape_care.properties.models import TABLES, Client, Depot, InstalledThing, Property, Zone
from landscape_care.trades.kinds import KINDS, AsBuilt, Thing
from landscape_care.trades.limits import limits_of
from landscape_care.trades.plants import plants

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
    things: dict[int, list[Thing]] = defaultdict(list)
    for property_id, thing in _things(wanted):
        things[property_id].append(thing)
    return {
        row.pk: _place(row, tuple(sorted(things[row.pk], key=lambda thing: thing.tag)))
        for row in Property.objects.filter(pk__in=wanted)
    }


def _place(row: Property, things: tuple[Thing, ...]) -> AsBuilt:
    weekdays = tuple(int(digit) - 1 for digit in sorted(row.watering_weekdays))
    return AsBuilt(
        uid=row.pk,
        things=things,
        watering_weekdays=weekdays,
        **{name: getattr(row, name) for name in _SAME_NAME},
    )


def _things(property_ids: tuple[int, ...]) -> Iterator[tuple[int, Thing]]:
    served, zones = _plantings_by_zone(property_ids), _zones_by_controller(property_ids)
    for kind, table in TABLES.items():
        rows = table.objects.filter(property_id__in=property_ids)
        for values in rows.values("pk", "property_id", *_columns(kind)):
            uid, property_id = values.pop("pk"), values.pop("property_id")
            more = _filled(kind, uid, values, served=served, zones=zones)
            yield property_id, KINDS[kind](uid=uid, **values, **more)


@lru_cache(maxsize=len(TABLES))
def _columns(kind: str) -> tuple[str, ...]:
    return tuple(name for name, limit in limits_of(KINDS[kind]).items() if limit.kind != "many")


def _filled(
    kind: str,
    uid: int,
    row: Mapping[str, Any],
    *,
    served: Mapping[int, tuple[int, ...]],
    zones: Counter[int | None],
) -> dict[str, Any]:
    """What a record holds beyond its own row."""
    if kind == "zone":
        return {"planting_ids": served.get(uid, ())}
    if kind == "controller":
        return {"zones": zones[uid]}
    if kind == "planting" and (plant := plants().get(row["plant"])):
        return {"group": plant.group, "frost_tender": plant.frost_tender, "reseeds": plant.reseeds}
    return {}


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
