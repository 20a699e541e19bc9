"""Days and amounts of care against what extension services, cities and time zone tables publish."""

from dataclasses import replace
from datetime import date, time
from typing import Any

import pytest

from landscape_care.almanac.climate import climate
from landscape_care.care.catalog import catalog
from landscape_care.care.generation import Wanted, season_windows
from landscape_care.trades.kinds import Bed, Filter, Zone
from landscape_care.trades.zone_needs import program, zone_need
from tests.unit.care_garden import courtyard, courtyard_things, of_rule, planting, tasks


def window(rule: str, place: str, year: int = 2027) -> tuple[date, date]:
    season = catalog()[rule].season
    assert season is not None
    [(_, found)] = season_windows(season, climate(place), year)
    return found.opens, found.closes


# Source of both frost dates: University of Arizona Cooperative Extension, Maricopa County frost table,
# Sky Harbor: last 32 F on 7 February, first on 12 December, even odds.
LAST_FROST, FIRST_FROST = date(2027, 2, 7), date(2027, 12, 12)


def test_tender_shrubs_of_phoenix_are_pruned_after_the_published_last_frost_and_in_early_march() -> None:
    # Source: low-desert extension advice, wait for early March after the last frost.
    opens, closes = window("frost-tender-pruning", "phoenix")
    assert opens > LAST_FROST
    assert opens <= date(2027, 3, 1) <= date(2027, 3, 10) <= closes


def test_cool_season_colour_of_phoenix_goes_in_from_mid_september_to_november() -> None:
    # Source: University of Arizona AZ1100, flower planting guide for the low desert: pansy, petunia,
    # snapdragon from mid-September or October on.
    opens, closes = window("colour-swap-to-cool", "phoenix")
    assert date(2027, 9, 15) <= opens <= date(2027, 10, 31)
    assert closes <= date(2027, 11, 30)


def test_warm_season_colour_waits_until_two_weeks_after_the_last_frost() -> None:
    # Source: extension advice, tender annuals after the danger of frost; warm annuals want warm soil.
    for place in ("phoenix", "tucson", "albuquerque", "denver", "atlanta", "el_paso"):
        opens, _ = window("colour-swap-to-warm", place)
        month, day = (int(part) for part in (climate(place).last_frost or "01-01").split("-"))
        assert (opens - date(2027, month, day)).days >= 14


def test_pipes_are_covered_before_the_published_first_frost() -> None:
    _, closes = window("backflow-frost-cover", "phoenix")
    assert closes <= FIRST_FROST


@pytest.mark.parametrize(
    ("place", "days"),
    [
        # Source: IANA time zone database 2025b and the Energy Policy Act of 2005: second Sunday of March,
        # first Sunday of November; Arizona keeps standard time.
        ("albuquerque", ["2026-11-01", "2027-03-14", "2027-11-07"]),
        ("sacramento", ["2026-11-01", "2027-03-14", "2027-11-07"]),
        ("phoenix", []),
    ],
)
def test_clocks_are_checked_on_the_days_they_change(place: str, days: list[str]) -> None:
    garden = courtyard(place, start=date(2026, 10, 1))
    found = of_rule(tasks(garden, through=date(2027, 12, 31)), "controller-clock-change")
    assert [want.occurrence for want in found] == days


def test_a_filter_is_backwashed_at_eight_psi_over_clean_or_after_thirty_days() -> None:
    # Source: public pool and pond filter guidance: backwash at 8 to 10 psi above the clean reading.
    rule = catalog()["sand-filter-backwash"]
    tank = Filter(uid=1, tag="F", medium="sand", area_ft2=1.9, clean_psi=12.0)
    assert rule.every_days == 30
    assert rule.reading is not None
    assert [rule.reading.is_met(psi, tank) for psi in (19.9, 20.0)] == [False, True]


def test_a_backflow_assembly_is_tested_at_least_yearly() -> None:
    # Source: cross-connection control rules usually ask for a yearly test (from memory).
    assert (catalog()["backflow-test"].every_days or 999) <= 365


@pytest.mark.parametrize("day_month", [(8, 21), (1, 31), (6, 20)])
def test_a_plain_timer_is_never_more_than_twenty_minutes_from_sunset(day_month: tuple[int, int]) -> None:
    # Source: sunset by the astral library, an independent implementation of the NOAA equations.
    from zoneinfo import ZoneInfo

    from astral import Observer
    from astral.sun import sunset

    day = date(2027, *day_month)
    garden = courtyard()
    resets = of_rule(tasks(garden), "light-timer-reset")
    now = max((want for want in resets if want.window.due <= day), key=lambda want: want.window.due)
    on = time.fromisoformat(now.details["settings"]["T1"]["set_on"])
    seen = sunset(Observer(garden.latitude_deg, garden.longitude_deg), day, tzinfo=ZoneInfo(garden.time_zone))
    assert abs((on.hour - seen.hour) * 60 + on.minute - seen.minute) <= 21  # and a minute of difference


def test_resets_of_a_year_are_as_few_as_computed_for_the_two_cities() -> None:
    # Source: fewest settings within 20 minutes of sunset by the NOAA equations: Phoenix 6, Albuquerque 7.
    for place, fewest in (("phoenix", 6), ("albuquerque", 7)):
        found = of_rule(
            tasks(courtyard(place, start=date(2026, 1, 1)), through=date(2026, 12, 31)), "light-timer-reset"
        )
        # A year that is cut on 1 January may need one setting more than one cut at the best day.
        assert fewest <= len(found) <= fewest + 1


# --- Watering against what cities of the low desert tell their gardeners ---


def june_interval(plant: str, role: str, device: str) -> int:
    """Days between runs in June at Phoenix for one planting on its own valve."""
    bed = Bed(uid=1, tag="B", area_ft2=100.0, exposure="full_sun", soil="sandy_loam", amended_depth_in=12.0)
    plants = planting(2, "P", plant, role, bed_id=1, quantity=5)
    flow: dict[str, Any] = {"emitters": 15, "emitter_gph": 2.0} if device == "drip" else {"flow_gpm": 2.1}
    served = {"area_ft2": 100.0, "planting_ids": (2,), **flow}
    zone = Zone(uid=3, tag="Z", controller_id=4, station=1, device=device, **served)
    need = zone_need(courtyard("phoenix", things=(bed, plants, zone)), zone, date(2027, 6, 1))
    assert need is not None
    eto_in_per_day = climate("phoenix").irrigation_eto_in[5] / 30
    [planned] = program((need,), eto_in_per_day, tuple(range(7)), (time(0), time(23, 59))).zones
    return planned.interval_days


def test_annuals_are_watered_every_one_to_three_days_in_june() -> None:
    # Source: City of Avondale AZ, landscape watering guide: annuals in June every 1 to 3 days.
    assert 1 <= june_interval("zinnia-elegans", "seasonal_colour", "micro_spray") <= 3


def test_desert_shrubs_are_watered_less_often_than_annuals_and_at_most_every_three_weeks() -> None:
    # Source: an Arizona arboretum's summer table: desert-adapted shrubs every 7 to 21 days.
    interval = june_interval("leucophyllum-frutescens", "shrub", "drip")
    assert june_interval("zinnia-elegans", "seasonal_colour", "micro_spray") < interval <= 21


def test_the_june_program_waters_more_than_the_december_one() -> None:
    # Source: reference evapotranspiration measured by AZMET at Maricopa, June 10.4 in, December 2.1 in.
    found = {want.occurrence: want for want in of_rule(tasks(courtyard("maricopa")), "irrigation-program")}
    gallons = {month: want.details["numbers"]["gallons_per_week"] for month, want in found.items()}
    june = max(month for month in gallons if month <= "2027-06")  # what is set by then holds on
    assert gallons[june] / gallons["2026-12"] == pytest.approx((10.4 / 30) / (2.1 / 31), rel=0.35)


def straps(found: list[Wanted]) -> list[Wanted]:
    return of_rule(found, "tree-strap-loosening")


def test_straps_of_staked_trees_are_looked_at_twice_a_year() -> None:
    # Common practice: twice a year, stakes gone by the end of the second season.
    things = tuple(
        replace(t, installed_on=date(2026, 11, 2)) if t.uid == 7 else t for t in courtyard_things()
    )
    assert len(straps(tasks(courtyard(things=things)))) == 2
