"""Infill and joint sand against trade ranges (common practice) and the weight of dry sand.

Bulk density of dry sand 90 to 105 lb/ft³: engineering handbooks, from memory.
"""

import pytest

from landscape_care.trades.paving import joint_sand_lb
from landscape_care.trades.turf import NEW_INFILL_LB_FT2, infill_lb

SAND_LB_FT3 = (90.0, 105.0)


def test_a_year_of_wear_takes_a_tenth_to_three_tenths_of_a_pound_on_a_square_foot() -> None:
    """Common practice: 0.1 to 0.3 lb/ft² a year."""
    assert 0.1 * 500 <= infill_lb(500) <= 0.3 * 500


def test_new_infill_fills_the_foot_of_the_pile_and_leaves_the_blades_free() -> None:
    """Common practice: 1 to 2 lb/ft²; by weight of sand that is well under the 1 in of a short pile."""
    assert 1.0 <= NEW_INFILL_LB_FT2 <= 2.0
    deepest_in = infill_lb(1, NEW_INFILL_LB_FT2) / SAND_LB_FT3[0] * 12
    assert 0.1 < deepest_in < 0.5


def test_a_hundred_square_feet_of_eighth_inch_joints_take_fifteen_to_twenty_five_pounds() -> None:
    """Common practice."""
    assert 15 <= joint_sand_lb(100, 0.125) <= 25


def test_joint_sand_fits_the_joints_of_stones_of_usual_size() -> None:
    """Joints of square stones, width w and depth 1 to 2.25 in: volume by geometry, weight by sand."""
    joints_ft_per_ft2 = {stone_in: 2 * 12 / stone_in for stone_in in (6, 12, 18, 24)}
    width_ft = 0.125 / 12
    most_lb = 100 * joints_ft_per_ft2[6] * width_ft * (2.25 / 12) * SAND_LB_FT3[1]
    least_lb = 100 * joints_ft_per_ft2[24] * width_ft * (1 / 12) * SAND_LB_FT3[0]
    assert least_lb < joint_sand_lb(100, 0.125) < most_lb


@pytest.mark.parametrize("area_ft2", [-1.0, float("nan")])
def test_an_area_that_cannot_be_is_refused_by_name(area_ft2: float) -> None:
    with pytest.raises(ValueError, match="area_ft2"):
        infill_lb(area_ft2)
    with pytest.raises(ValueError, match="area_ft2"):
        joint_sand_lb(area_ft2)
