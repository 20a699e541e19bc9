"""Water of the zones of a garden, from its as-built record."""

from dataclasses import replace
from datetime import date

import pytest

from landscape_care.almanac.climate import DAYS_IN_MONTH, climate
from landscape_care.trades.garden_water import garden_water, total_of
from landscape_care.trades.kinds import Zone
from tests.unit.test_trades_zone_needs import DAY, MARICOPA, garden


def test_a_zone_needs_its_gallons_by_hand() -> None:
    """June: 20 canopies of 3 ft, plant factor 0.5, a quarter of the rain off, 0.85 emission uniformity.

    gal = (ETo · PF − 0.25 rain) · ft² · 0.6234 / EU: EPA WaterSense and UC ANR, as in `gallons_needed`.
    """
    zone = garden_water(garden(), MARICOPA, DAY)[0]
    net_in = MARICOPA.irrigation_eto_in[5] * 0.5 - 0.25 * MARICOPA.rain_in[5]
    by_hand = net_in * 20 * 3.14159265 * 9 / 4 * 0.6234 / 0.85
    assert (zone.tag, zone.controller) == ("Z0", "C0")
    assert zone.needed_by_month_gal[5] == pytest.approx(by_hand, rel=1e-3)
    assert zone.needed_in_a_year_gal == pytest.approx(sum(zone.needed_by_month_gal))


def test_what_is_programmed_is_what_is_needed_but_for_rain_and_whole_minutes() -> None:
    for zone in garden_water(garden(supply_gpm=20.0), MARICOPA, DAY):
        assert len(zone.set_by_month_gal) == 12
        for month, (needed, given) in enumerate(
            zip(zone.needed_by_month_gal, zone.set_by_month_gal, strict=True)
        ):
            rain_gal = 0.25 * MARICOPA.rain_in[month] * 20 * 3.14159265 * 9 / 4 * 0.6234 / 0.85
            # Half a minute of 2 gal/min for each of the runs, at most one a day.
            rounding_gal = 0.5 * 2.0 * DAYS_IN_MONTH[month]
            assert given == pytest.approx(needed + rain_gal, abs=rounding_gal)


def test_a_garden_where_it_freezes_takes_no_water_in_winter() -> None:
    albuquerque = climate("albuquerque")
    zone = garden_water(garden(climate="albuquerque"), albuquerque, DAY)[0]
    assert zone.needed_by_month_gal[0] == zone.set_by_month_gal[0] == 0
    assert zone.needed_by_month_gal[6] > 0
    # First frost 30 October and 14 days: the water is on for the first 12 of November's 30 days.
    net_in = albuquerque.irrigation_eto_in[10] * 0.5 - 0.25 * albuquerque.rain_in[10]
    whole_month = net_in * 20 * 3.14159265 * 9 / 4 * 0.6234 / 0.85
    assert zone.needed_by_month_gal[10] == pytest.approx(whole_month * 12 / 30, rel=1e-3)


def test_zones_that_water_nothing_known_are_left_out_and_the_rest_adds_up() -> None:
    record = garden()
    blind = tuple(
        replace(thing, planting_ids=()) if isinstance(thing, Zone) and thing.tag == "Z1" else thing
        for thing in record.things
    )
    zones = garden_water(replace(record, things=blind, _by_uid={}), MARICOPA, DAY)
    assert [zone.tag for zone in zones] == ["Z0", "Z2", "Z3"]
    assert total_of(zones).needed_in_a_year_gal == pytest.approx(3 * zones[0].needed_in_a_year_gal)
    assert garden_water(replace(record, things=(), _by_uid={}), MARICOPA, date(2027, 1, 1)) == ()
