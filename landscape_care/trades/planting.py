"""Planting arithmetic: counts, flats, volumes and pounds.

Formulas are geometry unless marked as common practice.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from landscape_care.almanac.bounds import check, check_not_negative, check_positive, check_whole

SQ_FT_INCHES_PER_CUBIC_YARD = 324.0
# Common practice: soil delivered loose settles by about this much.
SETTLING = 1.15
_TRIANGLE = math.sqrt(3) / 2


def plants_triangular(area_ft2: float, spacing_in: float) -> float:
    """Return how many plants fill an area, each row set between the plants of the last.

    Area in ft², spacing on centre in inches: area / (0.866 s²), s in feet.
    """
    return plants_square(area_ft2, spacing_in) / _TRIANGLE


def plants_square(area_ft2: float, spacing_in: float) -> float:
    """Return how many plants fill an area on a square grid: area / s² (ft², s on centre in ft)."""
    check_not_negative("area_ft2", area_ft2)
    check("spacing_in", spacing_in, 1, 1200)
    return area_ft2 / (spacing_in / 12) ** 2


def planted_area_ft2(length_ft: float, width_ft: float, *, spacing_in: float) -> float:
    """Return the area left for plants when half a spacing is kept free along every edge, in ft²."""
    check_positive("length_ft", length_ft)
    check_positive("width_ft", width_ft)
    check("spacing_in", spacing_in, 1, 1200)
    spacing_ft = spacing_in / 12
    return max(length_ft - spacing_ft, 0) * max(width_ft - spacing_ft, 0)


def rows_square(length_ft: float, width_ft: float, *, spacing_in: float) -> int:
    """Return how many plants stand on a square grid in a rectangle, half a spacing from its edges."""
    along, across = _spans(length_ft, width_ft, spacing_in)
    return _places(along) * _places(across)


def rows_triangular(length_ft: float, width_ft: float, *, spacing_in: float) -> int:
    """Return how many plants stand in rows 0.866 of a spacing apart, every second row set off by half.

    Rows run along the length; all stand half a spacing from the edges of the rectangle.
    """
    along, across = _spans(length_ft, width_ft, spacing_in)
    if across < 1:
        return 0
    rows = math.floor((across - 1) / _TRIANGLE + 1e-9) + 1
    return math.ceil(rows / 2) * _places(along) + rows // 2 * _places(along - 0.5)


def _spans(length_ft: float, width_ft: float, spacing_in: float) -> tuple[float, float]:
    check_positive("length_ft", length_ft)
    check_positive("width_ft", width_ft)
    check("spacing_in", spacing_in, 1, 1200)
    return length_ft * 12 / spacing_in, width_ft * 12 / spacing_in


def _places(spacings: float) -> int:
    return max(0, math.floor(spacings + 1e-9))


def flats(plants: float, per_flat: int) -> int:
    """Return how many whole flats hold so many plants."""
    check_not_negative("plants", plants)
    check_whole("per_flat", per_flat, 1, 512)
    return math.ceil(plants / per_flat)


def cubic_yards(area_ft2: float, depth_in: float) -> float:
    """Return the volume of a layer in cubic yards: ft² · in / 324."""
    check_not_negative("area_ft2", area_ft2)
    check("depth_in", depth_in, 0, 120)
    return area_ft2 * depth_in / SQ_FT_INCHES_PER_CUBIC_YARD


# Pounds for a cubic yard, moist, the heavier end of what is usual; common practice.
LB_PER_YD3: Mapping[str, float] = MappingProxyType(
    {"soil": 2200.0, "compost": 1400.0, "bark": 700.0, "gravel": 2700.0, "sand": 2700.0}
)


def truck_loads(
    cubic_yards: float, material: str, *, bed_yd3: float = 2.0, payload_lb: float = 1500.0
) -> int:
    """Return how many loads of a small truck a volume takes, by room and by weight; common practice."""
    check_not_negative("cubic_yards", cubic_yards)
    check("bed_yd3", bed_yd3, 0.1, 40)
    check("payload_lb", payload_lb, 100, 80_000)
    if material not in LB_PER_YD3:
        raise ValueError(f"material is {material!r}: it must be one of {', '.join(LB_PER_YD3)}")
    a_load_yd3 = min(bed_yd3, payload_lb / LB_PER_YD3[material])
    return math.ceil(cubic_yards / a_load_yd3 - 1e-9)


@dataclass(frozen=True)
class PlantingMix:
    """Volumes of a planting mix in cubic yards, loose as ordered except `in_place_yd3`."""

    in_place_yd3: float
    native_soil_yd3: float
    compost_yd3: float
    sand_yd3: float

    @property
    def loose_yd3(self) -> float:
        """Volume of the three parts together before settling, in cubic yards."""
        return self.native_soil_yd3 + self.compost_yd3 + self.sand_yd3


def planting_mix(area_ft2: float, depth_in: float) -> PlantingMix:
    """Return the mix for a bed: thirds of native soil, compost and sand, 15 % added for settling.

    Common practice. Area in ft², depth in inches, volumes in cubic yards.
    """
    in_place_yd3 = cubic_yards(area_ft2, depth_in)
    third = in_place_yd3 * SETTLING / 3
    return PlantingMix(in_place_yd3, third, third, third)


def mulch(area_ft2: float, depth_in: float = 3) -> float:
    """Return the mulch for an area in cubic yards; 2 to 3 in deep, clear of stems, is usual."""
    check("depth_in", depth_in, 0, 6)
    return cubic_yards(area_ft2, depth_in)


def fertiliser_lb(area_ft2: float, nitrogen_lb_per_1000_ft2: float, *, nitrogen_pct: float) -> float:
    """Return the product that brings a nitrogen rate, in lb: area / 1000 · rate / (N % / 100).

    The label of the product comes first.
    """
    check_not_negative("area_ft2", area_ft2)
    check("nitrogen_lb_per_1000_ft2", nitrogen_lb_per_1000_ft2, 0, 5)
    check("nitrogen_pct", nitrogen_pct, 0.5, 82)
    return area_ft2 / 1000 * nitrogen_lb_per_1000_ft2 / (nitrogen_pct / 100)
