"""Checked records as rows of the tables, not yet saved."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

from django.db import connection

from landscape_care.almanac.climate import Climate, ClimateBook, distance_km
from landscape_care.properties.models import TABLES, Agreement, Client, Depot, InstalledThing, Property
from landscape_care.properties.records import AgreementRecord, ClientRecord, DepotRecord, PropertyRecord
from landscape_care.trades.kinds import Planting, Thing
from landscape_care.trades.limits import Problem, Refused, limits_of
from landscape_care.trades.plants import PlantBook

# An office may borrow the climate of a like place, but not of another part of the world.
FARTHEST_NAMED_KM = 800
_AT_ONCE = 1000


def client_row(record: ClientRecord) -> Client:
    """A client."""
    return Client(**asdict(record))


def depot_row(record: DepotRecord) -> Depot:
    """A depot."""
    return Depot(**asdict(record))


def property_row(
    record: PropertyRecord, client: Client, depot: Depot, *, climates: ClimateBook, today: date
) -> Property:
    """A property, with what was left empty taken from depot, climate and day of intake."""
    place = climate_of(record, climates)
    values = asdict(record) | {
        "client": client,
        "depot": depot,
        "climate": place.key,
        "elevation_m": place.elevation_m if record.elevation_m is None else record.elevation_m,
        "time_zone": record.time_zone or depot.time_zone,
        "care_starts_on": record.care_starts_on or today,
    }
    return Property(**values)


def agreement_row(record: AgreementRecord, property: Property) -> Agreement:
    """An agreement."""
    return Agreement(
        property=property,
        cadence=record.cadence,
        weekdays=record.weekdays,
        stems=record.stem_list(),
        least_days=record.least_days,
        most_days=record.most_days,
    )


def _named_climate(record: PropertyRecord, climates: ClimateBook) -> Climate:
    named = climates.get(record.climate)
    if named is None:
        raise Refused([Problem("climate", record.climate, "empty or one of " + ", ".join(climates.keys()))])
    there = (named.latitude_deg, named.longitude_deg)
    away_km = distance_km((record.latitude_deg, record.longitude_deg), there)
    if away_km > FARTHEST_NAMED_KM:
        wanted = f"a climate within {FARTHEST_NAMED_KM} km; {named.name} is {away_km:,.0f} km away"
        raise Refused([Problem("climate", record.climate, wanted)])
    return named


def climate_of(record: PropertyRecord, climates: ClimateBook) -> Climate:
    """The climate named, or the nearest one; `Refused` when none is near, or the one named is far away."""
    if record.climate:
        return _named_climate(record, climates)
    try:
        return climates.nearest(record.latitude_deg, record.longitude_deg, record.elevation_m)
    except ValueError as unknown:
        wanted = f"a place with a known climate near it ({unknown})"
        raise Refused(
            [
                Problem("latitude_deg", record.latitude_deg, wanted),
                Problem("longitude_deg", record.longitude_deg, wanted),
            ]
        ) from None


def thing_row(record: Thing, property: Property) -> InstalledThing:
    """An installed thing; the plantings of a zone are not part of its row."""
    return TABLES[record.kind](property=property, kind=record.kind, **column_values(record))


def add_all(rows: Sequence[InstalledThing]) -> None:
    """Save new things of one kind at once, where saving them one by one would take two round trips each.

    Django has no bulk insert for rows that lie in two tables: the shared rows go in first, then
    those of the kind under the same numbers.
    """
    if not rows:
        return
    shared = [field.attname for field in InstalledThing._meta.concrete_fields if not field.primary_key]
    first = [InstalledThing(**{name: getattr(row, name) for name in shared}) for row in rows]
    for row, saved in zip(rows, InstalledThing.objects.bulk_create(first, batch_size=_AT_ONCE), strict=True):
        row.pk = saved.pk
    _insert_own_columns(type(rows[0]), rows)


def _insert_own_columns(table: type[InstalledThing], rows: Sequence[InstalledThing]) -> None:
    columns = table._meta.local_concrete_fields
    quote = connection.ops.quote_name
    names = ", ".join(quote(str(column.column)) for column in columns)
    places = ", ".join("%s" for _ in columns)
    statement = f"INSERT INTO {quote(table._meta.db_table)} ({names}) VALUES ({places})"  # noqa: S608
    with connection.cursor() as cursor:
        cursor.executemany(
            statement,
            [
                [column.get_db_prep_save(getattr(row, column.attname), connection) for column in columns]
                for row in rows
            ],
        )


def column_values(record: Thing) -> dict[str, Any]:
    """The values of a record that lie in its own row, by column."""
    names = [name for name, limit in limits_of(type(record)).items() if limit.kind != "many"]
    return {name: getattr(record, name) for name in names}


def with_plant_keys(kind: type[Thing], values: Mapping[str, Any], plants: PlantBook) -> dict[str, Any]:
    """Values in which plants are named by their catalog key; `Refused` for unknown plants."""
    found, problems = dict(values), []
    for field in ("plant", "partner") if kind is Planting else ():
        name = found.get(field)
        if not (isinstance(name, str) and name.strip()):
            continue
        try:
            found[field] = plants.named(name).key
        except ValueError as unknown:
            problems.append(Problem(field, name, f"a plant of the catalog ({unknown})"))
    if problems:
        raise Refused(problems)
    return found
