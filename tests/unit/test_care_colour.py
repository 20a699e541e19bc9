"""Changes of seasonal colour: what goes out and how, what comes in, and what has to be ordered by when."""

from datetime import date
from typing import Any

import pytest

from landscape_care.almanac.climate import climate
from landscape_care.care.catalog import catalog
from landscape_care.care.colour_orders import PocketOrder, by_kind, lead_days_of
from landscape_care.care.details import NUMBERS, Scene
from landscape_care.trades.kinds import Bed
from tests.unit.care_garden import courtyard, planting

JUNE = date(2027, 6, 1)
BED = Bed(uid=9, tag="B1", area_ft2=60.0, exposure="filtered_shade")


def swap(name: str, plant: str, partner: str = "", **values: Any) -> dict[str, Any]:
    pocket = planting(1, "P1", plant, "seasonal_colour", partner=partner, bed_id=9, **values)
    scene = Scene(courtyard(things=(BED, pocket)), climate("maricopa"))
    return NUMBERS[name](scene, pocket, JUNE)


def lines(found: dict[str, Any], language: str = "en") -> str:
    return "; ".join(found["lines"][language])


def test_a_plain_annual_goes_out_with_its_roots_and_the_other_comes_in() -> None:
    found = swap("colour_swap_to_warm", "viola-x-wittrockiana", "zinnia-elegans", quantity=72)
    assert found["colour"] == {
        "out": "viola-x-wittrockiana",
        "in": "zinnia-elegans",
        "bed": "B1",
        "exposure": "filtered_shade",
    }
    assert (found["numbers"]["plants"], found["numbers"]["flats"]) == (72, 2)
    assert "72 zinnia, 2 flats of 36" in lines(found)
    assert "in bed B1, filtered shade" in lines(found)
    assert "goes out: pansy, pulled with its roots" in lines(found)
    assert "sale: pensamiento, de raíz" in lines(found, "es")


def test_a_kind_that_reseeds_is_thinned_and_not_cleared() -> None:
    found = swap("colour_swap_to_warm", "lobularia-maritima", "zinnia-elegans", quantity=36)
    assert "reseeds: shake out ripe heads, pull what is spent, thin seedlings to" in lines(found)
    assert "pulled with its roots" not in lines(found)
    back = swap("colour_swap_to_cool", "lobularia-maritima", "zinnia-elegans", quantity=36)
    assert "are thinned to" in lines(back)
    assert "plant only the gaps" in lines(back)


def test_a_kind_that_comes_back_is_cut_back_and_asks_for_no_plants() -> None:
    found = swap("colour_swap_to_cool", "lantana-montevidensis", area_ft2=60.0)
    assert (found["numbers"]["plants"], found["numbers"]["flats"]) == (0, 0)
    assert "comes back: cut it back" in lines(found)
    assert "do not pull or replace it" in lines(found)
    assert "compost" not in lines(found)
    beside = swap("colour_swap_to_cool", "lantana-montevidensis", "viola-x-wittrockiana", quantity=36)
    assert beside["numbers"]["plants"] == 36
    assert "comes back: cut it back" in lines(beside)


def test_a_pocket_without_a_kind_for_the_season_leaves_it_to_the_office() -> None:
    found = swap("colour_swap_to_warm", "viola-x-wittrockiana", quantity=36)
    assert found["colour"]["in"] == ""
    assert "36 plants of the office's choice" in lines(found)


def test_plants_that_failed_are_replaced_only_where_they_are_annuals() -> None:
    replaced, cut = catalog()["failed-plant-replacement"], catalog()["tired-perennial-cutback"]
    annual = planting(1, "P1", "viola-x-wittrockiana", "seasonal_colour", quantity=3)
    lasting = planting(2, "P2", "salvia-leucantha", "perennial", quantity=3)
    assert (replaced.suits(annual), cut.suits(annual)) == (True, False)
    assert (replaced.suits(lasting), cut.suits(lasting)) == (False, True)


# --- Orders -----------------------------------------------------------------------------------


def pocket(**values: Any) -> PocketOrder:
    usual: dict[str, Any] = {
        "task_id": 1,
        "property_code": "casa-14",
        "property_name": "Casa 14",
        "tag": "P1",
        "outgoing": "",
        "incoming": "zinnia-elegans",
        "bed": "B1",
        "exposure": "full_sun",
        "plants": 40,
        "flats": 2,
        "compost_yd3": 0.1,
        "opens_on": date(2027, 4, 28),
        "closes_on": date(2027, 6, 2),
    }
    return PocketOrder(**(usual | values))


def test_an_order_goes_out_the_lead_before_the_window_opens() -> None:
    [order] = by_kind([pocket()], 28)
    assert order.order_on == date(2027, 3, 31)


def test_a_kind_is_ordered_together_for_one_light_and_one_day() -> None:
    found = by_kind(
        [
            pocket(tag="P2"),
            pocket(tag="P1"),
            pocket(tag="P3", exposure="shade"),
            pocket(tag="P4", opens_on=date(2027, 4, 20)),
            pocket(tag="P5", plants=0, flats=0),
        ],
        14,
    )
    told = [(order.order_on.day, order.exposure, order.plants, order.flats) for order in found]
    assert told == [(6, "full_sun", 40, 2), (14, "full_sun", 80, 4), (14, "shade", 40, 2)]
    assert [each.tag for each in found[1].pockets] == ["P1", "P2"]


@pytest.mark.parametrize("written", ["-1", "181", "soon", "2.5"])
def test_a_lead_that_makes_no_sense_is_refused(written: str) -> None:
    with pytest.raises(ValueError, match=r"lead_days is .* wanted 0 to 180 days"):
        lead_days_of(written)


def test_no_lead_is_the_usual_one() -> None:
    assert (lead_days_of(" "), lead_days_of("0")) == (28, 0)
