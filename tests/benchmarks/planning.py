"""Seconds to plan the care of a synthetic company of gardens, and milliseconds for one that changed.

`python -m tests.benchmarks.planning [--properties 500] [--changes 60] [--bundle]` plans on SQLite, in a
folder of its own, through the call of the clock, and prints JSON lines; with `--bundle` the tasks are
also put into visits, which is measured apart. `--database postgres --workers 2` starts a PostgreSQL, a
broker and Celery workers and plans through them: a tenth of the gardens by one worker, the others by
all, so that the lines say what a second worker brings. Processor seconds count all processes, since
seconds on the wall say little on a machine that others use too.
"""

import argparse
import os
import random
import signal
import statistics
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from tests.benchmarks.company import begin, bundle, say
from tests.benchmarks.gardens import FIRST_DAY, SEED, make_company

GOALS = {"sqlite_all_s_per_500": 30.0, "postgres_all_s_per_10000": 300.0, "changed_p95_ms": 150.0}
WARM_UP = 20


# --- What is measured ---


@contextmanager
def measured(what: str, properties: int) -> Iterator[dict[str, Any]]:
    """Say what happens inside with its seconds, processor seconds and the tasks written."""
    from django.utils import timezone

    figures: dict[str, Any] = {"properties": properties}
    since, begun, busy = timezone.now(), time.perf_counter(), processor_seconds()
    yield figures
    figures |= {
        "seconds": round(time.perf_counter() - begun, 2),
        "processor_seconds": round(processor_seconds() - busy, 2),
        "writes": _written_since(since),
    }
    say(what, **figures)


def _written_since(moment: Any) -> int:
    from landscape_care.care.models import CareTask

    return CareTask.objects.filter(changed_at__gte=moment).count()


def processor_seconds() -> float:
    """Processor seconds of this process and of all it has started."""
    parents: dict[int, tuple[int, float]] = {}
    tick_s = 1 / os.sysconf("SC_CLK_TCK")
    for file in Path("/proc").glob("[0-9]*/stat"):
        try:
            words = file.read_text().rpartition(") ")[2].split()
        except OSError:
            continue  # it has just ended; its parent counts it
        parents[int(file.parent.name)] = (int(words[1]), sum(map(int, words[11:15])) * tick_s)
    mine, found = {os.getpid()}, 0
    while len(mine) != found:
        found = len(mine)
        mine |= {pid for pid, (parent, _) in parents.items() if parent in mine}
    return sum(parents[pid][1] for pid in mine if pid in parents)


def change_and_plan(times: int) -> list[float]:
    """Milliseconds from a reading on one garden to its new plan, so many times."""
    from landscape_care.care.actions import plan_care, take_reading
    from landscape_care.properties.models import InstalledThing

    chance = random.Random(SEED)
    filters = list(InstalledThing.objects.filter(kind="filter").select_related("property")[:500])
    spent = []
    for number in range(times):
        thing = chance.choice(filters)
        psi = 19.0 if number % 2 else 12.0
        take_reading(thing, "filter_pressure_psi", psi, "psi", on=FIRST_DAY, by=None)
        begun = time.perf_counter()
        plan_care(thing.property_id, today=FIRST_DAY)
        spent.append((time.perf_counter() - begun) * 1000)
    return sorted(spent)


# --- In this process ---


def plan_here(property_ids: Sequence[int], today: date = FIRST_DAY) -> None:
    """Plan properties one group after the other, as a worker does."""
    from landscape_care.care.actions import plan_together
    from landscape_care.care.queries import PLANNED_TOGETHER

    for start in range(0, len(property_ids), PLANNED_TOGETHER):
        plan_together(property_ids[start : start + PLANNED_TOGETHER], today=today)


def measure_here(everything: Sequence[int]) -> dict[str, Any]:
    """A first plan, the same again, and the day after."""
    with measured("first plan", len(everything)) as first:
        plan_here(everything)
    with measured("second plan", len(everything)) as second:
        plan_here(everything)
    with measured("the day after", len(everything)):
        plan_here(everything, FIRST_DAY + timedelta(1))
    return {
        "all_s_per_500": round(first["seconds"] / len(everything) * 500, 2),
        "all_processor_s_per_500": round(first["processor_seconds"] / len(everything) * 500, 2),
        "second_plan_writes": second["writes"],
    }


# --- With PostgreSQL and Celery workers ---


def start_servers(workers: int) -> None:
    """Start PostgreSQL and a broker of their own; the workers follow when the tables are there."""
    from landscape_care.config.valkey import valkey_command
    from tests import servers

    folder = servers.temporary_folder()
    os.environ["DATABASE_URL"] = servers.start_postgres(folder / "postgres")
    if workers:
        socket = folder / "broker" / "valkey.sock"
        os.environ["REDIS_URL"] = f"unix://{socket}"
        servers.run_until_the_end(
            valkey_command(socket, socket.parent), folder / "broker.log", stop_with=signal.SIGTERM
        )


def start_workers(queue: str, count: int) -> None:
    """Start Celery workers that serve a queue of their own, so that nothing else runs beside."""
    from tests import servers

    command = [sys.executable, "-m", "celery", "-A", "landscape_care.config", "worker", "--queues", queue]
    command += ["--concurrency", str(count), "--hostname", f"{queue}@bench", "--loglevel", "error"]
    quiet = ["--without-gossip", "--without-mingle", "--without-heartbeat"]
    log = Path(os.environ["LANDSCAPE_CARE_DATA"]) / f"{queue}.log"
    servers.run_until_the_end(command + quiet, log, stop_with=signal.SIGTERM)


def plan_by_workers(property_ids: Sequence[int], queue: str) -> None:
    """Hand properties to the workers of a queue and wait until every one is planned."""
    from landscape_care.care.background import plan_some
    from landscape_care.care.queries import PLANNED_TOGETHER
    from landscape_care.properties.models import Property

    for start in range(0, len(property_ids), PLANNED_TOGETHER):
        plan_some.apply_async((property_ids[start : start + PLANNED_TOGETHER],), queue=queue)
    still = Property.objects.filter(plan_wanted_at__isnull=False)
    while still.exists():
        time.sleep(0.2)


def ask_for_plans(property_ids: Sequence[int]) -> None:
    """Mark properties as after a change of them all."""
    from django.utils import timezone

    from landscape_care.properties.models import Property

    Property.objects.filter(pk__in=property_ids).update(plan_wanted_at=timezone.now())


def measure_workers(everything: Sequence[int], workers: int) -> dict[str, Any]:
    """A first plan by one worker and by all, and a second plan."""
    start_workers("one", 1)
    start_workers("all", workers)
    warm, rest = everything[: 2 * WARM_UP], everything[2 * WARM_UP :]
    alone, together = rest[: len(rest) // 10], rest[len(rest) // 10 :]
    for part, queue in ((warm[:WARM_UP], "one"), (warm[WARM_UP:], "all")):
        ask_for_plans(part)
        plan_by_workers(part, queue)
    ask_for_plans(alone)
    with measured("first plan, one worker", len(alone)) as one:
        plan_by_workers(alone, "one")
    ask_for_plans(together)
    with measured(f"first plan, {workers} workers", len(together)) as all_of_them:
        plan_by_workers(together, "all")
    ask_for_plans(rest)
    with measured(f"second plan, {workers} workers", len(rest)) as second:
        plan_by_workers(rest, "all")
    each_one, each_all = (run["seconds"] / run["properties"] for run in (one, all_of_them))
    busy = all_of_them["processor_seconds"] / all_of_them["properties"]
    return {
        "workers": workers,
        "all_s_per_10000": round(each_all * 10_000, 1),
        "all_processor_s_per_10000": round(busy * 10_000, 1),
        "times_faster_than_one_worker": round(each_one / each_all, 2),
        "second_plan_writes": second["writes"],
    }


# --- All of it ---


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--properties", type=int, default=500)
    asked.add_argument("--changes", type=int, default=60)
    asked.add_argument("--database", choices=("configured", "postgres"), default="configured")
    asked.add_argument("--workers", type=int, default=0, help="Celery workers; 0 plans in this process")
    asked.add_argument("--bundle", action="store_true", help="put the tasks into visits as well")
    given = asked.parse_args()
    if given.database == "postgres":
        start_servers(given.workers)
    begin()
    from django.db import connection, transaction

    from landscape_care.properties.models import InstalledThing, Property

    begun = time.perf_counter()
    with transaction.atomic():
        make_company(given.properties)
    say(
        "company",
        database=connection.vendor,
        properties=given.properties,
        things=InstalledThing.objects.count(),
        seed=SEED,
        seconds=round(time.perf_counter() - begun, 1),
    )
    everything = list(Property.objects.order_by("pk").values_list("pk", flat=True))
    figures = measure_workers(everything, given.workers) if given.workers else measure_here(everything)
    spent = change_and_plan(given.changes)
    if given.bundle:
        bundle(FIRST_DAY)
    say(
        "summary",
        **figures,
        changed_median_ms=round(statistics.median(spent), 1),
        changed_p95_ms=round(spent[round(0.95 * (len(spent) - 1))], 1),
        goals=GOALS,
    )


if __name__ == "__main__":
    main()
