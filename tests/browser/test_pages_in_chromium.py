"""The pages in a real browser: by keyboard, on a phone, with the strict policy on."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest
import time_machine

from landscape_care.care.models import TaskState
from landscape_care.dispatch.models import Stop
from tests.integration.pages_company import NOON, PASSWORD, TODAY, Company, open_company

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Locator, Page
    from pytest_django.live_server_helper import LiveServer

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
NARROWEST = {"viewport": {"width": 320, "height": 800}}
LEAST_TARGET_PX = 56


@pytest.fixture
def company(transactional_db: None) -> Iterator[Company]:
    """The small company, with the clock at noon of its Wednesday."""
    with time_machine.travel(NOON):
        yield open_company()


class Visitor:
    """Somebody in front of a browser; everything the console complains about is kept."""

    def __init__(self, context: "BrowserContext", site: str) -> None:
        self.page: Page = context.new_page()
        self.site = site
        self.complaints: list[str] = []
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _heard(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    def open(self, address: str) -> None:
        """Go to a page of the site."""
        self.page.goto(self.site + address)

    def sign_in(self, name: str) -> None:
        """Go through the door."""
        self.open("/sign-in/")
        self.page.get_by_label("Username").fill(name)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.keyboard.press("Enter")
        self.page.wait_for_url(lambda url: "sign-in" not in url)

    def overflow_px(self) -> int:
        """How far the page is wider than the window."""
        width: int = self.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        return width


@pytest.fixture
def visitor(
    chromium: "Browser", live_server: "LiveServer", request: pytest.FixtureRequest
) -> Iterator[Visitor]:
    """A visitor with the window that a test asks for, or that of a desk."""
    context = chromium.new_context(**getattr(request, "param", {}))
    yield Visitor(context, live_server.url)
    context.close()


def office_pages(company: Company) -> list[str]:
    stop = company.stop_today()
    task = stop.visit.visit_tasks.first()
    assert task
    return [
        "/",
        "/board/yard/2026-11/",
        f"/stops/{stop.pk}/move/",
        "/board/yard/2026-11/publish/1/",
        "/board/yard/2026-11/withdraw/1/",
        "/board/yard/2026-11/disruptions/",
        "/letters/",
        "/properties/",
        "/properties/casa-14/",
        "/properties/casa-14/things/",
        "/properties/casa-14/things/install/zone/",
        "/properties/casa-14/things/Z1/",
        "/properties/casa-14/place/",
        "/properties/casa-14/agreement/",
        "/properties/casa-14/rules/",
        "/properties/casa-14/rules/sand-filter-backwash/",
        f"/tasks/{task.task_id}/",
        "/intake/",
        "/crew/",
        f"/crew/{stop.crew.code}/{TODAY}/",
        f"/garden/{company.token}/",
    ]


@pytest.mark.parametrize("visitor", [{}, NARROWEST], ids=["desk", "narrowest"], indirect=True)
def test_no_page_breaks_the_policy_complains_or_scrolls_sideways(visitor: Visitor, company: Company) -> None:
    visitor.sign_in("office")
    for address in office_pages(company):
        visitor.open(address)
        assert (address, visitor.complaints) == (address, [])
        assert (address, visitor.overflow_px()) == (address, 0)


def test_a_dispatcher_carries_a_visit_with_the_keyboard_alone(visitor: Visitor, company: Company) -> None:
    stop = company.stop_today()
    to_the_right = stop.crew_id == company.crew.pk
    visitor.sign_in("dispatcher")
    visitor.open("/board/yard/2026-11/")
    visitor.page.locator(f"#stop-{stop.pk} [data-handle]").focus()
    visitor.page.keyboard.press("Space")
    visitor.page.keyboard.press("ArrowRight" if to_the_right else "ArrowLeft")
    visitor.page.keyboard.press("Enter")
    says_what_it_costs(visitor)
    with visitor.page.expect_navigation():
        visitor.page.keyboard.press("Enter")
    stop.refresh_from_db()
    assert stop.crew == (company.other_crew if to_the_right else company.crew)
    assert visitor.complaints == []


def says_what_it_costs(visitor: Visitor) -> "Locator":
    """The button that makes a move, once the dialog has told what it costs."""
    dialog = visitor.page.get_by_role("dialog")
    dialog.get_by_text("Driving of both routes").wait_for()
    return dialog.get_by_role("button", name="Move the visit")


def test_escape_closes_what_a_move_costs_and_nothing_moves(visitor: Visitor, company: Company) -> None:
    stop = company.stop_today()
    visitor.sign_in("dispatcher")
    visitor.open("/board/yard/2026-11/")
    visitor.page.locator(f"#stop-{stop.pk} [data-handle]").focus()
    for key in ("Space", "ArrowRight" if stop.crew_id == company.crew.pk else "ArrowLeft", "Enter"):
        visitor.page.keyboard.press(key)
    says_what_it_costs(visitor)
    visitor.page.keyboard.press("Escape")
    assert not visitor.page.get_by_role("dialog").is_visible()
    assert Stop.objects.get(pk=stop.pk).version == stop.version
    assert visitor.complaints == []


@pytest.mark.parametrize("visitor", [PHONE], ids=["phone"], indirect=True)
def test_a_finger_that_rests_on_a_visit_carries_it(visitor: Visitor, company: Company) -> None:
    one = company.stop_today()
    other = company.crew if one.crew_id != company.crew.pk else company.other_crew
    visitor.sign_in("dispatcher")
    visitor.open(f"/board/yard/2026-11/#day-{TODAY}")
    handle = visitor.page.locator(f"#stop-{one.pk} [data-handle]")
    handle.scroll_into_view_if_needed()
    start = handle.bounding_box()
    assert start
    touch = visitor.page.context.new_cdp_session(visitor.page)

    def finger(kind: str, *points: dict[str, float]) -> None:
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    finger("touchStart", {"x": start["x"] + 9, "y": start["y"] + 9})
    visitor.page.locator("[data-board].carrying").wait_for()
    end = visitor.page.locator(f'td[data-day="{TODAY}"][data-crew-id="{other.pk}"]').bounding_box()
    assert end
    finger("touchMove", {"x": end["x"] + 20, "y": end["y"] + 10})
    finger("touchEnd")
    button = says_what_it_costs(visitor)
    with visitor.page.expect_navigation():
        button.tap()
    one.refresh_from_db()
    assert one.crew == other


def test_escape_leaves_a_carried_visit_where_it_was(visitor: Visitor, company: Company) -> None:
    stop = company.stop_today()
    visitor.sign_in("dispatcher")
    visitor.open("/board/yard/2026-11/")
    visitor.page.locator(f"#stop-{stop.pk} [data-handle]").focus()
    for key in ("Space", "ArrowDown", "Escape", "Enter"):
        visitor.page.keyboard.press(key)
    assert visitor.page.locator("#said").inner_text() == "Left where it was."
    assert Stop.objects.get(pk=stop.pk).version == stop.version


def test_a_dispatcher_moves_a_visit_in_the_dialog(visitor: Visitor, company: Company) -> None:
    stop = company.stop_today()
    other = company.crew if stop.crew_id != company.crew.pk else company.other_crew
    visitor.sign_in("dispatcher")
    visitor.open("/board/yard/2026-11/")
    visitor.page.locator(f"#stop-{stop.pk}").get_by_role("link", name="Move").click()
    dialog = visitor.page.get_by_role("dialog")
    dialog.get_by_label("Crew").select_option(str(other.pk))
    dialog.get_by_role("button", name="See what it costs").click()
    button = says_what_it_costs(visitor)
    with visitor.page.expect_navigation():
        button.click()
    stop.refresh_from_db()
    assert stop.crew == other
    assert visitor.complaints == []


def test_a_mouse_drags_a_visit_to_another_crew(visitor: Visitor, company: Company) -> None:
    stop = company.stop_today()
    other = company.crew if stop.crew_id != company.crew.pk else company.other_crew
    visitor.sign_in("dispatcher")
    visitor.open(f"/board/yard/2026-11/#day-{TODAY}")
    handle = visitor.page.locator(f"#stop-{stop.pk} [data-handle]")
    handle.scroll_into_view_if_needed()
    target = visitor.page.locator(f'td[data-day="{TODAY}"][data-crew-id="{other.pk}"]')
    start, end = handle.bounding_box(), target.bounding_box()
    assert start
    assert end
    visitor.page.mouse.move(start["x"] + 5, start["y"] + 5)
    visitor.page.mouse.down()
    visitor.page.mouse.move(end["x"] + 20, start["y"] + 5, steps=4)
    visitor.page.mouse.up()
    button = says_what_it_costs(visitor)
    with visitor.page.expect_navigation():
        button.click()
    stop.refresh_from_db()
    assert stop.crew == other


@pytest.mark.parametrize("visitor", [PHONE], ids=["phone"], indirect=True)
def test_a_crew_checks_off_a_visit_on_a_phone(visitor: Visitor, company: Company) -> None:
    stop = company.stop_today()
    short, skipped = stop.visit.visit_tasks.filter(task__state=TaskState.OPEN)[:2]
    visitor.sign_in("crew")
    visitor.open(f"/crew/{stop.crew.code}/{TODAY}/")
    article = visitor.page.locator(f"#task-{short.task_id}")
    done = article.get_by_role("button", name="Done")
    box = done.bounding_box()
    assert box
    assert box["height"] >= LEAST_TARGET_PX
    done.tap()
    article.get_by_text("With the office.").wait_for()
    article = visitor.page.locator(f"#task-{skipped.task_id}")
    article.get_by_text("Not done, or more to say").tap()
    article.get_by_label("Could not do it").check()
    article.get_by_label("Why not?").fill("Wasps at the gate")
    article.get_by_role("button", name="Save").tap()
    article.get_by_text("With the office.").wait_for()
    visitor.open(f"/crew/{stop.crew.code}/{TODAY}/")
    article.get_by_text("Wasps at the gate").wait_for()
    short.task.refresh_from_db()
    skipped.task.refresh_from_db()
    assert (short.task.state, skipped.task.state) == (TaskState.DONE, TaskState.SKIPPED)
    assert visitor.complaints == []


@pytest.mark.parametrize("visitor", [PHONE], ids=["phone"], indirect=True)
def test_what_a_thumb_presses_on_the_crew_page_is_large(visitor: Visitor, company: Company) -> None:
    stop = company.stop_today()
    visitor.sign_in("crew")
    visitor.open(f"/crew/{stop.crew.code}/{TODAY}/")
    small = visitor.page.evaluate(
        """least => [...document.querySelectorAll('main button, main a.button, main a.more, main summary')]
          .filter(e => e.checkVisibility() && !e.closest('.caution'))
          .filter(e => e.getBoundingClientRect().height < least)
          .map(e => e.textContent.trim())""",
        LEAST_TARGET_PX,
    )
    assert small == []
    assert visitor.page.evaluate("getComputedStyle(document.body).fontSize") == "18px"


@pytest.mark.parametrize(
    "visitor", [{"java_script_enabled": False, **PHONE}], ids=["no-scripts"], indirect=True
)
def test_a_crew_checks_off_without_scripts(visitor: Visitor, company: Company) -> None:
    stop = company.stop_today()
    link = stop.visit.visit_tasks.filter(task__state=TaskState.OPEN).first()
    assert link
    visitor.sign_in("crew")
    visitor.open(f"/crew/{stop.crew.code}/{TODAY}/")
    with visitor.page.expect_navigation():
        visitor.page.locator(f"#task-{link.task_id}").get_by_role("button", name="Done").click()
    link.task.refresh_from_db()
    assert link.task.state == TaskState.DONE


def test_the_property_list_narrows_while_somebody_types(visitor: Visitor, company: Company) -> None:
    visitor.sign_in("office")
    visitor.open("/properties/")
    visitor.page.get_by_role("searchbox").press_sequentially("casa 16")
    visitor.page.get_by_text("1 property", exact=True).wait_for()
    assert visitor.page.locator("#rows").get_by_text("Casa 14").count() == 0
    assert visitor.complaints == []
