"""Seasonal windows in real years, and the way they are written."""

from dataclasses import replace
from datetime import date

import pytest

from landscape_care.almanac.anchors import check_expression, seasonal_windows, windows_in_year
from landscape_care.almanac.climate import Climate, climate

ALBUQUERQUE = climate("albuquerque")
PHOENIX = climate("phoenix")
FROSTLESS = replace(PHOENIX, key="frostless", last_frost=None, first_frost=None)


def _south(place: Climate) -> Climate:
    """The same climate half a year on, its frost dates moved by 184 days."""
    turned = {
        name: getattr(place, name)[6:] + getattr(place, name)[:6]
        for name in ("tmax_f", "tmin_f", "rain_in", "eto_in")
    }
    return replace(place, latitude_deg=-35, last_frost="10-15", first_frost="05-02", **turned)


def test_a_named_window_falls_on_its_days_of_the_year() -> None:
    assert windows_in_year("rose_hard_prune", ALBUQUERQUE, 2027) == [(date(2027, 3, 24), date(2027, 4, 21))]


def test_a_winter_window_belongs_to_the_year_in_which_it_opens() -> None:
    found = windows_in_year("frost_protection_ready.start..last_frost_50+14", ALBUQUERQUE, 2026)
    assert found == [(date(2026, 10, 9), date(2027, 4, 28))]


def test_days_before_new_year_move_a_window_into_the_year_before() -> None:
    assert windows_in_year("01-10-20..01-10", ALBUQUERQUE, 2026) == [(date(2026, 12, 21), date(2027, 1, 10))]


def test_several_windows_come_in_order_of_their_days() -> None:
    found = windows_in_year("mean_falls_60F+45..mean_falls_60F+75;05-15..06-15", ALBUQUERQUE, 2027)
    assert found == [
        (date(2027, 5, 15), date(2027, 6, 15)),
        (date(2027, 11, 27), date(2027, 12, 27)),
    ]


def test_a_whole_window_can_be_moved() -> None:
    assert windows_in_year("rose_hard_prune+7", ALBUQUERQUE, 2027) == [(date(2027, 3, 31), date(2027, 4, 28))]


def test_a_single_anchor_is_a_window_of_one_day() -> None:
    assert windows_in_year("last_frost_50", ALBUQUERQUE, 2027) == [(date(2027, 4, 14), date(2027, 4, 14))]
    assert windows_in_year("algae_season.end", ALBUQUERQUE, 2027) == [
        (date(2027, 10, 13), date(2027, 10, 13))
    ]


def test_wide_ranges_about_one_season_pair_within_their_own_year() -> None:
    found = windows_in_year("growing_season.start..growing_season.end+30", FROSTLESS, 2027)
    assert found == [(date(2027, 1, 1), date(2028, 1, 30))]


def test_from_the_end_of_a_season_to_its_start_is_the_time_between() -> None:
    found = windows_in_year("algae_season.end..algae_season.start", ALBUQUERQUE, 2026)
    assert found == [(date(2026, 10, 13), date(2027, 4, 24))]


def test_a_window_moved_back_over_new_year_may_close_in_the_old_year() -> None:
    assert windows_in_year("01-05-10..12-31", ALBUQUERQUE, 2026) == [(date(2026, 12, 26), date(2026, 12, 31))]


@pytest.mark.parametrize(
    "expression",
    [
        "perennial_cutback",
        "frost_tender_prune",
        "rose_hard_prune",
        "frost_protection_ready",
        "last_frost_50..last_frost_50+14",
        "05-01..first_frost_50",
        "irrigation_winterize",
    ],
)
def test_a_place_without_frost_has_no_windows_that_hang_on_frost(expression: str) -> None:
    assert windows_in_year(expression, FROSTLESS, 2027) == []


def test_a_place_without_frost_grows_all_year() -> None:
    assert windows_in_year("growing_season", FROSTLESS, 2027) == [(date(2027, 1, 1), date(2027, 12, 31))]


def test_a_place_never_so_cold_falls_never_and_rises_at_midwinter() -> None:
    assert windows_in_year("mean_falls_50F..mean_falls_50F+21", PHOENIX, 2027) == []
    assert windows_in_year("mean_rises_50F", PHOENIX, 2027) == [(date(2027, 1, 15), date(2027, 1, 15))]


def test_a_place_never_so_warm_has_no_such_day() -> None:
    assert windows_in_year("mean_rises_95F", ALBUQUERQUE, 2027) == []
    assert windows_in_year("mean_falls_95F", ALBUQUERQUE, 2027) == []


def test_only_cold_winters_ask_for_winterising() -> None:
    assert windows_in_year("irrigation_spring_start", PHOENIX, 2027) == []
    assert windows_in_year("irrigation_spring_start", ALBUQUERQUE, 2027) != []


def test_a_southern_garden_has_the_seasons_half_a_year_later() -> None:
    north = seasonal_windows(
        ALBUQUERQUE.tmean_f, ALBUQUERQUE.last_frost, first_frost_md=ALBUQUERQUE.first_frost
    )
    place = _south(ALBUQUERQUE)
    south = seasonal_windows(place.tmean_f, place.last_frost, first_frost_md=place.first_frost)
    for name, window in north.items():
        for northern, southern in zip(window, south[name], strict=True):
            apart = (date(2027, *_split(southern)) - date(2027, *_split(northern))).days % 365
            assert apart == pytest.approx(184, abs=4), name


def _split(month_day: str) -> tuple[int, int]:
    month, day = month_day.split("-")
    return int(month), int(day)


def test_a_southern_season_goes_on_over_new_year() -> None:
    opens, closes = windows_in_year("algae_season", _south(ALBUQUERQUE), 2026)[0]
    assert opens.year == 2026
    assert closes.year == 2027


def test_a_frost_soon_after_the_heat_leaves_two_weeks_for_the_autumn_swap() -> None:
    early = replace(ALBUQUERQUE, last_frost="05-20", first_frost="09-20")
    found = seasonal_windows(early.tmean_f, early.last_frost, first_frost_md=early.first_frost)
    assert found["annual_swap_to_cool"] == ("08-30", "09-13")


@pytest.mark.parametrize(
    ("expression", "words"),
    [
        ("spring", "anchor 'spring' is unknown; known are annual_swap_to_cool"),
        ("last_frost_50.start", "has no .start"),
        ("last_frost_50++3", "is no anchor"),
        ("mean_rises_60", "unknown"),
        ("mean_rises_60C", "is no anchor"),
        ("02-30..03-10", "no such day"),
        ("a..b..c", "two ends"),
        ("", "is no anchor"),
        ("rose_hard_prune;", "is no anchor"),
        ("last_frost_50+20..last_frost_50+10", "closes before it opens"),
        ("last_frost_50+400", "more than a year"),
    ],
)
def test_a_window_that_cannot_be_read_is_refused_with_the_reason(expression: str, words: str) -> None:
    with pytest.raises(ValueError, match=words.replace("+", r"\+").replace(".", r"\.")):
        check_expression(expression)
    with pytest.raises(ValueError, match="window"):
        windows_in_year(expression, ALBUQUERQUE, 2027)


def test_eleven_means_are_refused() -> None:
    with pytest.raises(ValueError, match="twelve"):
        seasonal_windows([50.0] * 11, None, first_frost_md=None)
