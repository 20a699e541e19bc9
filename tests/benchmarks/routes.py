"""Published routing instances through the product's own door, re-checked, beside two known engines.

    python -m tests.benchmarks.routes --instances FOLDER --seconds 60 --json

Every instance is solved on one core with a seed. Seconds are processor seconds of this process, so
that other programs on the machine do not lengthen or shorten a run; compiling is not counted and
stands in a line of its own. With `--iterations` the search ends by count instead, and the same
seed gives the same plan again. A plan is checked by `instances`, which shares no code with the
search. `--peers` names what is run beside it on the same instance, seconds and core.
"""

import argparse
import json
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from time import process_time

import numpy as np

from landscape_care.dispatch import periodic
from tests.benchmarks import peers
from tests.benchmarks.instances import Instance, Plan, best_known, cost, faults, read

PACE_ITERATIONS = 10_000


def main(argv: list[str] | None = None) -> int:
    """Solve and check every instance that was asked for; 1 when a plan breaks a rule."""
    given = _options().parse_args(argv)
    _say(given, {"what": "compile", "cpu_seconds": round(_compile(), 1)})
    known = best_known(given.instances)
    results = []
    for instance in _instances(given):
        bare = instance.name.rpartition("/")[2]
        result = measure(instance, given, known.get(instance.name, known.get(bare)))
        _say(given, result)
        results.append(result)
    for line in _summary(results):
        _say(given, line)
    return int(any(result["faults"] for result in results))


def _options() -> argparse.ArgumentParser:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    options.add_argument("--instances", type=Path, required=True, help="folder with instances below it")
    options.add_argument("--seconds", type=float, default=60, help="for instances of several days")
    options.add_argument("--solomon-seconds", type=float, default=30, help="for instances of one day")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--iterations", type=int, help="end by count: the same plan every time")
    options.add_argument("--only", help="names, with or without their folder, with commas between")
    options.add_argument("--peers", default="ortools", help="ortools, pyvrp, both with a comma, or none")
    options.add_argument("--json", action="store_true", help="a JSON line for each instance")
    return options


def _instances(given: argparse.Namespace) -> Iterator[Instance]:
    wanted = set(given.only.split(",")) if given.only else None
    for file in sorted(given.instances.rglob("*")):
        name = file.relative_to(given.instances).with_suffix("").as_posix()
        if not file.is_file() or file.suffix not in ("", ".txt", ".vrp") or file.stem == "README":
            continue
        if wanted is None or {name, file.stem} & wanted:
            yield read(file, name)


def _compile() -> float:
    """Run a tiny problem, so that no measured second is spent on compiling."""
    begun = process_time()
    visit = periodic.PeriodVisit(0, ((0,),))
    tiny = periodic.PeriodProblem(np.zeros((1, 1)), np.zeros((1, 1)), (visit,), (periodic.Slot(0),))
    periodic.solve(tiny, periodic.Effort(1))
    return process_time() - begun


def problem_of(instance: Instance) -> periodic.PeriodProblem:
    """The instance in the words of the product."""
    count = range(len(instance.sites))
    drive = np.array([[instance.distance(a, b) for b in count] for a in count])
    visits = (
        periodic.PeriodVisit(
            number,
            tuple(tuple(sorted(pattern)) for pattern in site.patterns),
            (site.service,),
            site.opens,
            (site.closes,),
            (site.demand,),
        )
        for number, site in enumerate(instance.sites[1:], start=1)
    )
    depot = instance.sites[0]
    slots = (
        periodic.Slot(
            day,
            leaves_minute=depot.opens,
            returns_minute=depot.closes,
            longest_minutes=instance.longest[day],
            room=(instance.capacity[day],),
        )
        for day in range(instance.days)
        for _ in range(instance.vehicles)
    )
    return periodic.PeriodProblem(drive, drive, tuple(visits), tuple(slots))


def measure(instance: Instance, given: argparse.Namespace, known: float | None) -> dict[str, object]:
    """Figures of one instance: the product's plan, its faults, and the peers."""
    seconds = given.seconds if instance.is_periodic else given.solomon_seconds
    problem, begun = problem_of(instance), process_time()
    found = periodic.solve(problem, _effort(problem, given, seconds))
    spent = process_time() - begun
    plan = [
        (slot.day, [visit + 1 for visit in stops])
        for slot, stops in zip(problem.slots, found.order, strict=True)
        if stops
    ]
    figures: dict[str, object] = {
        "instance": instance.name,
        "is_periodic": instance.is_periodic,
        "customers": len(instance.sites) - 1,
        "days": instance.days,
        "vehicles": instance.vehicles,
        "seed": given.seed,
        "iterations": found.iterations,
        "ended_by_iterations": found.by_iterations,
        "cpu_seconds": round(spent, 1),
        "best_known": known,
        **_judged(instance, plan, known, ""),
    }
    for name in given.peers.split(","):
        if name != "none":
            peer = peers.PEERS[name](instance, seconds, given.seed)
            figures |= _judged(instance, peer.plan, known, f"{name}_") if peer.plan else {}
            figures |= {f"{name}_cpu_seconds": round(peer.cpu_seconds, 1), f"{name}_note": peer.note}
    return figures


def _effort(problem: periodic.PeriodProblem, given: argparse.Namespace, seconds: float) -> periodic.Effort:
    """As many iterations as the seconds have room for, by the pace of a short run that they pay for, too."""
    if given.iterations:
        return periodic.Effort(given.iterations, seed=given.seed)
    begun = process_time()
    periodic.solve(problem, periodic.Effort(PACE_ITERATIONS, seconds, given.seed, process_time))
    spent = process_time() - begun
    rest = max(seconds - spent, seconds / 10)
    return periodic.Effort(int(rest / spent * PACE_ITERATIONS) + 1, rest, given.seed, process_time)


def _judged(instance: Instance, plan: Plan, known: float | None, prefix: str) -> dict[str, object]:
    value = cost(instance, plan)
    return {
        f"{prefix}cost": round(value, 2),
        f"{prefix}gap_percent": round(100 * (value / known - 1), 2) if known else None,
        f"{prefix}faults": list(faults(instance, plan)),
    }


def _summary(results: list[dict[str, object]]) -> Iterator[dict[str, object]]:
    """Mean and worst gap of periodic instances and of those of one day, and how often peers are beaten."""
    for name, is_periodic in (("a period", True), ("one day", False)):
        own = [result for result in results if result["is_periodic"] == is_periodic]
        gaps = [float(str(result["gap_percent"])) for result in own if result["gap_percent"] is not None]
        line: dict[str, object] = {"what": f"instances of {name}", "count": len(own)}
        if gaps:
            line |= {"mean_gap_percent": round(float(np.mean(gaps)), 3), "worst_gap_percent": max(gaps)}
        for peer in peers.PEERS:
            both = [result for result in own if f"{peer}_cost" in result]
            if both:
                costs = [(float(str(one["cost"])), float(str(one[f"{peer}_cost"]))) for one in both]
                line[f"compared_with_{peer}"] = len(both)
                line[f"better_than_{peer}"] = sum(ours < theirs - 0.005 for ours, theirs in costs)
                line[f"worse_than_{peer}"] = sum(ours > theirs + 0.005 for ours, theirs in costs)
        if own:
            yield line


def _say(given: argparse.Namespace, line: dict[str, object]) -> None:
    text = json.dumps(line) if given.json else "  ".join(f"{key} {value}" for key, value in line.items())
    print(text, flush=True)


if __name__ == "__main__":
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    sys.exit(main())
