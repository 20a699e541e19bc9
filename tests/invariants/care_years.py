"""What may happen to a garden over the years, as a machine of chance, and the laws after each step.

The garden is kept by a `Keeper`: one keeps it in the database through the actions, one in memory
through generation and reconciliation alone. Both are handed the same steps and obey the same laws.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from landscape_care.care.catalog import Rule, catalog
from landscape_care.care.weather_limits import DayAhead
from tests.invariants.care_rows import (
    Row,
    Rows,
    Rules,
    check_rows,
    check_untouched,
    is_open,
    open_windows,
    usual_due,
)
from tests.unit.care_garden import START

INTERVALS = ("turf-brushing", "turf-rinsing", "sand-filter-backwash", "light-cleaning", "leaf-litter")
IN_SEASON = ("colour-feeding", "perennial-shearing", "pest-scouting")
SEASONAL = ("colour-swap-to-cool", "colour-swap-to-warm", "perennial-cutback", "irrigation-winterising")
REPORTED = ("storm-walk", "owner-request")
OTHERS = (
    *("irrigation-program", "light-timer-reset", "lamp-replacement", "controller-clock-change"),
    *("frost-cloth-on", "storm-ready", "heat-walk", "establishment-watering"),
)
# Some of every trigger, so that a plan is quick and steps are many.
USED = (*INTERVALS, *IN_SEASON, *SEASONAL, *REPORTED, *OTHERS)
MOST_LAWNS = 4
EVERY_N_DAYS = 14  # of the agreement: somebody comes every second week
Mine = Callable[[Row], bool]


@dataclass(frozen=True)
class Release:
    """The catalog as a release has it."""

    rules: Rules

    def by_any_name(self) -> dict[str, Rule]:
        """The rules by every key they have or had."""
        return {name: each for each in self.rules.values() for name in (each.key, *each.formerly)}

    def without(self, key: str) -> "Release":
        """The next release, in which a rule is gone."""
        return Release({name: each for name, each in self.rules.items() if name != key})

    def and_with(self, each: Rule) -> "Release":
        """The next release, in which a rule has come."""
        return Release({**self.rules, each.key: each})


class Keeper(ABC):
    """A garden with its stored care: what the machine does to it and sees of it."""

    reached: date

    @abstractmethod
    def bring_in(self, release: Release) -> None: ...
    @abstractmethod
    def plan(self, today: date) -> int:
        """Plan as of a day and say how many rows were added."""

    @abstractmethod
    def promised(self, today: date) -> tuple[set[str], set[str], bool]:
        """What a plan would add and withdraw by key, and whether it would write at all."""

    @abstractmethod
    def rows(self) -> Rows: ...
    @abstractmethod
    def rules(self) -> Rules: ...
    @abstractmethod
    def settle(self, key: str, outcome: str, today: date) -> None: ...
    @abstractmethod
    def unsettle(self, key: str) -> None: ...
    @abstractmethod
    def leave_settings(self, key: str, today: date) -> None: ...
    @abstractmethod
    def hold(self, key: str, *, held: bool) -> None: ...
    @abstractmethod
    def read_pressure(self, psi: int, today: date) -> None: ...
    @abstractmethod
    def report(self, kind: str, today: date) -> Any: ...
    @abstractmethod
    def withdraw_report(self, told: Any) -> None: ...
    @abstractmethod
    def forecast(self, ahead: DayAhead, today: date) -> None: ...
    @abstractmethod
    def adjust(self, key: str, values: Mapping[str, Any], *, here: bool) -> tuple[Any, bool]:
        """Adjust a rule; what to end, and whether an adjustment from before made way."""

    @abstractmethod
    def end_adjustment(self, adjustment: Any) -> None: ...
    @abstractmethod
    def number_of(self, tag: str) -> int: ...
    @abstractmethod
    def stands(self, tag: str) -> bool: ...
    @abstractmethod
    def take_out(self, tag: str, today: date) -> None: ...
    @abstractmethod
    def lay_lawn(self, tag: str, today: date) -> None: ...
    @abstractmethod
    def check_why(self, key: str, today: date) -> None:
        """Check that the explanation agrees with the row, where rows are explained."""


class CareOverTheYears(RuleBasedStateMachine):
    """One garden and all that may happen to it."""

    keeper: Keeper

    def __init__(self) -> None:
        super().__init__()
        self.today = START
        self.settled: Rows = {}
        self.lawns = 0
        self.keeper = self.new_keeper()

    def new_keeper(self) -> Keeper:
        """A new garden."""
        raise NotImplementedError

    @initialize()
    def begin(self) -> None:
        self.bring_in(Release({key: catalog()[key] for key in USED}))
        self.plan(anything)

    def bring_in(self, release: Release) -> None:
        self.release = release
        self.keeper.bring_in(release)

    def plan(self, mine: Mine) -> tuple[Rows, Rows]:
        """Plan and check the laws; `mine` says which rows the step may move."""
        before, reached = self.keeper.rows(), self.keeper.reached
        added = self.keeper.plan(self.today)
        after = self.keeper.rows()
        assert before.keys() <= after.keys(), "no row is lost"
        assert added == len(after) - len(before), "what is added is new"
        for key, then in self.settled.items():
            assert after[key] == then, f"{key} was settled and is history"
        for key in before:
            if not mine(after[key]):
                check_untouched(before[key], after[key], reached)
        check_rows(after, self.keeper.rules(), START, self.keeper.reached)
        assert self.keeper.promised(self.today) == (set(), set(), False), "a second plan writes nothing"
        return before, after

    def some_open(self) -> list[str]:
        """Keys of what is open, by day."""
        rows = (row for row in self.keeper.rows().values() if is_open(row))
        return [row["key"] for row in sorted(rows, key=lambda row: (row["due_on"], row["key"]))]

    def pick(self, which: int) -> Row:
        keys = self.some_open()
        return self.keeper.rows()[keys[which % len(keys)]]

    # --- Days, work, readings, weather ---

    @rule(days=st.one_of(st.integers(0, 45), st.sampled_from((90, 200))))
    def days_pass(self, days: int) -> None:
        self.today += timedelta(days)
        self.plan(nothing)

    @precondition(lambda self: self.some_open())
    @rule(which=st.one_of(st.integers(0, 12), st.integers(0, 400)), done=st.booleans(), leaves=st.booleans())
    def somebody_settles(self, which: int, done: bool, leaves: bool) -> None:
        row = self.pick(which)
        self.settle(row["key"], "done" if done else "skipped")
        if done and leaves:
            self.keeper.leave_settings(row["key"], self.today)
        self.plan(of_series(row))

    def settle(self, key: str, outcome: str) -> None:
        self.keeper.settle(key, outcome, self.today)
        self.settled[key] = self.keeper.rows()[key]

    @precondition(lambda self: self.some_open())
    @rule(which=st.integers(0, 400))
    def somebody_settles_by_mistake(self, which: int) -> None:
        row, before = self.pick(which), open_windows(self.keeper.rows())
        self.settle(row["key"], "done")
        self.plan(of_series(row))
        del self.settled[row["key"]]
        self.keeper.unsettle(row["key"])
        self.plan(of_series(row))
        assert open_windows(self.keeper.rows()) == before, "taking it back brings back what was"

    @precondition(lambda self: self.some_open())
    @rule(which=st.integers(0, 400), held=st.booleans())
    def the_office_holds_or_lets_go(self, which: int, held: bool) -> None:
        row = self.pick(which)
        self.keeper.hold(row["key"], held=held)
        # Later care followed the held day; when it is let go it is counted anew.
        self.plan(nothing if held else of_series(row))

    @rule(psi=st.integers(5, 30))
    def pressure_is_read(self, psi: int) -> None:
        if self.keeper.stands("F1"):
            self.keeper.read_pressure(psi, self.today)
            self.plan(of_thing(self.keeper.number_of("F1")))

    @rule(kind=st.sampled_from(("storm", "owner_request")), back=st.booleans())
    def something_is_reported(self, kind: str, back: bool) -> None:
        told = self.keeper.report(kind, self.today)
        self.plan(lambda row: row["rule"] in REPORTED)
        if back:
            self.keeper.withdraw_report(told)
            self.plan(lambda row: row["rule"] in REPORTED)

    @rule(low_f=st.integers(15, 60), high_f=st.integers(61, 112), gust_mph=st.integers(1, 70))
    def a_forecast_comes(self, low_f: int, high_f: int, gust_mph: int) -> None:
        ahead = DayAhead(self.today + timedelta(2), float(high_f), float(low_f), float(gust_mph))
        self.keeper.forecast(ahead, self.today)
        before, after = self.plan(anything)
        events = {name for name, each in self.release.by_any_name().items() if each.event is not None}
        for key in before:
            if is_open(before[key]) and is_open(after[key]) and after[key]["rule"] not in events:
                assert usual_due(before[key]) == usual_due(after[key]), "weather counts nothing anew"

    @rule(tag=st.sampled_from(("P2", "TU1", "L1", "F1")))
    def a_thing_goes(self, tag: str) -> None:
        if not self.keeper.stands(tag):
            return
        number = self.keeper.number_of(tag)
        self.keeper.take_out(tag, self.today)
        # The zone that watered plants which are gone gives less from now on.
        thirsty = "irrigation-program" if tag == "P2" else ""
        _, after = self.plan(lambda row: row["thing_id"] == number or row["rule"] == thirsty)
        mine = (row for row in after.values() if row["thing_id"] == number and not row["held"])
        assert not any(map(is_open, mine))

    @precondition(lambda self: self.lawns < MOST_LAWNS)
    @rule()
    def a_lawn_is_laid(self) -> None:
        self.lawns += 1
        tag = f"TX{self.lawns}"
        self.keeper.lay_lawn(tag, self.today)
        number = self.keeper.number_of(tag)
        _, after = self.plan(of_thing(number))
        asked = any(each.kind == "turf" for each in self.keeper.rules().values())
        assert asked == any(row["thing_id"] == number for row in after.values())

    # --- The company's own values ---

    @rule(key=st.sampled_from(INTERVALS), days=st.integers(10, 60), here=st.booleans(), back=st.booleans())
    def an_interval_is_adjusted(self, key: str, days: int, here: bool, back: bool) -> None:
        self.adjust(key, {"every_days": days}, here=here, back=back)

    @rule(key=st.sampled_from(SEASONAL), days=st.integers(-30, 30), here=st.booleans(), back=st.booleans())
    def a_season_is_shifted(self, key: str, days: int, here: bool, back: bool) -> None:
        self.adjust(key, {"offset_days": days}, here=here, back=back)

    @rule(key=st.sampled_from((*INTERVALS, *SEASONAL)), here=st.booleans(), back=st.booleans())
    def a_rule_is_switched_off(self, key: str, here: bool, back: bool) -> None:
        self.adjust(key, {"enabled": False}, here=here, back=back)

    @rule(key=st.sampled_from((*SEASONAL, *IN_SEASON)), back=st.booleans())
    def own_days_are_given(self, key: str, back: bool) -> None:
        self.adjust(key, {"fixed": "05-01..06-15"}, here=True, back=back)

    def adjust(self, key: str, values: Mapping[str, Any], *, here: bool, back: bool) -> None:
        """Adjust a rule; `back` takes it back at once, and all is as it was."""
        current = self.release.by_any_name().get(key)
        if current is None:
            return
        before = open_windows(self.keeper.rows())
        adjustment, replaced = self.keeper.adjust(current.key, values, here=here)
        self.plan(of_rule(current))
        if back:
            self.keeper.end_adjustment(adjustment)
            self.plan(of_rule(current))
            assert replaced or open_windows(self.keeper.rows()) == before, "undone in one step"

    # --- Other releases of the catalog ---

    @rule(key=st.sampled_from((*INTERVALS, *SEASONAL)), number=st.integers(1, 9))
    def a_release_renames_a_rule(self, key: str, number: int) -> None:
        known = self.release.by_any_name()
        current, name = known.get(key), f"{key}-{number}"
        if current is None or name in known:
            return
        before = open_windows(self.keeper.rows())
        new = replace(current, key=name, formerly=(*current.formerly, current.key))
        self.upgrade(self.release.without(current.key).and_with(new), new)
        assert open_windows(self.keeper.rows()) == before, "a new name moves nothing"

    @rule(key=st.sampled_from(INTERVALS), days=st.integers(8, 90))
    def a_release_changes_an_interval(self, key: str, days: int) -> None:
        current = self.release.by_any_name().get(key)
        if current is not None:
            tolerance = min(current.tolerance_days, (days - 1) // 2)
            new = replace(current, every_days=days, tolerance_days=tolerance)
            self.upgrade(self.release.and_with(new), new)

    @rule(key=st.sampled_from((*INTERVALS, *IN_SEASON, *SEASONAL)))
    def a_release_takes_a_rule_away_or_brings_it_back(self, key: str) -> None:
        current = self.release.by_any_name().get(key)
        if current is None:
            self.upgrade(self.release.and_with(catalog()[key]), catalog()[key])
        else:
            self.upgrade(self.release.without(current.key), current)

    def upgrade(self, release: Release, changed: Rule) -> None:
        """Another release arrives; what it says it will change is what then changes."""
        self.bring_in(release)
        adds, withdraws, _ = self.keeper.promised(self.today)
        before, after = self.plan(of_rule(changed))
        assert after.keys() - before.keys() == adds
        assert {key for key in before if is_open(before[key]) and not is_open(after[key])} == withdraws

    @precondition(lambda self: self.some_open())
    @rule(which=st.integers(0, 400))
    def somebody_asks_why(self, which: int) -> None:
        self.keeper.check_why(self.pick(which)["key"], self.today)


# --- Which rows a step is about ---


def anything(_row: Row) -> bool:
    """Every row."""
    return True


def nothing(_row: Row) -> bool:
    """No row."""
    return False


def of_series(of: Row) -> Mine:
    """The rows of the series of one."""
    return lambda row: row["series"] == of["series"]


def of_thing(number: int) -> Mine:
    """The rows of a thing."""
    return lambda row: row["thing_id"] == number


def of_rule(changed: Rule) -> Mine:
    """The rows of a rule, whatever its name was."""
    return lambda row: row["series"].endswith(f":{changed.root}")
