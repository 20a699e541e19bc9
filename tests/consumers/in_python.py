"""Readers that are Python libraries; they run with the tests."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import ics
import recurring_ical_events
import vobject
from icalendar import Calendar

from tests.consumers.occurrences import Occurrence, said

FIRST, LAST = date(1990, 1, 1), date(2060, 1, 1)


def by_icalendar(body: bytes) -> list[Occurrence]:
    """Icalendar alone, strict: any component with errors is a fault."""
    calendar: Any = Calendar.from_ical(body)
    faulty = [part.errors for part in calendar.walk() if part.errors]
    if faulty:
        raise ValueError(f"icalendar complains: {faulty}")
    return sorted(_of_icalendar(each) for each in calendar.walk("VEVENT"))


def by_recurring_ical_events(body: bytes) -> list[Occurrence]:
    """recurring-ical-events, which expands what icalendar parsed."""
    calendar: Any = Calendar.from_ical(body)
    return sorted(_of_icalendar(each) for each in recurring_ical_events.of(calendar).between(FIRST, LAST))


def _of_icalendar(each: Any) -> Occurrence:
    return Occurrence(
        str(each["UID"]), said(each["DTSTART"].dt), said(each["DTEND"].dt), str(each.get("STATUS", ""))
    )


def by_vobject(body: bytes) -> list[Occurrence]:
    """Vobject, with the zones of the file."""
    found: Any = vobject.readOne(body.decode())
    found.validate(raiseException=True)
    return sorted(
        Occurrence(each.uid.value, said(each.dtstart.value), said(each.dtend.value), each.status.value)
        for each in found.contents.get("vevent", [])
    )


def by_ics(body: bytes) -> list[Occurrence]:
    """The library ics."""
    return sorted(_of_ics(each) for each in ics.Calendar(body.decode()).events)


def _of_ics(each: Any) -> Occurrence:
    if each.all_day:
        # It keeps the last moment of the last day.
        start, end = each.begin.date(), (each.end + timedelta(microseconds=1)).date()
    else:
        start, end = each.begin.datetime, each.end.datetime
    return Occurrence(each.uid, said(start), said(end), each.status or "")


READERS: dict[str, Callable[[bytes], list[Occurrence]]] = {
    "icalendar": by_icalendar,
    "recurring-ical-events": by_recurring_ical_events,
    "vobject": by_vobject,
    "ics": by_ics,
}
