"""The calculations in a real browser: by keyboard, on a phone, and in Spanish."""

import pytest

from tests.browser.test_pages_in_chromium import (
    NARROWEST,
    PHONE,
    Visitor,
    company,
    visitor,
)
from tests.integration.pages_company import Company

__all__ = ["company", "visitor"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ADDRESSES = (
    "/reckon/",
    "/reckon/spray_minutes/",
    "/reckon/year_of_a_zone/",
    "/reckon/plan_of_a_hot_day/",
    "/reckon/seasonal_windows/",
    "/reckon/timer_settings_of_a_year/",
)


@pytest.mark.parametrize("visitor", [{}, PHONE, NARROWEST], ids=["desk", "phone", "narrowest"], indirect=True)
def test_no_calculation_is_wider_than_its_window(company: Company, visitor: Visitor) -> None:
    visitor.sign_in("crew")
    for address in ADDRESSES:
        visitor.open(address)
        assert visitor.overflow_px() <= 0, address
    assert visitor.complaints == []


def test_a_figure_is_calculated_by_keyboard_alone(company: Company, visitor: Visitor) -> None:
    visitor.sign_in("crew")
    visitor.open("/reckon/cubic_yards/")
    visitor.page.get_by_label("Area").fill("324")
    visitor.page.keyboard.press("Tab")
    visitor.page.keyboard.press("Control+A")
    visitor.page.keyboard.type("2")
    visitor.page.keyboard.press("Enter")
    visitor.page.wait_for_url("**area_ft2=324**")
    assert "2.000 yd³" in visitor.page.locator("main").inner_text()
    assert visitor.complaints == []


def test_a_spanish_reader_gets_spanish_words_and_bounds(company: Company, visitor: Visitor) -> None:
    visitor.sign_in("crew")
    visitor.open("/reckon/cubic_yards/?area_ft2=-1&depth_in=3")
    visitor.page.get_by_role("button", name="Español").click()
    visitor.page.wait_for_selector("html[lang=es]")
    words = visitor.page.locator("main").inner_text()
    assert "un número de 0 o más" in words
    assert "Volumen de una capa" in words
