"""Two known engines on the same instances, seconds and core, each told the problem as it can be told.

OR-Tools routing has no patterns: a vehicle of each day stands for itself, a customer wanted f times
is f copies, each copy's day follows from its vehicle, and the days of the copies are held to one
of the patterns by a table. Copies are bound to days where all patterns agree. A copy may be left
out for more than any detour, so that there is a first plan where vehicles are tight. Search:
parallel cheapest insertion, then guided local search. Lengths are thousandths, times rounded up, so
that what it answers holds in true lengths.

PyVRP has no patterns either, only groups of which one member is served. It is asked where that is
enough: customers wanted once, or on the same days in every pattern. A day is a stretch of one
clock, and a vehicle of a day works in that stretch alone.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import product
from math import ceil, inf, isfinite
from time import process_time
from typing import Any

import numpy as np
import pyvrp
from ortools.constraint_solver import pywrapcp, routing_enums_pb2
from pyvrp.stop import StoppingCriterion

from tests.benchmarks.instances import Instance, Site

UNIT = 1000
LEFT_OUT = -1


@dataclass(frozen=True, slots=True)
class Peer:
    """What an engine answered: a plan, or none and why."""

    plan: list[tuple[int, list[int]]]
    cpu_seconds: float
    note: str


# --- OR-Tools -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Copies:
    """Every visit of every customer: the customer of each node (0: depot), and which of its copies it is."""

    nodes: list[int]
    numbers: list[int]


def _copies(instance: Instance) -> Copies:
    pairs = [(0, 0)]
    for customer, site in enumerate(instance.sites[1:], start=1):
        pairs += [(customer, number) for number in range(len(site.patterns[0]))]
    return Copies([customer for customer, _ in pairs], [number for _, number in pairs])


def ortools(instance: Instance, seconds: float, seed: int) -> Peer:
    """The plan of OR-Tools routing after some processor seconds."""
    begun, copies = process_time(), _copies(instance)
    manager, routing = _model(instance, copies)
    routing.AddSearchMonitor(routing.solver().CustomLimit(_ProcessorLimit(begun + seconds)))
    routing.solver().ReSeed(seed)
    answer = routing.SolveWithParameters(_parameters(seconds))
    plan = _plan_of(instance, copies, manager, routing, answer) if answer is not None else []
    left_out = len(copies.nodes) - 1 - sum(len(stops) for _, stops in plan)
    if left_out:
        return Peer([], process_time() - begun, f"{left_out} visits left out")
    return Peer(plan, process_time() - begun, "a vehicle for each day, copies held to patterns")


class _ProcessorLimit:
    """Ends a search by the clock of the processor."""

    def __init__(self, ends: float) -> None:
        self.ends, self.calls, self.is_over = ends, 0, False

    def __call__(self) -> bool:
        self.calls += 1
        if not self.is_over and self.calls % 20 == 0:
            self.is_over = process_time() >= self.ends
        return self.is_over


def _parameters(seconds: float) -> object:
    parameters = pywrapcp.DefaultRoutingSearchParameters()
    parameters.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
    parameters.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    parameters.time_limit.FromSeconds(int(seconds * 20) + 1)  # the processor's clock ends it before
    return parameters


def _model(instance: Instance, copies: Copies) -> tuple[pywrapcp.RoutingIndexManager, pywrapcp.RoutingModel]:
    fleet = [day for day in range(instance.days) for _ in range(instance.vehicles)]
    manager = pywrapcp.RoutingIndexManager(len(copies.nodes), len(fleet), 0)
    routing = pywrapcp.RoutingModel(manager)
    lengths = [[instance.distance(a, b) for b in copies.nodes] for a in copies.nodes]
    costs = [[round(length * UNIT) for length in row] for row in lengths]
    routing.SetArcCostEvaluatorOfAllVehicles(routing.RegisterTransitMatrix(costs))
    if any(map(isfinite, instance.capacity)):
        demands = [ceil(instance.sites[customer].demand * UNIT) for customer in copies.nodes]
        rooms = [_whole(instance.capacity[day]) for day in fleet]
        call = routing.RegisterUnaryTransitVector(demands)
        routing.AddDimensionWithVehicleCapacity(call, 0, rooms, True, "load")
    if any(map(isfinite, instance.longest)) or _has_windows(instance):
        _add_clock(instance, copies, fleet, manager, routing)
    _add_patterns(instance, copies, fleet, manager, routing)
    return manager, routing


def _whole(value: float) -> int:
    return int(value * UNIT) if isfinite(value) else 10**9


def _has_windows(instance: Instance) -> bool:
    return any(isfinite(site.closes) for site in instance.sites)


def _add_clock(
    instance: Instance,
    copies: Copies,
    fleet: list[int],
    manager: pywrapcp.RoutingIndexManager,
    routing: pywrapcp.RoutingModel,
) -> None:
    """Time with waiting, windows at customers and depot, and the longest span of a route."""
    times = [
        [ceil((instance.sites[a].service + instance.distance(a, b)) * UNIT) for b in copies.nodes]
        for a in copies.nodes
    ]
    horizon = _whole(instance.sites[0].closes)
    routing.AddDimension(routing.RegisterTransitMatrix(times), horizon, horizon, False, "clock")
    clock = routing.GetDimensionOrDie("clock")
    for node, customer in enumerate(copies.nodes[1:], start=1):
        site = instance.sites[customer]
        closes = min(_whole(site.closes), horizon)
        clock.CumulVar(manager.NodeToIndex(node)).SetRange(ceil(site.opens * UNIT), closes)
    for vehicle, day in enumerate(fleet):
        if isfinite(instance.longest[day]):
            clock.SetSpanUpperBoundForVehicle(_whole(instance.longest[day]), vehicle)
        routing.AddVariableMinimizedByFinalizer(clock.CumulVar(routing.End(vehicle)))
        routing.AddVariableMaximizedByFinalizer(clock.CumulVar(routing.Start(vehicle)))


def _add_patterns(
    instance: Instance,
    copies: Copies,
    fleet: list[int],
    manager: pywrapcp.RoutingIndexManager,
    routing: pywrapcp.RoutingModel,
) -> None:
    solver = routing.solver()
    of_customer: dict[int, list[int]] = {}
    for node, customer in enumerate(copies.nodes[1:], start=1):
        of_customer.setdefault(customer, []).append(manager.NodeToIndex(node))
    dear = 20 * UNIT * ceil(max(instance.distance(0, customer) for customer in of_customer) + 1)
    for customer, indexes in of_customer.items():
        patterns = [sorted(pattern) for pattern in instance.sites[customer].patterns]
        for number, index in enumerate(indexes):
            days = {pattern[number] for pattern in patterns}
            vehicles = [vehicle for vehicle, day in enumerate(fleet) if day in days]
            routing.AddDisjunction([index], dear)
            routing.VehicleVar(index).SetValues([LEFT_OUT, *vehicles])
        if len(indexes) > 1 and len(patterns) > 1:
            # The element before the first stands for a copy that no vehicle serves.
            days_of = [solver.Element([LEFT_OUT, *fleet], routing.VehicleVar(i) + 1).Var() for i in indexes]
            solver.Add(solver.AllowedAssignments(days_of, _partly_served(patterns)))


def _partly_served(patterns: list[list[int]]) -> list[list[int]]:
    """Patterns with any of their days left out, so that copies can be put in one by one."""
    rows = (product(*((day, LEFT_OUT) for day in pattern)) for pattern in patterns)
    return [list(row) for row in sorted({row for own in rows for row in own})]


def _plan_of(
    instance: Instance,
    copies: Copies,
    manager: pywrapcp.RoutingIndexManager,
    routing: pywrapcp.RoutingModel,
    answer: pywrapcp.Assignment,
) -> list[tuple[int, list[int]]]:
    plan = []
    for vehicle in range(instance.days * instance.vehicles):
        stops, index = [], answer.Value(routing.NextVar(routing.Start(vehicle)))
        while not routing.IsEnd(index):
            stops.append(copies.nodes[manager.IndexToNode(index)])
            index = answer.Value(routing.NextVar(index))
        plan.append((vehicle // instance.vehicles, stops))
    return [(day, stops) for day, stops in plan if stops]


# --- PyVRP --------------------------------------------------------------------------------------------


class _ProcessorStop(StoppingCriterion):
    """Ends PyVRP by the clock of the processor."""

    def __init__(self, seconds: float) -> None:
        self.ends = process_time() + seconds

    def __call__(self, best_cost: float) -> bool:
        return process_time() >= self.ends


def only_groups(site: Site) -> bool:
    """Whether one member of a group, or a fixed set of days, says what a customer may have."""
    return len(site.patterns) == 1 or all(len(pattern) == 1 for pattern in site.patterns)


def vrp(instance: Instance, seconds: float, seed: int) -> Peer:
    """The plan of PyVRP after some processor seconds, where groups can say the problem."""
    if not all(only_groups(site) for site in instance.sites[1:]):
        return Peer([], 0.0, "patterns of several days cannot be told")
    begun, copies = process_time(), _day_copies(instance)
    result = pyvrp.solve(
        _table(instance, copies), _ProcessorStop(seconds), seed=seed, collect_stats=False, display=False
    )
    if not result.best.is_feasible():
        return Peer([], process_time() - begun, "no plan found")
    plan = [
        (
            route.vehicle_type(),
            [copies[step.idx][0] for step in route.schedule() if step.is_client()],
        )
        for route in result.best.routes()
    ]
    return Peer(plan, process_time() - begun, "groups over days")


def _day_copies(instance: Instance) -> list[tuple[int, int]]:
    return [
        (customer, day)
        for customer, site in enumerate(instance.sites[1:], start=1)
        for day in sorted(frozenset().union(*site.patterns))
    ]


def _table(instance: Instance, copies: list[tuple[int, int]]) -> pyvrp.ProblemData:
    count = range(len(instance.sites))
    lengths: Any = np.array([[round(instance.distance(a, b) * UNIT) for b in count] for a in count])
    stretch = _stretch(instance)
    chosen = [c for c, site in enumerate(instance.sites) if len(site.patterns) > 1]
    groups = {customer: number for number, customer in enumerate(chosen)}
    members = [[n for n, (customer, _) in enumerate(copies) if customer == one] for one in chosen]
    return pyvrp.ProblemData(
        locations=[pyvrp.Location(0, 0) for _ in count],
        clients=[_client(instance, copy, stretch, groups) for copy in copies],
        depots=[pyvrp.Depot(0)],
        vehicle_types=[_vehicles(instance, day, stretch) for day in range(instance.days)],
        distance_matrices=[lengths],
        duration_matrices=[lengths],
        groups=[pyvrp.ClientGroup(own) for own in members],
    )


def _stretch(instance: Instance) -> int:
    """Length of a day on the one clock: no route can be longer."""
    if _has_windows(instance):
        return _whole(instance.sites[0].closes) + 1
    work = sum(site.service for site in instance.sites)
    far = max(instance.distance(0, c) for c in range(len(instance.sites)))
    return _whole(work + 4 * far * len(instance.sites)) + 1


def _client(
    instance: Instance, copy: tuple[int, int], stretch: int, groups: Mapping[int, int]
) -> pyvrp.Client:
    customer, day = copy
    site = instance.sites[customer]
    return pyvrp.Client(
        customer,
        [_whole(site.demand)],
        service_duration=_whole(site.service),
        tw_early=day * stretch + _whole(site.opens),
        tw_late=day * stretch + min(_whole(site.closes), stretch - 1),
        required=customer not in groups,
        group=groups.get(customer),
    )


def _vehicles(instance: Instance, day: int, stretch: int) -> pyvrp.VehicleType:
    longest = instance.longest[day]
    limits: dict[str, Any] = {} if longest == inf else {"shift_duration": _whole(longest)}
    return pyvrp.VehicleType(
        instance.vehicles,
        [_whole(instance.capacity[day])],
        tw_early=day * stretch,
        tw_late=(day + 1) * stretch - 1,
        unit_distance_cost=1,
        **limits,
    )


PEERS: Mapping[str, Callable[[Instance, float, int], Peer]] = {"ortools": ortools, "pyvrp": vrp}
