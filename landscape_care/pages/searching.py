"""One search over everything: gardens, clients, things, crews, people, plants, rules and care tasks.

Each word must be found, in whatever place of the row. A few of each sort are shown; the lists show all.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from urllib.parse import quote

from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from landscape_care.care import queries as care
from landscape_care.care.catalog import Rule
from landscape_care.dispatch import queries as dispatch
from landscape_care.pages.templatetags.wording import kind_name, said, short_day, spanish
from landscape_care.people import queries as people
from landscape_care.people.models import User
from landscape_care.properties import queries as properties
from landscape_care.properties.books import plant_book

A_FEW = 8
LEAST_LETTERS = 2
BACK, AHEAD = timedelta(60), timedelta(60)
"""Care tasks are looked for from so long ago to so far ahead; the list of care shows all."""


@dataclass(frozen=True)
class Hit:
    """Something found: its name, what tells it from others, and its page."""

    name: str
    told: str
    address: str


@dataclass(frozen=True)
class Group:
    """What was found of one sort; `more` where there is more than is shown."""

    title: str | Promise
    hits: Sequence[Hit]
    more: bool


def found(user: User, words: str, today: date) -> list[Group]:
    """What somebody may see of what the words name, the sorts without a hit left out."""
    parts = [part for part in words.split() if part]
    if len("".join(parts)) < LEAST_LETTERS:
        return []
    sorts = (
        (_("Properties"), _properties(user, parts)),
        (_("Clients"), _clients(user, parts)),
        (_("Installed things"), _things(user, parts)),
        (_("Care tasks"), _tasks(user, parts, today)),
        (_("Crews"), _crews(user, parts)),
        (_("People"), _people(user, parts)),
        (_("Plants"), _plants(parts)),
        (_("Care rules"), _rules(parts)),
    )
    return [Group(title, hits[:A_FEW], len(hits) > A_FEW) for title, hits in sorts if hits]


def _holding(rows: QuerySet[Any], parts: Iterable[str], *fields: str) -> QuerySet[Any]:
    """The first rows in which each word is in one of the fields."""
    for part in parts:
        holds = Q()
        for field in fields:
            holds |= Q(**{f"{field}__icontains": part})
        rows = rows.filter(holds)
    return rows


def _properties(user: User, parts: Sequence[str]) -> list[Hit]:
    rows = _holding(properties.visible_properties(user), parts, "name", "code", "street", "town")
    return [
        Hit(row.name, f"{row.code}, {row.town}", reverse("pages:property", args=[row.code]))
        for row in rows.order_by("code")[: A_FEW + 1]
    ]


def _clients(user: User, parts: Sequence[str]) -> list[Hit]:
    rows = _holding(properties.visible_clients(user), parts, "name", "code", "email", "phone")
    return [
        Hit(row.name, row.email or row.code, reverse("pages:client", args=[row.code]))
        for row in rows.order_by("code")[: A_FEW + 1]
    ]


def _things(user: User, parts: Sequence[str]) -> list[Hit]:
    """By tag or name; further words narrow to a property, as in 'casa-14 B1'."""
    rows = properties.visible_things(user)
    for part in parts:
        place = Q(property__code__icontains=part) | Q(property__name__icontains=part)
        rows = rows.filter(Q(tag__istartswith=part) | Q(name__icontains=part) | place)
    named = Q()
    for part in parts:
        named |= Q(tag__istartswith=part) | Q(name__icontains=part)
    return [
        Hit(
            f"{row.tag} {row.name or kind_name(row.kind)}",
            row.property.name,
            reverse("pages:change", args=[row.property.code, row.tag]),
        )
        for row in rows.filter(named).order_by("property_id", "tag")[: A_FEW + 1]
    ]


def _tasks(user: User, parts: Sequence[str], today: date) -> list[Hit]:
    """Open care whose rule or property holds each word."""
    rows = care.visible_tasks(user).filter(state="open", due_on__gte=today - BACK, due_on__lte=today + AHEAD)
    named: set[str] = set()
    for part in parts:
        rules = [rule.key for rule in care.every_rule().values() if _names(rule, part)]
        named.update(rules)
        place = Q(property__code__icontains=part) | Q(property__name__icontains=part)
        rows = rows.filter(Q(rule__in=rules) | place)
    if not named:
        return []
    return [
        Hit(
            said(row, "title"),
            f"{row.property.name}, {short_day(row.due_on)}",
            reverse("pages:task", args=[row.pk]),
        )
        for row in rows.filter(rule__in=named).order_by("due_on", "id")[: A_FEW + 1]
    ]


def _crews(user: User, parts: Sequence[str]) -> list[Hit]:
    rows = _holding(dispatch.visible_crews(user), parts, "name", "code")
    return [
        Hit(row.name, row.depot.name, reverse("pages:crew_change", args=[row.code]))
        for row in rows[: A_FEW + 1]
    ]


def _people(user: User, parts: Sequence[str]) -> list[Hit]:
    rows = _holding(people.visible_users(user), parts, "username", "first_name", "last_name", "email")
    return [
        Hit(row.get_full_name() or row.username, row.username, reverse("pages:user", args=[row.pk]))
        for row in rows[: A_FEW + 1]
    ]


def _plants(parts: Sequence[str]) -> list[Hit]:
    fitting = [
        plant
        for plant in plant_book()
        if all(_holds(part, plant.botanical, plant.common, plant.common_es) for part in parts)
    ]
    return [
        Hit(
            plant.common_es if spanish() else plant.common,
            plant.botanical,
            f"{reverse('pages:plants')}?search={quote(plant.botanical)}",
        )
        for plant in fitting
    ]


def _rules(parts: Sequence[str]) -> list[Hit]:
    fitting = [rule for rule in care.every_rule().values() if all(_names(rule, part) for part in parts)]
    return [
        Hit(
            rule.es.title if spanish() else rule.en.title,
            gettext("care rule"),
            reverse("pages:adjust_everywhere", args=[rule.key]),
        )
        for rule in fitting
    ]


def _names(rule: Rule, part: str) -> bool:
    return _holds(part, rule.key, rule.en.title, rule.es.title)


def _holds(part: str, *texts: str) -> bool:
    return any(part.casefold() in text.casefold() for text in texts)
