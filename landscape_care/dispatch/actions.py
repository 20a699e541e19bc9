"""Writes of the dispatch room: crews here, the rest in files named by what they do.

Whoever writes from outside the room comes through this door.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

from django.db import transaction

from landscape_care.dispatch.disruptions import Ask, confirm, disrupt, drop
from landscape_care.dispatch.models import Crew, CrewDayOff, PreferredCrew
from landscape_care.dispatch.months import (
    LONGEST_SECONDS,
    allow_office,
    free_abandoned,
    propose,
    stop_solving,
    summary_of,
    withdraw_proposal,
)
from landscape_care.dispatch.moving import (
    hold_stop,
    move_stop,
    release_stop,
    reorder_day,
    stop_changed,
    weigh_move,
)
from landscape_care.dispatch.publishing import publish, withdraw_month
from landscape_care.dispatch.records import CrewRecord
from landscape_care.dispatch.refusals import PlanNotReady, SeenOtherwise, StopChanged
from landscape_care.dispatch.solving import solve_plan
from landscape_care.people.actions import record
from landscape_care.people.models import User
from landscape_care.properties.building import build
from landscape_care.properties.models import Depot, Property
from landscape_care.trades.limits import Problem, Refused, limits_of

__all__ = [
    "LONGEST_SECONDS",
    "Ask",
    "PlanNotReady",
    "SeenOtherwise",
    "StopChanged",
    "add_crew",
    "change_crew",
    "confirm",
    "disrupt",
    "drop",
    "free_abandoned",
    "give_day_off",
    "hold_stop",
    "move_stop",
    "propose",
    "publish",
    "release_stop",
    "reorder_day",
    "rest_crew",
    "set_members",
    "solve_plan",
    "stop_changed",
    "stop_solving",
    "summary_of",
    "take_back_day_off",
    "wake_crew",
    "weigh_move",
    "withdraw_month",
    "withdraw_proposal",
]


# --- Crews ------------------------------------------------------------------------------------------


@transaction.atomic
def add_crew(values: Mapping[str, Any], *, members: Iterable[User] = (), by: User | None) -> Crew:
    """Add a crew; `values` are the fields of a `CrewRecord`, the depot by its code."""
    allow_office(by)
    given = build(CrewRecord, values)
    columns = asdict(given) | {"skills": given.skill_list(), "depot": _depot_named(given.depot)}
    if Crew.objects.filter(code=given.code).exists():
        raise Refused([Problem("code", given.code, "another one: this is in use already")])
    crew = Crew.objects.create(**columns)
    crew.members.set(members)
    record("add crew", crew.code, by=by, people=crew.people, skills=crew.skills)
    return crew


@transaction.atomic
def change_crew(crew: Crew, values: Mapping[str, Any], *, by: User | None) -> Crew:
    """Change people, skills, shift or the working days of a crew."""
    allow_office(by)
    row = Crew.objects.select_for_update().get(pk=crew.pk)
    old = {name: getattr(row, name) for name in limits_of(CrewRecord)}
    old |= {"depot": row.depot.code, "skills": ",".join(row.skills)}
    given = build(CrewRecord, old | dict(values))
    new = asdict(given) | {"skills": given.skill_list(), "depot": _depot_named(given.depot)}
    changed = [name for name, value in new.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, new[name])
    row.save(update_fields=changed)
    record("change crew", row.code, by=by, fields=changed)
    return row


def _depot_named(code: str) -> Depot:
    depot = Depot.objects.filter(code=code).first()
    if depot is None:
        raise Refused([Problem("depot", code, "the code of a depot")])
    return depot


@transaction.atomic
def set_members(crew: Crew, members: Iterable[User], *, by: User | None) -> Crew:
    """Say who drives with a crew."""
    allow_office(by)
    people = list(members)
    crew.members.set(people)
    record("set crew members", crew.code, by=by, members=[person.get_username() for person in people])
    return crew


@transaction.atomic
def prefer_crew(property: Property, crew: Crew | None, *, by: User | None) -> None:
    """Say which crew a property would rather have; none for any."""
    allow_office(by)
    if crew is not None and crew.depot_id != property.depot_id:
        raise Refused([Problem("crew", crew.code, f"a crew of {property.depot}")])
    before = PreferredCrew.objects.filter(property=property).first()
    if (before.crew_id if before else None) == (crew.pk if crew else None):
        return
    if crew is None:
        PreferredCrew.objects.filter(property=property).delete()
    else:
        PreferredCrew.objects.update_or_create(property=property, defaults={"crew": crew})
    record("prefer crew", property.code, by=by, crew=crew.code if crew else "")


@transaction.atomic
def give_day_off(crew: Crew, day: date, reason: str = "", *, by: User | None) -> CrewDayOff:
    """Note that a crew does not work on a day; its told visits move when the month is planned again."""
    allow_office(by)
    off, added = CrewDayOff.objects.get_or_create(crew=crew, day=day, defaults={"reason": reason[:120]})
    if added:
        record("give day off", crew.code, by=by, day=str(day), reason=reason)
    return off


@transaction.atomic
def take_back_day_off(off: CrewDayOff, *, by: User | None) -> None:
    """Let a crew work on a day after all."""
    allow_office(by)
    deleted, _ = CrewDayOff.objects.filter(pk=off.pk).delete()
    if deleted:
        record("take back day off", off.crew.code, by=by, day=str(off.day))


@transaction.atomic
def rest_crew(crew: Crew, *, by: User | None) -> None:
    """Plan no more months with a crew; its past days stay."""
    allow_office(by)
    if Crew.objects.filter(pk=crew.pk, active=True).update(active=False):
        record("rest crew", crew.code, by=by)


@transaction.atomic
def wake_crew(crew: Crew, *, by: User | None) -> None:
    """Plan months with a crew again."""
    allow_office(by)
    if Crew.objects.filter(pk=crew.pk, active=False).update(active=True):
        record("wake crew", crew.code, by=by)
