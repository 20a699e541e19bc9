"""Care that follows from what was reported or measured."""

from datetime import date, timedelta

import pytest

from landscape_care.almanac.climate import climate, irrigation_eto_in_on
from landscape_care.care.catalog import Event
from landscape_care.care.generation import NO_PAST, History, Past, Reported
from landscape_care.care.measures import Measured, Threshold
from tests.unit.care_garden import START, courtyard, of_rule, tasks

WATER, TREE, COLOUR, SHRUB = 20, 7, 3, 5
STORM = date(2027, 7, 9)


def reported(*reports: Reported) -> History:
    return History(reports={report.kind: [r for r in reports if r.kind == report.kind] for report in reports})


def test_a_storm_sends_somebody_to_the_trees_and_round_the_property() -> None:
    found = tasks(courtyard(), history=reported(Reported("storm", STORM, "2027-07-09")))
    trees, walk = of_rule(found, "tree-storm-inspection"), of_rule(found, "storm-walk")
    assert [want.thing_uid for want in trees] == [TREE]
    assert [want.window.opens for want in (*trees, *walk)] == [STORM, STORM]


def test_one_storm_reported_twice_makes_one_walk() -> None:
    twice = reported(Reported("storm", STORM, "2027-07-09"), Reported("storm", STORM, "2027-07-09"))
    assert len(of_rule(tasks(courtyard(), history=twice), "storm-walk")) == 1


def test_requests_of_one_day_are_kept_apart_and_say_what_was_asked() -> None:
    day = date(2027, 2, 1)
    found = of_rule(
        tasks(
            courtyard(),
            history=reported(
                Reported("owner_request", day, "2027-02-01.4", note="more lavender by the gate"),
                Reported("owner_request", day, "2027-02-01.5", TREE, note="the low branch"),
            ),
        ),
        "owner-request",
    )
    assert [want.details["lines"]["en"] for want in found] == [
        ["more lavender by the gate"],
        ["the low branch"],
    ]
    assert len({want.key for want in found}) == 2


def test_what_befell_one_thing_asks_nothing_of_another() -> None:
    failed = Reported("failed_plants", date(2027, 5, 1), "2027-05-01.1", COLOUR)
    found = of_rule(tasks(courtyard(), history=reported(failed)), "failed-plant-replacement")
    assert [want.thing_uid for want in found] == [COLOUR]
    elsewhere = Reported("failed_plants", date(2027, 5, 1), "2027-05-01.1", SHRUB)
    assert of_rule(tasks(courtyard(), history=reported(elsewhere)), "failed-plant-replacement") == []


def test_a_report_from_before_care_began_asks_for_nothing() -> None:
    early = Reported("storm", START - timedelta(1), "2026-11-01")
    assert of_rule(tasks(courtyard(), history=reported(early)), "storm-walk") == []


def test_an_event_nobody_knows_is_refused() -> None:
    with pytest.raises(ValueError, match="event is 'earthquake'"):
        Event("earthquake")


# --- Losing more water than the air takes ---


def loss(times: float, *, on: date = date(2027, 6, 20)) -> Measured:
    """A reading of so many times what FAO-56 table 12 gives for open water: 1.05 of ETo."""
    air_in = 1.05 * irrigation_eto_in_on(climate("albuquerque"), on.replace(day=15))
    return Measured(on, times * air_in / 12 * 80 * 7.4805)


@pytest.mark.parametrize(("times", "searched"), [(1.0, False), (1.49, False), (1.51, True), (3.0, True)])
def test_half_as_much_again_as_the_air_takes_sends_somebody_to_search(times: float, searched: bool) -> None:
    history = History(readings={(WATER, "makeup_gal_day"): [loss(times)]})
    found = of_rule(tasks(courtyard(), history=history), "water-loss-search")
    assert bool(found) is searched


def test_a_search_that_was_done_is_not_asked_for_by_the_same_reading() -> None:
    history = History(
        series={"20:water-loss-search": Past(0, date(2027, 6, 21))},
        readings={(WATER, "makeup_gal_day"): [loss(2.0)]},
    )
    assert of_rule(tasks(courtyard(), history=history), "water-loss-search") == []


def test_the_same_reading_is_a_leak_in_winter_and_none_in_june() -> None:
    june = loss(1.2)
    december = Measured(date(2026, 12, 20), june.value)
    for reading, searched in ((june, False), (december, True)):
        history = History(readings={(WATER, "makeup_gal_day"): [reading]})
        assert bool(of_rule(tasks(courtyard(), history=history), "water-loss-search")) is searched


def test_a_bound_by_evaporation_is_never_met_by_a_thing_without_water() -> None:
    bound = Threshold("makeup_gal_day", times_evaporation=1.5)
    tree = courtyard().thing(TREE)
    assert not bound.is_met(10_000, tree, evaporation_gal_day=1.0)


def test_skipping_does_not_count_as_the_last_thing_done() -> None:
    done = NO_PAST.and_then("2026-12", date(2026, 12, 4), done=True)
    skipped = done.and_then("2027-03", date(2027, 3, 2), done=False)
    assert (skipped.done, skipped.last_on) == ("2026-12", date(2027, 3, 2))
