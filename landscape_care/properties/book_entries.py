"""Writes of a company's own plants and climates: added, changed and retired, never deleted.

A change of either plans care again wherever it counts; what is in use is not retired.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any, TypeVar

from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from landscape_care.almanac.climate import Climate
from landscape_care.people.actions import record
from landscape_care.people.models import User
from landscape_care.properties import books, record_checks
from landscape_care.properties.building import build
from landscape_care.properties.models import OwnClimate, OwnPlant, Property
from landscape_care.properties.records import ClimateRecord, own_key_problems
from landscape_care.trades.limits import Problem, Refused
from landscape_care.trades.plants import Plant

Entry = TypeVar("Entry", OwnPlant, OwnClimate)
_MOST_NAMED = 5


@transaction.atomic
def add_plant(values: Mapping[str, Any], *, by: User | None) -> OwnPlant:
    """Give the company a kind of plant that the catalog does not have."""
    _allow_office(by)
    plant = build(Plant, values)
    _refuse(own_key_problems(plant.key))
    _refuse(_shared_name(plant))
    row = _added(OwnPlant(**asdict(plant), by=by))
    record("add own plant", row.key, by=by, **asdict(plant))
    return row


@transaction.atomic
def change_plant(row: OwnPlant, values: Mapping[str, Any], *, reason: str, by: User | None) -> OwnPlant:
    """Give an own plant other figures; care of the gardens it stands in is planned again."""
    _allow_office(by)
    _refuse([*_reason_problems(reason), *_same_key(row, values)])
    now = books.as_plant(_locked(row))
    new = build(Plant, asdict(now) | dict(values))
    _refuse(_shared_name(new))
    _save_changes(row, asdict(now), asdict(new), reason=reason, by=by)
    _want_plans(books.properties_with_plant(row.key))
    return row


@transaction.atomic
def retire_plant(row: OwnPlant, *, reason: str, by: User | None) -> OwnPlant:
    """Offer an own plant no more; refused while it stands or takes its turn anywhere."""
    _allow_office(by)
    _refuse(_reason_problems(reason))
    standing = [f"{each.property.code} {each.tag}" for each in books.plantings_of(row.key)]
    _refuse(_in_use(row, standing, "a plant that stands nowhere"))
    return _end(row, reason=reason, by=by)


@transaction.atomic
def add_climate(values: Mapping[str, Any], *, by: User | None) -> OwnClimate:
    """Give the company the usual year of a place that no climate at hand fits."""
    _allow_office(by)
    given = build(ClimateRecord, values)
    _refuse(_shared_climate_name(given.climate))
    row = _added(OwnClimate(**_columns(given), by=by))
    record("add own climate", row.key, by=by, **_columns(given))
    return row


@transaction.atomic
def change_climate(row: OwnClimate, values: Mapping[str, Any], *, reason: str, by: User | None) -> OwnClimate:
    """Give an own climate other figures; care of the gardens in it is planned again."""
    _allow_office(by)
    _refuse([*_reason_problems(reason), *_same_key(row, values)])
    now = books.record_of(_locked(row))
    new = build(ClimateRecord, asdict(now) | dict(values))
    _refuse(_shared_climate_name(new.climate))
    _save_changes(row, _columns(now), _columns(new), reason=reason, by=by)
    _want_plans(books.properties_in(row.key))
    return row


@transaction.atomic
def retire_climate(row: OwnClimate, *, reason: str, by: User | None) -> OwnClimate:
    """Offer an own climate no more; refused while a garden lies in it."""
    _allow_office(by)
    _refuse(_reason_problems(reason))
    there = [place.code for place in books.properties_in(row.key)]
    _refuse(_in_use(row, there, "a climate in which no garden lies"))
    return _end(row, reason=reason, by=by)


@transaction.atomic
def offer_again(row: Entry, *, by: User | None) -> Entry:
    """Offer a plant or climate that was retired."""
    _allow_office(by)
    if _locked(row).ended_at is not None:
        _refuse(_shared_name(books.as_plant(row)) if isinstance(row, OwnPlant) else ())
        type(row).objects.filter(pk=row.pk).update(ended_at=None)
        record(f"offer {_sort(row)} again", row.key, by=by)
    row.refresh_from_db()
    return row


def _columns(given: ClimateRecord) -> dict[str, Any]:
    return {name: list(value) if isinstance(value, tuple) else value for name, value in asdict(given).items()}


def _added(row: Entry) -> Entry:
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        # The checks of the record leave only this one to the database.
        raise Refused([Problem("key", row.key, "another one: this is in use already")]) from None
    return row


def _save_changes(
    row: OwnPlant | OwnClimate,
    was: Mapping[str, Any],
    now: Mapping[str, Any],
    *,
    reason: str,
    by: User | None,
) -> None:
    changed = {name: value for name, value in now.items() if value != was[name]}
    if not changed:
        return
    for name, value in {**changed, "by": by}.items():
        setattr(row, name, value)
    row.save(update_fields=[*changed, "by", "at"])
    before = {name: was[name] for name in changed}
    record(f"change {_sort(row)}", row.key, by=by, reason=reason, was=before, now=changed)


def _end(row: Entry, *, reason: str, by: User | None) -> Entry:
    if type(row).objects.filter(pk=row.pk, ended_at=None).update(ended_at=timezone.now()):
        record(f"retire {_sort(row)}", row.key, by=by, reason=reason)
    row.refresh_from_db()
    return row


def _locked(row: Entry) -> Entry:
    return type(row).objects.select_for_update().get(pk=row.pk)


def _sort(row: OwnPlant | OwnClimate) -> str:
    return "own plant" if isinstance(row, OwnPlant) else "own climate"


def _want_plans(places: QuerySet[Property]) -> None:
    places.update(plan_wanted_at=timezone.now())
    record_checks.forget(places.order_by())


def _shared_name(plant: Plant) -> Iterable[Problem]:
    for name, other in books.plant_book().taken_names(plant).items():
        yield Problem(name, getattr(plant, name), f"a name of its own: {other.key} goes by it")


def _shared_climate_name(place: Climate) -> Iterable[Problem]:
    for other in books.climate_book():
        if other.key != place.key and other.name.casefold() == place.name.strip().casefold():
            yield Problem("name", place.name, f"a name of its own: {other.key} goes by it")


def _same_key(row: OwnPlant | OwnClimate, values: Mapping[str, Any]) -> Iterable[Problem]:
    if values.get("key", row.key) != row.key:
        yield Problem("key", values["key"], f"{row.key}: a key stays for good")


def _reason_problems(reason: str) -> Iterable[Problem]:
    if not reason.strip():
        yield Problem("reason", reason, "why this is done")


def _in_use(row: OwnPlant | OwnClimate, where: list[str], wanted: str) -> Iterable[Problem]:
    if where:
        named = ", ".join(where[:_MOST_NAMED])
        more = f" and {len(where) - _MOST_NAMED} more" if len(where) > _MOST_NAMED else ""
        yield Problem("key", row.key, f"{wanted}; it is in use at {named}{more}")


def _refuse(problems: Iterable[Problem]) -> None:
    if found := tuple(problems):
        raise Refused(found)


def _allow_office(by: User | None) -> None:
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office changes the books.")
