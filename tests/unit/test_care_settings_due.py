"""When a controller's program and a plain timer are set anew: their need leaves the band of what is set."""

from dataclasses import replace
from datetime import date, time
from itertools import pairwise
from typing import Any

import pytest

from landscape_care.care.generation import NO_PAST, History, Past, Wanted
from landscape_care.trades.kinds import Thing
from tests.unit.care_garden import courtyard, courtyard_things, of_rule, tasks

CONTROLLER, TIMER = 10, 30
PROGRAM, RESET = "10:irrigation-program", "30:light-timer-reset"
FIRST = date(2026, 11, 2)


def with_settings(left: dict[str, dict[str, Any]]) -> tuple[Thing, ...]:
    """The things of the courtyard with what was left set on them."""
    return tuple(_with(thing, left.get(thing.tag, {})) for thing in courtyard_things())


def _with(thing: Thing, left: dict[str, Any]) -> Thing:
    values: dict[str, Any] = {
        name: time.fromisoformat(value) if name in ("set_start", "set_on") else value
        for name, value in left.items()
    }
    return replace(thing, **values) if values else thing


def programs(things: tuple[Thing, ...] | None = None, history: History | None = None) -> list[Wanted]:
    return of_rule(tasks(courtyard("maricopa", things=things), history=history), "irrigation-program")


def resets(things: tuple[Thing, ...] | None = None, history: History | None = None) -> list[Wanted]:
    return of_rule(tasks(courtyard(things=things), history=history), "light-timer-reset")


def past(series: str, want: Wanted, on: date, *, done: bool = True) -> dict[str, Past]:
    return {series: NO_PAST.and_then(want.occurrence, on, done=done)}


def month(found: list[Wanted]) -> list[str]:
    return [want.occurrence for want in found]


def weekly(want: Wanted, tag: str) -> float:
    left = want.details["settings"][tag]
    return float(left["set_minutes"] * len(left["set_weekdays"]))


# --- The program of a controller ---


def test_a_program_is_due_only_when_a_zone_leaves_an_eighth_of_its_peak() -> None:
    # Source of the band: settings that stay within 12.5 points of the peak month's need, common practice.
    found = programs()
    peak = {tag: max(weekly(want, tag) for want in found) for tag in ("Z1", "Z3")}
    for one, other in pairwise(found):
        shifts = [abs(weekly(other, tag) - weekly(one, tag)) / peak[tag] for tag in peak]
        assert max(shifts) > 0.12
    assert len(found) < 13


def test_what_is_set_within_the_band_asks_for_no_program_yet() -> None:
    first, second = programs()[:2]
    set_now = programs(with_settings(first.details["settings"]))
    assert month(set_now)[0] == second.occurrence


def test_what_is_set_far_off_asks_for_the_first_month() -> None:
    far_off = {tag: {"set_minutes": 240, "set_weekdays": "1234567"} for tag in ("Z1", "Z2", "Z3")}
    assert month(programs(with_settings(far_off)))[0] == "2026-12"


def test_days_that_are_no_longer_allowed_ask_for_a_program() -> None:
    first = programs()[0]
    garden = courtyard("maricopa", things=with_settings(first.details["settings"]), watering_weekdays=(5,))
    assert month(of_rule(tasks(garden), "irrigation-program"))[0] == "2026-12"


@pytest.mark.parametrize("leaves_settings", [True, False])
def test_a_program_that_was_done_as_asked_moves_none_that_follow(leaves_settings: bool) -> None:
    found = programs()
    done_on = date(2026, 12, 4)
    things = with_settings(found[0].details["settings"]) if leaves_settings else None
    left_on = dict.fromkeys((11, 12, 13), done_on) if leaves_settings else {}
    history = History(past(PROGRAM, found[0], done_on), left_on=left_on)
    assert programs(things, history) == found[1:]


def test_a_setting_left_by_eye_decides_when_the_next_program_is_due() -> None:
    found = programs()
    asked = found[0].details["settings"]
    by_eye = asked | {"Z1": {**asked["Z1"], "set_minutes": asked["Z1"]["set_minutes"] * 3}}
    left_on = dict.fromkeys((11, 12, 13), date(2026, 12, 4))
    history = History(past(PROGRAM, found[0], date(2026, 12, 4)), left_on=left_on)
    assert month(programs(with_settings(by_eye), history))[0] == "2027-01"


def test_a_setting_from_before_the_last_program_counts_no_more() -> None:
    found = programs()
    old = {tag: {"set_minutes": 240, "set_weekdays": "1234567"} for tag in ("Z1", "Z2", "Z3")}
    left_on = dict.fromkeys((11, 12, 13), date(2026, 6, 1))
    history = History(past(PROGRAM, found[0], date(2026, 12, 4)), left_on=left_on)
    assert programs(with_settings(old), history) == found[1:]


def test_a_skipped_program_leaves_the_old_setting_in_force() -> None:
    found = programs()
    history = History(past(PROGRAM, found[0], date(2026, 12, 4), done=False))
    assert month(programs(history=history)) == month(found)


# --- A plain timer ---


def test_a_timer_that_is_set_right_is_left_alone_until_sunset_leaves_its_band() -> None:
    first, second = resets()[:2]
    set_now = with_settings(first.details["settings"])
    history = History(left_on={TIMER: FIRST})
    assert resets(set_now, history)[0].occurrence == second.occurrence


def test_a_timer_that_is_an_hour_off_is_due_at_once() -> None:
    wrong = resets(with_settings({"T1": {"set_on": "21:00"}}))
    assert wrong[0].window.due == FIRST


@pytest.mark.parametrize("days_early_or_late", [0, 3])
def test_a_timer_set_as_asked_moves_no_reset_that_follows(days_early_or_late: int) -> None:
    found = resets()
    done_on = date.fromordinal(found[1].window.due.toordinal() + days_early_or_late)
    things = with_settings(found[1].details["settings"])
    history = History(past(RESET, found[1], done_on), left_on={TIMER: done_on})
    assert resets(things, history) == found[2:]


def test_a_timer_done_without_a_note_of_the_setting_is_taken_as_set_as_asked() -> None:
    found = resets()
    history = History(past(RESET, found[1], found[1].window.due))
    assert resets(history=history) == found[2:]
