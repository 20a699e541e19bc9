"""Months against what a careful office plans by hand; each line is JSON.

    python -m tests.benchmarks.month              # 400 gardens and 10 crews for 21 days, then rain
    python -m tests.benchmarks.month --large      # 2,000 gardens and 40 crews by territory, on 2 workers
    python -m tests.benchmarks.month --demo       # the demo company, through its database

The yardstick of the invented company keeps every garden on its weekday and always drives to the
nearest next stop, under the same shifts, skills, loads, windows and access hours; a second one has a
district for each crew besides. That of the demo company takes the first possible day.
"""

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from functools import partial

from landscape_care.dispatch import replanning, routing, solver
from tests.benchmarks import invented
from tests.benchmarks.company import FIRST_DAY, begin, bundle, next_month, plan_care, say, take_in

RAIN_AFTER_DAYS = (2, 7, 9)  # from the first Monday


def main(argv: list[str] | None = None) -> None:
    """Measure what the options ask for."""
    options = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    options.add_argument("--seconds", type=float, nargs="+", default=None)
    options.add_argument("--months", type=int, default=2)
    options.add_argument("--seeds", type=int, nargs="+", default=[1])
    options.add_argument("--large", action="store_true")
    options.add_argument("--demo", action="store_true")
    given = options.parse_args(argv)
    if given.demo:
        demo(given.seconds or [5, 20], given.months)
        return
    for seed in given.seeds:
        if given.large:
            large(seed, (given.seconds or [600])[0])
        else:
            small(seed, (given.seconds or [120])[0])


def small(seed: int, seconds: float) -> None:
    """A company of one depot, and three days of rain in its month."""
    given = invented.company(400, 10, seed=seed)
    by_hand = _hand_made(given, seed)
    begun = time.perf_counter()
    found = solver.solve(given.problem, seconds=seconds, seed=seed)
    _say_plan("planned", given, found, begun, seed=seed, saved=_saved(found, by_hand))
    for days in RAIN_AFTER_DAYS:
        rain(given, found, invented.MONDAY + timedelta(days), seed=seed)


def large(seed: int, seconds: float) -> None:
    """A company of four depots, by territory and in two processes."""
    given = invented.company(2000, 40, depots=4, seed=seed)
    by_hand = _hand_made(given, seed)
    begun = time.perf_counter()
    found = solver.solve(given.problem, seconds=seconds, seed=seed, workers=2)
    _say_plan("planned by territory", given, found, begun, seed=seed, saved=_saved(found, by_hand))


def _hand_made(given: invented.Company, seed: int) -> dict[str, routing.RouteAnswer]:
    answers = {}
    for way in (invented.fixed_weekday, invented.by_district):
        begun = time.perf_counter()
        answers[way.__name__] = way(given)
        _say_plan(way.__name__, given, answers[way.__name__], begun, seed=seed)
    return answers


def _saved(found: routing.RouteAnswer, by_hand: dict[str, routing.RouteAnswer]) -> dict[str, float]:
    """Share of the driving by hand that the plan does not drive, percent."""
    return {
        name: round(100 * (1 - found.drive_minutes / other.drive_minutes), 1)
        for name, other in by_hand.items()
    }


def _say_plan(
    what: str, given: invented.Company, found: routing.RouteAnswer, begun: float, **figures: object
) -> None:
    say(
        what,
        seconds=round(time.perf_counter() - begun, 1),
        visits=len(given.problem.visits),
        unserved=len(found.unserved),
        driving_minutes=round(found.drive_minutes),
        overtime_minutes=found.overtime_minutes,
        routes=len(found.routes),
        faults=len(list(routing.faults(given.problem, found))),
        **figures,
    )


# --- Rain -----------------------------------------------------------------------------------------------


def rain(given: invented.Company, found: routing.RouteAnswer, day: date, **figures: object) -> None:
    """Nobody works on a day of a plan that people know: answer it, and count who else must move."""
    plan = {key: uids for key, uids in replanning.order_of(found).items() if key[1] >= day}
    freed = {uid for key, uids in plan.items() if key[1] == day for uid in uids}
    problem = replanning.with_grace(_left_after(given.problem, found, day), freed)
    begun, begun_cpu = time.perf_counter(), time.process_time()
    after = replanning.replan(problem, plan, freed)
    seconds, cpu_seconds = time.perf_counter() - begun, time.process_time() - begun_cpu
    others = sum(len(uids) for uids in plan.values()) - len(freed)
    moved = [
        change for change in replanning.changes(problem, plan, freed, after) if change.visit_uid not in freed
    ]
    say(
        "rain",
        day=day.isoformat(),
        seconds=round(seconds, 2),
        cpu_seconds=round(cpu_seconds, 2),
        hit=len(freed),
        unserved=len(after.unserved),
        others=others,
        others_on_another_day_or_crew=sum(change.was != change.now for change in moved),
        others_at_another_hour=sum(change.was == change.now for change in moved),
        moved_pct=round(100 * len(moved) / max(1, others), 2),
        faults=len(list(routing.faults(problem, after))),
        **figures,
    )


def _left_after(problem: routing.RouteProblem, found: routing.RouteAnswer, day: date) -> routing.RouteProblem:
    """The problem from a day without work on, with what people know."""
    told = {
        stop.visit_uid: routing.Told(one.crew_uid, one.day, stop.arrives_minute)
        for one in found.routes
        if one.day >= day
        for stop in one.stops
    }
    crews = tuple(replace(c, days=frozenset(d for d in c.days if d > day)) for c in problem.crews)
    visits = tuple(
        replace(
            visit,
            told=told[visit.uid],
            days=frozenset(d for d in visit.days if d > day),
            grace_days=frozenset(d for d in visit.grace_days if d > day),
        )
        for visit in problem.visits
        if visit.uid in told
    )
    places = tuple(problem.place_by_uid[visit.uid] for visit in visits)
    return replace(problem, crews=crews, visits=visits, places=places)


# --- The demo company -----------------------------------------------------------------------------------


def demo(budgets: list[float], months: int) -> None:
    """Compare both ways for each depot of the demo company and some budgets."""
    begin()
    take_in()
    plan_care(FIRST_DAY)
    bundle(FIRST_DAY)
    month = next_month(FIRST_DAY)
    for _ in range(months):
        compare(month, budgets)
        month = next_month(month + timedelta(1))


def compare(month: date, budgets: list[float]) -> None:
    """Print the figures of one month of all depots."""
    from landscape_care.dispatch import months, queries
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
                **months.summary_of(problem, found),
            )


if __name__ == "__main__":
    main()
