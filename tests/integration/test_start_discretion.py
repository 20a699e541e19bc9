"""Secret addresses stay out of every log."""

import logging
from typing import Any

import pytest
from django.conf import settings
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.config.discretion import DiscreetFormatter, discreet

TOKEN = "Zq3_wW-8f0kYb2aLrT5mNcHx7uEjPiVd9sGoKyA1"


@pytest.mark.parametrize("room", ["calendars", "garden", "garden/visit"])
def test_a_secret_address_is_masked_in_message_arguments_and_traceback(room: str) -> None:
    try:
        raise ValueError(f"broke at /{room}/{TOKEN}.ics")
    except ValueError as broken:
        record = logging.LogRecord(
            "django.request",
            logging.ERROR,
            __file__,
            1,
            "Not Found: %s",
            (f"/{room}/{TOKEN}.ics",),
            (type(broken), broken, broken.__traceback__),
        )
    line = DiscreetFormatter("{message}", style="{").format(record)
    assert line.count(f"/{room}/Zq3_wW...") >= 2
    assert TOKEN[6:] not in line


@given(
    st.text(
        alphabet=st.sampled_from("abcdefghijklmnopqrstuvwxyzABCXYZ0123456789-_"), min_size=32, max_size=64
    )
)
def test_at_most_six_characters_of_any_token_are_left(token: str) -> None:
    masked = discreet(f"GET /calendars/{token}.ics and /garden/{token}/")
    assert masked == f"GET /calendars/{token[:6]}....ics and /garden/{token[:6]}.../"


def test_every_log_goes_through_the_masking_formatter() -> None:
    configured: Any = settings.LOGGING
    assert {handler["formatter"] for handler in configured["handlers"].values()} == {"discreet"}


def test_the_signature_of_a_link_to_a_visit_is_masked_too() -> None:
    link = "/garden/visit/12-b2230364-703a-4efd-9392-681444bb42a7.LoLvL0HwmZUBXW1yaHH-jH/"
    assert discreet(f"GET {link} 200") == "GET /garden/visit/12-b22.../ 200"
