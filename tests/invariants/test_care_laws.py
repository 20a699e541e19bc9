"""Laws of care planning: what must hold for every garden, every history and every day."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, time, timedelta
from itertools import pairwise
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from landscape_care.almanac.anchors import windows_in_year
from landscape_care.almanac.climate import climate
from landscape_care.care.catalog import WATERING_SEASON, catalog
from landscape_care.care.generation import NO_PAST, History, Past, Wanted, interval_days, occurrences
from landscape_care.care.measures import Measured
from landscape_care.care.reconciliation import Changes, Stored, reconcile
from landscape_care.trades.kinds import AsBuilt, Thing
from tests.unit.care_garden import PLACES, START, courtyard, courtyard_things, tasks

HORIZON = timedelta(396)
SAND_FILTER, SAND_SERIES = 22, "22:sand-filter-backwash"
places = st.sampled_from(sorted(PLACES))
starts = st.dates(date(2024, 1, 1), date(2028, 12, 31))
spans = st.integers(0, 500).map(timedelta)


@st.composite
def gardens(draw: st.DrawFn) -> AsBuilt:
    """Any part of the courtyard, anywhere, from any day, its things put in before or after."""
    start = draw(starts)
    kept = draw(st.sets(st.sampled_from(courtyard_things()), min_size=1, max_size=12))
    uids = {thing.uid for thing in kept}
    things = tuple(_dated(thing, draw, start) for thing in courtyard_things() if thing.uid in uids)
    return courtyard(draw(places), things=things, start=start)


def _dated(thing: Thing, draw: st.DrawFn, start: date) -> Thing:
    installed_on = start + timedelta(draw(st.integers(-900, 200)))
    removed = draw(st.none() | st.integers(0, 900))
    return replace(
        thing,
        installed_on=installed_on,
        removed_on=None if removed is None else installed_on + timedelta(removed),
    )


def plan(garden: AsBuilt, today: date, history: History | None = None) -> list[Wanted]:
    return tasks(garden, today=today, through=today + HORIZON, history=history)


@given(gardens(), spans)
@settings(max_examples=60)
def test_keys_are_unique_and_fit_into_the_tables(garden: AsBuilt, span: timedelta) -> None:
    found = plan(garden, garden.care_starts_on + span)
    assert len({want.key for want in found}) == len(found)
    assert all(want.key == f"{want.series}:{want.occurrence}" for want in found)
    assert all(len(w.key) <= 140 and len(w.series) <= 90 and len(w.occurrence) <= 30 for w in found)


@given(gardens(), spans)
@settings(max_examples=60)
def test_windows_are_in_order_and_lie_between_start_and_horizon(garden: AsBuilt, span: timedelta) -> None:
    today = garden.care_starts_on + span
    for want in plan(garden, today):
        window = want.window
        assert window.opens <= window.due <= window.closes
        assert garden.care_starts_on <= window.due <= today + HORIZON
        assert want.minutes >= 1


@given(gardens(), spans, spans)
@settings(max_examples=60)
def test_a_day_that_passes_moves_no_task(garden: AsBuilt, span: timedelta, later: timedelta) -> None:
    today = garden.care_starts_on + span
    before = plan(garden, today)
    after = {want.key: want for want in plan(garden, today + later)}
    gone = {t.uid for t in garden.things if t.removed_on and t.removed_on <= today + later}
    # The tended area shrinks with what is gone, and with it the minutes of the property's own tasks.
    assert all(after[want.key].window == want.window for want in before if want.thing_uid not in gone)
    assert all(after[w.key] == w for w in before if w.thing_uid is not None and w.thing_uid not in gone)


@given(gardens(), spans)
@settings(max_examples=40)
def test_planning_the_same_again_changes_nothing(garden: AsBuilt, span: timedelta) -> None:
    found = plan(garden, garden.care_starts_on + span)
    stored = [_stored(want) for want in found]
    assert not reconcile(plan(garden, garden.care_starts_on + span), stored)


@given(gardens(), spans)
@settings(max_examples=60)
def test_a_seasonal_task_lies_inside_the_season_of_its_climate(garden: AsBuilt, span: timedelta) -> None:
    place = climate(garden.climate)
    for want in plan(garden, garden.care_starts_on + span):
        season = catalog()[want.rule].season or catalog()[want.rule].within
        if season is None or season == WATERING_SEASON:
            continue
        years = range(want.window.opens.year - 1, want.window.closes.year + 1)
        seasons = [each for year in years for each in windows_in_year(season, place, year)]
        days = (want.window.opens + timedelta(count) for count in range(want.window.days))
        assert all(any(opens <= day <= closes for opens, closes in seasons) for day in days)


@given(gardens(), spans, st.randoms(use_true_random=False))
@settings(max_examples=60)
def test_settling_one_series_touches_no_other(garden: AsBuilt, span: timedelta, chance: object) -> None:
    today = garden.care_starts_on + span
    before = plan(garden, today)
    repeating = [want for want in before if catalog()[want.rule].repeats]
    if not repeating:
        return
    chosen = chance.choice(repeating)  # type: ignore[attr-defined]
    done = Past(int(chosen.occurrence), max(chosen.window.opens, garden.care_starts_on))
    after = plan(garden, today, History({chosen.series: done}))
    assert [w for w in before if w.series != chosen.series] == [w for w in after if w.series != chosen.series]
    mine = [want for want in after if want.series == chosen.series]
    assert all(int(want.occurrence) > int(chosen.occurrence) for want in mine)


@given(gardens(), st.integers(1, 60), spans)
@settings(max_examples=40)
def test_neighbours_of_a_repeating_series_never_meet(garden: AsBuilt, cadence: int, span: timedelta) -> None:
    rules = {key: replace(each, at_least_days=cadence) for key, each in catalog().items() if each.repeats}
    found = tasks(garden, rules, today=garden.care_starts_on, through=garden.care_starts_on + HORIZON)
    by_series: dict[str, list[Wanted]] = {}
    for want in found:
        by_series.setdefault(want.series, []).append(want)
    for mine in by_series.values():
        for one, other in pairwise(mine):
            assert one.window.closes < other.window.opens
            assert int(other.occurrence) == int(one.occurrence) + 1


def _stored(want: Wanted, *, fixed: bool = False, withdrawn: bool = False) -> Stored:
    return Stored(want.key, want.key, want.series, want.shown(), fixed=fixed, withdrawn=withdrawn)


@dataclass
class Kept:
    """A stored task of the machine below."""

    want: Wanted
    settled_on: date | None = None
    done: bool = False
    order: int = 0
    held: bool = False
    withdrawn: bool = False
    revision: int = 0


@dataclass
class Book:
    """What a database would hold of one property."""

    tasks: dict[str, Kept] = field(default_factory=dict)
    readings: list[Measured] = field(default_factory=list)
    left_on: dict[int, date] = field(default_factory=dict)

    def history(self) -> History:
        past: dict[str, Past] = {}
        settled = [kept for kept in self.tasks.values() if kept.settled_on is not None]
        for kept in sorted(settled, key=lambda kept: (kept.settled_on, kept.order)):
            want = kept.want
            before = past.get(want.series, NO_PAST)
            past[want.series] = before.and_then(want.occurrence, kept.settled_on or START, done=kept.done)
        readings = {(SAND_FILTER, "filter_pressure_psi"): tuple(self.readings)}
        return History(past, readings, self.left_on)

    def compare(self, wanted: list[Wanted]) -> Changes:
        return reconcile(
            wanted,
            [
                _stored(k.want, fixed=bool(k.settled_on or k.held), withdrawn=k.withdrawn)
                for k in self.tasks.values()
            ],
        )

    def write(self, changes: Changes) -> None:
        for want in changes.add:
            assert want.key not in self.tasks
            self.tasks[want.key] = Kept(want)
        for have, want in changes.move:
            kept = self.tasks[have.key]
            kept.want, kept.withdrawn, kept.revision = want, False, kept.revision + 1
        for have in changes.withdraw:
            self.tasks[have.key].withdrawn = True


class CareOverTime(RuleBasedStateMachine):
    """Days pass, work is done early, late and not at all, readings arrive, things come and go."""

    @initialize(place=places)
    def begin(self, place: str) -> None:
        uids = (10, 11, 12, SAND_FILTER, 30, 40)
        self.things: dict[int, Any] = {thing.uid: thing for thing in courtyard_things() if thing.uid in uids}
        self.place, self.today, self.book = place, START, Book()
        self.settled: dict[str, Kept] = {}
        self.plan()

    def garden(self) -> AsBuilt:
        return courtyard(self.place, things=tuple(self.things.values()))

    def wanted(self) -> list[Wanted]:
        return plan(self.garden(), self.today, self.book.history())

    def open_tasks(self) -> list[Kept]:
        kept = (k for k in self.book.tasks.values() if not k.settled_on and not k.withdrawn)
        return sorted(kept, key=lambda k: (k.want.window.due, k.want.key))

    @rule()
    def plan(self) -> None:
        self.book.write(self.book.compare(self.wanted()))

    @rule(days=st.integers(0, 45))
    def days_pass(self, days: int) -> None:
        # A task that late work pushed past the horizon is withdrawn and comes back with the horizon.
        self.plan()
        before = {kept.want.key: kept.want.window for kept in self.open_tasks()}
        self.today += timedelta(days)
        self.plan()
        gone = {t.uid for t in self.things.values() if t.removed_on and t.removed_on <= self.today}
        now = {k.want.key: k.want.window for k in self.open_tasks() if k.want.thing_uid not in gone}
        assert {
            k: w for k, w in before.items() if k.split(":")[0] not in {str(uid) for uid in gone}
        }.items() <= now.items()

    @precondition(lambda self: self.open_tasks())
    @rule(which=st.integers(0, 30), done=st.booleans(), leaves=st.booleans())
    def somebody_settles(self, which: int, done: bool, leaves: bool) -> None:
        tasks_now = self.open_tasks()
        kept = tasks_now[which % len(tasks_now)]
        kept.settled_on, kept.done, kept.order = self.today, done, len(self.settled)
        if done and leaves:
            self.leave(kept.want.details.get("settings", {}))
        self.settled[kept.want.key] = replace(kept)

    def leave(self, settings_left: Mapping[str, Mapping[str, object]]) -> None:
        for uid, thing in self.things.items():
            if thing.tag in settings_left:
                left: dict[str, Any] = dict(settings_left[thing.tag])
                for clock in ("set_on", "set_start"):
                    if clock in left:
                        left[clock] = time.fromisoformat(str(left[clock]))
                self.things[uid] = replace(thing, **left)
                self.book.left_on[uid] = self.today

    @rule(minutes=st.integers(0, 240), uid=st.sampled_from((11, 12)))
    def a_zone_is_set_by_eye(self, minutes: int, uid: int) -> None:
        self.things[uid] = replace(self.things[uid], set_minutes=minutes, set_weekdays="135")
        self.book.left_on[uid] = self.today

    @precondition(lambda self: self.open_tasks())
    @rule(which=st.integers(0, 60))
    def the_office_holds(self, which: int) -> None:
        tasks_now = self.open_tasks()
        tasks_now[which % len(tasks_now)].held = True

    @rule(psi=st.floats(5, 30))
    def pressure_is_read(self, psi: float) -> None:
        self.book.readings.append(Measured(self.today, psi))

    @rule(uid=st.sampled_from((SAND_FILTER, 40)))
    def a_thing_goes(self, uid: int) -> None:
        thing = self.things[uid]
        if thing.removed_on is None:
            self.things[uid] = replace(thing, removed_on=self.today)

    @invariant()
    def settled_tasks_never_change(self) -> None:
        for key, then in self.settled.items():
            now = self.book.tasks[key]
            assert (now.want, now.settled_on, now.revision, now.withdrawn) == (
                then.want,
                then.settled_on,
                then.revision,
                then.withdrawn,
            )

    @invariant()
    def a_second_plan_writes_nothing(self) -> None:
        if not self.book.tasks:
            return
        self.plan()
        assert not self.book.compare(self.wanted())


CareOverTime.TestCase.settings = settings(max_examples=25, stateful_step_count=20, deadline=None)
TestCareOverTime = CareOverTime.TestCase


def test_every_occurrence_of_an_interval_is_an_interval_after_the_one_before() -> None:
    from landscape_care.care.details import Scene
    from landscape_care.care.generation import Series

    garden = courtyard()
    scene = Scene(garden, climate("albuquerque"))
    for each in catalog().values():
        if each.every_days is None or each.within or each.kind != "turf":
            continue
        series = Series(scene, each, garden.thing(40), None, START, START + HORIZON)
        dues = [want.window.due for want in occurrences(series)]
        steps = {(later - earlier).days for earlier, later in pairwise(dues)}
        assert steps <= {interval_days(series)}
