"""What is written when wanted and stored tasks differ."""

from dataclasses import replace

from landscape_care.care.generation import Wanted
from landscape_care.care.reconciliation import Stored, reconcile
from tests.unit.care_garden import courtyard, of_rule, tasks


def some() -> list[Wanted]:
    return of_rule(tasks(courtyard()), "turf-brushing")[:3]


def stored(want: Wanted, *, fixed: bool = False, withdrawn: bool = False) -> Stored:
    return Stored(want.key, want.key, want.series, want.shown(), fixed=fixed, withdrawn=withdrawn)


def test_what_is_missing_is_added_and_nothing_else() -> None:
    changes = reconcile(some(), [])
    assert [want.key for want in changes.add] == [want.key for want in some()]
    assert (changes.move, changes.withdraw) == ((), ())


def test_what_is_stored_as_wanted_is_left_alone() -> None:
    assert not reconcile(some(), [stored(want) for want in some()])


def test_a_shifted_window_and_a_changed_number_are_moves() -> None:
    later = replace(some()[0], window=some()[0].window.shifted(2))
    other = replace(some()[1], details={"numbers": {"sand_lb": 4.0}})
    changes = reconcile(some(), [stored(later), stored(other), stored(some()[2])])
    assert [have.key for have, _ in changes.move] == [later.key, other.key]
    assert not changes.add


def test_a_fixed_task_is_left_alone_whether_wanted_elsewhere_or_not_at_all() -> None:
    later = replace(some()[0], window=some()[0].window.shifted(2))
    assert not reconcile([some()[0]], [stored(later, fixed=True)])
    assert not reconcile([], [stored(later, fixed=True)])


def test_a_task_people_were_told_about_is_not_moved_and_goes_when_nothing_asks_for_it() -> None:
    later = replace(some()[0], window=some()[0].window.shifted(2))
    told = replace(stored(later, fixed=True), told=True)
    assert not reconcile([some()[0]], [told])
    assert reconcile([], [told]).withdraw == (told,)


def test_what_nobody_wants_is_withdrawn_once() -> None:
    changes = reconcile([], [stored(some()[0])])
    assert [have.key for have in changes.withdraw] == [some()[0].key]
    assert not reconcile([], [stored(some()[0], withdrawn=True)])


def test_a_withdrawn_task_wanted_again_is_taken_up_under_its_old_key() -> None:
    changes = reconcile([some()[0]], [stored(some()[0], withdrawn=True)])
    assert [(have.key, want.key) for have, want in changes.move] == [(some()[0].key, some()[0].key)]


def test_a_follow_up_of_a_crew_stays() -> None:
    asked = replace(some()[0], series="40:turf-brushing:follow-up", key="40:turf-brushing:follow-up:1")
    assert not reconcile([], [stored(asked)])
