"""The search over days against proven optima, and what it promises of every plan.

The optima come from OR-Tools CP-SAT, one circuit for each slot, and from trying every order; both
are written here and share no code with the search.
"""

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise, permutations, product
from math import inf, isfinite

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from landscape_care.dispatch import kernel, periodic
from landscape_care.dispatch.periodic import Effort, PeriodProblem, PeriodVisit, Slot

ENOUGH = Effort(iterations=20_000)


# --- Made problems ------------------------------------------------------------------------------------


def random_problem(seed: int, *, visits: int, slots: tuple[int, int], windows: bool) -> PeriodProblem:
    """Whole minutes and loads, so that a solver of whole numbers proves the same optimum."""
    chance = np.random.default_rng(seed)
    days, crews = slots
    drive = chance.integers(3, 40, (visits + 2, visits + 2)).astype(float)
    np.fill_diagonal(drive, 0)
    choices = [tuple(pair) for pair in combinations(range(days), 2)] if days > 2 else [tuple(range(days))]
    once = [(day,) for day in range(days)]
    made = []
    for number in range(visits):
        opens = int(chance.integers(0, 120)) if windows else 0
        made.append(
            PeriodVisit(
                number + 2,
                tuple(choices if chance.random() < 0.3 else once),
                (float(chance.integers(5, 30)), float(chance.integers(5, 30))),
                opens,
                (opens + 90.0, opens + 80.0) if windows else (inf, inf),
                (float(chance.integers(1, 6)),),
            )
        )
    fleet = tuple(
        Slot(day, crew % 2, crew % 2, 0, 300 if windows else inf, 170, (9.0,), crew % 2)
        for day in range(days)
        for crew in range(crews)
    )
    price = chance.choice([0.0, 0.0, 0.0, 7.0, inf], (visits, days * crews))
    return PeriodProblem(drive, drive, tuple(made), fleet, price)


# --- Proven optima ------------------------------------------------------------------------------------


class Proof:
    """The problem as CP-SAT has it: a circuit for each slot, sums of patterns, a clock for each stop."""

    def __init__(self, problem: PeriodProblem) -> None:
        self.problem, self.model = problem, cp_model.CpModel()
        self.costs: list[cp_model.LinearExpr] = []
        count = range(len(problem.visits))
        self.serves = {
            (i, r): self.model.new_bool_var(f"serves {i} {r}")
            for i in count
            for r in range(len(problem.slots))
        }
        for r in range(len(problem.slots)):
            self.add_slot(r)
        for i in count:
            self.add_patterns(i)

    def add_slot(self, r: int) -> None:
        problem, model, slot = self.problem, self.model, self.problem.slots[r]
        nodes = [slot.starts_at, *(visit.place for visit in problem.visits)]
        clock = [model.new_int_var(0, 1000, f"clock {r} {n}") for n in range(len(nodes))]
        returns = model.new_int_var(0, int(min(slot.returns_minute, 1000)), f"returns {r}")
        arcs = []
        for a, b in product(range(len(nodes)), repeat=2):
            if a == b:
                stays = self.serves[a - 1, r].negated() if a else model.new_bool_var(f"unused {r}")
                arcs.append((a, a, stays))
                continue
            used = model.new_bool_var(f"arc {r} {a} {b}")
            arcs.append((a, b, used))
            drive = int(problem.drive_cost[nodes[a], nodes[b] if b else slot.ends_at])
            work = int(problem.visits[a - 1].work_minutes[slot.kind]) if a else 0
            model.add((clock[b] if b else returns) >= clock[a] + work + drive).only_enforce_if(used)
            self.costs.append(drive * used)
        model.add_circuit(arcs)
        model.add(returns - clock[0] <= int(min(slot.longest_minutes, 1000)))
        model.add(
            sum(int(v.load[0]) * self.serves[i, r] for i, v in enumerate(problem.visits)) <= int(slot.room[0])
        )
        for i, visit in enumerate(problem.visits):
            self.add_stop(i, r, clock[i + 1], visit)

    def add_stop(self, i: int, r: int, clock: cp_model.IntVar, visit: PeriodVisit) -> None:
        kind, price = self.problem.slots[r].kind, self.problem.prices[i, r]
        if not isfinite(price):
            self.model.add(self.serves[i, r] == 0)
            return
        self.model.add(clock >= int(visit.opens_minute))
        self.model.add(clock <= int(min(visit.latest_minute[kind], 1000)))
        self.costs.append(int(price) * self.serves[i, r])

    def add_patterns(self, i: int) -> None:
        patterns = self.problem.visits[i].patterns
        chosen = [self.model.new_bool_var(f"pattern {i} {n}") for n in range(len(patterns))]
        self.model.add_exactly_one(chosen)
        for day in range(self.problem.days):
            here = [self.serves[i, r] for r, slot in enumerate(self.problem.slots) if slot.day == day]
            wanted = sum(one for one, pattern in zip(chosen, patterns, strict=True) if day in pattern)
            self.model.add(sum(here) == wanted)

    def optimum(self) -> float | None:
        """Least cost, or None where nobody can serve everything."""
        self.model.minimize(sum(self.costs))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = 60
        status = solver.solve(self.model)
        assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
        return solver.objective_value if status == cp_model.OPTIMAL else None


@pytest.mark.parametrize("windows", [False, True], ids=["lengths", "windows"])
def test_small_periods_reach_the_optimum_that_cp_sat_proves(windows: bool) -> None:
    proven = 0
    for seed in range(8):
        problem = random_problem(seed, visits=6, slots=(3, 2), windows=windows)
        best = Proof(problem).optimum()
        found = periodic.solve(problem, ENOUGH)
        if best is None:
            assert None in found.patterns
            continue
        proven += 1
        assert None not in found.patterns
        assert found.cost == pytest.approx(best), f"seed {seed}"
    assert proven >= 4


# --- Every order tried --------------------------------------------------------------------------------


def price_of(problem: PeriodProblem, r: int, stops: Sequence[int]) -> float:
    """What a route costs, from the moment of leaving to the overtime; infinite when it cannot be driven."""
    if not stops:
        return 0.0
    slot = problem.slots[r]
    places = [slot.starts_at, *(problem.visits[i].place for i in stops), slot.ends_at]
    clock = slot.leaves_minute
    for i, (before, here) in zip(stops, pairwise(places[:-1]), strict=True):
        visit = problem.visits[i]
        clock = max(clock + problem.drive_minutes[before, here], visit.opens_minute)
        if clock > visit.latest_minute[slot.kind]:
            return inf
        clock += visit.work_minutes[slot.kind]
    clock += problem.drive_minutes[places[-2], places[-1]]
    if clock > slot.returns_minute:
        return inf
    overtime = max(0.0, clock - slot.paid_until_minute) * slot.overtime_price
    drive = sum(problem.drive_cost[a, b] for a, b in pairwise(places))
    return float(drive + slot.used_price + overtime + sum(problem.prices[i, r] for i in stops))


def cheapest(problem: PeriodProblem) -> float:
    """Least cost with prizes of what is left out, by trying every assignment and every order."""
    count, slots = len(problem.visits), len(problem.slots)
    route = {
        (r, chosen): min(price_of(problem, r, order) for order in permutations(chosen))
        for r in range(slots)
        for size in range(count + 1)
        for chosen in combinations(range(count), size)
    }
    plans = product(range(slots + 1), repeat=count)
    return min(
        sum(route[r, tuple(i for i in range(count) if plan[i] == r)] for r in range(slots))
        + sum(problem.visits[i].prize for i in range(count) if plan[i] == slots)
        for plan in plans
    )


def optional_work(seed: int) -> PeriodProblem:
    """Two crews of one day, overtime, a price for using a crew, and work that may be left out."""
    chance = np.random.default_rng(seed)
    drive = chance.uniform(3, 40, (7, 7))
    visits = tuple(
        PeriodVisit(
            place,
            ((0,),),
            (float(chance.uniform(10, 40)),),
            float(chance.uniform(0, 60)),
            (float(chance.uniform(80, 200)),),
            (),
            float(chance.uniform(20, 120)),
        )
        for place in range(2, 7)
    )
    slots = tuple(
        Slot(0, depot, depot, 0, 200, used_price=15, paid_until_minute=120, overtime_price=0.7)
        for depot in (0, 1)
    )
    return PeriodProblem(drive, drive, visits, slots, chance.choice([0.0, 0.0, 9.5], (5, 2)))


@pytest.mark.parametrize("seed", range(6))
def test_overtime_prices_and_prizes_reach_the_best_of_all_orders(seed: int) -> None:
    problem = optional_work(seed)
    found = periodic.solve(problem, ENOUGH)
    left_out = sum(v.prize for v, p in zip(problem.visits, found.patterns, strict=True) if p is None)
    assert found.cost + left_out == pytest.approx(cheapest(problem))
    assert found.cost == pytest.approx(
        sum(price_of(problem, r, stops) for r, stops in enumerate(found.order))
    )


# --- Laws ---------------------------------------------------------------------------------------------


@st.composite
def periods(draw: st.DrawFn) -> PeriodProblem:
    return random_problem(
        draw(st.integers(0, 10_000)),
        visits=draw(st.integers(1, 14)),
        slots=(draw(st.integers(1, 4)), draw(st.integers(1, 3))),
        windows=draw(st.booleans()),
    )


def broken(problem: PeriodProblem, answer: periodic.PeriodAnswer) -> Iterator[str]:
    """Rules that an answer breaks, told without the words of the product."""
    for i, visit in enumerate(problem.visits):
        days = [problem.slots[r].day for r, stops in enumerate(answer.order) for s in stops if s == i]
        pattern = answer.patterns[i]
        if sorted(days) != ([] if pattern is None else sorted(visit.patterns[pattern])):
            yield f"visit {i} on {days}"
    for r, stops in enumerate(answer.order):
        if sum(problem.visits[i].load[0] for i in stops) > problem.slots[r].room[0]:
            yield f"slot {r} carries too much"
        if not isfinite(price_of(problem, r, stops)):
            yield f"slot {r} cannot be driven"
        leaves = (price_of(_leaving(problem, r, at), r, stops) for at in range(301))
        if stops and not any(isfinite(price) for price in leaves):
            yield f"slot {r} is longer than it may be"


def _leaving(problem: PeriodProblem, r: int, minute: int) -> PeriodProblem:
    """The problem with one slot that leaves at a minute and is back in its longest time."""
    one = problem.slots[r]
    back = min(one.returns_minute, minute + one.longest_minutes)
    slots = list(problem.slots)
    slots[r] = Slot(one.day, one.starts_at, one.ends_at, minute, back, inf, one.room, one.kind)
    return PeriodProblem(
        problem.drive_cost, problem.drive_minutes, problem.visits, tuple(slots), problem.price
    )


@settings(deadline=None, max_examples=40)
@given(periods(), st.integers(0, 400))
def test_no_plan_breaks_a_rule(problem: PeriodProblem, iterations: int) -> None:
    found = periodic.solve(problem, Effort(iterations, seed=iterations))
    assert list(broken(problem, found)) == []
    assert list(periodic.faults(problem, found.order)) == []


@settings(deadline=None, max_examples=30)
@given(periods(), st.randoms(use_true_random=False))
def test_a_search_from_any_heap_of_visits_ends_in_a_true_plan(problem: PeriodProblem, chance: object) -> None:
    numbers = np.random.default_rng(int(getattr(chance, "randint")(0, 9999)))  # noqa: B009
    heap = tuple(
        tuple(int(i) for i in numbers.permutation(len(problem.visits))[: numbers.integers(0, 5)])
        for _ in problem.slots
    )
    found = periodic.solve(problem, Effort(50), heap)
    assert list(broken(problem, found)) == []


def test_a_sound_plan_that_is_given_is_never_made_dearer() -> None:
    for seed in range(5):
        problem = random_problem(seed, visits=9, slots=(3, 3), windows=True)
        first = periodic.solve(problem, Effort(20, seed=seed))
        again = periodic.solve(problem, Effort(0), first.order)
        assert again.order == first.order or None in first.patterns
        better = periodic.solve(problem, Effort(500), first.order)
        assert better.patterns.count(None) <= first.patterns.count(None)
        assert better.cost <= first.cost + 1e-9 or better.patterns.count(None) < first.patterns.count(None)


def test_the_same_seed_and_iterations_give_the_same_plan_and_another_seed_may_not() -> None:
    problem = random_problem(3, visits=40, slots=(5, 3), windows=False)
    first = periodic.solve(problem, Effort(3_000, seed=4))
    assert periodic.solve(problem, Effort(3_000, seconds=600, seed=4)) == first
    assert first.by_iterations
    assert periodic.solve(problem, Effort(3_000, seed=5)).order != first.order


def test_a_clock_that_runs_out_ends_the_search_and_says_so() -> None:
    problem = random_problem(3, visits=20, slots=(3, 3), windows=False)
    moments = iter(range(10_000))
    found = periodic.solve(problem, Effort(10**9, seconds=5, clock=lambda: float(next(moments))))
    assert not found.by_iterations
    assert 0 < found.iterations <= 5 * periodic.ITERATIONS_BETWEEN_LOOKS


def test_whoever_watches_can_stop_and_keeps_the_best() -> None:
    problem = random_problem(3, visits=20, slots=(3, 3), windows=False)
    seen: list[periodic.Progress] = []

    def watch(progress: periodic.Progress) -> bool:
        seen.append(progress)
        return len(seen) < 3

    found = periodic.solve(problem, Effort(10**9, watch=watch))
    assert found.iterations == 2 * periodic.ITERATIONS_BETWEEN_LOOKS
    assert found.cost == pytest.approx(seen[-1].cost)
    assert list(broken(problem, found)) == []


def test_a_month_without_visits_or_crews_has_an_empty_plan() -> None:
    still = np.zeros((1, 1))
    assert periodic.solve(PeriodProblem(still, still, (), (Slot(0),)), ENOUGH).order == ((),)
    alone = PeriodProblem(still, still, (PeriodVisit(0, ((0,),)),), ())
    assert periodic.solve(alone, ENOUGH).patterns == (None,)


def test_a_function_whose_code_cannot_be_kept_is_compiled_all_the_same() -> None:
    names: dict[str, object] = {}
    exec("def next_one(number):\n    return number + 1", names)  # noqa: S102 - it lies in no file
    assert kernel.compiled(names["next_one"])(41) == 42  # type: ignore[type-var, operator]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Slot(62), "day 62, wanted 0 to 61"),
        (lambda: Slot(0, leaves_minute=60, returns_minute=30), "wanted in that order"),
        (lambda: Slot(0, room=(-1.0,)), "wanted 0 or more"),
        (lambda: PeriodVisit(0, ()), "wanted days in each"),
        (lambda: PeriodVisit(0, ((),)), "wanted days in each"),
        (lambda: PeriodVisit(0, ((-1,),)), "wanted 0 to 61"),
        (lambda: PeriodVisit(0, ((0,),), (-5.0,)), "wanted 0 or more"),
        (lambda: PeriodVisit(0, ((0,),), (5.0, 5.0)), "one for each kind"),
        (lambda: Effort(seconds=0), "seconds 0"),
        (lambda: period(drive=np.zeros((2, 3))), "square"),
        (lambda: period(drive=np.full((2, 2), inf)), "no number"),
        (lambda: period(visits=(PeriodVisit(7, ((0,),)),)), "wanted 0 to 1"),
        (lambda: period(slots=(Slot(1), Slot(0))), "out of order"),
        (lambda: period(slots=(Slot(0, kind=1),)), "each kind of slot"),
        (lambda: period(slots=(Slot(0, room=(3.0,)),)), "the same everywhere"),
        (lambda: period(price=np.zeros((2, 2))), "visits by slots"),
    ],
)
def test_nonsense_is_refused_in_words(make: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()  # type: ignore[operator]


def period(
    drive: np.ndarray[tuple[int, int], np.dtype[np.float64]] | None = None,
    visits: tuple[PeriodVisit, ...] = (PeriodVisit(1, ((0,),)),),
    slots: tuple[Slot, ...] = (Slot(0),),
    price: np.ndarray[tuple[int, int], np.dtype[np.float64]] | None = None,
) -> PeriodProblem:
    """A period of one visit, but for what is named."""
    table = np.zeros((2, 2)) if drive is None else drive
    return PeriodProblem(table, table, visits, slots, price)
