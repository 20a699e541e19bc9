"""Artificial turf."""

from landscape_care.almanac.bounds import check, check_not_negative

NEW_INFILL_LB_FT2 = 1.5
WORN_INFILL_LB_FT2 = 0.2


def infill_lb(area_ft2: float, rate_lb_ft2: float = WORN_INFILL_LB_FT2) -> float:
    """Return the infill sand for an area, lb.

    Common practice: 1 to 2 lb/ft² on new turf, then 0.1 to 0.3 lb/ft² a year for what wears off.
    """
    check_not_negative("area_ft2", area_ft2)
    check("rate_lb_ft2", rate_lb_ft2, 0, 4)
    return area_ft2 * rate_lb_ft2
