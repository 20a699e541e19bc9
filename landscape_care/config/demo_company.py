"""The invented company, made the way an office would: its spreadsheets go in, care and routes follow.

Everything goes through the actions that the pages use. Each step looks first whether it was done, so a
start that was interrupted is finished by the next.
"""

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management.base import CommandError
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from landscape_care.calendars import actions as calendars
from landscape_care.calendars.models import Audience
from landscape_care.care import actions as care
from landscape_care.care.models import CareTask
from landscape_care.config.parentage import ends_with_parent
from landscape_care.config.sign_in import Entrance, let_in, write_sheet
from landscape_care.dispatch import actions as dispatch
from landscape_care.dispatch import intake
from landscape_care.dispatch.models import Crew, MonthPlan, PlanState
from landscape_care.people.actions import record
from landscape_care.people.models import AuditEntry, Role, User
from landscape_care.properties.demo import FILES
from landscape_care.properties.models import Depot, InstalledThing, Property
from landscape_care.visits import actions as visits
from landscape_care.visits.models import Visit

Say = Callable[[str], None]
BEGUN, FINISHED = "begin demo company", "finish demo company"
SOLVING_S = 8


def open_demo_company(say: Say) -> None:
    """Take in the spreadsheets, plan care, bundle visits, publish two months, let people in."""
    if was_done(FINISHED) or (User.objects.exists() and not was_done(BEGUN)):
        say(f"Kept what was there: {count(Property, 'properties')}, {count(CareTask, 'care tasks')}.")
        return
    say("Making the demo company, once:")
    search = compile_beside()
    if not was_done(BEGUN):
        record(BEGUN, "first start")
    if not Property.objects.exists():
        with timed(
            say, lambda: f"took in {count(Property, 'properties')}, {count(InstalledThing, 'things')}"
        ):
            take_in_spreadsheets()
    with timed(say, lambda: f"planned {count(CareTask, 'care tasks')} for thirteen months"):
        for row in Property.objects.filter(planned_through=None):
            care.plan_care(row.pk, today=timezone.localdate(timezone=row.zone()))
    with timed(say, lambda: f"bundled them into {count(Visit, 'visits')}"):
        for row in Property.objects.all():
            visits.bundle_property(row.pk, today=timezone.localdate(timezone=row.zone()))
    with timed(say, lambda: "had the search for routes compiled meanwhile, and waited for it"):
        search.wait()
    for depot in Depot.objects.all():
        publish_two_months(depot, say)
    with transaction.atomic():
        write_sheet([*people(), *addresses()])
        record(FINISHED, "first start")


def compile_beside() -> "subprocess.Popen[bytes]":
    """Compile the search for routes while the rest is being made; it ends with this process."""
    return subprocess.Popen(
        [sys.executable, "manage.py", "getready"],
        cwd=settings.BASE_DIR,
        preexec_fn=ends_with_parent(signal.SIGTERM),  # noqa: PLW1509
    )


def take_in_spreadsheets() -> None:
    """Put the record, the crews and the care done before into the database: all of it or nothing."""
    found = intake.check(FILES, today=timezone.localdate())
    if found.problems:
        shown = "\n".join(map(str, found.problems[:20]))
        raise CommandError(f"The demo spreadsheets have mistakes:\n{shown}")
    intake.take_in(found, by=None)


def publish_two_months(depot: Depot, say: Say) -> None:
    """Plan and publish what is left of this month, and the next one."""
    today = timezone.localdate(timezone=ZoneInfo(depot.time_zone))
    this_month = today.replace(day=1)
    for month in (this_month, (this_month + timedelta(days=31)).replace(day=1)):
        published = MonthPlan.objects.filter(depot=depot, month=month, state=PlanState.PUBLISHED)
        if not published.exists():
            with timed(say, partial(outcome, published)):
                publish_month(depot, month, today=today)


def publish_month(depot: Depot, month: date, *, today: date) -> None:
    """Propose, solve and publish one month."""
    plan = dispatch.propose(depot, month, by=None, today=today, seconds=SOLVING_S)
    dispatch.solve_plan(plan.pk, today=today)
    dispatch.publish(plan.pk, by=None, today=today)


def outcome(published: QuerySet[MonthPlan]) -> str:
    """Say in a line what a published month holds."""
    plan = published.get()
    days = plan.stops.values("crew", "day").distinct().count()
    return (
        f"published {plan.month:%B %Y} for {plan.depot.name}: {plan.stops.count()} visits on "
        f"{days} crew days, {plan.unserved.count()} not placed"
    )


def people() -> Iterator[Entrance]:
    """Make an office, a dispatcher and one lead for each crew."""
    yield let_in("office", Role.OFFICE, name="Office", path="/")[1]
    yield let_in("dispatcher", Role.DISPATCHER, name="Dispatcher", path="/board/")[1]
    for crew in Crew.objects.select_related("depot"):
        lead, entrance = let_in(crew.code, Role.CREW, name=f"{crew.name}, on the phone", path="/crew/")
        dispatch.set_members(crew, [lead], by=None)
        yield entrance


def addresses() -> Iterator[Entrance]:
    """Issue calendar addresses for an owner of each depot, a crew and the company."""
    for garden in first_of_each_depot():
        _, token = calendars.issue(Audience.PROPERTY, garden, name=garden.name, by=None)
        yield Entrance(f"Owner of {garden.name}", f"/garden/{token}/")
        yield Entrance(f"Calendar of {garden.name}", f"/calendars/{token}.ics")
    crew = Crew.objects.order_by("pk")[0]
    _, token = calendars.issue(Audience.CREW, crew, name=crew.name, by=None)
    yield Entrance(f"Calendar of {crew.name}", f"/calendars/{token}.ics")
    _, token = calendars.issue(Audience.COMPANY, None, name="Company", by=None)
    yield Entrance("Calendar of the company", f"/calendars/{token}.ics")


def first_of_each_depot() -> Iterable[Property]:
    """Pick one property of each depot."""
    return [depot.properties.order_by("code")[0] for depot in Depot.objects.all()]


def was_done(step: str) -> bool:
    """Say whether the audit log knows this step."""
    return AuditEntry.objects.filter(verb=step).exists()


def count(table: type, word: str) -> str:
    """Count the rows of a table."""
    return f"{table.objects.count():,} {word}"  # type: ignore[attr-defined]


@contextmanager
def timed(say: Say, result: Callable[[], str]) -> Iterator[None]:
    """Say how a step came out and how long it took."""
    began = time.monotonic()
    yield
    say(f"  {result()} ({time.monotonic() - began:.1f} s)")
