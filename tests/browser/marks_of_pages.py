"""Every page before two programs that know the standards: axe-core and the Nu HTML checker.

Run with `python -m tests.browser.marks_of_pages`; each page is opened in Debian's Chromium in light, in
dark, in Spanish, on a phone and at 320 px, with the site's own policy on. axe-core must find nothing,
nothing may break the policy or complain, nothing may scroll sideways, and the HTML checker must find no
error. Both programs come by npm into a scratch folder (or stand in `TOOLS`); the checker needs Java.
What is not here is named as missing; `--demand` makes that a failure.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

PACKAGES = ("axe-core@4", "vnu-jar")
STANDARDS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
DESK, PHONE, NARROWEST = (1280, 900), (390, 844), (320, 800)
LOOKS: Sequence[tuple[str, tuple[int, int], str, str]] = (
    ("light", DESK, "light", "en"),
    ("dark", DESK, "dark", "en"),
    ("Spanish", DESK, "light", "es"),
    ("phone", PHONE, "light", "en"),
    ("narrowest, dark, Spanish", NARROWEST, "dark", "es"),
)


def main(argv: Sequence[str] | None = None) -> int:
    """Look at the pages of a site that runs; answer how many findings there were."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("site", help="such as http://127.0.0.1:8000")
    options.add_argument("--user", default="office")
    options.add_argument("--password", default=os.environ.get("PASSWORD", ""))
    options.add_argument("--pages", nargs="+", required=True, help="addresses, such as / /properties/")
    options.add_argument("--looks", type=int, default=len(LOOKS), help="how many of the five")
    options.add_argument("--demand", action="store_true", help="what is missing is a failure")
    given = options.parse_args(argv)
    with tempfile.TemporaryDirectory(prefix="care-marks-") as scratch:
        tools = _tools(Path(os.environ.get("TOOLS", scratch)))
        found = list(_look(given, tools))
    for finding in found:
        print(finding)
    missing = [name for name, path in tools.items() if path is None]
    print(json.dumps({"pages": len(given.pages), "findings": len(found), "missing": missing}))
    return int(bool(found) or (given.demand and bool(missing)))


def _tools(folder: Path) -> dict[str, Path | None]:
    """Where both programs stand, fetched first if they have to be."""
    places = {
        "axe-core": folder / "node_modules/axe-core/axe.min.js",
        "HTML checker": folder / "node_modules/vnu-jar/build/dist/vnu.jar",
    }
    npm = shutil.which("npm")
    if npm and not all(place.exists() for place in places.values()):
        command = [npm, "install", "--prefix", str(folder), "--no-audit", "--no-fund", "--silent", *PACKAGES]
        subprocess.run(command, check=False)
    found = {name: place if place.exists() else None for name, place in places.items()}
    if not shutil.which("java"):
        found["HTML checker"] = None
    for name in (name for name, place in found.items() if place is None):
        print(f"{name} is missing (npm, for the checker Java too); what it looks at is not looked at.")
    return found


def _look(given: Any, tools: dict[str, Path | None]) -> Iterator[str]:
    from playwright.sync_api import sync_playwright

    from tests.servers import chromium_path

    flags = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=flags)
        for look in LOOKS[: given.looks]:
            yield from _one_look(browser, given, look, tools)
        browser.close()


def _one_look(
    browser: Any, given: Any, look: tuple[str, tuple[int, int], str, str], tools: dict[str, Path | None]
) -> Iterator[str]:
    name, (width, height), scheme, language = look
    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    page = context.new_page()
    told: list[str] = []
    page.on("console", lambda said: told.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: told.append(str(error)))
    _sign_in(page, given, language)
    sources: dict[str, str] = {}
    for address in given.pages:
        answer = page.goto(given.site + address)
        sources[address] = answer.text() if answer else ""
        if answer is None or answer.status != 200:
            yield f"{name} {address}: answers {answer.status if answer else 'nothing'}"
        yield from (f"{name} {address}: {said}" for said in told)
        told.clear()
        wider: int = page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        if wider > 0:
            yield f"{name} {address}: {wider} px wider than the window"
        if tools["axe-core"]:
            yield from (f"{name} {address}: {found}" for found in _axe(page, tools["axe-core"]))
    if tools["HTML checker"]:
        yield from _html(name, sources, tools["HTML checker"])
    _speak(page, given, "en")
    context.close()


def _sign_in(page: Any, given: Any, language: str) -> None:
    page.goto(given.site + "/sign-in/")
    page.fill("[name=username]", given.user)
    page.fill("[name=password]", given.password)
    page.keyboard.press("Enter")
    page.wait_for_url(lambda address: "sign-in" not in address)
    _speak(page, given, language)


def _speak(page: Any, given: Any, language: str) -> None:
    """Choose the language; it is kept for the person, so it is put back afterwards."""
    page.goto(given.site + "/setup/")
    button = page.locator(f"button[name=language][value={language}]")
    if button.count():
        button.click()
        page.wait_for_load_state()


def _axe(page: Any, script: Path) -> Iterator[str]:
    """What axe-core finds. It is put in beside the page's own scripts, past the policy, which stays on."""
    page.evaluate(script.read_text(encoding="utf-8"))
    options = {"runOnly": {"type": "tag", "values": STANDARDS}, "resultTypes": ["violations"]}
    for rule in page.evaluate("options => axe.run(document, options)", options)["violations"]:
        first = rule["nodes"][0]
        yield f"axe {rule['id']} ({rule['impact']}), {len(rule['nodes'])} of {first['html'][:160]}"


def _html(name: str, sources: dict[str, str], jar: Path) -> Iterator[str]:
    """What the Nu HTML checker finds in the sources of the pages, errors alone."""
    with tempfile.TemporaryDirectory(prefix="care-html-") as folder:
        files = {}
        for number, (address, text) in enumerate(sources.items()):
            file = Path(folder) / f"{number}.html"
            file.write_text(text, encoding="utf-8")
            files[str(number)] = address
        command = ["java", "-Xss8m", "-jar", str(jar), "--format", "json", "--errors-only", folder]
        told = subprocess.run(command, capture_output=True, text=True, check=False).stderr
    for message in json.loads(told or '{"messages": []}')["messages"]:
        address = files.get(Path(message.get("url", "")).stem, "?")
        yield f"{name} {address}: HTML {message['message']} near {message.get('extract', '')[:120]!r}"


if __name__ == "__main__":
    sys.exit(main())
