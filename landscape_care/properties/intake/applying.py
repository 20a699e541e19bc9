"""A checked intake written to the record: all of it in one transaction, or nothing."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.utils import timezone

from landscape_care.people.actions import record
from landscape_care.people.models import User
from landscape_care.properties import books, record_checks, rows
from landscape_care.properties.intake.found import Counts, Intake, RowProblem, ThingEntry
from landscape_care.properties.models import Agreement, Client, Depot, InstalledThing, Property, Zone
from landscape_care.trades.kinds import KINDS, Thing
from landscape_care.trades.limits import limits_of


class IntakeRefused(ValueError):
    """An intake with problems: nothing of it was written."""

    def __init__(self, problems: Iterable[RowProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(map(str, self.problems[:20])))


def apply(intake: Intake, *, by: User | None, today: date) -> Counts:
    """Write everything of an intake that has no problems."""
    try:
        return _apply(intake, by=by, today=today)
    except IntegrityError:
        wanted = "another look: something of it came onto the record since the files were checked"
        raise IntakeRefused([RowProblem("", 0, "", "", wanted, ", ".join(intake.files))]) from None


@transaction.atomic
def _apply(intake: Intake, *, by: User | None, today: date) -> Counts:
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office takes gardens in.")
    if intake.problems:
        raise IntakeRefused(intake.problems)
    Client.objects.bulk_create(rows.client_row(entry.record) for entry in intake.clients)
    Depot.objects.bulk_create(rows.depot_row(entry.record) for entry in intake.depots)
    _add_properties(intake, today)
    _add_agreements(intake)
    _add_things(intake)
    counts = intake.counts()
    record("take in", ", ".join(intake.files), by=by, properties=counts.properties, things=counts.things)
    return counts


def _add_properties(intake: Intake, today: date) -> None:
    clients, depots = _by_code(Client), _by_code(Depot)
    climates, fresh = books.climate_book(), []
    for entry in intake.properties:
        given = entry.record
        client, depot = clients[given.client], depots[given.depot]
        row = rows.property_row(given, client, depot, climates=climates, today=today)
        row.plan_wanted_at = timezone.now()
        fresh.append(row)
    Property.objects.bulk_create(fresh)


def _add_agreements(intake: Intake) -> None:
    properties = _by_code(Property)
    Agreement.objects.bulk_create(
        rows.agreement_row(entry.record, properties[entry.record.property]) for entry in intake.agreements
    )


def _add_things(intake: Intake) -> None:
    properties, numbers = _by_code(Property), _Numbers()
    by_kind: dict[str, list[ThingEntry]] = defaultdict(list)
    for entry in intake.things:
        by_kind[entry.record.kind].append(entry)
    # Kinds come in the order in which they refer to each other.
    for kind in KINDS:
        _add_kind(by_kind[kind], properties, numbers)
    touched = {entry.property for entry in intake.things}
    places = Property.objects.filter(code__in=touched)
    places.update(plan_wanted_at=timezone.now())
    record_checks.forget(places.order_by())


def _add_kind(entries: list[ThingEntry], properties: dict[str, Property], numbers: "_Numbers") -> None:
    final = [_with_final_numbers(entry.record, numbers) for entry in entries]
    fresh = [
        rows.thing_row(record, properties[entry.property])
        for record, entry in zip(final, entries, strict=True)
    ]
    rows.add_all(fresh)
    numbers.update((record.uid, row.pk) for record, row in zip(final, fresh, strict=True))
    _link_zones(zip(final, fresh, strict=True))


def _link_zones(pairs: Iterable[tuple[Thing, InstalledThing]]) -> None:
    through = Zone.plantings.through
    through.objects.bulk_create(
        through(zone_id=row.pk, planting_id=number)
        for record, row in pairs
        for number in getattr(record, "planting_ids", ())
    )


def _with_final_numbers(given: Thing, numbers: "_Numbers") -> Thing:
    changes: dict[str, Any] = {}
    for name, limit in limits_of(type(given)).items():
        value = getattr(given, name)
        if limit.kind == "reference" and value is not None:
            changes[name] = numbers.final(value)
        elif limit.kind == "many" and value:
            changes[name] = tuple(map(numbers.final, value))
    return replace(given, **changes) if changes else given


class _Numbers(dict[int, int]):
    """Final numbers by the provisional ones of an intake."""

    def final(self, number: int) -> int:
        """The number in the database; a negative one was there before."""
        return -number if number < 0 else self[number]


def _by_code(table: Any) -> dict[str, Any]:
    return {row.code: row for row in table.objects.all()}
