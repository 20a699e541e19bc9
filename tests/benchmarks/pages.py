"""What the pages of the office cost the server with ten thousand gardens, and that queries do not grow.

Run with `python -m tests.benchmarks.pages`, with `--gardens`, `--rounds` and `DATABASE_URL` as wanted;
each line is JSON. Rows are written by table and in numbers by a seeded chance; each page is asked in one
process through all of the site, and its server time and queries are counted: by the clock, and by the
processor of this process, which with SQLite is all the work there is, whatever else the machine does.
A first run with a hundred gardens tells how many queries a page needs; with all it must need as many.
"""

import argparse
import random
import statistics
import time
from datetime import date, timedelta
from typing import Any

from tests.benchmarks.company import begin, say

SEED, TASKS, VISITS = 20261125, 24, 6
ALLOWED_MS = 150.0
FEW = 100
WARM = 2
RULES = (
    ("sand-filter-backwash", "Backwash the sand filter", "Retrolavar el filtro de arena", "water_feature"),
    ("bed-weeding", "Weed the beds", "Deshierbar los macizos", "planting"),
    ("controller-check", "Check the controller", "Revisar el programador", "irrigation"),
    ("lamp-check", "Look at the lights", "Revisar las luces", "lighting"),
)
PAGES = (
    "/",
    "/properties/",
    "/properties/?page=50",
    "/properties/?q=garden+77",
    "/properties/bench-00042/",
    "/properties/bench-00042/things/B1/",
    "/properties/bench-00042/rules/",
    "/search/?q=bench-00042",
    "/search/?q=garden",
    "/search/?q=42+weed",
    "/lists/late/",
    "/lists/due/",
    "/lists/due/?words=bench-00042",
    "/lists/done/",
    "/lists/skipped/",
    "/lists/visits/",
    "/lists/readings/",
    "/lists/properties/?page=100",
    "/lists/changes/",
    "/setup/",
    "/setup/clients/",
    "/setup/crews/",
    "/setup/depots/",
    "/setup/people/",
    "/rules/",
    "/plants/",
    "/climates/",
    "/weather/",
    "/colour/",
    "/intake/",
    "/addresses/",
    "/letters/",
)


def main(argv: list[str] | None = None) -> None:
    """Measure with a few gardens, then with all."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--gardens", type=int, default=10_000)
    options.add_argument("--rounds", type=int, default=20)
    options.add_argument("--pages", nargs="*", default=list(PAGES))
    given = options.parse_args(argv)
    begin()
    office = _office()
    _add_gardens(FEW)
    few = {page: _asked(office, page, 1)[1] for page in given.pages}
    _add_gardens(given.gardens)
    slow = 0
    for page in given.pages:
        times, queries, kb = _asked(office, page, given.rounds)
        clock, processor = ([each[sort] for each in times] for sort in (0, 1))
        slow += _p95(clock) > ALLOWED_MS
        say(
            "page",
            address=page,
            median_ms=round(statistics.median(clock), 1),
            p95_ms=round(_p95(clock), 1),
            processor_p95_ms=round(_p95(processor), 1),
            queries=queries,
            queries_of_few=few[page],
            kb=round(kb),
        )
    say("pages", gardens=given.gardens, over=slow, allowed_ms=ALLOWED_MS)


def _p95(figures: list[float]) -> float:
    return statistics.quantiles(figures, n=20)[-1] if len(figures) > 1 else figures[0]


def _office() -> Any:
    from django.test import Client

    from landscape_care.people.models import Role, User

    browser = Client(headers={"host": "localhost"})
    browser.force_login(User.objects.create_user("bench", role=Role.OFFICE))
    return browser


def _asked(browser: Any, page: str, rounds: int) -> tuple[list[tuple[float, float]], int, float]:
    """By the clock and by the processor in ms, the queries, and the size of the page in KB."""
    from django.db import connection

    asked = []

    def count(execute: Any, sql: str, *rest: Any) -> Any:
        asked.append(sql)
        return execute(sql, *rest)

    for _ in range(WARM):
        browser.get(page)
    with connection.execute_wrapper(count):
        answer = browser.get(page)
    if answer.status_code != 200:
        raise SystemExit(f"{page} answers {answer.status_code}")
    times = []
    for _ in range(rounds):
        start = time.perf_counter(), time.process_time()
        browser.get(page)
        times.append(((time.perf_counter() - start[0]) * 1000, (time.process_time() - start[1]) * 1000))
    return times, len(asked), len(answer.content) / 1024


# --- Rows ---------------------------------------------------------------------------------------------


def _add_gardens(count: int) -> None:
    """Make it so many gardens with care, visits and looks at their records."""
    from landscape_care.properties.models import Client, Depot, Property
    from tests.benchmarks import gardens

    known = Property.objects.count()
    if not known:
        gardens.make_company(count)
    else:
        client, depot = Client.objects.get(code="bench"), Depot.objects.get(code="bench")
        for first in range(known, count, gardens.AT_ONCE):
            gardens.add(client, depot, range(first, min(count, first + gardens.AT_ONCE)))
    fresh = Property.objects.filter(record_check=None).order_by("pk")
    chance = random.Random(SEED + known)
    for _ in range(0, count - known, 500):
        _care_of(list(fresh[:500]), chance)


def _care_of(places: list[Any], chance: random.Random) -> None:
    from django.utils import timezone

    from landscape_care.care.models import CareTask
    from landscape_care.properties.models import RecordCheck
    from landscape_care.visits.models import Visit

    today, now = timezone.now().date(), timezone.now()
    CareTask.objects.bulk_create(
        (_task(place.pk, number, chance, today, now) for place in places for number in range(TASKS)),
        batch_size=1000,
    )
    Visit.objects.bulk_create(
        (_visit(place.pk, number, chance, today, now) for place in places for number in range(VISITS)),
        batch_size=1000,
    )
    wrong = {
        "tag": "B1",
        "message_en": "Told.",
        "message_es": "Dicho.",
        "remedy_en": "Do.",
        "remedy_es": "Haga.",
    }
    RecordCheck.objects.bulk_create(
        RecordCheck(property=place, checked_on=today, count=count, wrong=[{**wrong, "look": "x"}] * count)
        for place in places
        for count in [int(chance.random() < 0.1)]
    )


def _task(place: int, number: int, chance: random.Random, today: date, now: Any) -> Any:
    from landscape_care.care.models import CareTask

    rule, title, title_es, stem = RULES[number % len(RULES)]
    due = today + timedelta(days=chance.randrange(-20, 360))
    past = due < today
    state = chance.choice(("done", "done", "done", "skipped", "open")) if past else "open"
    settled = due if state in ("done", "skipped") else None
    return CareTask(
        property_id=place, rule=rule, stem=stem, series=f"-/{rule}", occurrence=str(number),
        key=f"-/{rule}/{number}", title=title, title_es=title_es, opens_on=due - timedelta(3), due_on=due,
        closes_on=due + timedelta(3), minutes=20, skill="gardener", state=state, settled_on=settled,
        skip_reason="gate" if state == "skipped" else "", changed_at=now,
    )  # fmt: skip


def _visit(place: int, number: int, chance: random.Random, today: date, now: Any) -> Any:
    from datetime import time as clock

    from landscape_care.visits.models import Visit

    day = today + timedelta(days=chance.randrange(-10, 50))
    return Visit(
        property_id=place, slot=f"w{number}", opens_on=day, closes_on=day, minutes=60,
        state="done" if day < today else "published", day=day, arrives_at=clock(9), leaves_at=clock(10),
        crew_name="Crew", changed_at=now,
    )  # fmt: skip


if __name__ == "__main__":
    main()
