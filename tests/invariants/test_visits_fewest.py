"""Bundling against the exact optimum.

The reference is the constraint solver CP-SAT of OR-Tools, which proves the least number of visits.
Set BUNDLING_CASES for more random cases than the usual ones.
"""

import os
import random
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import combinations, pairwise

import pytest
from ortools.sat.python import cp_model

from landscape_care.visits.bundling import Existing, OpenTask, Team, Terms, allowed_days, bundle, spaced_days

TODAY = date(2026, 11, 18)
CASES = int(os.environ.get("BUNDLING_CASES", "40"))
SKILLS = ("gardener", "irrigation_tech", "arborist")
WEEKDAYS = frozenset(range(5))


@dataclass(frozen=True)
class Spacing:
    least: int
    most: int


def random_tasks(chance: random.Random, count: int, *, longest_window: int = 14) -> list[OpenTask]:
    tasks = []
    for number in range(count):
        opens = TODAY + timedelta(chance.randrange(0, 40))
        closes = opens + timedelta(chance.randrange(3, longest_window + 1))
        tasks.append(
            OpenTask(
                key=f"task-{number}",
                series=f"series-{number}",
                opens_on=opens,
                due_on=opens + timedelta((closes - opens).days // 2),
                closes_on=closes,
                minutes=chance.randrange(10, 120),
                people=chance.choice((1, 1, 2)),
                skill=chance.choice(SKILLS),
            )
        )
    return tasks


def days_of(task: OpenTask) -> list[date]:
    return list(allowed_days(task.opens_on, task.closes_on, WEEKDAYS))


def optimum(model: cp_model.CpModel) -> int | None:
    """The proven least value, or None when nothing meets all constraints."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = 20
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    return round(solver.objective_value) if status == cp_model.OPTIMAL else None


# --- Days between visits --------------------------------------------------------------------------


def fewest_spaced_days(tasks: list[OpenTask], spacing: Spacing) -> int | None:
    """The fewest days, each with a task of its own, that meet all windows and keep the spacing."""
    model = cp_model.CpModel()
    days = sorted({day for task in tasks for day in days_of(task)})
    come = {day: model.new_bool_var(str(day)) for day in days}
    done = {(t.key, day): model.new_bool_var(f"{t.key} {day}") for t in tasks for day in days_of(t)}
    for task in tasks:
        model.add_exactly_one(done[task.key, day] for day in days_of(task))
    for day in days:
        here = [chosen for (_, its_day), chosen in done.items() if its_day == day]
        model.add_max_equality(come[day], here)
    for one, two in combinations(days, 2):
        if (two - one).days < spacing.least:
            model.add_at_most_one(come[one], come[two])
        if (two - one).days > spacing.most:
            between = [come[day] for day in days if one < day < two]
            model.add_bool_or([come[one].negated(), come[two].negated(), *between])
    model.minimize(sum(come.values()))
    return optimum(model)


def windows_of(tasks: list[OpenTask]) -> list[tuple[date, date]]:
    return [(task.opens_on, task.closes_on) for task in tasks]


def terms(least: int | None, most: int | None = None) -> Terms:
    return Terms("weekly", WEEKDAYS, least_days=least, most_days=most)


def test_with_days_between_visits_no_plan_has_fewer_visits() -> None:
    chance = random.Random(5)
    compared = 0
    for _ in range(CASES):
        tasks = random_tasks(chance, chance.randrange(1, 9))
        least = chance.choice((2, 4, 7))
        exact = fewest_spaced_days(tasks, Spacing(least, 400))
        days = spaced_days(windows_of(tasks), terms(least), [])
        assert all(any(day in days_of(task) for day in days) for task in tasks)
        kept = all((two - one).days >= least for one, two in pairwise(days))
        # Where the windows leave a way to keep the spacing, it is kept; and the other way round.
        assert kept == (exact is not None)
        if exact is not None:
            assert len(days) == exact
            compared += 1
    assert compared > CASES / 4


def test_visits_come_often_enough_where_windows_allow_it() -> None:
    chance = random.Random(6)
    exact_total = found_total = feasible = kept = 0
    for _ in range(CASES):
        tasks = random_tasks(chance, chance.randrange(3, 9), longest_window=21)
        exact = fewest_spaced_days(tasks, Spacing(2, 9))
        if exact is None:
            continue
        feasible += 1
        bundles = bundle(tasks, terms(2, 9), today=TODAY)
        days = spaced_days(windows_of(tasks), terms(2, 9), [])
        if len(bundles) >= len(days) and all(2 <= (b - a).days <= 9 for a, b in pairwise(days)):
            kept += 1
            exact_total, found_total = exact_total + exact, found_total + len(days)
    print({"feasible": feasible, "kept": kept, "visits": found_total, "least": exact_total})
    assert feasible > CASES / 10
    assert kept >= 0.9 * feasible
    assert found_total <= 1.02 * exact_total


def test_whatever_days_dispatch_takes_the_spacing_is_kept() -> None:
    chance = random.Random(7)
    for _ in range(CASES):
        tasks = random_tasks(chance, 6)
        days = spaced_days(windows_of(tasks), terms(5), [])
        if any((two - one).days < 5 for one, two in pairwise(days)):
            continue
        spans = sorted((one.opens_on, one.closes_on) for one in bundle(tasks, terms(5), today=TODAY))
        assert all((later[0] - sooner[1]).days >= 5 for sooner, later in pairwise(spans))


def test_a_visit_keeps_away_from_the_day_people_were_told() -> None:
    window = (TODAY, TODAY + timedelta(9))
    told = TODAY + timedelta(5)
    task = OpenTask("one", "one", window[0], told, window[1], minutes=30, people=1, skill="gardener")
    there = Existing("2026-W47.2", frozenset({"other"}), fixed=True, closes_on=told, day=told)
    (one,) = bundle([task], terms(4), existing=[there], today=TODAY)
    for day in allowed_days(one.opens_on, one.closes_on, WEEKDAYS):
        assert abs((day - told).days) >= 4


# --- What a crew can do -----------------------------------------------------------------------------

TEAMS = (
    Team(frozenset({"gardener", "irrigation_tech"}), people=2, longest_minutes=240),
    Team(frozenset({"gardener", "arborist"}), people=2, longest_minutes=200),
    Team(frozenset({"gardener"}), people=1, longest_minutes=150),
)


def can_do_alone(team: Team, task: OpenTask) -> bool:
    fits = task.person_minutes <= (team.longest_minutes or 0)
    return fits and task.skill in team.skills and task.people <= team.people


def fewest_visits(tasks: list[OpenTask]) -> int | None:
    """The fewest visits, each by a crew with the skills, the people and the time for all of its tasks."""
    model = cp_model.CpModel()
    count = len(tasks)
    used = [model.new_bool_var(f"used {v}") for v in range(count)]
    members: list[list[cp_model.IntVar]] = []
    for v in range(count):
        day = model.new_int_var(0, 100, f"day {v}")
        team = [model.new_bool_var(f"team {v} {k}") for k in range(len(TEAMS))]
        model.add_exactly_one(team)
        inside = [model.new_bool_var(f"{task.key} {v}") for task in tasks]
        members.append(inside)
        for task, chosen in zip(tasks, inside, strict=True):
            allowed = [[(d - TODAY).days] for d in days_of(task)]
            model.add_allowed_assignments([day], allowed).only_enforce_if(chosen)
            model.add_implication(chosen, used[v])
            for can, its in zip(team, TEAMS, strict=True):
                if task.skill not in its.skills or task.people > its.people:
                    model.add_bool_or([chosen.negated(), can.negated()])
        work = sum(task.person_minutes * chosen for task, chosen in zip(tasks, inside, strict=True))
        for can, its in zip(team, TEAMS, strict=True):
            model.add(work <= (its.longest_minutes or 0)).only_enforce_if(can)
    for number in range(count):
        model.add_exactly_one(inside[number] for inside in members)
    for one, two in pairwise(used):
        model.add_implication(two, one)
    model.minimize(sum(used))
    return optimum(model)


def test_with_skills_people_and_time_few_plans_have_fewer_visits() -> None:
    chance = random.Random(8)
    exact_total = found_total = optimal = 0
    for _ in range(CASES):
        tasks = random_tasks(chance, chance.randrange(2, 8))
        tasks = [task for task in tasks if any(can_do_alone(team, task) for team in TEAMS)]
        if not tasks:
            continue
        bundles = bundle(tasks, Terms("seasonal", WEEKDAYS, teams=TEAMS), today=TODAY)
        exact = fewest_visits(tasks)
        assert exact is not None
        assert len(bundles) >= exact
        exact_total, found_total = exact_total + exact, found_total + len(bundles)
        optimal += len(bundles) == exact
    print({"cases": CASES, "optimal": optimal, "visits": found_total, "least": exact_total})
    assert found_total <= 1.03 * exact_total


@pytest.mark.parametrize(("least", "most"), [(0, None), (8, 5), (None, 400)])
def test_days_between_visits_that_cannot_be_are_refused(least: int | None, most: int | None) -> None:
    with pytest.raises(ValueError, match="wanted 1 to 366"):
        terms(least, most)
