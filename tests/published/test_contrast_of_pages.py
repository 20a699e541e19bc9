"""Text on the pages against the contrast that WCAG 2.2 asks for.

Relative luminance and contrast ratio as WCAG 2.2 defines them; success criterion 1.4.3 wants 4.5 for
text, 1.4.11 wants 3 for marks and edges of controls, and 1.4.6 wants 7, which the crew page is held to.
The two pairs of the definition's own extremes are checked first.
"""

import re
from pathlib import Path

import pytest

from landscape_care.pages import words

SHEET = (Path(words.__file__).parent / "static" / "pages" / "sheet.css").read_text(encoding="utf-8")
GROUNDS = ("paper", "sheet")
TINTS = ("tint-leaf", "tint-sky", "tint-gold", "tint-clay", "tint-stone")
TEXTS = ("ink", "soft", "link", "clay", "leaf", "sky", "gold")
MARKS = ("edge", "focus", "series-1", "series-2", "series-3", "series-4")


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition)."""
    parts = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, definition)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def palette(theme: str) -> dict[str, str]:
    """The colours of the style sheet, light or dark."""
    light = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", SHEET.split("@media", 1)[0]))
    if theme == "light":
        return light
    dark_part = SHEET.split("prefers-color-scheme: dark", 1)[1].split("\n}\n", 1)[0]
    return light | dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", dark_part))


def crew_soft(theme: str) -> str:
    """The softer ink of the crew page."""
    light, dark = re.findall(r"\.field-day \{[^}]*--soft: (#[0-9a-f]{6})", SHEET)
    return str(light if theme == "light" else dark)


def test_black_on_white_is_twenty_one_to_one() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_stands_out_on_every_ground(theme: str) -> None:
    colours = palette(theme)
    pairs = [(text, ground) for text in TEXTS for ground in GROUNDS] + [("ink", tint) for tint in TINTS]
    pairs.append(("on-brand", "brand"))
    weak = {pair: contrast(colours[pair[0]], colours[pair[1]]) for pair in pairs}
    assert {pair: ratio for pair, ratio in weak.items() if ratio < 4.5} == {}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_edges_marks_and_lines_stand_out(theme: str) -> None:
    colours = palette(theme)
    weak = {(mark, g): contrast(colours[mark], colours[g]) for mark in MARKS for g in GROUNDS}
    assert {pair: ratio for pair, ratio in weak.items() if ratio < 3} == {}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_crew_page_is_read_in_the_sun(theme: str) -> None:
    colours = palette(theme) | {"soft": crew_soft(theme)}
    pairs = [(text, "sheet") for text in ("ink", "soft", "link", "leaf", "sky", "clay")]
    pairs += [("ink", "tint-leaf"), ("on-brand", "brand"), ("soft", "paper")]
    weak = {pair: contrast(colours[pair[0]], colours[pair[1]]) for pair in pairs}
    assert {pair: round(ratio, 2) for pair, ratio in weak.items() if ratio < 7} == {}
