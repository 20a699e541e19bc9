"""Which care tasks of a property are done on one visit, and between which days.

The fewest visits that meet all windows are found by interval stabbing: take the window that
closes first, visit on its last allowed day, drop every window that holds this day, repeat. No
plan with fewer days exists, because the windows that forced a day share none (a textbook
exchange argument). Where the agreement asks for days between visits, a shortest path over the
allowed days takes the place of stabbing: first as few visits too near each other as the windows
leave, then as few too far apart, then the fewest visits. What one crew cannot do, because of its
skills, its people or its hours, is then split into several visits, and small ones are dissolved
into others where their tasks fit.

Between the days so chosen, windows are cut so that whichever days dispatch takes keep the spacing.

A visit is named by the slot of the agreement in which its day lies, such as `2026-W48`; a
second visit in the same slot is `2026-W48.2`. Names of visits that exist are kept by the
tasks they share.
"""

from bisect import bisect_right
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise

LATE_DAYS = 7
A_DAY = timedelta(1)
_FORTNIGHT_EPOCH = date(2001, 1, 1).toordinal()  # a Monday
_SEASONS = ("winter", "spring", "summer", "autumn")
CADENCES = ("weekly", "fortnightly", "monthly", "seasonal")


@dataclass(frozen=True, slots=True)
class OpenTask:
    """An open care task: its window, and the clock minutes that so many people with a skill need."""

    key: str
    series: str
    opens_on: date
    due_on: date
    closes_on: date
    minutes: int
    people: int
    skill: str

    def __post_init__(self) -> None:
        """Refuse a window out of order and work by nobody."""
        if not self.opens_on <= self.due_on <= self.closes_on:
            raise ValueError(
                f"task {self.key}: opens_on {self.opens_on}, due_on {self.due_on}, closes_on {self.closes_on}"
                " must follow in that order"
            )
        if self.minutes < 0 or self.people < 1:
            raise ValueError(
                f"task {self.key}: minutes {self.minutes} and people {self.people},"
                " wanted 0 or more and 1 or more"
            )

    @property
    def person_minutes(self) -> int:
        """Minutes of work, all people counted."""
        return self.minutes * self.people


@dataclass(frozen=True, slots=True)
class Existing:
    """A visit that is already there; `fixed` when people were told, so neither it nor its tasks change."""

    slot: str
    task_keys: frozenset[str]
    fixed: bool
    closes_on: date
    day: date | None = None  # that people were told


@dataclass(frozen=True, slots=True)
class Bundle:
    """A wanted visit: any allowed day from `opens_on` to `closes_on` settles all its tasks.

    `minutes` are person-minutes. `off_window` lists tasks that no allowed weekday meets inside
    their own window, so that the nearest allowed day was taken.
    """

    slot: str
    opens_on: date
    closes_on: date
    task_keys: tuple[str, ...]
    minutes: int
    people: int
    skills: tuple[str, ...]
    off_window: tuple[str, ...] = ()
    beside: tuple[date, str] | None = None  # the day of a told visit nearby, and why it was no help


@dataclass(frozen=True, slots=True)
class Team:
    """What one crew can do on one visit: skills, people, and person-minutes at most."""

    skills: frozenset[str]
    people: int = 20
    longest_minutes: int | None = None

    def __post_init__(self) -> None:
        """Refuse a team of nobody and one without time."""
        if self.people < 1:
            raise ValueError(f"people {self.people}, wanted 1 or more")
        if self.longest_minutes is not None and self.longest_minutes < 1:
            raise ValueError(f"longest_minutes {self.longest_minutes}, wanted 1 or more")


@dataclass(frozen=True, slots=True)
class Terms:
    """What a property's agreement and the crews of its depot allow; weekdays count from 0, Monday.

    `least_days` and `most_days` lie between the days of two visits that follow each other.
    """

    cadence: str
    weekdays: frozenset[int]
    teams: tuple[Team, ...] = ()
    least_days: int | None = None
    most_days: int | None = None

    def __post_init__(self) -> None:
        """Refuse terms under which no visit is possible."""
        if self.cadence not in CADENCES:
            raise ValueError(f"cadence {self.cadence!r}, wanted one of {', '.join(CADENCES)}")
        if not self.weekdays or not self.weekdays <= set(range(7)):
            raise ValueError(f"weekdays {sorted(self.weekdays)}, wanted some of 0 (Monday) to 6 (Sunday)")
        least = 1 if self.least_days is None else self.least_days
        most = 366 if self.most_days is None else self.most_days
        if not 1 <= least <= most <= 366:
            raise ValueError(
                f"least_days {self.least_days} and most_days {self.most_days}, wanted 1 to 366 in that order"
            )

    @property
    def is_spaced(self) -> bool:
        """Whether the agreement asks for days between visits."""
        return self.least_days is not None or self.most_days is not None

    def lets_one_crew_do(self, tasks: Sequence["OpenTask"]) -> bool:
        """Whether some crew can do all of these on one visit; a single task is never split."""
        return len(tasks) == 1 or not self.teams or any(_can_do(team, tasks) for team in self.teams)


def _can_do(team: Team, tasks: Sequence[OpenTask]) -> bool:
    minutes = sum(task.person_minutes for task in tasks)
    return all(task.skill in team.skills and task.people <= team.people for task in tasks) and (
        team.longest_minutes is None or minutes <= team.longest_minutes
    )


@dataclass(slots=True)
class _Placed:
    """A task that opens on `opens` and may be done, from today on, from `first` to `last`."""

    task: OpenTask
    opens: date
    first: date
    last: date
    off_window: bool = False


@dataclass(slots=True)
class _Draft:
    """A day under construction with its tasks, and between which days it keeps the spacing."""

    day: date
    placed: list[_Placed] = field(default_factory=list)
    not_before: date = date.min
    not_after: date = date.max

    def tasks(self) -> list[OpenTask]:
        return [one.task for one in self.placed]


def bundle(
    tasks: Iterable[OpenTask], terms: Terms, *, existing: Iterable[Existing] = (), today: date
) -> list[Bundle]:
    """Group open tasks into the fewest visits; tasks of fixed visits are left where they are."""
    there = tuple(existing)
    told = frozenset[str]().union(*(visit.task_keys for visit in there if visit.fixed))
    free = _oldest_late((task for task in tasks if task.key not in told), today)
    placed = _one_at_a_time([_place(task, terms, there, today) for task in free], terms.weekdays, today)
    visited = sorted({visit.day for visit in there if visit.fixed and visit.day is not None})
    if terms.is_spaced:
        days = spaced_days([(one.first, one.last) for one in placed], terms, visited)
    else:
        days = _stabbing_days(placed, terms.weekdays)
    parts = _dissolved([part for day in _spread(placed, days) for part in _split(day, terms)], terms)
    if terms.is_spaced:
        _keep_apart(parts, terms, visited)
    return _named(parts, terms.cadence, there)


# --- Days ---------------------------------------------------------------------------------------


def slot_of(day: date, cadence: str) -> str:
    """Name the stretch of an agreement in which a day lies."""
    first = slot_days(day, cadence)[0]
    if cadence in ("weekly", "fortnightly"):
        year, week, _ = first.isocalendar()
        return f"{year}-W{week:02}" + ("f" if cadence == "fortnightly" else "")
    if cadence == "monthly":
        return f"{first:%Y-%m}"
    return f"{first.year}-{_SEASONS[first.month % 12 // 3]}"


def slot_days(day: date, cadence: str) -> tuple[date, date]:
    """First and last day of the stretch: ISO week, two of them, calendar month, or meteorological season."""
    if cadence in ("weekly", "fortnightly"):
        length = 7 if cadence == "weekly" else 14
        first = day - timedelta((day.toordinal() - _FORTNIGHT_EPOCH) % length)
        return first, first + timedelta(length - 1)
    months = 1 if cadence == "monthly" else 3
    first = day.replace(day=1)
    while months == 3 and first.month % 3:
        first = (first - A_DAY).replace(day=1)
    return first, _months_later(first, months) - A_DAY


def _months_later(first: date, months: int) -> date:
    count = first.year * 12 + first.month - 1 + months
    return date(count // 12, count % 12 + 1, 1)


def allowed_days(first: date, last: date, weekdays: Collection[int]) -> Iterator[date]:
    """Yield the days of a span that fall on an allowed weekday."""
    for count in range((last - first).days + 1):
        day = first + timedelta(count)
        if day.weekday() in weekdays:
            yield day


def _last_allowed(first: date, last: date, weekdays: Collection[int]) -> date | None:
    days = (last - timedelta(count) for count in range(min(7, (last - first).days + 1)))
    return next((day for day in days if day.weekday() in weekdays), None)


def _nearest_allowed(first: date, last: date, weekdays: Collection[int], today: date) -> date:
    """Return the allowed day from today on nearest to a span without one; before it when equally near."""
    around = [day for count in range(1, 8) for day in (first - timedelta(count), last + timedelta(count))]
    return next(day for day in around if day >= today and day.weekday() in weekdays)


# --- Windows from today on ------------------------------------------------------------------------


def _oldest_late(tasks: Iterable[OpenTask], today: date) -> list[OpenTask]:
    """Keep of each series only the oldest of the tasks that are late."""
    kept: list[OpenTask] = []
    late_series: set[str] = set()
    for task in sorted(tasks, key=lambda task: (task.due_on, task.key)):
        if task.closes_on < today:
            if task.series in late_series:
                continue
            late_series.add(task.series)
        kept.append(task)
    return kept


def _place(task: OpenTask, terms: Terms, existing: Sequence[Existing], today: date) -> _Placed:
    late = task.closes_on < today
    first = max(task.opens_on, today)
    last = _late_until(task, terms, existing, today) if late else task.closes_on
    if late or _last_allowed(first, last, terms.weekdays) is not None:
        return _Placed(task, task.opens_on, first, last)
    day = _nearest_allowed(first, last, terms.weekdays, today)
    return _Placed(task, day, day, day, off_window=True)


def _late_until(task: OpenTask, terms: Terms, existing: Sequence[Existing], today: date) -> date:
    """Give late work a week, or what is left of the visit it waits in, so that waiting moves nothing."""
    waits = [
        visit.closes_on for visit in existing if task.key in visit.task_keys and visit.closes_on >= today
    ]
    for closes in waits:
        if closes >= today and _last_allowed(today, closes, terms.weekdays):
            return closes
    return today + timedelta(LATE_DAYS)


def _one_at_a_time(placed: Sequence[_Placed], weekdays: Collection[int], today: date) -> list[_Placed]:
    """Cut windows of one series apart: each begins after the one before; what has no day left waits."""
    week = today + timedelta(LATE_DAYS)
    ends: dict[str, date] = {}
    kept = []
    for one in placed:
        after = ends.get(one.task.series)
        if after is not None and one.first <= after:
            if one.off_window or one.last <= after:
                continue
            one.opens = one.first = after + A_DAY
            if _last_allowed(one.first, one.last, weekdays) is None:
                continue
        # Late work holds the next back for the whole week it is given, wherever in it the visit lies.
        ends[one.task.series] = max(one.last, week) if one.task.closes_on < today else one.last
        kept.append(one)
    return kept


# --- Visits ---------------------------------------------------------------------------------------


def _stabbing_days(placed: Iterable[_Placed], weekdays: Collection[int]) -> list[date]:
    """Return the fewest allowed days that meet every window, by earliest last day."""
    lasts = ((_last_allowed(one.first, one.last, weekdays), one.first) for one in placed)
    days: list[date] = []
    for last, first in sorted((last, first) for last, first in lasts if last):
        if not days or days[-1] < first:
            days.append(last)
    return days


def _spread(placed: Iterable[_Placed], days: Sequence[date]) -> list[_Draft]:
    """Put each task on the chosen day nearest to its due day; each day keeps the task that forced it."""
    drafts = {day: _Draft(day) for day in days}
    for one in placed:
        possible = [day for day in days if one.first <= day <= one.last]
        if possible:
            nearest = min(possible, key=lambda day: (abs((day - one.task.due_on).days), day))
            drafts[nearest].placed.append(one)
    for draft in drafts.values():
        if not draft.placed:
            _fill(draft, drafts.values())
    return [draft for draft in drafts.values() if draft.placed]


def _fill(empty: _Draft, drafts: Iterable[_Draft]) -> None:
    """Give a day without work the task that suits it best of those that leave company behind."""
    ways = [
        (abs((empty.day - one.task.due_on).days), one.task.key, draft, one)
        for draft in drafts
        for one in draft.placed
        if len(draft.placed) > 1 and one.first <= empty.day <= one.last
    ]
    if ways:
        *_, draft, one = min(ways, key=lambda way: way[:2])
        draft.placed.remove(one)
        empty.placed.append(one)


def _split(draft: _Draft, terms: Terms) -> Iterator[_Draft]:
    """Split a day by what one crew can do: the crew that can take most of what is left first."""
    left = sorted(draft.placed, key=lambda one: (-one.task.person_minutes, one.task.key))
    while left:
        group = left if not terms.teams else max((_filled(team, left) for team in terms.teams), key=_size)
        group = group or _for_nobody(left, terms)
        yield _Draft(draft.day, [one for one in draft.placed if one in group])
        left = [one for one in left if one not in group]


def _for_nobody(left: Sequence[_Placed], terms: Terms) -> list[_Placed]:
    """Work of a skill that no crew has goes together; what is too long or too many for all goes alone."""
    skill = left[0].task.skill
    if any(skill in team.skills for team in terms.teams):
        return [left[0]]
    return [one for one in left if one.task.skill == skill]


def _filled(team: Team, left: Sequence[_Placed]) -> list[_Placed]:
    """What a team takes of the tasks left, the longest first."""
    group: list[_Placed] = []
    for one in left:
        if _can_do(team, [*(other.task for other in group), one.task]):
            group.append(one)
    return group


def _size(group: Sequence[_Placed]) -> tuple[int, int]:
    return len(group), sum(one.task.person_minutes for one in group)


def _dissolved(drafts: Iterable[_Draft], terms: Terms) -> list[_Draft]:
    """Do away with visits whose tasks all fit into other ones, the smallest first."""
    kept = list(drafts)
    for draft in sorted(kept, key=lambda draft: (len(draft.placed), draft.day)) if terms.teams else ():
        others = [other for other in kept if other is not draft]
        homes = _homes(draft, others, terms)
        if homes is not None:
            for one, home in homes:
                home.placed.append(one)
            kept = others
    return kept


def _homes(draft: _Draft, others: Sequence[_Draft], terms: Terms) -> list[tuple[_Placed, _Draft]] | None:
    """Another visit for each task, the fullest that takes it; None when one task finds none."""
    tasks = {id(other): other.tasks() for other in others}
    homes = []
    for one in sorted(draft.placed, key=lambda one: -one.task.person_minutes):
        able = [
            other
            for other in others
            if one.first <= other.day <= one.last and terms.lets_one_crew_do([*tasks[id(other)], one.task])
        ]
        if not able:
            return None
        home = max(able, key=lambda other: sum(task.person_minutes for task in tasks[id(other)]))
        tasks[id(home)].append(one.task)
        homes.append((one, home))
    return homes


# --- Days between visits --------------------------------------------------------------------------

_Cost = tuple[int, int, int, int]  # too near, too far, visits, and the sum of days, later ones first


def spaced_days(windows: Sequence[tuple[date, date]], terms: Terms, visited: Sequence[date]) -> list[date]:
    """The allowed days that meet every window: fewest too near, then too far, then fewest at all.

    `visited` are days on which somebody comes anyway. A shortest path: a step from day to day is
    possible when no window lies between the two.
    """
    spans = [(first, last) for first, last in windows if any(allowed_days(first, last, terms.weekdays))]
    days = sorted({day for first, last in spans for day in allowed_days(first, last, terms.weekdays)})
    way: dict[date, tuple[_Cost, date | None]] = {}
    for day in days:
        # A window that closes before the day must open on or before the day chosen before it.
        needs = max((first for first, last in spans if last < day), default=None)
        befores: list[date | None] = [None] if needs is None else []
        befores += [other for other in way if needs is None or other >= needs]
        if befores:
            costs = ((_cost(way, before, day, terms, visited), before) for before in befores)
            way[day] = min(costs, key=lambda step: step[0])
    ends = [day for day in way if all(first <= day for first, _ in spans)]
    return _walked(way, min(ends, key=lambda day: way[day][0]) if ends else None)


def _walked(way: Mapping[date, tuple[_Cost, date | None]], end: date | None) -> list[date]:
    days = []
    while end is not None:
        days.append(end)
        end = way[end][1]
    return days[::-1]


def _cost(
    way: Mapping[date, tuple[_Cost, date | None]],
    before: date | None,
    day: date,
    terms: Terms,
    visited: Sequence[date],
) -> _Cost:
    """What a plan costs that ends on a day, after another one or as its first."""
    near, far, count, later = way[before][0] if before else (0, 0, 0, 0)
    number = bisect_right(visited, day)
    came = visited[number - 1] if number else None
    earlier = max((other for other in (before, came) if other is not None), default=None)
    if earlier is not None:
        near += 0 < (day - earlier).days < (terms.least_days or 0)
        far += (day - earlier).days > (terms.most_days or 10_000)
    if number < len(visited):
        near += (visited[number] - day).days < (terms.least_days or 0)
    return near, far, count + 1, later - day.toordinal()


def _keep_apart(drafts: Sequence[_Draft], terms: Terms, visited: Sequence[date]) -> None:
    """Give visits the days between which no choice of dispatch breaks the spacing."""
    chosen = sorted({draft.day for draft in drafts})
    room = {day: [A_DAY * 400, A_DAY * 400] for day in chosen}  # before and after the day
    for one, two in pairwise(sorted({*chosen, *visited})):
        gap, shares = (two - one).days, (one in room) + (two in room)
        apart = max(0, gap - (terms.least_days or 0)) // max(1, shares)
        wide = max(0, (terms.most_days or 800) - gap) // max(1, shares)
        if one in room:
            room[one] = [min(room[one][0], A_DAY * wide), min(room[one][1], A_DAY * apart)]
        if two in room:
            room[two] = [min(room[two][0], A_DAY * apart), min(room[two][1], A_DAY * wide)]
    for draft in drafts:
        alone = sum(other.day == draft.day for other in drafts) == 1
        before, after = room[draft.day] if alone else (A_DAY * 0, A_DAY * 0)
        draft.not_before, draft.not_after = draft.day - before, draft.day + after


# --- Names ----------------------------------------------------------------------------------------


def _named(drafts: Iterable[_Draft], cadence: str, existing: Sequence[Existing]) -> list[Bundle]:
    by_slot: dict[str, list[_Draft]] = {}
    for draft in drafts:
        by_slot.setdefault(slot_of(draft.day, cadence), []).append(draft)
    bundles = []
    for slot, members in by_slot.items():
        for name, draft in _names(slot, members, existing):
            bundles.append(_bundle(name, draft, cadence))
    return sorted(bundles, key=lambda one: (one.opens_on, one.slot))


def _names(slot: str, drafts: list[_Draft], existing: Sequence[Existing]) -> Iterator[tuple[str, _Draft]]:
    """Give drafts the names of the visits they share most tasks with, and the rest the first free ones."""
    there: Mapping[str, frozenset[str]] = {
        visit.slot: visit.task_keys for visit in existing if not visit.fixed and _is_in(visit.slot, slot)
    }
    taken = {visit.slot for visit in existing if visit.fixed}
    waiting = sorted(drafts, key=lambda draft: (draft.day, min(one.task.key for one in draft.placed)))
    pairs = [
        (-len(keys & {one.task.key for one in draft.placed}), name, number)
        for number, draft in enumerate(waiting)
        for name, keys in there.items()
    ]
    given: dict[int, str] = {}
    for shared, name, number in sorted(pairs):
        if shared and number not in given and name not in taken:
            given[number] = name
            taken.add(name)
    for number, draft in enumerate(waiting):
        if number not in given:
            given[number] = _free_name(slot, taken)
            taken.add(given[number])
        yield given[number], draft


def _is_in(name: str, slot: str) -> bool:
    return name == slot or name.startswith(f"{slot}.")


def _free_name(slot: str, taken: Collection[str]) -> str:
    number = 1
    while (name := slot if number == 1 else f"{slot}.{number}") in taken:
        number += 1
    return name


def _bundle(name: str, draft: _Draft, cadence: str) -> Bundle:
    tasks = [one.task for one in draft.placed]
    slot_opens, slot_closes = slot_days(draft.day, cadence)
    return Bundle(
        slot=name,
        opens_on=max(slot_opens, draft.not_before, *(one.opens for one in draft.placed)),
        closes_on=min(slot_closes, draft.not_after, *(one.last for one in draft.placed)),
        task_keys=tuple(sorted(task.key for task in tasks)),
        minutes=sum(task.person_minutes for task in tasks),
        people=max(task.people for task in tasks),
        skills=tuple(sorted({task.skill for task in tasks})),
        off_window=tuple(sorted(one.task.key for one in draft.placed if one.off_window)),
    )
