"""What every test may use."""

import os
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

from tests.servers import chromium_path

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

settings.register_profile("house", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("house")


@pytest.fixture(scope="session")
def chromium() -> "Iterator[Browser]":
    """One Chromium for all browser tests."""
    from playwright.sync_api import sync_playwright

    # Chromium's sandbox refuses to run as root, as in most build machines.
    flags = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=flags)
        yield browser
        browser.close()


@pytest.fixture
def page(chromium: "Browser") -> "Iterator[Page]":
    """Give a fresh page that shares nothing with the page of another test."""
    context = chromium.new_context()
    yield context.new_page()
    context.close()
