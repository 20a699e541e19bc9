"""Ruin and recreate over all days of a period, compiled: arrays in, arrays out.

The method is slack induction by string removals (J. Christiaens and G. Vanden Berghe, 'Slack
induction by string removals for vehicle routing problems', Transportation Science 54 (2020)
417-433): strings of neighbouring stops are taken off routes that pass near each other, put back
greedily with an occasional blink, and the result is kept by simulated annealing. Days are added to
it here: a visit goes back on the cheapest of its patterns, the sets of days on which it may be
served. One insertion test holds three rules: pattern and crew, capacity, and duration and time
windows by joining segments (T. Vidal, T. Crainic, M. Gendreau and C. Prins, 'A unified solution
framework for multi-attribute vehicle routing problems', European Journal of Operational Research
234 (2014) 658-673, equations for duration, earliest and latest start).

What an insertion costs on a route that did not change since it was last asked is remembered, so
that an iteration computes only around its strings.

`periodic` is the door to this module; it checks what comes in. Shapes: N visits, R slots (one crew
or vehicle on one day, sorted by day), P places, T days, K kinds of load, L most stops of a route.
"""

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Counts = NDArray[np.int32]
Long = NDArray[np.int64]

Function = TypeVar("Function", bound=Callable[..., Any])

NEVER = 1e18
SLACK = 1e-7  # sums of floats in another order differ by less
ABSENT = -1
BOLD, BOLD_SHARE = 20.0, 0.1  # one iteration in ten blinks more often, which small problems need


def _made(function: Function, **options: bool) -> Function:
    """Compile a function; the machine code is kept where a folder for it can be written.

    Nothing here makes arrays, so they need not be counted: without counting it is six times as fast.
    """
    compiler: Callable[..., Any] = njit
    try:
        made: Function = compiler(cache=True, nogil=True, _nrt=False, **options)(function)
    except RuntimeError:  # neither beside the module nor at home may anything be written
        made = compiler(nogil=True, _nrt=False, **options)(function)
    return made


def compiled(function: Function) -> Function:
    """Compile a function that Python calls, or that is called from many places."""
    return _made(function)


def folded(function: Function) -> Function:
    """Compile a function into each place that calls it: handing on all tables costs more than it does."""
    return _made(function, forceinline=True)


class Tables(NamedTuple):
    """The problem; nothing here is changed."""

    drive: Floats  # [P, P] what a leg costs
    minutes: Floats  # [P, P] how long it takes
    place: Counts  # [N] where a visit is
    load: Floats  # [N, K]
    opens: Floats  # [N] earliest start of work
    latest: Floats  # [N, C] latest start of work for each class of slots
    work: Floats  # [N, C] minutes of work for each class of slots
    prize: Floats  # [N] what it costs to leave a visit out
    price: Floats  # [N, R] what it costs to serve a visit by a slot, NEVER where it may not be
    pattern_from: Long  # [N + 1] where the patterns of a visit begin
    pattern: Long  # [.] patterns as bits of days
    days: Long  # [N] all days of all patterns as bits
    near: Counts  # [N, W] visits by distance, itself first
    day_from: Long  # [T + 1] where the slots of a day begin
    day: Counts  # [R]
    starts_at: Counts  # [R] place
    ends_at: Counts  # [R] place
    leaves: Floats  # [R] earliest departure
    returns: Floats  # [R] latest return
    longest: Floats  # [R] longest duration
    room: Floats  # [R, K]
    kind: Counts  # [R] class of slots in `latest` and `work`
    twin: Counts  # [R] equal numbers for slots of a day that are alike
    used_price: Floats  # [R] what a slot costs when it has a stop
    paid_until: Floats  # [R] moment after which overtime counts
    overtime_price: Floats  # [R] a minute
    timed: Long  # [1] 1 where time windows or overtime decide, else durations alone


class Plan(NamedTuple):
    """A plan: orders of visits, with their patterns and what each route costs."""

    stops: Counts  # [R, L + 2] visits, from position 1
    length: Counts  # [R] stops of each route
    cost: Floats  # [R]
    chosen: Counts  # [N] number of the pattern, ABSENT for a visit left out
    total: Floats  # [1]


class Clock(NamedTuple):
    """What is known of the routes of the plan that is worked on."""

    at: Counts  # [R, L + 2] places of the stops, start and end included
    carried: Floats  # [R, K]
    minutes: Floats  # [R] duration of a route
    head: Floats  # [R, L + 2, 3] duration, earliest, latest start of the stops so far
    tail: Floats  # [R, L + 2, 3] the same from here to the end
    where: Counts  # [N, T] slot that serves a visit on a day, ABSENT for none
    cheapest: Floats  # [N, R] what an insertion costs at least
    position: Counts  # [N, R] and where
    asked: Long  # [N, R] the stamp of the route when that was computed
    stamp: Long  # [R] changes with the route
    stop: Floats  # [3] scratch: one stop as a segment


class Notes(NamedTuple):
    """Scratch paper of one iteration, and the random state."""

    out: Counts  # [N] visits taken out
    rank: Floats  # [N] their order of return
    gone: Counts  # [N] 1 for those taken out
    dirty: Counts  # [R] 1 for routes touched
    touched: Counts  # [R] their list
    struck: Counts  # [R] 1 for routes that gave a string
    size: Long  # [4] number out, number touched, stamps given, most stops of a route
    slot: Counts  # [T] best slot on each day
    spot: Counts  # [T] and position
    fee: Floats  # [T] and price
    random: NDArray[np.uint64]  # [1]


class Search(NamedTuple):
    """A search that can be gone on with: what is worked on, what is kept, the best."""

    tables: Tables
    work: Plan
    kept: Plan
    best: Plan
    clock: Clock
    notes: Notes


class Settings(NamedTuple):
    """How the search behaves."""

    removed: float  # mean number of visits taken out
    string: float  # longest string
    blink: float  # chance to pass over a route
    one_day: float  # chance that an iteration keeps all patterns and works on one day
    same_day: float  # chance that the strings of an iteration are all of one day


# --- Chance ------------------------------------------------------------------------------------------


@folded
def chance(random: NDArray[np.uint64]) -> float:
    """A number from 0 to 1 (xorshift64*, S. Vigna, ACM Transactions on Mathematical Software 42 (2016))."""
    x = random[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    random[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@folded
def below(random: NDArray[np.uint64], count: int) -> int:
    """A whole number from 0 to count - 1."""
    return int(chance(random) * count)


# --- The clock of a route ----------------------------------------------------------------------------


@folded
def join(one: Floats, two: Floats, drive: float, into: Floats) -> None:
    """Join two segments with a drive between them (Vidal et al. 2014): duration, earliest, latest start."""
    so_far = one[0] + drive
    wait = max(0.0, two[1] - so_far - one[2])
    earliest = max(two[1] - so_far, one[1]) - wait
    latest = min(two[2] - so_far, one[2])
    into[0] = so_far + wait + two[0]
    into[1] = earliest
    into[2] = latest


@folded
def refresh(tables: Tables, plan: Plan, clock: Clock, r: int) -> None:
    """Compute everything that is known of a route from the order of its stops."""
    n, k, day = plan.length[r], tables.kind[r], tables.day[r]
    at = clock.at[r]
    at[0], at[n + 1] = tables.starts_at[r], tables.ends_at[r]
    for load in range(tables.load.shape[1]):
        clock.carried[r, load] = 0.0
    cost, minutes, before = 0.0, 0.0, at[0]
    for j in range(1, n + 1):
        i = plan.stops[r, j]
        here = tables.place[i]
        at[j] = here
        clock.where[i, day] = r
        for load in range(tables.load.shape[1]):
            clock.carried[r, load] += tables.load[i, load]
        cost += tables.drive[before, here] + tables.price[i, r]
        minutes += tables.minutes[before, here] + tables.work[i, k]
        before = here
    if n > 0:
        cost += tables.drive[before, at[n + 1]] + tables.used_price[r]
        minutes += tables.minutes[before, at[n + 1]]
    clock.minutes[r] = minutes
    if tables.timed[0] == 1:
        cost += time(tables, plan, clock, r)
    plan.cost[r] = cost


@compiled
def time(tables: Tables, plan: Plan, clock: Clock, r: int) -> float:
    """Compute the segments of a route from its start and to its end; answers the price of its overtime."""
    n, k, at = plan.length[r], tables.kind[r], clock.at[r]
    head, tail, stop = clock.head[r], clock.tail[r], clock.stop
    head[0, 0], head[0, 1], head[0, 2] = 0.0, tables.leaves[r], tables.returns[r]
    tail[n + 1, 0], tail[n + 1, 1], tail[n + 1, 2] = 0.0, tables.leaves[r], tables.returns[r]
    if n == 0:
        return 0.0
    for j in range(1, n + 1):
        i = plan.stops[r, j]
        stop[0], stop[1], stop[2] = tables.work[i, k], tables.opens[i], tables.latest[i, k]
        join(head[j - 1], stop, tables.minutes[at[j - 1], at[j]], head[j])
    join(head[n], tail[n + 1], tables.minutes[at[n], at[n + 1]], head[n + 1])
    for j in range(n, 0, -1):
        i = plan.stops[r, j]
        stop[0], stop[1], stop[2] = tables.work[i, k], tables.opens[i], tables.latest[i, k]
        join(stop, tail[j + 1], tables.minutes[at[j], at[j + 1]], tail[j])
    clock.minutes[r] = head[n + 1, 0]
    late = head[n + 1, 1] + head[n + 1, 0] - tables.paid_until[r]
    return float(max(0.0, late) * tables.overtime_price[r])


# --- The insertion test ------------------------------------------------------------------------------


@folded
def has_room(tables: Tables, clock: Clock, i: int, r: int) -> bool:
    """Whether the load of a visit goes on the vehicle of a slot."""
    for load in range(tables.load.shape[1]):
        if clock.carried[r, load] + tables.load[i, load] > tables.room[r, load] + SLACK:
            return False
    return True


@folded
def late_by(tables: Tables, clock: Clock, i: int, r: int, j: int) -> float:
    """Minutes of overtime of a route with a visit put after position j; NEVER if no clock allows it."""
    k, p = tables.kind[r], tables.place[i]
    head, tail = clock.head[r, j], clock.tail[r, j + 1]
    so_far = head[0] + tables.minutes[clock.at[r, j], p]
    if head[1] + so_far > tables.latest[i, k] + SLACK:
        return NEVER
    wait = max(0.0, tables.opens[i] - so_far - head[2])
    earliest = max(tables.opens[i] - so_far, head[1]) - wait
    latest = min(tables.latest[i, k] - so_far, head[2])
    so_far += wait + tables.work[i, k] + tables.minutes[p, clock.at[r, j + 1]]
    if earliest + so_far > tail[2] + SLACK:
        return NEVER
    wait = max(0.0, tail[1] - so_far - latest)
    earliest = max(tail[1] - so_far, earliest) - wait
    so_far += wait + tail[0]
    if so_far > tables.longest[r] + SLACK:
        return NEVER
    return float(max(0.0, earliest + so_far - tables.paid_until[r]))


@compiled
def cheapest_on(
    tables: Tables, plan: Plan, clock: Clock, random: NDArray[np.uint64], what: tuple[int, int, float]
) -> tuple[float, int]:
    """Least cost of putting a visit on a route, and after which position; NEVER if nowhere."""
    i, r, blink = what
    n, p, k = plan.length[r], tables.place[i], tables.kind[r]
    best, spot = NEVER, 0
    if n + 2 >= plan.stops.shape[1]:
        return best, spot
    at, drive, timed = clock.at[r], tables.drive, tables.timed[0]
    late = max(0.0, clock.head[r, n + 1, 1] + clock.minutes[r] - tables.paid_until[r]) if n > 0 else 0.0
    spare = tables.longest[r] + SLACK - clock.minutes[r] - tables.work[i, k]
    for j in range(n + 1):
        a, b = at[j], at[j + 1]
        added = drive[a, p] + drive[p, b] - (drive[a, b] if n > 0 else 0.0)
        if added >= best or (blink > 0.0 and chance(random) < blink):
            continue
        if timed == 0:
            longer = tables.minutes[a, p] + tables.minutes[p, b]
            if longer - (tables.minutes[a, b] if n > 0 else 0.0) <= spare:
                best, spot = added, j
            continue
        over = late_by(tables, clock, i, r, j)
        if over < NEVER:
            added += (over - late) * tables.overtime_price[r]
            if added < best:
                best, spot = added, j
    if n == 0:
        best += tables.used_price[r]
    return best, spot


@folded
def asked_on(
    tables: Tables, plan: Plan, clock: Clock, notes: Notes, what: tuple[int, int, float]
) -> tuple[float, int]:
    """What `cheapest_on` answers, remembered without blinks for routes that this iteration did not touch."""
    i, r, blink = what
    is_known = notes.dirty[r] == 0
    if is_known and clock.asked[i, r] == clock.stamp[r]:
        return clock.cheapest[i, r], clock.position[i, r]
    cost, j = cheapest_on(tables, plan, clock, notes.random, (i, r, 0.0 if is_known else blink))
    if is_known:
        clock.cheapest[i, r], clock.position[i, r], clock.asked[i, r] = cost, j, clock.stamp[r]
    return cost, j


# --- Ruin ---------------------------------------------------------------------------------------------


@folded
def touch(notes: Notes, r: int) -> None:
    """Note that a route changes in this iteration."""
    if notes.dirty[r] == 0:
        notes.dirty[r] = 1
        notes.touched[notes.size[1]] = r
        notes.size[1] += 1


@folded
def take_out(clock: Clock, notes: Notes, i: int, only: int) -> None:
    """Mark a visit as taken off the routes of one day, or of all days when `only` is below zero."""
    notes.gone[i] = 1
    notes.out[notes.size[0]] = i
    notes.size[0] += 1
    for day in range(clock.where.shape[1]):
        r = clock.where[i, day]
        if r >= 0 and (only < 0 or only == day):
            touch(notes, r)


@compiled
def position_of(plan: Plan, r: int, i: int) -> int:
    """Where on a route a visit is."""
    j = 1
    while plan.stops[r, j] != i:
        j += 1
    return j


@folded
def cut(plan: Plan, clock: Clock, notes: Notes, at: tuple[int, int, int], length: int) -> None:
    """Take a string of a given length off a route, around a visit; half of the time with a gap that stays."""
    i, r, only = at
    n, j = plan.length[r], position_of(plan, r, i)
    kept = 0
    if length > 1 and length < n and chance(notes.random) < 0.5:
        kept = 1
        while length + kept < n and chance(notes.random) > 0.01:
            kept += 1
    span = length + kept
    lowest, highest = max(1, j - span + 1), min(j, n - span + 1)
    begin = lowest + below(notes.random, highest - lowest + 1)
    gap = begin + 1 + below(notes.random, max(1, length - 1))
    for at_j in range(begin, begin + span):
        stop = plan.stops[r, at_j]
        inside_gap = kept > 0 and gap <= at_j < gap + kept
        if notes.gone[stop] == 0 and not inside_gap:
            take_out(clock, notes, stop, only)
    notes.struck[r] = 1


@compiled
def day_of(clock: Clock, notes: Notes, i: int) -> int:
    """One of the days on which a visit is served, by chance; ABSENT for none."""
    found, day = 0, ABSENT
    for one in range(clock.where.shape[1]):
        if clock.where[i, one] >= 0:
            found += 1
            if chance(notes.random) * found < 1.0:
                day = one
    return day


@compiled
def ruin(tables: Tables, plan: Plan, clock: Clock, notes: Notes, settings: Settings) -> int:
    """Take strings near a visit off their routes; answers the only day of the iteration, or ABSENT."""
    seed = below(notes.random, len(tables.place))
    home = day_of(clock, notes, seed)
    if home < 0:
        take_out(clock, notes, seed, ABSENT)
        home = below(notes.random, len(tables.day_from) - 1)
    only = home if notes.size[0] == 0 and chance(notes.random) < settings.one_day else ABSENT
    same = only >= 0 or chance(notes.random) < settings.same_day
    served = max(1, notes.size[3])
    longest = min(settings.string, served)
    strings = int(chance(notes.random) * (4.0 * settings.removed / (1.0 + longest) - 1.0) + 1.0)
    taken = 0
    for at in range(tables.near.shape[1]):
        i = tables.near[seed, at]
        if notes.gone[i] == 1:
            continue
        day = home if same else day_of(clock, notes, i)
        r = clock.where[i, day] if day >= 0 else ABSENT
        if r < 0 or notes.struck[r] == 1:
            continue
        most = min(longest, float(plan.length[r]))
        cut(plan, clock, notes, (i, r, only), int(chance(notes.random) * most + 1.0))
        taken += 1
        if taken >= strings:
            break
    return only


@compiled
def forget(clock: Clock, notes: Notes, only: int) -> None:
    """Forget which slots served the visits that were taken out, on one day or on all."""
    for at in range(notes.size[0]):
        for day in range(clock.where.shape[1]):
            if only < 0 or only == day:
                clock.where[notes.out[at], day] = ABSENT


@folded
def close_gaps(tables: Tables, plan: Plan, clock: Clock, notes: Notes, only: int) -> None:
    """Take the marked visits out of the orders of the touched routes."""
    forget(clock, notes, only)
    for at in range(notes.size[1]):
        r = notes.touched[at]
        left = 0
        for j in range(1, plan.length[r] + 1):
            i = plan.stops[r, j]
            if notes.gone[i] == 0:
                left += 1
                plan.stops[r, left] = i
        plan.length[r] = left
        refresh(tables, plan, clock, r)
        notes.struck[r] = 0


# --- Recreate -----------------------------------------------------------------------------------------


@compiled
def rank(tables: Tables, notes: Notes) -> None:
    """Decide the order of return: by chance, heavy first, far first, near first or few choices first."""
    way = below(notes.random, 14)
    for at in range(notes.size[0]):
        i = notes.out[at]
        if way < 4:
            key = chance(notes.random)
        elif way < 8:
            key = -tables.load[i, 0] - 1e-3 * tables.work[i, 0]
        elif way < 10:
            key = -tables.drive[tables.starts_at[0], tables.place[i]]
        elif way < 11:
            key = tables.drive[tables.starts_at[0], tables.place[i]]
        elif way < 13:
            key = -bits(tables.pattern[tables.pattern_from[i]]) + chance(notes.random)
        else:
            key = tables.latest[i, 0] - tables.opens[i]
        notes.rank[at] = key
    for at in range(1, notes.size[0]):  # insertion sort: the list is short
        i, key, to = notes.out[at], notes.rank[at], at
        while to > 0 and notes.rank[to - 1] > key:
            notes.rank[to], notes.out[to] = notes.rank[to - 1], notes.out[to - 1]
            to -= 1
        notes.rank[to], notes.out[to] = key, i


@compiled
def bits(number: int) -> int:
    """How many days a pattern has."""
    found = 0
    while number:
        number &= number - 1
        found += 1
    return found


@folded
def best_on_day(tables: Tables, plan: Plan, clock: Clock, notes: Notes, what: tuple[int, int, float]) -> None:
    """Note the cheapest slot, position and fee for a visit on a day."""
    i, day, blink = what
    fee, slot, spot, empty = NEVER, ABSENT, 0, -1
    for r in range(tables.day_from[day], tables.day_from[day + 1]):
        price = tables.price[i, r]
        if price >= fee or not has_room(tables, clock, i, r):
            continue
        if plan.length[r] == 0:
            if tables.twin[r] == empty:
                continue
            empty = tables.twin[r]
        cost, j = asked_on(tables, plan, clock, notes, (i, r, blink))
        if cost + price < fee and chance(notes.random) >= blink:
            fee, slot, spot = cost + price, r, j
    notes.fee[day], notes.slot[day], notes.spot[day] = fee, slot, spot


@folded
def put(tables: Tables, plan: Plan, clock: Clock, notes: Notes, what: tuple[int, int]) -> None:
    """Put a visit on the route that was noted for a day."""
    i, day = what
    r, spot = notes.slot[day], notes.spot[day]
    touch(notes, r)
    for j in range(plan.length[r], spot, -1):
        plan.stops[r, j + 1] = plan.stops[r, j]
    plan.stops[r, spot + 1] = i
    plan.length[r] += 1
    refresh(tables, plan, clock, r)


@folded
def best_pattern(tables: Tables, notes: Notes, i: int) -> int:
    """The cheapest pattern by the fees that were noted, or ABSENT when leaving the visit out is cheaper."""
    best, found = tables.prize[i], ABSENT
    for number in range(tables.pattern_from[i], tables.pattern_from[i + 1]):
        fee = 0.0
        for day in range(len(notes.fee)):
            if (tables.pattern[number] >> day) & 1:
                fee += notes.fee[day]
        if fee < best:
            best, found = fee, number - tables.pattern_from[i]
    return found


@folded
def give_back(tables: Tables, plan: Plan, clock: Clock, notes: Notes, what: tuple[int, int, float]) -> None:
    """Put a visit back on its cheapest pattern, or on the only day of the iteration."""
    i, only, blink = what
    days = tables.days[i]
    for day in range(len(notes.fee)):
        if (days >> day) & 1 and (only < 0 or only == day):
            best_on_day(tables, plan, clock, notes, (i, day, blink))
    if only >= 0:
        served = (notes.slot[only] >= 0) << only
    else:
        plan.chosen[i] = best_pattern(tables, notes, i)
        served = tables.pattern[tables.pattern_from[i] + plan.chosen[i]] if plan.chosen[i] >= 0 else 0
    for day in range(len(notes.fee)):
        if (served >> day) & 1:
            put(tables, plan, clock, notes, (i, day))


@compiled
def recreate(tables: Tables, plan: Plan, clock: Clock, notes: Notes, how: tuple[int, float]) -> bool:
    """Put everything back that was taken out; False when a visit found no way back to the only day."""
    only, blink = how
    rank(tables, notes)
    whole = True
    for at in range(notes.size[0]):
        give_back(tables, plan, clock, notes, (notes.out[at], only, blink))
        if only >= 0 and clock.where[notes.out[at], only] < 0:
            whole = False
            break
    return whole


# --- Keep or not --------------------------------------------------------------------------------------


@compiled
def gain(tables: Tables, work: Plan, kept: Plan, notes: Notes) -> float:
    """What the changed plan costs more than the kept one."""
    more = 0.0
    for at in range(notes.size[1]):
        r = notes.touched[at]
        more += work.cost[r] - kept.cost[r]
    for at in range(notes.size[0]):
        i = notes.out[at]
        more += tables.prize[i] * (work.chosen[i] < 0) - tables.prize[i] * (kept.chosen[i] < 0)
    return more


@folded
def copy_route(source: Plan, goal: Plan, r: int) -> None:
    """Copy the order of one route from one plan to another."""
    goal.length[r], goal.cost[r] = source.length[r], source.cost[r]
    for j in range(1, source.length[r] + 1):
        goal.stops[r, j] = source.stops[r, j]


@compiled
def keep(work: Plan, kept: Plan, clock: Clock, notes: Notes) -> None:
    """Make the changed plan the kept one."""
    for at in range(notes.size[1]):
        r = notes.touched[at]
        copy_route(work, kept, r)
        notes.size[2] += 1
        clock.stamp[r] = notes.size[2]
    for at in range(notes.size[0]):
        i = notes.out[at]
        kept.chosen[i] = work.chosen[i]


@compiled
def undo(found: Search, only: int) -> None:
    """Bring the changed plan back to the kept one."""
    tables, work, kept, _, clock, notes = found
    for at in range(notes.size[0]):
        i = notes.out[at]
        work.chosen[i] = kept.chosen[i]
    forget(clock, notes, only)
    for at in range(notes.size[1]):
        r = notes.touched[at]
        copy_route(kept, work, r)
        refresh(tables, work, clock, r)


@compiled
def copy_plan(source: Plan, goal: Plan) -> None:
    """Copy a whole plan."""
    for r in range(len(source.length)):
        copy_route(source, goal, r)
    for i in range(len(source.chosen)):
        goal.chosen[i] = source.chosen[i]
    goal.total[0] = source.total[0]


@compiled
def clean(notes: Notes) -> None:
    """Wipe the scratch paper."""
    for at in range(notes.size[0]):
        notes.gone[notes.out[at]] = 0
    for at in range(notes.size[1]):
        notes.dirty[notes.touched[at]] = 0
    notes.size[0] = notes.size[1] = 0


@compiled
def search(found: Search, settings: Settings, iterations: int, heat: float, cooling: float) -> float:
    """Run iterations from a temperature that falls by a factor each time; answers the last temperature."""
    tables, work, kept, best, clock, notes = found
    for _ in range(iterations):
        heat *= cooling
        only = ruin(tables, work, clock, notes, settings)
        close_gaps(tables, work, clock, notes, only)
        blink = settings.blink * (BOLD if chance(notes.random) < BOLD_SHARE else 1.0)
        whole = recreate(tables, work, clock, notes, (only, blink))
        more = gain(tables, work, kept, notes) if whole else NEVER
        if more < -heat * np.log(chance(notes.random) + 1e-300):
            keep(work, kept, clock, notes)
            kept.total[0] += more
            if kept.total[0] < best.total[0] - 1e-9:
                copy_plan(kept, best)
        else:
            undo(found, only)
        clean(notes)
    return heat


@compiled
def begin(found: Search, blink: float) -> None:
    """Compute the clocks of the plan that is given, and put in what is absent."""
    tables, work, kept, best, clock, notes = found
    for r in range(len(work.length)):
        refresh(tables, work, clock, r)
    for i in range(len(tables.place)):
        if work.chosen[i] < 0:
            take_out(clock, notes, i, ABSENT)
    recreate(tables, work, clock, notes, (ABSENT, blink))
    clean(notes)
    total = 0.0
    for r in range(len(work.cost)):
        total += work.cost[r]
    for i in range(len(tables.place)):
        total += tables.prize[i] * (work.chosen[i] < 0)
    work.total[0] = total
    copy_plan(work, kept)
    copy_plan(work, best)
