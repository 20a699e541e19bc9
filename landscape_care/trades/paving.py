"""Joints of paving."""

from landscape_care.almanac.bounds import check, check_not_negative

JOINT_SAND_LB_PER_100_FT2 = 20.0
_USUAL_JOINT_IN = 1 / 8


def joint_sand_lb(area_ft2: float, joint_width_in: float = _USUAL_JOINT_IN) -> float:
    """Return the polymeric sand to fill the joints of an area, lb.

    Common practice: 15 to 25 lb for 100 ft² of 1/8 in joints, in proportion to the joint width.
    """
    check_not_negative("area_ft2", area_ft2)
    check("joint_width_in", joint_width_in, 0, 1)
    return area_ft2 / 100 * JOINT_SAND_LB_PER_100_FT2 * joint_width_in / _USUAL_JOINT_IN
