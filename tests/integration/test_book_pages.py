"""Pages of own plants and climates, and of the colour to order."""

from typing import Any

import pytest
from django.test import Client
from django.utils.translation import override

from landscape_care.almanac.climate import climate
from landscape_care.care import actions as care
from landscape_care.pages import usual_years
from landscape_care.people.actions import add_user
from landscape_care.people.models import Role
from landscape_care.properties import book_entries
from landscape_care.properties.models import OwnClimate, OwnPlant
from tests.integration.api_company import OWN_CLIMATE, OWN_PLANT
from tests.integration.care_company import START, garden, put
from tests.integration.test_books import CLIMATE, OWN_COLOUR

pytestmark = pytest.mark.django_db
MONTHLY = ("tmax_f", "tmin_f", "rain_in")


@pytest.fixture
def desk() -> Client:
    browser = Client()
    browser.force_login(add_user("office", "a long password", role=Role.OFFICE))
    return browser


def filled(**change: Any) -> dict[str, Any]:
    plain = {name: value for name, value in OWN_CLIMATE.items() if name not in MONTHLY}
    months = {
        f"{name}_{month}": value for name in MONTHLY for month, value in enumerate(OWN_CLIMATE[name], 1)
    }
    return plain | months | {"key": "corrales"} | change


def text_of(answer: Any) -> str:
    return str(answer.content, "utf-8")


def test_the_office_adds_a_plant_and_sees_its_source_in_the_list(desk: Client) -> None:
    assert desk.post("/plants/new/", OWN_PLANT | {"key": "tuscan"}).status_code == 302
    page = text_of(desk.get("/plants/?search=rosemary"))
    assert "our own trial bed" in page
    assert "Rosmarinus" in page
    assert "zinnia" not in page


def test_a_plant_in_use_is_kept_and_the_page_says_where_it_stands(desk: Client) -> None:
    book_entries.add_plant(OWN_COLOUR, by=None)
    put(garden(), "planting", "P1", plant="nemesia", role="seasonal_colour", quantity=9)
    assert "Casa 14, Acequia Lane" in text_of(desk.get("/plants/own-nemesia/"))
    answer = desk.post("/plants/own-nemesia/retire/", {"reason": "no"}, follow=True)
    assert "in use at casa-14 P1" in text_of(answer)
    assert OwnPlant.objects.get().ended_at is None


def test_a_plant_is_changed_with_a_reason_retired_and_offered_again(desk: Client) -> None:
    book_entries.add_plant(OWN_PLANT, by=None)
    assert desk.post("/plants/own-tuscan/", OWN_PLANT | {"width_ft": "5"}).status_code == 422
    changed = OWN_PLANT | {"width_ft": "5", "reason": "measured", "winter_cut": "none"}
    assert desk.post("/plants/own-tuscan/", changed).status_code == 302
    assert OwnPlant.objects.get().width_ft == 5
    desk.post("/plants/own-tuscan/retire/", {"reason": "no more"})
    assert OwnPlant.objects.get().ended_at is not None
    assert "no longer offered" in text_of(desk.get("/plants/"))
    desk.post("/plants/own-tuscan/return/")
    assert OwnPlant.objects.get().ended_at is None


def test_a_new_climate_is_shown_as_a_picture_of_its_seasons(desk: Client) -> None:
    answer = desk.post("/climates/new/", filled(), follow=True)
    assert answer.redirect_chain == [("/climates/own-corrales/", 302)]
    page = text_of(answer)
    assert "The change to warm-season colour" in page
    assert "May 18" in page
    assert "estimated from the usual highs and lows" in page
    assert page.count("<polyline") == 4


@pytest.mark.parametrize(
    ("change", "shown"),
    [
        ({"tmax_f_7": "4", "tmin_f_7": "1"}, "4 °C would be 39 °F"),
        ({"tmin_f_7": "95"}, "July: not above tmax_f, 93 °F"),
        ({"tmax_f_12": ""}, "This field is required"),
        ({"eto_in_3": "4.2"}, "twelve values"),
        ({"rain_in_2": "-1"}, "February: from 0 to 120 in"),
        ({"last_frost": "10-10", "first_frost": "05-04"}, "the last frost of spring"),
        ({"key": "Corrales!"}, "Enter a valid value"),
        ({"name": "Denver Intl CO"}, "denver goes by it"),
    ],
)
def test_a_climate_that_cannot_be_is_refused_beside_its_field(
    desk: Client, change: dict[str, str], shown: str
) -> None:
    answer = desk.post("/climates/new/", filled(**change))
    assert answer.status_code == 422
    assert shown in text_of(answer)
    assert not OwnClimate.objects.exists()


def test_a_climate_is_changed_and_retired_by_the_office_alone(desk: Client) -> None:
    book_entries.add_climate(CLIMATE, by=None)
    change = filled(last_frost="05-14", reason="ten years more")
    assert desk.post("/climates/own-corrales/change/", change).status_code == 302
    assert OwnClimate.objects.get().last_frost == "05-14"
    desk.post("/climates/own-corrales/retire/", {"reason": "wrong"})
    assert OwnClimate.objects.get().ended_at is not None
    crew = Client()
    crew.force_login(add_user("crew", "a long password", role=Role.CREW))
    for address in ("/plants/", "/climates/", "/climates/own-corrales/", "/colour/", "/plants/new/"):
        assert crew.get(address).status_code == 403


def test_the_property_page_offers_own_climates(desk: Client) -> None:
    book_entries.add_climate(CLIMATE, by=None)
    place = garden()
    assert "Corrales bosque" in text_of(desk.get(f"/properties/{place.code}/place/"))


@pytest.mark.both
def test_colour_is_ordered_by_day_kind_light_and_bed(desk: Client) -> None:
    book_entries.add_plant(OWN_COLOUR, by=None)
    place = garden()
    for number, light in enumerate(("full_sun", "full_sun", "filtered_shade"), 1):
        bed = put(place, "bed", f"B{number}", area_ft2=40.0, exposure=light)
        pocket = {"bed_id": bed.pk, "plant": "nemesia", "partner": "zinnia", "role": "seasonal_colour"}
        put(place, "planting", f"P{number}", **pocket, quantity=40)
    care.plan_care(place.pk, today=START)
    page = text_of(desk.get("/colour/?lead=14"))
    # Two pockets in the sun together: 80 zinnias in two flats each; the one in shade by itself.
    assert "80 × zinnia" in page
    assert "40 × zinnia" in page
    assert "4 flats" in page
    assert "Order by Apr 14, 2027" in page  # two weeks before the window opens on 28 April
    assert "wanted 0 to 180 days" in text_of(desk.get("/colour/?lead=-3"))


def test_a_usual_year_lies_in_the_picture_from_edge_to_edge() -> None:
    with override("en"):
        lines = usual_years.windows(climate("phoenix"), 2027)
    by_name = {line.name: line for line in lines}
    assert by_name["The winterizing of irrigation"].spans == ()
    for line in lines:
        for x, width in line.bars:
            assert 0 <= x < x + width <= usual_years.WIDTH
