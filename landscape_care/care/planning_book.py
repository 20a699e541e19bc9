"""What planning reads of several properties at once, in a number of queries that does not grow with them.

Settled and open tasks, readings, settings that were left, reports and weather. A plan of one
property and a plan of fifty read the same lines.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Max, Model, QuerySet, TextField
from django.db.models.functions import Cast

from landscape_care.care.generation import NO_PAST, History, Past, Reported
from landscape_care.care.measures import Measured
from landscape_care.care.models import (
    SETTLED,
    CareTask,
    Reading,
    Report,
    ReportKind,
    TaskState,
    WeatherStation,
)
from landscape_care.care.reconciliation import Stored
from landscape_care.care.weather_book import ahead_at, station_of, weather_happenings
from landscape_care.care.weather_limits import Ahead
from landscape_care.properties.models import Property, ThingChange

# Visits that people were told about, and those that are over; planning moves none of their tasks.
TOLD, OVER = "published", "done"
# What a crew sets on zones and plain timers, see `properties.actions.leave_settings`.
_SETTINGS = ("set_minutes", "set_weekdays", "set_start", "set_on")
_DONE, _WITHDRAWN = TaskState.DONE.value, TaskState.WITHDRAWN.value


@dataclass(slots=True)
class Page:
    """What is known of one property: its history, and its stored tasks ready to be compared."""

    past: dict[str, Past] = field(default_factory=dict)
    readings: dict[tuple[int, str], list[Measured]] = field(default_factory=lambda: defaultdict(list))
    left_on: dict[int, date] = field(default_factory=dict)
    reports: dict[str, list[Reported]] = field(default_factory=lambda: defaultdict(list))
    kept_on: dict[str, date] = field(default_factory=dict)
    ahead: Ahead = field(default_factory=dict)
    stored: list[Stored] = field(default_factory=list)

    def history(self) -> History:
        """The history as generation takes it."""
        return History(self.past, self.readings, self.left_on, self.reports, self.kept_on, self.ahead)


Pages = Mapping[int, Page]


def read(places: Sequence[Property]) -> Pages:
    """A page for each property, by its number."""
    pages = {place.pk: Page() for place in places}
    _add_settled(pages)
    _add_unsettled(pages)
    _add_readings(pages)
    _add_left(pages, {place.pk: place for place in places})
    _add_reports(pages)
    _add_weather(pages, places)
    return pages


def _of(model: type[Model], pages: Pages, path: str = "property") -> QuerySet[Any]:
    return model._default_manager.filter(**{f"{path}__in": tuple(pages)}).order_by()


# --- Tasks ---


def _add_settled(pages: Pages) -> None:
    rows = _of(CareTask, pages).filter(state__in=SETTLED).order_by("settled_on", "id")
    names = ("property_id", "key", "series", "occurrence", "state", "settled_on")
    for place, key, series, occurrence, state, on in rows.values_list(*names):
        page = pages[place]
        before = page.past.get(series, NO_PAST)
        page.past[series] = before.and_then(occurrence, on, done=state == _DONE)
        page.stored.append(Stored(None, key, series, (), fixed=True, withdrawn=False))


# What people see of a task, in the order of `Wanted.shown`.
_SHOWN = ("opens_on", "due_on", "closes_on", "rule", "minutes", "people", "skill", "title", "title_es")


def _add_unsettled(pages: Pages) -> None:
    visits = _visit_states(pages)
    read_json = _Remembered()
    rows = _of(CareTask, pages).exclude(state__in=SETTLED)
    # As text, because most tasks of a series carry the same and it is then read once.
    rows = rows.annotate(c=Cast("cautions", TextField()), d=Cast("details", TextField()))
    names = ("property_id", "id", "key", "series", "state", "held", *_SHOWN, "c", "d")
    for place, pk, key, series, state, held, *shown, cautions, details in rows.values_list(*names):
        page, (visit, told_for) = pages[place], visits.get(pk, ("", None))
        withdrawn = state == _WITHDRAWN
        kept = held or visit != ""
        if kept and not withdrawn:
            page.kept_on[key] = _usual_due(shown[1], read_json[details])
        page.stored.append(
            Stored(
                pk,
                key,
                series,
                (*shown, read_json[cautions], read_json[details]),
                fixed=kept and not withdrawn,
                withdrawn=withdrawn,
                told=visit == TOLD and not held,
                told_for=told_for,
            )
        )


def _usual_due(due_on: date, details: Mapping[str, Any]) -> date:
    """The due day without the weather: what follows is counted from there."""
    weather = details.get("weather")
    return date.fromisoformat(weather["usual_due"]) if weather else due_on


class _Remembered(dict[str, Any]):
    """What JSON texts say, each read once."""

    def __missing__(self, text: str) -> Any:
        self[text] = json.loads(text)
        return self[text]


def _visit_states(pages: Pages) -> dict[int, tuple[str, date | None]]:
    """State and day of the visit of each task that people were told about, and of those that are over."""
    rows = _of(CareTask, pages).filter(visit_task__visit__state__in=(TOLD, OVER))
    found = rows.values_list("pk", "visit_task__visit__state", "visit_task__visit__day")
    return {pk: (state, day) for pk, state, day in found}


# --- What was measured, set and reported ---


def _add_readings(pages: Pages) -> None:
    rows = _of(Reading, pages, "thing__property").order_by("taken_on", "id")
    names = ("thing__property_id", "thing_id", "quantity", "taken_on", "value")
    for place, thing, quantity, on, value in rows.values_list(*names):
        pages[place].readings[thing, quantity].append(Measured(on, value))


def _add_left(pages: Pages, places: Mapping[int, Property]) -> None:
    """The last day, on the wall of the place, on which a setting was changed, by thing."""
    rows = _of(ThingChange, pages, "thing__property").filter(field__in=_SETTINGS)
    found = rows.values_list("thing__property_id", "thing_id").annotate(last=Max("at"))
    for place, thing, last in found:
        pages[place].left_on[thing] = last.astimezone(places[place].zone()).date()


def _add_reports(pages: Pages) -> None:
    rows = _of(Report, pages).filter(withdrawn_at=None).order_by("happened_on", "id")
    for row in rows:
        told = Reported(row.kind, row.happened_on, _name_of(row), row.thing_id, row.note)
        pages[row.property_id].reports[row.kind].append(told)


def _name_of(report: Report) -> str:
    """The occurrence of what follows; a storm is one however many report it."""
    day = report.happened_on.isoformat()
    return day if report.kind == ReportKind.STORM else f"{day}.{report.pk}"


def _add_weather(pages: Pages, places: Iterable[Property]) -> None:
    """What the nearest station measured and forecasts that asks for care."""
    stations = list(WeatherStation.objects.all())
    near: dict[WeatherStation, list[Property]] = defaultdict(list)
    for place in places if stations else ():
        if (station := station_of(place, stations)) is not None:
            near[station].append(place)
    for station, neighbours in near.items():
        told = weather_happenings(station, min(place.care_starts_on for place in neighbours))
        ahead = ahead_at(station)
        for place in neighbours:
            pages[place.pk].ahead = ahead
            for each in told:
                if each.on >= place.care_starts_on:
                    reported = Reported(each.kind, each.on, each.name)
                    pages[place.pk].reports[each.kind].append(reported)
