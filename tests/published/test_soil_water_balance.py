"""The water in the ground beside another program of FAO-56 chapter 8 (pyfao56, USDA ARS).

Its balance also has water that dries off bare soil. Under a canopy of 99 percent over a skin of soil
that holds next to nothing that part is small, and what is left is equations 82 to 88, as here.
"""

from datetime import date, timedelta
from typing import Any

import pandas
import pyfao56
import pytest

from landscape_care.care.soil_water import DayWater, allowed_in, crop_factor, depletions, held_in
from landscape_care.trades.irrigation import ZoneNeed
from landscape_care.trades.zone_needs import zone_need
from tests.unit.care_garden import courtyard

FIRST = date(2027, 4, 1)
MM_PER_IN = 25.4
# A rain of which nothing is lost on the way to the roots: half of what is above 0.2 in counts here.
LOST_IN, SHARE = 0.2, 0.5
NEARLY_NOTHING = 1e-6


def need_of_a_bed() -> ZoneNeed:
    garden = courtyard("maricopa")
    need = zone_need(garden, garden.thing(11), FIRST)
    assert need is not None
    return need


def weather(days: int) -> list[tuple[float, float]]:
    """Reference evapotranspiration and effective rain of each day, inches: a spring that gets hot."""
    return [
        (0.18 + 0.003 * n + 0.05 * ((n * 7) % 5 - 2) / 2, {9: 0.4, 10: 0.9, 33: 0.25}.get(n, 0.0))
        for n in range(days)
    ]


def by_pyfao56(
    need: ZoneNeed, days: list[tuple[float, float]], given_in: float
) -> tuple[list[float], list[float]]:
    """Depletion of each day, and what had dried off bare soil until then, inches."""
    kcb = crop_factor(need)
    held_mm = held_in(need) * MM_PER_IN
    start = FIRST - timedelta(1)
    parameters = pyfao56.Parameters(
        Kcbini=kcb / 2, Kcbmid=kcb, Kcbend=kcb, Lini=0, Ldev=0, Lmid=400, Lend=1, hini=0.1, hmax=0.1,
        thetaFC=0.3, thetaWP=0.1, theta0=0.3 - 0.2 * allowed_in(need) / 2 / held_in(need),
        Zrini=held_mm / 200, Zrmax=held_mm / 200, pbase=need.depletion, Ze=0.0001, REW=NEARLY_NOTHING / 2,
    )  # fmt: skip
    sky, water = pyfao56.Weather(), pyfao56.Irrigation()
    sky.wndht, canopy = 2.0, pyfao56.Update()
    # The first day only sets the growth stage; nothing happens on it.
    for number, (eto_in, rain_in) in enumerate([(0.0, 0.0), *days]):
        day = (start + timedelta(number)).strftime("%Y-%j")
        row: dict[str, Any] = dict.fromkeys(sky.wdata.columns, float("nan"))
        row |= {"Rain": rain_in * MM_PER_IN, "ETref": eto_in * MM_PER_IN, "Wndsp": 2.0, "RHmin": 45.0}
        sky.wdata.loc[day] = pandas.Series(row)
        if number:
            water.addevent(*map(int, day.split("-")), given_in * MM_PER_IN, 1.0)
        canopy.udata.loc[day] = pandas.Series({"Kcb": float("nan"), "h": float("nan"), "fc": 0.99})
    last = start + timedelta(len(days))
    model = pyfao56.Model(
        start.strftime("%Y-%j"), last.strftime("%Y-%j"), parameters, sky, irr=water, upd=canopy, cons_p=True
    )
    model.run()
    left_in, dried_in = model.odata["Dr"] / MM_PER_IN, model.odata["E"].cumsum() / MM_PER_IN
    return list(left_in)[1:], list(dried_in)[1:]


@pytest.mark.parametrize("share_given", [0.0, 0.4, 0.8, 1.0, 1.5])
def test_depletion_goes_as_another_program_of_the_paper_has_it(share_given: float) -> None:
    need, days = need_of_a_bed(), weather(50)
    given_in = share_given * 0.25 * crop_factor(need)
    seen = [
        DayWater(FIRST + timedelta(n), eto_in, rain_in / SHARE + LOST_IN if rain_in else 0.0, "measured")
        for n, (eto_in, rain_in) in enumerate(days)
    ]
    ours = depletions(need, seen, given_in_per_day=given_in)
    theirs, dried = by_pyfao56(need, days, given_in)
    # What dried off there and not here is all that may lie between them: neither balance lets a
    # difference grow.
    assert dried[-1] < 0.01 * sum(eto_in for eto_in, _ in days)
    for mine, other, least in zip(ours, theirs, dried, strict=True):
        assert mine == pytest.approx(other, abs=least + 0.001)
    # The series are no straight lines: dry ones come into stress, wet ones run over.
    assert share_given > 0.4 or max(theirs) > allowed_in(need)
    assert share_given < 1 or min(theirs) == pytest.approx(0, abs=0.001)
