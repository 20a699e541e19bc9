"""The lists of the office: what each one holds, how it is narrowed, and its columns.

A list is asked for by the address alone, so that an address kept under a name is a saved list.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from typing import Any

from django.db.models import Q, QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from landscape_care.care import queries as care
from landscape_care.pages import words
from landscape_care.pages.templatetags.wording import said
from landscape_care.people import queries as people
from landscape_care.people.models import User
from landscape_care.properties import queries as properties
from landscape_care.visits import queries as visits

Rows = QuerySet[Any]
Cell = Callable[[Any], object]
AHEAD_DAYS, BACK_DAYS = 28, 28


@dataclass(frozen=True)
class Asked:
    """How a list is narrowed; what is empty narrows nothing."""

    words: str = ""
    depot: str = ""
    first: date | None = None
    last: date | None = None
    skill: str = ""
    stem: str = ""


@dataclass(frozen=True)
class Column:
    """One column: its heading, what stands in a cell, and for a link where the cell leads."""

    heading: str | Promise
    cell: Cell
    leads_to: Callable[[Any], tuple[str, Any]] | None = None


@dataclass(frozen=True)
class Listing:
    """One list: how its rows are found and what is shown of them."""

    key: str
    title: str | Promise
    narrowed_by: tuple[str, ...]
    rows: Callable[[User, Asked, date], Rows]
    columns: Sequence[Column]
    place: str = "property"
    """How the property is reached from a row; empty where the row is one."""


# --- Rows ---------------------------------------------------------------------------------------------


def _late(user: User, asked: Asked, today: date) -> Rows:
    return _of_kind(care.late(user, today), asked)


def _due(user: User, asked: Asked, today: date) -> Rows:
    first, last = asked.first or today, asked.last or (asked.first or today) + timedelta(AHEAD_DAYS)
    return _of_kind(care.due_between(user, first, last), asked).order_by("due_on", "id")


def _done(user: User, asked: Asked, today: date) -> Rows:
    last = asked.last or today
    first = asked.first or last - timedelta(BACK_DAYS)
    rows = care.visible_tasks(user).filter(state__in=("done", "skipped"))
    rows = rows.filter(settled_on__gte=first, settled_on__lte=last)
    return _of_kind(rows, asked).order_by("-settled_on", "-id")


def _skipped(user: User, asked: Asked, today: date) -> Rows:
    rows = visits.skipped_since(user, asked.first or today - timedelta(BACK_DAYS))
    return rows.filter(done_on__lte=asked.last) if asked.last else rows


def _visits(user: User, asked: Asked, today: date) -> Rows:
    first = asked.first or today
    last = asked.last or first + timedelta(AHEAD_DAYS)
    rows = visits.visible_visits(user).filter(state__in=("published", "done"), day__gte=first, day__lte=last)
    return rows.order_by("day", "arrives_at", "id")


def _readings(user: User, asked: Asked, today: date) -> Rows:
    last = asked.last or today
    first = asked.first or last - timedelta(BACK_DAYS)
    return care.visible_readings(user).filter(taken_on__gte=first, taken_on__lte=last)


def _properties(user: User, _asked: Asked, _today: date) -> Rows:
    return properties.visible_properties(user).order_by("code")


def _clients(user: User, _asked: Asked, _today: date) -> Rows:
    return properties.visible_clients(user).order_by("code")


def _changes(user: User, asked: Asked, today: date) -> Rows:
    last = asked.last or today
    first = asked.first or last - timedelta(BACK_DAYS)
    return people.visible_audit(user).filter(at__date__gte=first, at__date__lte=last)


def _of_kind(rows: Rows, asked: Asked) -> Rows:
    rows = rows.filter(skill=asked.skill) if asked.skill else rows
    return rows.filter(stem=asked.stem) if asked.stem else rows


def rows_of(listing: Listing, user: User, asked: Asked, today: date) -> Rows:
    """The rows of a list for somebody, narrowed as asked."""
    rows = listing.rows(user, asked, today)
    path = f"{listing.place}__" if listing.place else ""
    if asked.depot and "depot" in listing.narrowed_by:
        rows = rows.filter(**{f"{path}depot__code": asked.depot})
    for word in asked.words.split():
        named = (f"{path}{field}__icontains" for field in _searched(listing))
        found = Q()
        for field in named:
            found |= Q(**{field: word})
        rows = rows.filter(found)
    return rows


def _searched(listing: Listing) -> tuple[str, ...]:
    if listing.key == "changes":
        return ("verb", "subject")
    return ("name", "code", "town") if listing.key != "clients" else ("name", "code", "email")


# --- Columns ------------------------------------------------------------------------------------------


def _lies(path: str, row: Any) -> Any:
    for step in path.split("__"):
        row = getattr(row, step)
    return row


def _named(table: Mapping[str, Promise], field: str, row: Any) -> str:
    return words.word(table, getattr(row, field))


def _property(path: str) -> tuple[Column, Column]:
    reach = partial(_lies, path)
    return (
        Column(_("Property"), lambda row: reach(row).name, lambda row: ("pages:property", reach(row).code)),
        Column(_("Code"), lambda row: reach(row).code),
    )


def _plain(heading: str | Promise, field: str) -> Column:
    return Column(heading, lambda row: _lies(field, row))


_TASK = Column(_("Care"), lambda row: said(row, "title"), lambda row: ("pages:task", row.pk))
_TAG = Column(_("Tag"), lambda row: row.thing.tag if row.thing else "")
_SKILL = Column(_("Skill"), partial(_named, words.SKILL_NAMES, "skill"))
_WINDOW = (
    _plain(_("Opens"), "opens_on"),
    _plain(_("Due"), "due_on"),
    _plain(_("Closes"), "closes_on"),
    _plain(_("Minutes"), "minutes"),
    _SKILL,
)
_BY = Column(_("By"), lambda row: (row.by.get_full_name() or row.by.get_username()) if row.by else "")
_STATE = Column(_("State"), partial(_named, words.MARK_WORDS, "state"))
_PROPERTY_ITSELF = (
    Column(_("Property"), lambda row: row.name, lambda row: ("pages:property", row.code)),
    _plain(_("Code"), "code"),
)

_KIND, _DAYS = ("words", "depot", "skill", "stem"), ("first", "last")

LISTS: Mapping[str, Listing] = {
    each.key: each
    for each in (
        Listing("late", _("Late"), _KIND, _late, (_TASK, _TAG, *_property("property"), *_WINDOW)),
        Listing(
            "due", _("Due"), (*_KIND, *_DAYS), _due, (_TASK, _TAG, *_property("property"), *_WINDOW, _STATE)
        ),
        Listing(
            "done",
            _("What was done"),
            (*_KIND, *_DAYS),
            _done,
            (
                _TASK,
                _TAG,
                *_property("property"),
                _plain(_("On"), "settled_on"),
                _STATE,
                _plain(_("Reason"), "skip_reason"),
                _plain(_("Minutes"), "minutes"),
                _SKILL,
            ),
        ),
        Listing(
            "skipped",
            _("Could not be done"),
            ("words", "depot", *_DAYS),
            _skipped,
            (
                Column(
                    _("Care"), lambda row: said(row.task, "title"), lambda row: ("pages:task", row.task.pk)
                ),
                *_property("visit__property"),
                _plain(_("On"), "done_on"),
                _plain(_("Reason"), "reason"),
                _BY,
            ),
            place="visit__property",
        ),
        Listing(
            "visits",
            _("Visits"),
            ("words", "depot", *_DAYS),
            _visits,
            (
                *_property("property"),
                _plain(_("Day"), "day"),
                Column(_("From"), lambda row: f"{row.arrives_at:%H:%M}" if row.arrives_at else ""),
                Column(_("Until"), lambda row: f"{row.leaves_at:%H:%M}" if row.leaves_at else ""),
                _plain(_("Crew"), "crew_name"),
                _plain(_("Minutes"), "minutes"),
                _STATE,
            ),
        ),
        Listing(
            "readings",
            _("Readings"),
            ("words", "depot", *_DAYS),
            _readings,
            (
                *_property("thing__property"),
                _plain(_("Tag"), "thing__tag"),
                Column(_("Quantity"), lambda row: row.quantity.replace("_", " ")),
                _plain(_("Value"), "value"),
                _plain(_("Unit"), "unit"),
                _plain(_("Day"), "taken_on"),
                _BY,
            ),
            place="thing__property",
        ),
        Listing(
            "properties",
            _("Properties"),
            ("words", "depot"),
            _properties,
            (
                *_PROPERTY_ITSELF,
                _plain(_("Street"), "street"),
                _plain(_("Town"), "town"),
                _plain(_("Client"), "client__name"),
                _plain(_("Depot"), "depot__name"),
                Column(
                    _("Somebody comes"),
                    lambda row: (
                        words.word(words.CADENCE_NAMES, row.agreement.cadence)
                        if hasattr(row, "agreement")
                        else ""
                    ),
                ),
                _plain(_("Care starts on"), "care_starts_on"),
                _plain(_("Care ends on"), "care_ends_on"),
            ),
            place="",
        ),
        Listing(
            "clients",
            _("Clients"),
            ("words",),
            _clients,
            (
                Column(_("Client"), lambda row: row.name, lambda row: ("pages:client", row.code)),
                _plain(_("Code"), "code"),
                _plain(_("E-mail"), "email"),
                _plain(_("Telephone"), "phone"),
                Column(_("Language"), lambda row: row.get_language_display()),
            ),
            place="",
        ),
        Listing(
            "changes",
            _("Who did what"),
            ("words", *_DAYS),
            _changes,
            (
                Column(_("When"), lambda row: f"{row.at:%Y-%m-%d %H:%M}"),
                _plain(_("What"), "verb"),
                _plain(_("About"), "subject"),
                _BY,
            ),
            place="",
        ),
    )
}
