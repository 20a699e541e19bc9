"""The whole way of the demo company, measured: files in, care planned, bundled, routed, published, again.

Run with `python -m tests.benchmarks.demo`; each line is JSON. Second runs must change nothing.
"""

import argparse
from datetime import date, timedelta

from tests.benchmarks.company import FIRST_DAY, begin, bundle, measured, next_month, plan_care, take_in


def main(argv: list[str] | None = None) -> None:
    """Measure everything once."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seconds", type=int, default=20, help="solving budget of a month")
    given = options.parse_args(argv)
    begin()
    take_in()
    plan_care(FIRST_DAY)
    plan_care(FIRST_DAY, "plan care again")
    plan_care(FIRST_DAY + timedelta(1), "plan care a day later")
    bundle(FIRST_DAY)
    bundle(FIRST_DAY, "bundle again")
    plan_months(next_month(FIRST_DAY), FIRST_DAY, given.seconds)
    bundle(FIRST_DAY, "bundle after publishing")
    plan_months(next_month(FIRST_DAY), FIRST_DAY, given.seconds)


def plan_months(month: date, today: date, seconds: int) -> None:
    """Propose, solve and publish the month of each depot."""
    from landscape_care.dispatch import actions
    from landscape_care.properties.models import Depot
    from landscape_care.visits.models import Visit

    for depot in Depot.objects.all():
        with measured("solve month") as figures:
            plan = actions.propose(depot, month, by=None, today=today, seconds=seconds)
            plan = actions.solve_plan(plan.pk, today=today)
            figures |= {"depot": depot.code, "month": f"{month:%Y-%m}", "state": plan.state, **plan.summary}
        told = dict(Visit.objects.values_list("pk", "revision"))
        with measured("publish month") as figures:
            actions.publish(plan.pk, by=None, today=today)
            now = dict(Visit.objects.values_list("pk", "revision"))
            figures |= {"depot": depot.code, "told": sum(now[pk] != told.get(pk) for pk in now)}


if __name__ == "__main__":
    main()
