"""Writes of the properties room: the record of what is installed grows and changes, nothing is deleted."""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date, time
from typing import IO, Any, TypeVar

from django.core.exceptions import PermissionDenied
from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction
from django.utils import timezone

from landscape_care.people.actions import record
from landscape_care.people.models import Role, User
from landscape_care.properties import books, outlines, pictures, queries, record_checks, rows
from landscape_care.properties.building import build
from landscape_care.properties.models import (
    TABLES,
    Agreement,
    Client,
    Depot,
    InstalledThing,
    Photo,
    Property,
    ThingChange,
    Zone,
)
from landscape_care.properties.records import AgreementRecord, ClientRecord, DepotRecord, PropertyRecord
from landscape_care.trades.kinds import KINDS, Thing
from landscape_care.trades.limits import Problem, Refused, limits_of

Row = TypeVar("Row", Client, Depot, Property)

SETTINGS_LEFT: Mapping[str, tuple[str, ...]] = {
    "zone": ("set_minutes", "set_weekdays", "set_start"),
    "transformer": ("set_on", "set_off"),
}


def add_client(values: Mapping[str, Any], *, by: User | None) -> Client:
    """Add an owner or manager."""
    _allow_office(by)
    row = rows.client_row(build(ClientRecord, values))
    return _added(row, by=by)


def add_depot(values: Mapping[str, Any], *, by: User | None) -> Depot:
    """Add a yard."""
    _allow_office(by)
    row = rows.depot_row(build(DepotRecord, values))
    return _added(row, by=by)


@transaction.atomic
def change_client(client: Client, values: Mapping[str, Any], *, by: User | None) -> Client:
    """Change what is known of a client; the code stays."""
    _allow_office(by)
    row = Client.objects.select_for_update().get(pk=client.pk)
    old = {name: getattr(row, name) for name in limits_of(ClientRecord)}
    return _altered(row, rows.client_row(build(ClientRecord, old | dict(values) | {"code": row.code})), by=by)


@transaction.atomic
def change_depot(depot: Depot, values: Mapping[str, Any], *, by: User | None) -> Depot:
    """Change where a depot is or which holidays it keeps; the code stays."""
    _allow_office(by)
    row = Depot.objects.select_for_update().get(pk=depot.pk)
    old = {name: getattr(row, name) for name in limits_of(DepotRecord)}
    return _altered(row, rows.depot_row(build(DepotRecord, old | dict(values) | {"code": row.code})), by=by)


def add_property(values: Mapping[str, Any], *, by: User | None, today: date) -> Property:
    """Add a garden; client and depot are given by their codes."""
    _allow_office(by)
    given = build(PropertyRecord, values)
    client = _by_code(Client, "client", given.client)
    depot = _by_code(Depot, "depot", given.depot)
    row = rows.property_row(given, client, depot, climates=books.climate_book(), today=today)
    row.plan_wanted_at = timezone.now()
    return _added(row, by=by)


@transaction.atomic
def set_agreement(  # noqa: PLR0913 - an agreement has these lines
    property: Property,
    *,
    cadence: str,
    weekdays: str = "12345",
    stems: Iterable[str] = (),
    least_days: int | None = None,
    most_days: int | None = None,
    by: User | None,
) -> Agreement:
    """Say how often, on which days and for which kinds of care somebody comes."""
    _allow_office(by)
    _lock(property.pk)
    given = build(
        AgreementRecord,
        {
            "property": property.code,
            "cadence": cadence,
            "weekdays": weekdays,
            "stems": ",".join(stems),
            "least_days": least_days,
            "most_days": most_days,
        },
    )
    values = asdict(given) | {"stems": given.stem_list()}
    del values["property"]
    agreement, _ = Agreement.objects.update_or_create(property=property, defaults=values)
    record("set agreement", property.code, by=by, **values)
    _want_plan(property.pk)
    return agreement


@transaction.atomic
def change_property(
    property: Property, values: Mapping[str, Any], *, reason: str = "", by: User | None
) -> Property:
    """Change what is known of a place: hours, water supply, gate code, the days care starts and ends."""
    _allow_office(by)
    row = _lock(property.pk)
    names = [name for name in limits_of(PropertyRecord) if name not in ("client", "depot")]
    old = {name: getattr(row, name) for name in names} | {"client": row.client.code, "depot": row.depot.code}
    new = build(PropertyRecord, old | dict(values))
    client, depot = _by_code(Client, "client", new.client), _by_code(Depot, "depot", new.depot)
    climates = books.climate_book(keep=[row.climate])
    fresh = rows.property_row(new, client, depot, climates=climates, today=row.care_starts_on)
    changed = [name for name in old if getattr(fresh, name) != getattr(row, name)]
    if not changed:
        return row
    for name in changed:
        setattr(row, name, getattr(fresh, name))
    _save_unique(row, update_fields=changed)
    record("change property", row.code, by=by, fields=changed, reason=reason)
    _want_plan(row.pk)
    return row


@transaction.atomic
def install(property: Property, kind: str, values: Mapping[str, Any], *, by: User | None) -> InstalledThing:
    """Put an installed thing on the record; references are numbers of other things of the property."""
    _allow_office(by)
    _lock(property.pk)
    if kind not in KINDS:
        raise Refused([Problem("kind", kind, "one of " + ", ".join(KINDS))])
    given = build(KINDS[kind], rows.with_plant_keys(KINDS[kind], values, books.plant_book()))
    _refuse_strangers(given, property.pk)
    row = rows.thing_row(given, property)
    _save_unique(row)
    _set_many(row, given)
    record("install", f"{property.code} {row.tag}", by=by, kind=kind)
    _want_plan(property.pk)
    return row


@transaction.atomic
def change(
    thing: InstalledThing, values: Mapping[str, Any], *, reason: str, by: User | None
) -> InstalledThing:
    """Correct or alter an installed thing; what it was before stays on its history."""
    _allow_office(by)
    return _change(thing, values, reason=reason, by=by)


@transaction.atomic
def remove(thing: InstalledThing, on: date, *, reason: str, by: User | None) -> InstalledThing:
    """Note the day an installed thing went; its row and its history stay."""
    _allow_office(by)
    return _change(thing, {"removed_on": on}, reason=reason, by=by)


@transaction.atomic
def draw_outline(
    thing: InstalledThing, corners: Sequence[Sequence[float]], *, by: User | None
) -> InstalledThing:
    """Put the outline of an area on the plan, in feet; no corners take it away. Care does not change."""
    _allow_office(by)
    _lock(thing.property_id)
    row = InstalledThing.objects.select_related("property").get(pk=thing.pk)
    fresh = [list(corner) for corner in outlines.checked(corners)]
    if fresh == row.outline:
        return row
    was = row.outline
    row.outline = fresh
    row.save(update_fields=["outline"])
    ThingChange.objects.create(thing=row, by=by, field="outline", was=was, now=fresh, reason="")
    record("draw outline", f"{row.property.code} {row.tag}", by=by, corners=len(fresh))
    return row


@transaction.atomic
def leave_settings(thing: InstalledThing, values: Mapping[str, Any], *, by: User | None) -> InstalledThing:
    """Note what a crew left set on a zone of the controller or on a timer; clock times may be 'HH:MM'."""
    _allow_staff(by)
    allowed = SETTINGS_LEFT.get(thing.kind, ())
    strangers = [
        Problem(name, values[name], _settings_wanted(allowed)) for name in values if name not in allowed
    ]
    if strangers:
        raise Refused(strangers)
    read = {name: _as_clock(value) for name, value in values.items()}
    return _change(thing, read, reason="left on site", by=by)


def leave_settings_by_tag(
    property: Property, settings: Mapping[str, Mapping[str, Any]], *, by: User | None
) -> list[InstalledThing]:
    """Note settings of several things of a property at once, all or none."""
    with transaction.atomic():
        things = {thing.tag: thing for thing in property.things.all()}
        unknown = [Problem("tag", tag, "a tag of this property") for tag in settings if tag not in things]
        if unknown:
            raise Refused(unknown)
        return [leave_settings(things[tag], values, by=by) for tag, values in settings.items()]


def add_photo(
    property: Property,
    file: IO[bytes],
    *,
    thing: InstalledThing | None = None,
    caption: str = "",
    by: User | None,
) -> Photo:
    """Keep a picture of a property or of one of its things, made small and without its hidden data."""
    _allow_staff(by)
    if thing is not None and thing.property_id != property.pk:
        raise Refused([Problem("thing", thing.tag, "a thing of this property")])
    content = pictures.kept(file)
    photo = Photo(property=property, thing=thing, caption=caption[:160], by=by)
    name = photo.picture.field.generate_filename(photo, f"{uuid.uuid4()}.jpg")
    try:
        with transaction.atomic():
            photo.picture.save(name.rsplit("/", 1)[-1], ContentFile(content), save=False)
            photo.save()
            record("add photo", property.code, by=by, thing=thing.tag if thing else "")
    except Exception:
        # Neither half a file on a full disk nor a file without its row.
        photo.picture.storage.delete(photo.picture.name or name)
        raise
    return photo


def _allow_office(by: User | None) -> None:
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office changes the record.")


def _allow_staff(by: User | None) -> None:
    if by is not None and not (by.in_office() or by.role == Role.CREW):
        raise PermissionDenied("Only the office and crews may do this.")


def _lock(property_id: int) -> Property:
    return Property.objects.select_for_update().get(pk=property_id)


def _want_plan(property_id: int) -> None:
    Property.objects.filter(pk=property_id).update(plan_wanted_at=timezone.now())
    record_checks.forget([property_id])


def _by_code(table: Any, field: str, code: str) -> Any:
    found = table.objects.filter(code=code).first()
    if found is None:
        raise Refused([Problem(field, code, f"the code of a known {field}")])
    return found


@transaction.atomic
def _added(row: Row, *, by: User | None) -> Row:
    _save_unique(row)
    record(f"add {row._meta.model_name}", row.code, by=by)
    return row


def _altered(row: Row, fresh: Row, *, by: User | None) -> Row:
    """Write the columns in which a row differs from how it should be."""
    columns = [field.name for field in row._meta.concrete_fields if not field.primary_key]
    changed = [name for name in columns if getattr(row, name) != getattr(fresh, name)]
    if changed:
        for name in changed:
            setattr(row, name, getattr(fresh, name))
        row.save(update_fields=changed)
        record(f"change {row._meta.model_name}", row.code, by=by, fields=changed)
    return row


def _save_unique(row: Any, update_fields: list[str] | None = None) -> None:
    """Save, and say in words that a code or tag is taken."""
    field = "tag" if isinstance(row, InstalledThing) else "code"
    try:
        with transaction.atomic():
            row.save(update_fields=update_fields)
    except IntegrityError:
        # The checks of the record leave only this one to the database.
        raise Refused([Problem(field, getattr(row, field), "another one: this is in use already")]) from None


def _change(
    thing: InstalledThing, values: Mapping[str, Any], *, reason: str, by: User | None
) -> InstalledThing:
    _lock(thing.property_id)
    row = queries.whole(thing)
    old = {name: _value(row, name) for name in limits_of(KINDS[row.kind])}
    given = rows.with_plant_keys(KINDS[row.kind], values, books.plant_book())
    new = build(KINDS[row.kind], old | given)
    _refuse_strangers(new, row.property_id)
    changed = [name for name in old if getattr(new, name) != old[name]]
    if not changed:
        return row
    for name in (name for name in changed if name != "planting_ids"):
        setattr(row, name, getattr(new, name))
    _save_unique(row)
    _set_many(row, new)
    _note_changes(row, old, asdict(new), names=changed, reason=reason, by=by)
    return row


def _note_changes(
    row: InstalledThing,
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    *,
    names: list[str],
    reason: str,
    by: User | None,
) -> None:
    ThingChange.objects.bulk_create(
        ThingChange(
            thing=row, by=by, field=name, was=_plain(old[name]), now=_plain(new[name]), reason=reason[:200]
        )
        for name in names
    )
    record("change", f"{row.property.code} {row.tag}", by=by, fields=names, reason=reason)
    _want_plan(row.property_id)


def _value(row: InstalledThing, name: str) -> Any:
    value = getattr(row, name)
    return value() if callable(value) else value


def _plain(value: Any) -> Any:
    if isinstance(value, date | time):
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else value


def _set_many(row: InstalledThing, given: Thing) -> None:
    if isinstance(row, Zone):
        row.plantings.set(getattr(given, "planting_ids", ()))


def _refuse_strangers(given: Thing, property_id: int) -> None:
    """References must lead to things of the right kind on the same property."""
    problems = []
    for name, limit in limits_of(type(given)).items():
        if limit.kind not in ("reference", "many"):
            continue
        value = getattr(given, name)
        wanted = set(value) if limit.kind == "many" else {value} - {None}
        found = TABLES[limit.refers_to].objects.filter(property_id=property_id, pk__in=wanted).count()
        if found < len(wanted):
            problems.append(Problem(name, value, limit.wanted()))
    if problems:
        raise Refused(problems)


def _settings_wanted(allowed: tuple[str, ...]) -> str:
    return "one of " + ", ".join(allowed) if allowed else "nothing: this kind of thing has no settings"


def _as_clock(value: Any) -> Any:
    if not (isinstance(value, str) and ":" in value):
        return value
    try:
        return time.fromisoformat(value)
    except ValueError:
        return value
