"""A month of the demo company against what a careful person plans by hand.

Run with `python -m tests.benchmarks.month`; each line is JSON. The yardstick takes the first
possible day and then always the nearest next stop, under the same shifts, skills, windows and
access hours.
"""

import argparse
import time
from collections.abc import Callable
from datetime import date, timedelta
from functools import partial

from tests.benchmarks.company import FIRST_DAY, begin, bundle, next_month, plan_care, say, take_in


def main(argv: list[str] | None = None) -> None:
    """Compare both ways for each depot and some budgets."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seconds", type=float, nargs="+", default=[5, 20])
    options.add_argument("--months", type=int, default=2)
    given = options.parse_args(argv)
    begin()
    take_in()
    plan_care(FIRST_DAY)
    bundle(FIRST_DAY)
    month = next_month(FIRST_DAY)
    for _ in range(given.months):
        compare(month, given.seconds)
        month = next_month(month + timedelta(1))


def compare(month: date, budgets: list[float]) -> None:
    """Print the figures of one month of all depots."""
    from landscape_care.dispatch import actions, queries, routing, solver
    from landscape_care.dispatch.models import MonthPlan
    from landscape_care.properties.models import Depot

    ways: dict[str, Callable[[routing.RouteProblem], routing.RouteAnswer]] = {
        "nearest next stop": routing.nearest_neighbour
    }
    ways |= {f"engine {s:g} s": partial(solver.solve, seconds=s) for s in budgets}
    for depot in Depot.objects.all():
        problem = queries.route_problem(MonthPlan(depot=depot, month=month, number=1), FIRST_DAY)
        for way, plan in ways.items():
            begun = time.perf_counter()
            found = plan(problem)
            say(
                way,
                depot=depot.code,
                month=f"{month:%Y-%m}",
                seconds=round(time.perf_counter() - begun, 2),
                to_place=len(problem.visits),
                faults=len(list(routing.faults(problem, found))),
                **actions.summary_of(problem, found),
            )


if __name__ == "__main__":
    main()
