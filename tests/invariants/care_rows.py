"""Laws of stored care, told on plain rows, so that a garden in a database and one in memory obey the same."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from landscape_care.almanac.climate import climate
from landscape_care.care.catalog import WATERING_SEASON, Rule
from landscape_care.care.generation import rule_windows

PLACE = "albuquerque"
Row = Mapping[str, Any]
Rows = dict[str, Row]
Rules = Mapping[str, Rule]


def is_open(row: Row) -> bool:
    """Whether it is still to be done."""
    return bool(row["state"] == "open")


def window(row: Row) -> tuple[date, date, date]:
    """First day, day aimed for, last day."""
    return row["opens_on"], row["due_on"], row["closes_on"]


def usual_due(row: Row) -> date:
    """The day aimed for, without the weather."""
    weather = row["details"].get("weather")
    return date.fromisoformat(weather["usual_due"]) if weather else row["due_on"]


def open_windows(rows: Rows) -> dict[str, tuple[date, date, date]]:
    """The windows of what is open, by key."""
    return {key: window(row) for key, row in rows.items() if is_open(row)}


def check_untouched(before: Row, after: Row, reached: date) -> None:
    """A row that a step is not about stays; what lay beyond the horizon may come when the horizon does."""
    if is_open(before) or before["settled_on"]:
        assert (window(before), before["state"]) == (window(after), after["state"]), after["key"]
    elif is_open(after):
        assert after["due_on"] > reached, f"{after['key']} was withdrawn"


def check_rows(rows: Rows, rules: Rules, first: date, last: date) -> None:
    """What is open is asked for by a rule, lies in its season and apart from its neighbours."""
    by_series: dict[str, list[Row]] = {}
    for row in rows.values():
        by_series.setdefault(row["series"], []).append(row)
        if is_open(row) and not row["held"]:
            assert first <= row["due_on"] <= last, row["key"]
            assert row["rule"] in rules, f"{row['key']} stays though no rule asks for it"
            check_season(row, rules[row["rule"]])
    for mine in by_series.values():
        check_series(mine, rules)


def check_series(rows: list[Row], rules: Rules) -> None:
    """Of repeating care the open numbers follow the last settled one, each apart from its neighbours."""
    numbered = [row for row in rows if row["occurrence"].isdecimal()]
    free = [row for row in numbered if is_open(row) and not row["held"]]
    if not free or not rules[free[0]["rule"]].repeats:
        return
    free.sort(key=_number)
    last = max((_number(row) for row in numbered if row["settled_on"]), default=0)
    held = [row for row in numbered if is_open(row) and row["held"] and last < _number(row)]
    there = sorted((*free, *held), key=_number)
    for before, row in pairwise([{"occurrence": str(last)}, *there]):
        # Care of a longer interval goes on from what the office holds, and none in between is left.
        assert _number(row) == _number(before) + 1 or row["held"], row["key"]
    days = [usual_due(row) for row in there]
    assert days == sorted(days), there[0]["series"]
    for one, other in pairwise(free):
        if _number(other) == _number(one) + 1:
            assert one["closes_on"] < other["opens_on"], f"{one['key']} meets {other['key']}"


def _number(row: Row) -> int:
    return int(row["occurrence"])


def check_season(row: Row, rule: Rule) -> None:
    """A window lies in the season of its rule, as the company set it."""
    expression = rule.season or rule.stays_within
    if expression is None or expression == WATERING_SEASON:
        return
    opens, _, closes = window(row)
    years = range(opens.year - 1, closes.year + 1)
    spans = [each for year in years for _, each in rule_windows(_as_season(rule), climate(PLACE), year)]
    for count in range((closes - opens).days + 1):
        day = opens + timedelta(count)
        assert any(span.contains(day) for span in spans), f"{row['key']}: {day} is outside {expression}"


def _as_season(rule: Rule) -> Rule:
    if rule.season:
        return rule
    return replace(
        rule,
        every_days=None,
        reading=None,
        within=None,
        season=rule.stays_within,
        tolerance_days=0,
        fixed=None,
    )
