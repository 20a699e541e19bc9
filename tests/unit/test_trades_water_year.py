"""A year of a controller: its settings, gallons, and two controllers on one supply."""

from datetime import date, time, timedelta

import numpy as np
import pytest

from landscape_care.almanac.climate import DAYS_IN_MONTH, climate
from landscape_care.trades.irrigation import ControllerProgram, Supply, ZoneNeed, controller_program
from landscape_care.trades.water_need import RAIN_CREDIT, gallons_per_day, scheduling_multiplier
from landscape_care.trades.water_year import (
    Hours,
    days_of,
    gallons_needed,
    gallons_set,
    programs_of_a_year,
)

MARICOPA = climate("maricopa").eto_in
HOURS = Hours((0, 1, 2, 3, 4, 5, 6), time(3), time(9))


def bed(station: int = 1, **values: object) -> ZoneNeed:
    usual: dict[str, object] = {
        "device": "micro_spray",
        "plant_factor": 0.8,
        "microclimate": 1.0,
        "area_ft2": 100.0,
        "root_depth_in": 8.0,
        "depletion": 0.4,
        "soil": "sandy_loam",
        "precipitation_in_h": 2.0,
        "distribution_uniformity": 0.65,
    }
    return ZoneNeed(station=station, **{**usual, **values})  # type: ignore[arg-type]


def test_settings_cover_every_day_of_the_year_once() -> None:
    settings = programs_of_a_year([bed()], MARICOPA, HOURS)
    covered = np.concatenate([days_of(each.first_day, each.last_day) for each in settings])
    assert sorted(covered.tolist()) == list(range(365))
    assert len(settings) == 6  # Maricopa within ±12.5 points, as in check B25


def test_the_year_of_settings_gives_about_what_the_year_needs() -> None:
    """Middle settings of bands of 12.5 points and whole minutes: within a tenth over the year."""
    settings = programs_of_a_year([bed()], MARICOPA, HOURS)
    given = gallons_set(settings)[1]
    needed = gallons_needed([bed()], MARICOPA)[0]
    assert given.sum() == pytest.approx(needed.sum(), rel=0.1)
    assert (given > 0).all()


def test_needed_gallons_are_those_of_the_day_summed_up() -> None:
    needed = gallons_needed([bed()], MARICOPA)[0]
    july = 31 * gallons_per_day(MARICOPA[6] / 31, 0.8, area_ft2=100) * scheduling_multiplier(0.65)
    assert needed[6] == pytest.approx(july)


def test_drip_needs_its_gallons_over_its_emission_uniformity() -> None:
    drip = bed(
        device="drip", precipitation_in_h=None, emitters=40, emitter_gph=2.0, distribution_uniformity=0.9
    )
    expected = gallons_per_day(MARICOPA[5] / 30, 0.8, area_ft2=100) * 30 / 0.9
    assert gallons_needed([drip], MARICOPA)[0][5] == pytest.approx(expected)


def test_a_quarter_of_the_rain_is_not_needed_from_the_valve() -> None:
    rain = [1.0] * 12
    dry, wet = (gallons_needed([bed()], MARICOPA, fallen)[0] for fallen in (None, rain))
    less = RAIN_CREDIT * 1.0 * 100 * 0.62338 * scheduling_multiplier(0.65)
    assert dry - wet == pytest.approx(np.full(12, less), rel=1e-4)


def test_no_zones_need_nothing() -> None:
    assert gallons_needed([], MARICOPA).shape == (0, 12)


def test_days_go_over_new_year() -> None:
    assert days_of("12-30", "01-02").tolist() == [363, 364, 0, 1]
    assert (
        sum(
            len(days_of(f"{month:02}-01", f"{month:02}-{days}"))
            for month, days in enumerate(DAYS_IN_MONTH, 1)
        )
        == 365
    )


def _program(zones: list[ZoneNeed], supply: Supply) -> ControllerProgram:
    return controller_program(
        zones,
        eto_in_per_day=0.3,
        allowed_weekdays=range(7),
        window_opens=time(3),
        window_closes=time(9),
        supply=supply,
    )


def _drawn(programs: list[ControllerProgram]) -> np.ndarray:
    drawn = np.zeros((7, 1440))
    for zone in (zone for program in programs for zone in program.zones):
        for cycle in range(zone.cycles):
            begin = (
                zone.start.hour * 60 + zone.start.minute + cycle * (zone.cycle_minutes + zone.soak_minutes)
            )
            for day in zone.weekdays:
                drawn[day, begin : begin + zone.cycle_minutes] += zone.gallons_per_run / zone.run_minutes
    return drawn


@pytest.mark.parametrize(("supply_gpm", "together"), [(None, False), (3.0, False), (5.0, True)])
def test_two_controllers_never_draw_more_than_the_supply(supply_gpm: float | None, together: bool) -> None:
    """Each bed draws 2.08 gal/min: two fit into 5, not into 3, and nobody knows without a figure."""
    first = _program([bed(1), bed(2)], Supply(supply_gpm))
    second = _program([bed(1), bed(2)], Supply(supply_gpm, others=(first,)))
    assert second.conflicts == ()
    assert (_drawn([first, second]).max() > 2.1) == together
    assert _drawn([first, second]).max() <= (supply_gpm or 2.1)


def test_a_zone_beyond_the_supply_is_said_and_still_programmed() -> None:
    program = _program([bed(1, precipitation_in_h=4.0)], Supply(3.0))
    assert len(program.zones) == 1
    assert "draws 4.2 gal/min and the supply gives 3" in program.conflicts[0]
    assert program.conflicts_es[0].startswith("Estación 1: toma 4.2 gal/min")


def test_a_supply_without_water_is_refused() -> None:
    with pytest.raises(ValueError, match="supply_gpm"):
        Supply(0.0)


def test_places_of_days_agree_with_the_calendar() -> None:
    day = date(2001, 3, 9)
    assert days_of("03-09", "03-09").tolist() == [(day - date(2001, 1, 1)) // timedelta(1)]
