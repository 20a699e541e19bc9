"""Findings on all records, kept beside them.

A look at ten thousand records takes half a minute, so what it found is kept. A change of a record takes
the row away in its own transaction; the clock looks again, and each record once a day, as things come
and go by date. Whoever asks before the clock came gets a few records looked at on the spot.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet, Sum

from landscape_care.people.models import User
from landscape_care.properties import queries
from landscape_care.properties.books import climates_at
from landscape_care.properties.findings import WRONG, Finding, findings
from landscape_care.properties.models import Property, RecordCheck

AT_ONCE = 25
ON_THE_SPOT = 20
_TOLD = ("tag", "message_en", "message_es", "remedy_en", "remedy_es", "look")


@dataclass(frozen=True)
class Wrong:
    """The wrong findings somebody may see: some of them, how many there are, how many wait for a look."""

    shown: Sequence[tuple[Property, Finding]]
    count: int
    waiting: int


def wrong_findings(user: User, today: date, *, most: int) -> Wrong:
    """Wrong findings by property; those of a few records that wait are looked up on the spot."""
    places = queries.visible_properties(user)
    waiting = places.filter(record_check=None).order_by("pk")
    fresh = _look(list(waiting[:ON_THE_SPOT]), today)
    kept = RecordCheck.objects.filter(count__gt=0)
    kept = kept if queries.sees_all(user) else kept.none()
    rows = kept.select_related("property").order_by("property__code")[:most]
    stored = [(row.property, _finding(each)) for row in rows for each in row.wrong]
    found = [(place, finding) for place, wrong in fresh for finding in wrong]
    total = kept.aggregate(total=Sum("count"))["total"] or 0
    left = max(waiting.count() - len(fresh), 0) if len(fresh) == ON_THE_SPOT else 0
    return Wrong((found + stored)[:most], total + len(found), left)


def to_check(today: date) -> QuerySet[Property]:
    """Properties whose record changed, or was not looked at today."""
    wanted = Q(record_check=None) | Q(record_check__checked_on__lt=today)
    return Property.objects.filter(wanted).order_by("pk")


@transaction.atomic
def check_together(property_ids: Iterable[int], today: date) -> int:
    """Look at some records and keep what is wrong; a property somebody is writing is left for later."""
    rows = Property.objects.select_for_update(skip_locked=True, of=("self",))
    places = list(rows.filter(pk__in=tuple(property_ids)).order_by("pk"))
    for place, wrong in _look(places, today):
        told = [{name: getattr(finding, name) for name in _TOLD} for finding in wrong]
        values = {"checked_on": today, "count": len(told), "wrong": told}
        RecordCheck.objects.update_or_create(property=place, defaults=values)
    return len(places)


def forget(places: QuerySet[Property] | Iterable[int]) -> None:
    """Note that these records changed."""
    RecordCheck.objects.filter(property__in=places).delete()


def _look(places: Sequence[Property], today: date) -> list[tuple[Property, list[Finding]]]:
    if not places:
        return []
    records = queries.as_builts(place.pk for place in places)
    weather = climates_at({place.climate for place in places})
    return [
        (
            place,
            [
                each
                for each in findings(records[place.pk], weather[place.climate], today=today)
                if _wrong(each)
            ],
        )
        for place in places
    ]


def _wrong(finding: Finding) -> bool:
    return finding.severity == WRONG


def _finding(told: dict[str, Any]) -> Finding:
    return Finding(severity=WRONG, **told)
