"""What a what-if may change, and the crews that follow from it."""

from datetime import date, time
from typing import Any

import pytest

from landscape_care.dispatch.routing import CrewShift
from landscape_care.dispatch.what_if_changes import Changes, NamedShift, crews_with, from_row, hours_of
from landscape_care.trades.limits import Refused

DAYS = frozenset({date(2026, 12, 1), date(2026, 12, 2)})
GARDENERS = NamedShift("ash", CrewShift(1, 2, frozenset({"gardener"}), 420, 930, 30, DAYS))
ALL_ROUND = NamedShift("oak", CrewShift(2, 3, frozenset({"gardener", "mason"}), 480, 960, 30, DAYS))


def test_changes_survive_their_row() -> None:
    changes = Changes(gardens_added=3, crews_out=("ash",), cadence_from="monthly", cadence_to="weekly")
    assert from_row(changes.as_row()) == changes
    earlier = Changes(shift_opens=time(6), shift_closes=time(14, 30))
    assert from_row(earlier.as_row()) == earlier


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({}, "changes"),
        ({"gardens_added": -1}, "gardens_added"),
        ({"gardens_added": 501}, "gardens_added"),
        ({"crews_added": 21}, "crews_added"),
        ({"cadence_from": "monthly"}, "cadence_to"),
        ({"cadence_from": "monthly", "cadence_to": "monthly"}, "cadence_to"),
        ({"cadence_from": "monthly", "cadence_to": "hourly"}, "cadence_to"),
        ({"shift_opens": time(7)}, "shift_closes"),
        ({"shift_opens": time(7), "shift_closes": time(6)}, "shift_closes"),
        ({"shift_opens": time(7), "shift_closes": time(23, 45)}, "shift_closes"),
    ],
)
def test_what_cannot_be_is_refused_by_name(values: dict[str, Any], field: str) -> None:
    with pytest.raises(Refused) as refused:
        Changes(**values)
    assert field in [problem.field for problem in refused.value.problems]
    assert all(getattr(problem, "wanted_es", "") for problem in refused.value.problems)


def test_crews_go_and_come() -> None:
    crews = [GARDENERS, ALL_ROUND]
    assert crews_with(None, crews) == (GARDENERS.shift, ALL_ROUND.shift)
    assert crews_with(Changes(crews_out=("oak",)), crews) == (GARDENERS.shift,)
    more = crews_with(Changes(crews_added=2), crews)
    assert [(crew.uid, crew.skills) for crew in more[2:]] == [
        (-1, ALL_ROUND.shift.skills),
        (-2, ALL_ROUND.shift.skills),
    ]


def test_another_shift_holds_for_all_and_for_hot_days_too() -> None:
    hot = {date(2026, 12, 1): (360, 870)}
    early = NamedShift("ash", CrewShift(1, 2, frozenset(), 420, 930, 30, DAYS, other_hours=hot))
    (crew,) = crews_with(Changes(shift_opens=time(6), shift_closes=time(15)), [early])
    assert (crew.opens_minute, crew.closes_minute) == (360, 900)
    assert crew.on(date(2026, 12, 1)) == crew


def test_hours_are_those_of_all_people_without_breaks() -> None:
    # 2 people, 8 hours, 2 days and 3 people, 7.5 hours, 2 days
    assert hours_of([GARDENERS.shift, ALL_ROUND.shift]) == 32 + 45
