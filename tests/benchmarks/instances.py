"""Published routing instances: their formats, and a check of answers that shares no code with any solver.

Periodic instances (J.-F. Cordeau, M. Gendreau and G. Laporte, Networks 30 (1997) 105-119; with time
windows J.-F. Cordeau, G. Laporte and A. Mercier, Journal of the Operational Research Society 52
(2001) 928-936): a line of kind, vehicles a day, customers and days; for each day, or once for all,
longest duration and capacity, 0 for none; then the depot and each customer with number, x, y,
service, demand, frequency, number of patterns, the patterns and, where the kind has them, a time
window. A pattern is a number whose bits are days, the first day leftmost. Instances with time
windows on one day (M. Solomon, Operations Research 35 (1987) 254-265): a table after VEHICLE and one
after CUSTOMER. Their distances are cut to one decimal, as in the literature on optimal values.
"""

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import floor, hypot, inf
from pathlib import Path

TOLERANCE = 1e-6
Plan = Sequence[tuple[int, Sequence[int]]]
"""Routes: the day of each, and its customers in order."""


@dataclass(frozen=True, slots=True)
class Site:
    """The depot or a customer."""

    x: float
    y: float
    service: float
    demand: float
    opens: float
    closes: float
    patterns: tuple[frozenset[int], ...]


@dataclass(frozen=True, slots=True)
class Instance:
    """A published instance; site 0 is the depot."""

    name: str
    is_periodic: bool
    vehicles: int
    sites: tuple[Site, ...]
    longest: tuple[float, ...]  # for each day
    capacity: tuple[float, ...]

    @property
    def days(self) -> int:
        """How many days."""
        return len(self.longest)

    def distance(self, one: int, two: int) -> float:
        """Euclidean distance, cut to one decimal for instances of one day."""
        a, b = self.sites[one], self.sites[two]
        straight = hypot(a.x - b.x, a.y - b.y)
        return straight if self.is_periodic else floor(straight * 10 + 1e-9) / 10


# --- Reading ------------------------------------------------------------------------------------------


def read(file: Path, name: str) -> Instance:
    """Read an instance in either format."""
    text = file.read_text()
    return _one_day(text, name) if "VEHICLE" in text.upper() else _periodic(text, name)


def _numbers(lines: Iterable[str]) -> Iterator[list[float]]:
    for line in lines:
        words = line.split()
        if words and all(word.lstrip("+-")[:1].isdigit() or word[:1] == "." for word in words):
            yield [float(word) for word in words]


def _one_day(text: str, name: str) -> Instance:
    (vehicles, capacity), *rows = _numbers(text.splitlines())
    once = (frozenset({0}),)
    sites = (Site(x, y, s, demand, opens, closes, once) for _, x, y, demand, opens, closes, s in rows)
    return Instance(name, False, int(vehicles), tuple(sites), (inf,), (capacity,))


def _periodic(text: str, name: str) -> Instance:
    (_, vehicles, customers, days, *_), *rows = _numbers(text.splitlines())
    limits = [row for row in rows if len(row) == 2]
    if not limits or len(rows) - len(limits) < customers + 1:
        raise ValueError(f"{name}: {len(rows)} rows, wanted limits, a depot and {customers:g} customers")
    limits += [limits[-1]] * (int(days) - len(limits))
    sites = [_site(row, int(days)) for row in rows if len(row) > 2][: int(customers) + 1]
    longest, capacity = zip(*limits[: int(days)], strict=True)
    return Instance(
        name,
        True,
        int(vehicles),
        tuple(sites),
        tuple(limit or inf for limit in longest),
        tuple(limit or inf for limit in capacity),
    )


def _site(row: Sequence[float], days: int) -> Site:
    _, x, y, service, demand, _, count, *rest = row
    window = rest[int(count) :]
    opens, closes = (window[0], window[1]) if len(window) >= 2 else (0.0, inf)
    patterns = tuple(_days(int(number), days) for number in rest[: int(count)])
    return Site(x, y, service, demand, opens, closes or inf, patterns)


def _days(pattern: int, days: int) -> frozenset[int]:
    """Days of a pattern; the leftmost bit is the first day."""
    return frozenset(day for day in range(days) if pattern >> (days - 1 - day) & 1)


def best_known(folder: Path) -> dict[str, float]:
    """Best published values of the instances of a folder, by path below it, or by name alone.

    The list, `best_known.csv`, lies in the folder or in the one above.
    """
    for place, above in ((folder, ""), (folder.parent, f"{folder.name}/")):
        if (place / "best_known.csv").exists():
            with (place / "best_known.csv").open(newline="") as opened:
                rows = [(row["instance"], float(row["best_known"])) for row in csv.DictReader(opened)]
            return {name.removeprefix(above): value for name, value in rows}
    return {}


# --- Checking -----------------------------------------------------------------------------------------


def cost(instance: Instance, plan: Plan) -> float:
    """Distance of a plan, from the coordinates alone."""
    return sum(instance.distance(a, b) for _, stops in plan for a, b in pairwise([0, *stops, 0]) if stops)


def faults(instance: Instance, plan: Plan) -> Iterator[str]:
    """Every rule of the instance that a plan breaks."""
    served: dict[int, list[int]] = {}
    for day, stops in plan:
        for customer in stops:
            served.setdefault(customer, []).append(day)
    for customer, site in enumerate(instance.sites[1:], start=1):
        days = served.get(customer, [])
        if len(days) != len(set(days)) or frozenset(days) not in site.patterns:
            yield f"customer {customer} is served on days {sorted(days)}, none of its patterns"
    for day in range(instance.days):
        used = sum(1 for when, stops in plan if when == day and stops)
        if used > instance.vehicles:
            yield f"day {day} uses {used} vehicles of {instance.vehicles}"
    for day, stops in plan:
        yield from (
            f"day {day}, route {list(stops)}: {fault}" for fault in _route_faults(instance, day, stops)
        )


def _route_faults(instance: Instance, day: int, stops: Sequence[int]) -> Iterator[str]:
    load = sum(instance.sites[stop].demand for stop in stops)
    if load > instance.capacity[day] + TOLERANCE:
        yield f"load {load:g} of {instance.capacity[day]:g}"
    returns, late = _drive(instance, stops, instance.sites[0].opens)
    yield from (f"customer {stop} is reached too late" for stop in late)
    if returns > instance.sites[0].closes + TOLERANCE:
        yield f"returns at {returns:g}"
    shortest = _shortest(instance, stops, returns)
    if shortest > instance.longest[day] + TOLERANCE:
        yield f"takes {shortest:g} of {instance.longest[day]:g}"


def _drive(instance: Instance, stops: Sequence[int], leaves: float) -> tuple[float, list[int]]:
    """Moment of return and customers reached too late, when the vehicle leaves at a moment."""
    clock, late = leaves, []
    for before, here in pairwise([0, *stops]):
        site = instance.sites[here]
        clock = max(clock + instance.distance(before, here), site.opens)
        if clock > site.closes + TOLERANCE:
            late.append(here)
        clock += site.service
    return clock + (instance.distance(stops[-1], 0) if stops else 0.0), late


def _shortest(instance: Instance, stops: Sequence[int], returns: float) -> float:
    """Least time away from the depot: the last departure, by halving, that returns as early as the first."""
    low, high = instance.sites[0].opens, returns
    for _ in range(60):
        middle = (low + high) / 2
        back, late = _drive(instance, stops, middle)
        if back <= returns + 1e-9 and not late:
            low = middle
        else:
            high = middle
    return returns - low
