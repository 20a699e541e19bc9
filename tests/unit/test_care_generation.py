"""Which care tasks a courtyard gets, and when."""

from dataclasses import replace
from datetime import date, time, timedelta
from itertools import pairwise

import pytest

from landscape_care.almanac.dates import Window
from landscape_care.care.catalog import Adjustment, adjusted, agreed, catalog
from landscape_care.care.generation import History, Past, Wanted, season_name
from landscape_care.care.measures import Measured
from landscape_care.trades.kinds import Thing, Zone
from tests.unit.care_garden import A_YEAR_ON, START, courtyard, courtyard_things, of_rule, tasks

SAND_FILTER, CONTROLLER, PLAIN_TIMER, ASTRONOMIC_TIMER = 22, 10, 30, 31


def dues(found: list[Wanted]) -> list[date]:
    return [want.window.due for want in found]


def without(uid: int, **values: object) -> tuple[Thing, ...]:
    return tuple(replace(t, **values) if t.uid == uid else t for t in courtyard_things())  # type: ignore[arg-type]


# --- Repeating care ---


def test_repeating_care_is_counted_from_the_start_of_care() -> None:
    found = of_rule(tasks(courtyard()), "sand-filter-backwash")
    assert dues(found)[:3] == [START + timedelta(30 * count) for count in (1, 2, 3)]
    assert [want.occurrence for want in found[:3]] == ["1", "2", "3"]
    assert found[0].key == "22:sand-filter-backwash:1"


def test_a_thing_installed_later_is_cared_for_from_its_day() -> None:
    garden = courtyard(things=without(40, installed_on=date(2027, 2, 1)))
    assert dues(of_rule(tasks(garden), "turf-brushing"))[0] == date(2027, 2, 15)


def test_the_next_is_counted_from_the_last_care_and_keeps_counting() -> None:
    history = History({"22:sand-filter-backwash": Past(4, date(2027, 3, 9))})
    found = of_rule(tasks(courtyard(), history=history), "sand-filter-backwash")
    assert (found[0].occurrence, found[0].window.due) == ("5", date(2027, 4, 8))


def test_a_backwash_done_today_moves_only_its_own_series() -> None:
    before = tasks(courtyard())
    history = History({"22:sand-filter-backwash": Past(1, date(2026, 11, 20))})
    after = tasks(courtyard(), history=history)
    others = [want for want in before if want.rule != "sand-filter-backwash"]
    assert others == [want for want in after if want.rule != "sand-filter-backwash"]
    assert dues(of_rule(after, "sand-filter-backwash"))[0] == date(2026, 12, 20)


def test_a_pressure_of_eight_psi_over_clean_brings_the_backwash_forward() -> None:
    below, at = Measured(date(2026, 11, 10), 17.9), Measured(date(2026, 11, 15), 18.0)
    history = History(readings={(SAND_FILTER, "filter_pressure_psi"): (below, at)})
    found = of_rule(tasks(courtyard(), history=history), "sand-filter-backwash")
    assert dues(found)[:2] == [date(2026, 11, 15), date(2026, 12, 15)]
    assert found[0].occurrence == "1"


def test_a_pressure_read_on_the_day_of_the_backwash_belongs_to_the_time_before() -> None:
    history = History(
        {"22:sand-filter-backwash": Past(1, date(2026, 11, 20))},
        {(SAND_FILTER, "filter_pressure_psi"): (Measured(date(2026, 11, 20), 19.0),)},
    )
    found = of_rule(tasks(courtyard(), history=history), "sand-filter-backwash")
    assert dues(found)[0] == date(2026, 12, 20)


def test_a_pressure_read_on_the_first_day_of_care_counts() -> None:
    history = History(readings={(SAND_FILTER, "filter_pressure_psi"): (Measured(START, 30.0),)})
    found = of_rule(tasks(courtyard(), history=history), "sand-filter-backwash")
    assert dues(found)[:2] == [START, START + timedelta(30)]


def test_later_care_follows_a_task_that_stays_where_people_were_told_it_is() -> None:
    told_on = START + timedelta(40)
    history = History(kept_on={"22:sand-filter-backwash:1": told_on})
    found = of_rule(tasks(courtyard(), history=history), "sand-filter-backwash")
    assert dues(found)[1] == told_on + timedelta(30)


def test_a_longer_interval_goes_on_from_care_that_stays_and_nothing_is_done_twice() -> None:
    held_on = START + timedelta(5 * 30)
    history = History(kept_on={"22:sand-filter-backwash:5": held_on})
    longer = adjusted(catalog(), {"sand-filter-backwash": Adjustment(every_days=70)}, {})
    found = of_rule(tasks(courtyard(), longer, history=history), "sand-filter-backwash")
    assert [want.occurrence for want in found] == ["1", "2", "5", "6", "7", "8"][: len(found)]
    assert dues(found)[:4] == [START + timedelta(days) for days in (70, 140, 150, 220)]


def test_a_filter_without_a_clean_pressure_keeps_to_its_interval() -> None:
    garden = courtyard(things=without(SAND_FILTER, clean_psi=None))
    history = History(readings={(SAND_FILTER, "filter_pressure_psi"): (Measured(date(2026, 11, 15), 40.0),)})
    assert dues(of_rule(tasks(garden, history=history), "sand-filter-backwash"))[0] == START + timedelta(30)


def test_repeating_care_rests_outside_its_season() -> None:
    found = of_rule(tasks(courtyard()), "colour-feeding")
    assert min(dues(found)) >= date(2027, 3, 1)
    assert all(want.window.closes <= date(2027, 11, 30) for want in found)
    assert len({want.key for want in found}) == len(found) >= 6


def test_nobody_flushes_drip_while_the_water_is_off_for_the_winter() -> None:
    cold = dues(of_rule(tasks(courtyard()), "zone-inspection"))
    assert all(date(2027, 3, 31) <= due <= date(2027, 11, 13) for due in cold)
    mild = dues(of_rule(tasks(courtyard("phoenix")), "zone-inspection", 11))
    assert {(later - earlier).days for earlier, later in pairwise(mild)} == {30}


def test_a_season_that_lasts_all_year_has_no_edge_at_new_year() -> None:
    garden = courtyard("phoenix", start=date(2026, 12, 3))
    first = of_rule(tasks(garden), "zone-inspection")[0]
    assert first.window == Window(date(2026, 12, 26), date(2027, 1, 2), date(2027, 1, 9))


def test_yearly_care_done_a_little_late_comes_back_inside_the_next_season() -> None:
    mulch = of_rule(tasks(courtyard(), through=date(2028, 12, 1)), "mulch-renewal")
    season_closes = mulch[-1].window.closes.replace(year=2027)
    done_late = season_closes + timedelta(10)
    history = History({"1:mulch-renewal": Past(1, done_late)})
    found = of_rule(tasks(courtyard(), history=history, through=date(2028, 12, 1)), "mulch-renewal")
    assert (found[0].window.due.year, found[0].window.due <= found[0].window.closes) == (2028, True)
    assert found[0].window.due < done_late.replace(year=2028)


def test_care_that_went_back_to_the_end_of_its_season_does_not_meet_the_one_before() -> None:
    # Every 14 days in the growing season of Maricopa, which ends on 1 December: the last gap is short.
    garden = courtyard("maricopa", start=date(2027, 3, 1))
    scouting = of_rule(tasks(garden, through=date(2028, 3, 1)), "pest-scouting")
    gaps = [(later.window.due - earlier.window.due).days for earlier, later in pairwise(scouting)]
    assert any(gap < 10 for gap in gaps)
    assert all(one.window.closes < other.window.opens for one, other in pairwise(scouting))


def test_hours_of_running_decide_when_a_pump_is_serviced() -> None:
    garden = courtyard(things=without(21, hours_per_day=24.0))
    assert dues(of_rule(tasks(garden), "pump-service"))[0] == START + timedelta(365)
    assert of_rule(tasks(courtyard()), "pump-service") == []  # 12 h a day: after two years
    assert of_rule(tasks(courtyard(things=without(21, hours_per_day=0.0))), "pump-service") == []


def test_care_repeats_no_more_often_than_the_agreement_sends_somebody() -> None:
    monthly = agreed(catalog(), [], 28)
    brushing = of_rule(tasks(courtyard(), monthly), "turf-brushing")
    assert dues(brushing)[:2] == [START + timedelta(28), START + timedelta(56)]
    backwash = of_rule(tasks(courtyard(), monthly), "sand-filter-backwash")
    assert dues(backwash)[0] == START + timedelta(30)


def test_what_the_agreement_does_not_pay_for_is_not_planned() -> None:
    found = tasks(courtyard(), agreed(catalog(), ["turf"], 7))
    assert {want.stem for want in found} == {"turf"}


# --- Seasons ---


def test_a_season_names_its_task_and_is_its_window() -> None:
    [swap] = of_rule(tasks(courtyard()), "colour-swap-to-warm")
    assert swap.occurrence == "2027-spring"
    assert (swap.window.opens, swap.window.closes) == (date(2027, 4, 28), date(2027, 6, 2))
    assert swap.window.opens < swap.window.due < swap.window.closes


def test_a_season_that_is_open_when_care_begins_is_taken_from_that_day() -> None:
    garden = courtyard(start=date(2027, 5, 20))
    [swap] = of_rule(tasks(garden, today=date(2027, 5, 20)), "colour-swap-to-warm")
    assert (swap.window.opens, swap.window.due) == (date(2027, 5, 20), date(2027, 5, 20))


def test_a_season_moved_by_the_company_keeps_its_name() -> None:
    rules = adjusted(catalog(), {}, {"colour-swap-to-warm": Adjustment(offset_days=-7)})
    [swap] = of_rule(tasks(courtyard(), rules), "colour-swap-to-warm")
    assert (swap.occurrence, swap.window.opens) == ("2027-spring", date(2027, 4, 21))


def test_a_mild_winter_has_no_winterising_and_a_cold_one_has() -> None:
    assert of_rule(tasks(courtyard("phoenix")), "irrigation-winterising") == []
    names = [want.occurrence for want in of_rule(tasks(courtyard()), "irrigation-winterising")]
    assert names == ["2026-autumn", "2027-autumn"]


def test_two_seasons_of_one_rule_get_two_names() -> None:
    names = [
        want.occurrence for want in of_rule(tasks(courtyard(), through=date(2028, 2, 1)), "drain-clearing")
    ]
    assert names == ["2026-autumn", "2027-spring", "2027-autumn"]


def test_seasons_are_named_by_their_months_and_the_other_way_round_in_the_south() -> None:
    assert season_name(date(2026, 12, 5)) == "2026-winter"
    assert season_name(date(2027, 3, 1)) == "2027-spring"
    assert season_name(date(2027, 3, 1), southern=True) == "2027-autumn"


# --- What is computed ---


def test_the_program_is_a_task_only_in_months_in_which_it_changes() -> None:
    found = of_rule(tasks(courtyard("maricopa")), "irrigation-program", CONTROLLER)
    programs = [want.details["settings"] for want in found]
    assert all(one != other for one, other in pairwise(programs))
    assert 4 <= len(found) <= 13
    assert found[0].occurrence == "2026-12"


def test_a_month_with_the_same_program_as_the_month_before_asks_for_nothing() -> None:
    # A rate of 10 in an hour on a small pocket: whole minutes hardly change with the season.
    fast = without(11, flow_gpm=None, precipitation_in_h=10.0, area_ft2=5.0)
    alone = tuple(thing for thing in fast if thing.uid not in (12, 13))
    found = of_rule(tasks(courtyard("maricopa", things=alone)), "irrigation-program")
    assert 1 <= len(found) < 12
    lines = [[line for line in w.details["lines"]["en"] if line.startswith("Z")] for w in found]
    assert all(one != other for one, other in pairwise(lines))


def test_no_program_is_set_while_the_water_is_off_for_the_winter() -> None:
    months = [want.occurrence for want in of_rule(tasks(courtyard()), "irrigation-program")]
    assert months[0] == "2027-04"
    assert "2027-12" not in months


def test_a_zone_whose_plants_nobody_recorded_is_said_and_not_guessed() -> None:
    garden = courtyard("maricopa", things=without(13, planting_ids=()))
    first = of_rule(tasks(garden), "irrigation-program")[0]
    assert "Z3" not in first.details["settings"]
    assert any(line.startswith("Z3: ") for line in first.details["lines"]["en"])
    assert any(line.startswith("Z3: ") for line in first.details["lines"]["es"])


def test_a_window_too_short_for_all_zones_is_said_in_both_languages() -> None:
    garden = courtyard("maricopa", watering_opens=time(4), watering_closes=time(4, 30))
    found = of_rule(tasks(garden), "irrigation-program")
    summer = next(w for w in reversed(found) if w.window.due <= date(2027, 6, 1))
    assert any("Station 2" in line for line in summer.details["lines"]["en"])
    assert any("Estación 2" in line for line in summer.details["lines"]["es"])


def test_a_plain_timer_is_reset_on_the_day_the_clocks_change() -> None:
    found = of_rule(tasks(courtyard()), "light-timer-reset")
    assert {want.thing_uid for want in found} == {PLAIN_TIMER}
    assert {date(2027, 3, 14), date(2027, 11, 7)} <= set(dues(found))  # tzdata, America/Denver
    assert all(want.window.opens == want.window.due for want in found)


def test_where_clocks_never_change_nobody_checks_them() -> None:
    found = tasks(courtyard("tucson"))
    assert of_rule(found, "controller-clock-change") == []
    assert of_rule(found, "timer-clock-change") == []
    assert of_rule(found, "light-timer-reset")


def test_clock_changes_name_their_tasks() -> None:
    found = of_rule(tasks(courtyard()), "timer-clock-change", ASTRONOMIC_TIMER)
    assert [want.occurrence for want in found] == ["2027-03-14", "2027-11-07"]


def test_a_longer_horizon_changes_no_timer_setting() -> None:
    short = of_rule(tasks(courtyard()), "light-timer-reset")
    long = of_rule(tasks(courtyard(), through=A_YEAR_ON + timedelta(200)), "light-timer-reset")
    assert long[: len(short)] == short


# --- Events and readings ---


def test_new_plants_are_watered_less_and_less_over_eight_weeks() -> None:
    things = without(4, installed_on=date(2027, 3, 1))
    zones = tuple(
        replace(t, planting_ids=(3, 4)) if isinstance(t, Zone) and t.uid == 11 else t for t in things
    )
    found = of_rule(tasks(courtyard(things=zones)), "establishment-watering")
    assert [(w.window.due - date(2027, 3, 1)).days for w in found] == [0, 14, 28, 42, 56]
    assert "3-4 days" in found[0].details["lines"]["en"][0]
    assert found[-1].details["lines"]["en"] == ["back to the month's program"]
    assert {want.thing_uid for want in found} == {11}


def test_plants_that_stood_before_care_began_need_no_establishment() -> None:
    assert of_rule(tasks(courtyard()), "establishment-watering") == []


@pytest.mark.parametrize(("flow_gpm", "is_off"), [(1.06, False), (1.30, True), (0.80, True)])
def test_a_flow_more_than_fifteen_percent_off_the_record_asks_for_a_search(
    flow_gpm: float, is_off: bool
) -> None:
    history = History(readings={(12, "flow_gpm"): (Measured(date(2026, 12, 1), flow_gpm),)})
    found = of_rule(tasks(courtyard(), history=history), "zone-flow-search")
    assert [want.occurrence for want in found] == (["2026-12-01"] if is_off else [])


def test_a_search_that_was_done_is_not_asked_for_again_by_the_same_reading() -> None:
    history = History(
        {"12:zone-flow-search": Past(0, date(2026, 12, 9))},
        {(12, "flow_gpm"): (Measured(date(2026, 12, 1), 2.0),)},
    )
    assert of_rule(tasks(courtyard(), history=history), "zone-flow-search") == []


# --- What stands and what is gone ---


def test_a_thing_that_is_gone_asks_for_nothing_and_one_that_will_go_asks_until_then() -> None:
    gone = courtyard(things=without(40, removed_on=date(2027, 3, 1)))
    still = of_rule(tasks(gone), "turf-brushing")
    assert max(dues(still)) < date(2027, 3, 1)
    assert of_rule(tasks(gone, today=date(2027, 3, 1)), "turf-brushing") == []


def test_traits_choose_the_rules() -> None:
    found = tasks(courtyard())
    assert {want.thing_uid for want in of_rule(found, "frost-tender-pruning")} == {5}
    assert {want.thing_uid for want in of_rule(found, "shrub-thinning")} == {6}
    assert {want.thing_uid for want in of_rule(found, "drip-flush")} == {12}
    assert {want.thing_uid for want in of_rule(found, "mulch-renewal")} == {1}
    unstaked = courtyard(things=without(7, staked=False))
    assert of_rule(found, "tree-strap-loosening")
    assert of_rule(tasks(unstaked), "tree-strap-loosening") == []


def test_a_renamed_rule_keeps_the_keys_of_its_tasks() -> None:
    renamed = replace(catalog()["turf-brushing"], key="turf-grooming", formerly=("turf-brushing",))
    found = tasks(courtyard(), {"turf-grooming": renamed})
    assert found[0].key == "40:turf-brushing:1"
    assert found[0].rule == "turf-grooming"
