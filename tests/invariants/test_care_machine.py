"""Whatever happens to a garden over the years, planning loses, doubles and renames nothing.

The steps and laws are those of `care_years`. `CARE_YEARS=1000x40` tries 1,000 gardens of 40 steps, and
does not make a failing case smaller, which takes minutes; without it few are tried. The garden in the
database takes some ten times as long as the one in memory, `CARE_YEARS_STORED=100x40` sets it apart.
"""

import os
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from landscape_care.care import actions, other_days, queries, weather_intake
from landscape_care.care.catalog import Adjustment, Rule, adjusted, agreed, catalog
from landscape_care.care.generation import NO_PAST, History, Past, Reported, Wanted
from landscape_care.care.measures import Measured
from landscape_care.care.models import CareTask, RuleAdjustment
from landscape_care.care.reconciliation import Changes, Stored, reconcile
from landscape_care.care.season_reasons import say_day
from landscape_care.care.weather_limits import DayAhead
from landscape_care.properties import actions as properties
from landscape_care.properties.models import InstalledThing, Property
from landscape_care.trades.kinds import Bed, Controller, Filter, Fixture, Thing, Transformer, Turf, Zone
from tests.integration.care_company import garden, put
from tests.invariants.care_rows import Row, Rows, Rules
from tests.invariants.care_years import EVERY_N_DAYS, USED, CareOverTheYears, Keeper, Release
from tests.unit.care_garden import START, courtyard, planting, tasks

HORIZON = timedelta(396)


# --- A garden in memory ---


@dataclass
class Kept:
    """A stored task: what was wanted, and what became of it."""

    want: Wanted
    state: str = "open"
    held: bool = False
    settled_on: date | None = None
    order: int = 0
    revision: int = 0

    def row(self) -> Row:
        """The row that a database would hold."""
        want, days = self.want, self.want.window
        return {
            "key": want.key,
            "series": want.series,
            "occurrence": want.occurrence,
            "rule": want.rule,
            "thing_id": want.thing_uid,
            "state": self.state,
            "held": self.held,
            "settled_on": self.settled_on,
            "revision": self.revision,
            "opens_on": days.opens,
            "due_on": days.due,
            "closes_on": days.closes,
            "minutes": want.minutes,
            "details": want.details,
        }

    def usual_due(self) -> date:
        """The due day without the weather."""
        weather = self.want.details.get("weather")
        return date.fromisoformat(weather["usual_due"]) if weather else self.want.window.due


class InMemory(Keeper):
    """Generation and reconciliation over plain values, without a database."""

    def __init__(self) -> None:
        self.things = {thing.uid: thing for thing in _courtyard()}
        self.kept: dict[str, Kept] = {}
        self.readings: list[Measured] = []
        self.reports: list[Reported] = []
        self.ahead: dict[date, DayAhead] = {}
        self.left_on: dict[int, date] = {}
        self.adjustments: dict[tuple[str, bool], Adjustment] = {}
        self.reached = START
        self.count = 0

    def bring_in(self, release: Release) -> None:
        self.release = release

    def rules(self) -> Rules:
        company, own = (
            {key: each for (key, where), each in self.adjustments.items() if where is here}
            for here in (False, True)
        )
        return agreed(adjusted(self.release.rules, company, own), (), EVERY_N_DAYS)

    def rows(self) -> Rows:
        return {key: kept.row() for key, kept in self.kept.items()}

    def history(self) -> History:
        past: dict[str, Past] = {}
        settled = [kept for kept in self.kept.values() if kept.settled_on]
        for kept in sorted(settled, key=lambda kept: (kept.settled_on, kept.order)):
            before = past.get(kept.want.series, NO_PAST)
            assert kept.settled_on is not None
            past[kept.want.series] = before.and_then(
                kept.want.occurrence, kept.settled_on, done=kept.state == "done"
            )
        reports: dict[str, list[Reported]] = defaultdict(list)
        for told in sorted(self.reports, key=lambda told: told.on):
            reports[told.kind].append(told)
        held = {
            key: kept.usual_due() for key, kept in self.kept.items() if kept.held and kept.state == "open"
        }
        readings = {(self.number_of("F1"), "filter_pressure_psi"): tuple(self.readings)}
        return History(past, readings, self.left_on, reports, held, self.ahead)

    def changes(self, today: date, last_day: date) -> Changes:
        record = courtyard("albuquerque", things=tuple(self.things.values()))
        wanted = tasks(record, self.rules(), history=self.history(), today=today, through=last_day)
        return reconcile(wanted, [self._stored(kept) for kept in self.kept.values()])

    def _stored(self, kept: Kept) -> Stored:
        fixed = kept.settled_on is not None or (kept.held and kept.state == "open")
        key, want = kept.want.key, kept.want
        return Stored(key, key, want.series, want.shown(), fixed=fixed, withdrawn=kept.state == "withdrawn")

    def plan(self, today: date) -> int:
        self.reached = max(self.reached, today + HORIZON)
        changes = self.changes(today, self.reached)
        for want in changes.add:
            assert want.key not in self.kept
            self.kept[want.key] = Kept(want)
        for have, want in changes.move:
            kept = self.kept[have.key]
            self.kept[have.key] = replace(kept, want=want, state="open", revision=kept.revision + 1)
        for have in changes.withdraw:
            self.kept[have.key].state = "withdrawn"
        return len(changes.add)

    def promised(self, today: date) -> tuple[set[str], set[str], bool]:
        return _keys(self.changes(today, self.reached))

    def settle(self, key: str, outcome: str, today: date) -> None:
        self.count += 1
        kept = self.kept[key]
        self.kept[key] = replace(kept, state=outcome, settled_on=today, order=self.count)

    def unsettle(self, key: str) -> None:
        self.kept[key] = replace(self.kept[key], state="open", settled_on=None)

    def leave_settings(self, key: str, today: date) -> None:
        told = self.kept[key].want.details.get("settings", {})
        for uid, thing in self.things.items():
            if thing.tag in told:
                values: dict[str, Any] = dict(told[thing.tag])
                for clock in values.keys() & {"set_on", "set_start"}:
                    values[clock] = time.fromisoformat(values[clock])
                self.things[uid] = replace(thing, **values)
                self.left_on[uid] = today

    def hold(self, key: str, *, held: bool) -> None:
        self.kept[key].held = held

    def read_pressure(self, psi: int, today: date) -> None:
        self.readings.append(Measured(today, float(psi)))

    def report(self, kind: str, today: date) -> Reported:
        self.count += 1
        name = today.isoformat() if kind == "storm" else f"{today}.{self.count}"
        told = Reported(kind, today, name, note="A branch on the path")
        self.reports.append(told)
        return told

    def withdraw_report(self, told: Reported) -> None:
        self.reports = [each for each in self.reports if each is not told]

    def forecast(self, ahead: DayAhead, today: date) -> None:
        self.ahead = {ahead.day: ahead}

    def adjust(self, key: str, values: Mapping[str, Any], *, here: bool) -> tuple[Any, bool]:
        names = [name for name, each in self.release.by_any_name().items() if each.key == key]
        before = [self.adjustments.pop((name, here), None) for name in names]
        self.adjustments[key, here] = Adjustment(**values)
        return (key, here), any(before)

    def end_adjustment(self, adjustment: Any) -> None:
        del self.adjustments[adjustment]

    def number_of(self, tag: str) -> int:
        return next(thing.uid for thing in self.things.values() if thing.tag == tag)

    def stands(self, tag: str) -> bool:
        return self.things[self.number_of(tag)].removed_on is None

    def take_out(self, tag: str, today: date) -> None:
        number = self.number_of(tag)
        self.things[number] = replace(self.things[number], removed_on=today)

    def lay_lawn(self, tag: str, today: date) -> None:
        number = max(self.things) + 1
        self.things[number] = Turf(uid=number, tag=tag, area_ft2=120.0, installed_on=today)

    def check_why(self, key: str, today: date) -> None:
        """Explanations are read from stored rows."""


def _courtyard() -> Iterator[Thing]:
    yield Bed(uid=1, tag="B1", area_ft2=90.0, exposure="full_sun")
    pocket = {"partner": "zinnia-elegans", "area_ft2": 30.0}
    yield planting(2, "P1", "viola-x-wittrockiana", "seasonal_colour", bed_id=1, **pocket)
    yield planting(3, "P2", "salvia-greggii", "perennial", bed_id=1, quantity=6)
    yield Filter(uid=4, tag="F1", medium="sand", area_ft2=1.9, clean_psi=10.0)
    yield Turf(uid=5, tag="TU1", area_ft2=300.0)
    yield Transformer(uid=6, tag="T1", capacity_va=300.0, timer="plain")
    yield Fixture(uid=7, tag="L1", transformer_id=6, watts=4.0, quantity=3, rated_hours=15_000)
    yield Controller(uid=8, tag="C1", stations=4)
    drip: dict[str, Any] = {"emitters": 20, "emitter_gph": 1.0}
    yield Zone(
        uid=9, tag="Z1", controller_id=8, station=1, device="drip", area_ft2=60.0, planting_ids=(3,), **drip
    )


def _keys(changes: Changes) -> tuple[set[str], set[str], bool]:
    adds, withdraws = {want.key for want in changes.add}, {have.key for have in changes.withdraw}
    return adds, withdraws, bool(changes)


# --- The same garden in the database ---

_SEEN = (
    *("key", "series", "occurrence", "rule", "state", "held", "settled_on", "revision", "thing_id"),
    *("opens_on", "due_on", "closes_on", "minutes", "title", "details"),
)


class InDatabase(Keeper):
    """The actions of the rooms over stored rows."""

    def __init__(self) -> None:
        self.opened = transaction.atomic()
        self.opened.__enter__()
        self.patches = pytest.MonkeyPatch()
        self.place = garden(cadence="fortnightly")
        _install(self.place)
        where = {"latitude_deg": 35.1, "longitude_deg": -106.6, "climate": "albuquerque"}
        self.station = weather_intake.add_station({"code": "yard", "name": "Yard", **where}, by=None)
        self.reached = START

    def close(self) -> None:
        """Take everything back."""
        self.patches.undo()
        transaction.set_rollback(True)
        self.opened.__exit__(None, None, None)

    def bring_in(self, release: Release) -> None:
        # Which rules there are is all that another release changes here.
        self.patches.setattr(queries, "catalog", lambda: release.rules)
        for reader in (queries, other_days):
            self.patches.setattr(reader, "by_any_name", release.by_any_name)

    def plan(self, today: date) -> int:
        report = actions.plan_care(self.place.pk, today=today)
        self.place.refresh_from_db()
        assert self.place.planned_through is not None
        self.reached = self.place.planned_through
        return report.added

    def promised(self, today: date) -> tuple[set[str], set[str], bool]:
        return _keys(queries.changes_wanted(self.place, today=today, through=self.reached))

    def rows(self) -> Rows:
        return {row["key"]: row for row in CareTask.objects.order_by().values(*_SEEN)}

    def rules(self) -> Rules:
        return queries.rules_for(self.place)

    def _task(self, key: str) -> CareTask:
        return CareTask.objects.select_related("property").get(property=self.place, key=key)

    def settle(self, key: str, outcome: str, today: date) -> None:
        reason = "No way in" if outcome == "skipped" else ""
        actions.settle(self._task(key), outcome, on=today, by=None, reason=reason)

    def unsettle(self, key: str) -> None:
        actions.unsettle(self._task(key), reason="Another garden", by=None)

    def leave_settings(self, key: str, today: date) -> None:
        if told := self._task(key).details.get("settings"):
            properties.leave_settings_by_tag(self.place, told, by=None)

    def hold(self, key: str, *, held: bool) -> None:
        (actions.hold if held else actions.release)(self._task(key), by=None)

    def read_pressure(self, psi: int, today: date) -> None:
        actions.take_reading(self._thing("F1"), "filter_pressure_psi", psi, "psi", on=today, by=None)

    def report(self, kind: str, today: date) -> Any:
        return actions.report(self.place, kind, on=today, by=None, note="A branch on the path")

    def withdraw_report(self, told: Any) -> None:
        actions.withdraw_report(told, reason="Another garden", by=None)

    def forecast(self, ahead: DayAhead, today: date) -> None:
        weather_intake.take_forecast(self.station, _as_told(ahead), today=today, by=None)

    def adjust(self, key: str, values: Mapping[str, Any], *, here: bool) -> tuple[Any, bool]:
        place, rule = self.place if here else None, queries.rule_named(key)
        assert rule is not None
        live = RuleAdjustment.objects.filter(property=place, ended_at=None)
        replaced = live.filter(rule__in=(rule.key, *rule.formerly)).exists()
        return actions.adjust_rule(key, by=None, reason="Our way", property=place, **values), replaced

    def end_adjustment(self, adjustment: Any) -> None:
        actions.end_adjustment(adjustment, by=None)

    def _thing(self, tag: str) -> InstalledThing:
        return InstalledThing.objects.get(property=self.place, tag=tag)

    def number_of(self, tag: str) -> int:
        return self._thing(tag).pk

    def stands(self, tag: str) -> bool:
        return self._thing(tag).removed_on is None

    def take_out(self, tag: str, today: date) -> None:
        properties.remove(self._thing(tag), today, reason="Taken out", by=None)

    def lay_lawn(self, tag: str, today: date) -> None:
        values = {"tag": tag, "installed_on": today, "area_ft2": 120.0}
        properties.install(self.place, "turf", values, by=None)

    def check_why(self, key: str, today: date) -> None:
        task = self._task(key)
        why, _ = queries.why(task, today)
        rule = None if task.held else self.rules()[task.rule]
        check_explanation(task, rule, why)


def check_explanation(task: CareTask, rule: Rule | None, why: str) -> None:
    """The sentences name the days that the row has."""
    assert why.strip()
    if rule is None or "weather" in task.details:
        return
    due, opens, closes = (say_day(day)[0] for day in (task.due_on, task.opens_on, task.closes_on))
    if rule.season is not None:
        assert opens in why, why
        assert closes in why, why
    elif rule.repeats and "brought it forward" not in why:
        assert due in why, why
        rows = CareTask.objects.filter(series=task.series, settled_on__isnull=False)
        last = rows.order_by("settled_on").last()
        assert last is None or say_day(last.settled_on or date.min)[0] in why, why
    elif rule.computed == "timer_reset" and "set anew" not in why:
        assert due in why, why


def _install(place: Property) -> None:
    bed = put(place, "bed", "B1", area_ft2=90.0, exposure="full_sun", soil="loam")
    pocket = {"plant": "viola-x-wittrockiana", "role": "seasonal_colour", "partner": "zinnia-elegans"}
    put(place, "planting", "P1", bed_id=bed.pk, area_ft2=30.0, **pocket)
    shrub = put(place, "planting", "P2", bed_id=bed.pk, plant="salvia-greggii", role="perennial", quantity=6)
    put(place, "filter", "F1", medium="sand", area_ft2=1.9, clean_psi=10.0)
    put(place, "turf", "TU1", area_ft2=300.0)
    timer = put(place, "transformer", "T1", capacity_va=300.0, timer="plain")
    put(place, "fixture", "L1", transformer_id=timer.pk, watts=4.0, quantity=3, rated_hours=15_000)
    box = put(place, "controller", "C1", stations=4)
    drip: dict[str, Any] = {"device": "drip", "area_ft2": 60.0, "emitters": 20, "emitter_gph": 1.0}
    put(place, "zone", "Z1", controller_id=box.pk, station=1, planting_ids=(shrub.pk,), **drip)


def _as_told(ahead: DayAhead) -> dict[str, Any]:
    """One day and the night before it, in the form of the public forecast."""
    night, wind = ahead.day - timedelta(1), f"{ahead.gust_mph:.0f} mph"
    cold = {"startTime": f"{night}T18:00:00-07:00", "isDaytime": False, "temperature": ahead.tmin_f}
    warm = {"startTime": f"{ahead.day}T06:00:00-07:00", "isDaytime": True, "temperature": ahead.tmax_f}
    periods = [{**cold, "windSpeed": "5 mph"}, {**warm, "windSpeed": wind, "windGust": wind}]
    return {"properties": {"periods": [{**each, "temperatureUnit": "F"} for each in periods]}}


# --- The tests ---


class InMemoryOverTheYears(CareOverTheYears):
    def new_keeper(self) -> Keeper:
        return InMemory()


class InDatabaseOverTheYears(CareOverTheYears):
    keeper: InDatabase

    def new_keeper(self) -> Keeper:
        return InDatabase()

    def teardown(self) -> None:
        self.keeper.close()


def _tried(variable: str, usual: str) -> settings:
    runs, steps = map(int, os.environ.get(variable, usual).split("x"))
    return settings(
        max_examples=runs,
        stateful_step_count=steps,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        phases=[phase for phase in Phase if phase != Phase.shrink or variable not in os.environ],
    )


def test_planning_loses_doubles_and_renames_nothing_over_the_years() -> None:
    run_state_machine_as_test(InMemoryOverTheYears, settings=_tried("CARE_YEARS", "20x20"))


@pytest.mark.django_db
def test_stored_care_is_neither_lost_nor_doubled_nor_renamed_over_the_years() -> None:
    run_state_machine_as_test(InDatabaseOverTheYears, settings=_tried("CARE_YEARS_STORED", "5x20"))


def test_the_rules_of_the_machine_have_every_trigger_but_those_of_single_readings() -> None:
    rules = [catalog()[key] for key in USED]
    for trigger in ("every_days", "season", "within", "computed", "reading", "run_hours", "event"):
        assert any(getattr(each, trigger) for each in rules), trigger
