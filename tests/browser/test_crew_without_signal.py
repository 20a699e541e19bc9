"""A crew's day on a phone whose signal comes and goes: nothing is lost, nothing is noted twice."""

import gzip
import os
import re
import time
from collections.abc import Iterator
from datetime import timedelta
from io import BytesIO
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import pytest
from PIL import Image

from landscape_care.care import actions as care
from landscape_care.care.models import CareTask, TaskState
from landscape_care.dispatch.models import Stop
from landscape_care.visits.models import Completion, TimeMark, VisitTask
from tests.browser.test_pages_in_chromium import PHONE, Visitor, company
from tests.browser.weak_signal import Road, road_to
from tests.integration.pages_company import GATE_CODE, NOON, TODAY, Company

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Dialog, FilePayload
    from pytest_django.live_server_helper import LiveServer

__all__ = ["company"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

KEPT = """async addresses => {
  const cache = await caches.open("crew-days");
  const kept = (await cache.keys()).map(each => new URL(each.url).pathname);
  return addresses.every(each => kept.includes(each));
}"""
ALL_THAT_IS_KEPT = """async () => {
  const found = [];
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const each of await cache.keys()) found.push(each.url, await (await cache.match(each)).text());
  }
  for (const { name } of await indexedDB.databases()) found.push(name, await new Promise(done => {
    const request = indexedDB.open(name);
    request.onsuccess = () => {
      const notes = request.result.transaction("notes").objectStore("notes").getAll();
      notes.onsuccess = () => { request.result.close(); done(JSON.stringify(notes.result)); };
    };
  }));
  return [...found, JSON.stringify({ ...localStorage })];
}"""


@pytest.fixture
def road(live_server: "LiveServer") -> Iterator[Road]:
    with road_to(live_server.url) as road:
        yield road


@pytest.fixture
def phone(chromium: "Browser", road: Road, company: Company) -> Iterator[Visitor]:
    """A phone of the crew, signed in, with the day kept on it."""
    context = chromium.new_context(**PHONE)
    context.clock.set_fixed_time(NOON + timedelta(minutes=2))
    visitor = Visitor(context, road.address)
    visitor.sign_in("crew")
    visitor.open(crew_page(company))
    tomorrow = crew_page(company).replace(str(TODAY), str(TODAY + timedelta(1)))
    for _ in range(100):
        if visitor.page.evaluate(KEPT, [crew_page(company), tomorrow, "/crew/no-signal/"]):
            break
        visitor.page.wait_for_timeout(100)
    else:
        pytest.fail("The phone has not kept its pages after ten seconds.")
    yield visitor
    context.close()


def crew_page(company: Company) -> str:
    return f"/crew/{company.stop_today().crew.code}/{TODAY}/"


def short_tasks(stop: Stop) -> list[CareTask]:
    """Open care tasks that one press can note."""
    tasks = CareTask.objects.filter(visit_task__visit=stop.visit, state=TaskState.OPEN).order_by("pk")
    return [task for task in tasks if not task.details.get("settings")]


def note(phone: Visitor, task: CareTask, *, why_not: str = "", photo: bytes = b"") -> None:
    """Note a care task as a crew does."""
    article = phone.page.locator(f"#task-{task.pk}")
    if not why_not and not photo:
        article.get_by_role("button", name="Done").tap()
    else:
        article.get_by_text("Not done, or more to say").tap()
        article.get_by_label("Could not do it" if why_not else "Done", exact=True).check()
        if why_not:
            article.get_by_label("Why not?").fill(why_not)
        if photo:
            chosen: FilePayload = {"name": "bed.png", "mimeType": "image/png", "buffer": photo}
            article.get_by_label("Photo").set_input_files(files=[chosen])
        article.get_by_role("button", name="Save").tap()
    article.get_by_text("not sent yet").wait_for()


def picture() -> bytes:
    drawn = BytesIO()
    Image.new("RGB", (2400, 1600), "#2f6b4f").save(drawn, "PNG")
    return drawn.getvalue()


def send(phone: Visitor, words: str) -> None:
    """Press until everything has had its answer; each run ends at the first answer that is lost."""
    for _ in range(12):
        phone.page.get_by_role("button", name="Send now").click()
        phone.page.wait_for_timeout(300)
        if phone.page.get_by_text("Not sent yet").count() == 0:
            break
    phone.page.get_by_text(words).wait_for()


def test_a_day_without_signal_reaches_the_office_once_and_whole(
    phone: Visitor, road: Road, company: Company
) -> None:
    stop, office = company.stop_today(), company.people["office"]
    plain, pictured, mine, theirs = tasks = short_tasks(stop)[:4]
    road.is_open = False
    phone.page.reload()
    phone.page.get_by_text("No signal. This page is from").wait_for()
    phone.page.locator(f"#times-{stop.visit_id}").get_by_role("button", name="Begin work").tap()
    note(phone, plain)
    note(phone, pictured, photo=picture())
    note(phone, mine, why_not="Wasps at the gate")
    note(phone, theirs)
    phone.page.close()

    phone.page = phone.page.context.new_page()
    phone.open("/crew/")
    phone.page.get_by_text("Not sent yet: 5").wait_for()
    assert phone.page.url.endswith(crew_page(company))
    assert TimeMark.objects.count() == Completion.objects.count() == 0

    care.settle(mine, "done", on=TODAY, by=office)
    care.settle(theirs, "skipped", on=TODAY, by=office, reason="The owner did it")
    phone.page.context.clear_cookies(name="csrftoken")
    road.is_open = road.bumpy = True
    send(phone, "Wants your decision: 2.")
    assert sorted(road.lost.values()) == [200, 200, 200, 409, 409]
    decide(phone, mine, "Use mine", seen="Somebody was faster. Office")
    decide(phone, theirs, "Keep theirs", seen="Could not do: The owner did it")

    for task in tasks:
        task.refresh_from_db()
    assert [task.state for task in tasks] == ["done", "done", "skipped", "skipped"]
    assert (mine.skip_reason, theirs.skip_reason) == ("Wasps at the gate", "The owner did it")
    assert sorted(Completion.objects.values_list("task", flat=True)) == [plain.pk, pictured.pk, mine.pk]
    (photo,) = Completion.objects.get(task=pictured).photos.all()
    assert (photo.picture.width, photo.picture.height) == (2000, 1333)
    photo.picture.delete(save=False)
    (mark,) = TimeMark.objects.all()
    assert (mark.sort, mark.at) == ("started", NOON + timedelta(minutes=2))


def decide(phone: Visitor, task: CareTask, choice: str, *, seen: str) -> None:
    """Read what somebody else noted, and choose."""
    article = phone.page.locator(f"#task-{task.pk}")
    assert seen in article.inner_text()
    article.get_by_role("button", name=choice).tap()
    article.get_by_role("button", name=choice).wait_for(state="detached")
    phone.page.wait_for_load_state()


def test_a_gate_code_is_shown_with_a_signal_and_kept_nowhere(
    phone: Visitor, road: Road, company: Company
) -> None:
    at_the_gate = phone.page.locator(f"#stop-{company.stop_today().visit_id}").get_by_text(
        "Show the gate code"
    )
    road.is_open = False
    at_the_gate.tap()
    phone.page.get_by_text("it needs a signal").wait_for()
    road.is_open = True
    at_the_gate.tap()
    phone.page.get_by_text(GATE_CODE).wait_for()
    assert GATE_CODE not in "".join(phone.page.evaluate(ALL_THAT_IS_KEPT))
    road.is_open = False
    phone.page.reload()
    phone.page.get_by_text("No signal. This page is from").wait_for()
    assert GATE_CODE not in phone.page.content()


def test_signing_out_asks_about_what_is_not_sent_and_wipes_the_phone(
    phone: Visitor, road: Road, company: Company
) -> None:
    (task, *_) = short_tasks(company.stop_today())
    road.is_open = False
    note(phone, task)
    asked: list[str] = []

    def stay(dialog: "Dialog") -> None:
        asked.append(dialog.message)
        dialog.dismiss()

    phone.page.once("dialog", stay)
    phone.page.get_by_role("button", name="Sign out").tap()
    phone.page.wait_for_timeout(300)
    assert "Not sent yet: 1." in asked[0]
    assert str(task.pk) in "".join(phone.page.evaluate(ALL_THAT_IS_KEPT))
    road.is_open = True
    phone.page.once("dialog", lambda dialog: dialog.accept())
    phone.page.get_by_role("button", name="Sign out").tap()
    phone.page.wait_for_url("**/sign-in/**")
    kept = "".join(phone.page.evaluate(ALL_THAT_IS_KEPT))
    assert "crew-notes" not in kept
    assert crew_page(company) not in kept


def test_after_two_days_the_phone_has_forgotten_the_garden_but_not_what_waits(
    phone: Visitor, road: Road, company: Company
) -> None:
    (task, *_) = short_tasks(company.stop_today())
    road.is_open = False
    note(phone, task)
    phone.page.context.clock.set_fixed_time(NOON + timedelta(days=3))
    phone.page.reload()
    phone.page.get_by_text("Something waits for more than a day").wait_for()
    phone.page.evaluate("""async () => {
      const cache = await caches.open("crew-days");
      for (const each of await cache.keys()) {
        const page = await cache.match(each), headers = new Headers(page.headers);
        headers.set("X-Kept-At", String(Number(headers.get("X-Kept-At")) - 2 * 24 * 3600 * 1000 - 1));
        await cache.put(each, new Response(await page.blob(), { headers }));
      }
    }""")
    with pytest.raises(Exception, match="ERR_"):
        phone.page.reload()
    road.is_open = True
    phone.page.context.clock.set_fixed_time(NOON + timedelta(minutes=3))
    phone.open(crew_page(company))
    phone.page.get_by_text("All you noted is with the office.").wait_for()
    task.refresh_from_db()
    assert task.state == TaskState.DONE


MOST_STOPS = 18
TASKS_EACH = 2
SLOW_4G = {"offline": False, "latency": 150, "downloadThroughput": 1.6e6 / 8, "uploadThroughput": 750e3 / 8}
"""Slow 4G as Lighthouse throttles it: 150 ms round trip, 1.6 Mbit/s down, 750 kbit/s up."""


def fill_the_day(company: Company) -> int:
    """Give the crew's day many gardens with some of the care of the first one; how many tasks that is."""
    stop = company.stop_today()
    tasks = list(CareTask.objects.filter(visit_task__visit=stop.visit))
    for number in range(2, MOST_STOPS + 1):
        place = copied(stop.visit.property, code=f"casa-{number}-like", name=f"Casa {number}, Acequia Lane")
        visit = copied(stop.visit, property=place, uid=uuid4())
        for task in tasks[:TASKS_EACH]:
            VisitTask.objects.create(visit=visit, task=copied(task, property=place))
        copied(stop, visit=visit, position=number)
    return CareTask.objects.filter(
        visit_task__visit__stops__day=TODAY, visit_task__visit__stops__crew=stop.crew
    ).count()


def copied(row: Any, **changed: Any) -> Any:
    """Another row like this one."""
    values = {f.attname: getattr(row, f.attname) for f in row._meta.concrete_fields if not f.primary_key}
    named = {name: values.pop(f"{name}_id", None) for name in changed if f"{name}_id" in values}
    return type(row).objects.create(**{**values, **named, **changed})


def test_a_full_day_is_light_enough_for_a_slow_phone(phone: Visitor, road: Road, company: Company) -> None:
    tasks = fill_the_day(company)
    page = phone.page.context.request.get(road.address + crew_page(company))
    scripts = [
        phone.page.context.request.get(road.address + name).body()
        for name in re.findall(r'"(/static/[^"]+\.js)"', phone.page.evaluate(WORKER))
    ]
    assert page.text().count("<article") >= tasks
    assert len(page.body()) <= 60 * 1024
    assert sum(len(gzip.compress(script)) for script in scripts) <= 30 * 1024
    if "PHONE_SECONDS" in os.environ:
        assert seconds_on_a_slow_phone(phone, company) <= float(os.environ["PHONE_SECONDS"])


WORKER = "fetch('/crew/worker.js').then(answer => answer.text())"


def seconds_on_a_slow_phone(phone: Visitor, company: Company) -> float:
    """From asking to the load event with nothing kept before; a busy machine measures itself with it."""
    wire = phone.page.context.new_cdp_session(phone.page)
    wire.send("Network.enable")
    wire.send("Network.setBypassServiceWorker", {"bypass": True})
    wire.send("Network.setCacheDisabled", {"cacheDisabled": True})
    wire.send("Network.emulateNetworkConditions", SLOW_4G)
    wire.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    before = time.monotonic()
    phone.open(crew_page(company))
    return time.monotonic() - before
