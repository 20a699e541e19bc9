"""Stored visits and care tasks as the facts that calendars draw on; what nobody may see is not even read."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from django.db.models import QuerySet

from landscape_care.calendars.crew_entries import without_codes
from landscape_care.calendars.facts import PlaceFacts, TaskFacts, VisitFacts
from landscape_care.care.models import CareTask
from landscape_care.properties.models import Property
from landscape_care.visits.models import Visit

# A calendar reads thousands of tasks and shows little of each: columns instead of whole rows.
_COLUMNS = (
    "key",
    "rule",
    "stem",
    "occurrence",
    "opens_on",
    "due_on",
    "closes_on",
    "state",
    "changed_at",
    "revision",
    "minutes",
    "people",
    "settled_on",
)
_ALSO = ("title", "title_es", "cautions", "thing__tag", "thing__name")


def places(rows: QuerySet[Property]) -> dict[int, PlaceFacts]:
    """Properties by their number, without codes and notes."""
    return {row.pk: place_of(row) for row in rows.defer("gate_code", "access_note")}


def places_with_access(rows: QuerySet[Property]) -> dict[int, PlaceFacts]:
    """Properties by their number with the access note, codes blanked."""
    return {
        row.pk: replace(place_of(row), access_note=without_codes(row.access_note, row.gate_code))
        for row in rows
    }


def visits(
    rows: Iterable[Visit], where: Mapping[int, PlaceFacts], *, lines: bool = False
) -> dict[int, VisitFacts]:
    """Visits by their number with their tasks; `lines` also reads what was computed for crews."""
    found = list(rows)
    tasks = _tasks_by("visit_task__visit", [row.pk for row in found], lines=lines)
    return {row.pk: _visit(row, where[row.property_id], tuple(tasks[row.pk])) for row in found}


def tasks_of_places(rows: QuerySet[CareTask]) -> dict[int, list[TaskFacts]]:
    """Tasks by the number of their property, with what was computed for them."""
    return _grouped(rows, "property", lines=True)


def _tasks_by(parent: str, keys: list[int], *, lines: bool) -> dict[int, list[TaskFacts]]:
    return _grouped(CareTask.objects.filter(**{f"{parent}__in": keys}), parent, lines=lines)


def _grouped(rows: QuerySet[CareTask], parent: str, *, lines: bool) -> dict[int, list[TaskFacts]]:
    columns = (parent, *_COLUMNS, *_ALSO, *(("details",) if lines else ()))
    found: dict[int, list[TaskFacts]] = defaultdict(list)
    for row in rows.order_by("rule", "occurrence", "pk").values(*columns):
        found[row[parent]].append(_task(row))
    return found


def _task(row: Mapping[str, Any]) -> TaskFacts:
    details = row.get("details", {})
    return TaskFacts(
        **{name: row[name] for name in _COLUMNS},
        titles={"en": row["title"], "es": row["title_es"]},
        cautions=tuple(row["cautions"]),
        thing=" ".join(filter(None, (row["thing__tag"], row["thing__name"]))),
        lines=details.get("lines", {}),
        settings=details.get("settings", {}),
    )


def _visit(row: Visit, place: PlaceFacts, tasks: tuple[TaskFacts, ...]) -> VisitFacts:
    return VisitFacts(
        uid=row.uid,
        revision=row.revision,
        changed_at=row.changed_at,
        state=row.state,
        opens_on=row.opens_on,
        closes_on=row.closes_on,
        place=place,
        tasks=tasks,
        day=row.day,
        arrives_at=row.arrives_at,
        leaves_at=row.leaves_at,
        moved_from=row.moved_from,
        announced=row.announced,
        crew_name=row.crew_name,
    )


def place_of(row: Property) -> PlaceFacts:
    """A property, without codes and notes."""
    return PlaceFacts(
        code=row.code,
        name=row.name,
        address=f"{row.street}, {row.town}",
        time_zone=row.time_zone,
        place=(row.latitude_deg, row.longitude_deg),
        access_opens=row.access_opens,
        access_closes=row.access_closes,
    )
