"""The plan sketch, the charts and the words of seasons."""

from datetime import date
from itertools import combinations

import pytest
from django.utils.translation import override
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.almanac.climate import climate
from landscape_care.care.catalog import catalog
from landscape_care.pages import charts
from landscape_care.pages.drawing import Rect, draw, natural, squarified
from landscape_care.pages.season_words import season_words
from landscape_care.pages.seasons import in_words
from landscape_care.trades.kinds import Bed, Controller, Paving, Planting, Turf

ROOM = Rect(0, 0, 6, 4)
# Bruls, Huizing and van Wijk, Squarified Treemaps (2000), the worked example of section 3.
PUBLISHED_SIZES = (6, 6, 4, 3, 2, 2, 1)


def overlap(one: Rect, other: Rect) -> float:
    wide = min(one.x + one.width, other.x + other.width) - max(one.x, other.x)
    high = min(one.y + one.height, other.y + other.height) - max(one.y, other.y)
    return max(wide, 0) * max(high, 0)


def test_the_published_example_begins_with_two_rectangles_of_three_by_two() -> None:
    made = squarified(PUBLISHED_SIZES, ROOM)
    assert [(r.width, r.height) for r in made[:2]] == [(3, 2), (3, 2)]
    assert [pytest.approx(r.height) for r in made[2:4]] == [7 / 3, 7 / 3]
    assert [r.width * r.height for r in made] == pytest.approx(PUBLISHED_SIZES)


@given(st.lists(st.floats(1, 1000), min_size=1, max_size=25))
def test_areas_are_in_proportion_fill_the_room_and_overlap_nowhere(sizes: list[float]) -> None:
    ordered = sorted(sizes, reverse=True)
    made = squarified(ordered, ROOM)
    share = 24 / sum(ordered)
    assert [r.width * r.height for r in made] == pytest.approx([size * share for size in ordered])
    assert max((overlap(a, b) for a, b in combinations(made, 2)), default=0) < 1e-9


def garden() -> list[Bed | Planting | Controller | Paving | Turf]:
    return [
        Bed(uid=1, tag="B1", area_ft2=100, exposure="full_sun"),
        Planting(uid=2, tag="P1", bed_id=1, plant="pansy", role="seasonal_colour", quantity=9),
        Planting(uid=3, tag="P2", plant="pansy", role="seasonal_colour", quantity=9),
        Controller(uid=4, tag="C1", stations=4),
        Paving(uid=5, tag="A1", stone="tile", area_ft2=300),
    ]


def test_every_thing_has_its_tag_on_the_plan_once() -> None:
    drawing = draw(garden(), {})
    tags = [patch.tag for patch in drawing.patches] + [balloon.tag for balloon in drawing.balloons]
    assert sorted(tags) == ["A1", "B1", "C1", "P1", "P2"]
    assert not drawing.surveyed


def test_measured_outlines_keep_their_shape_with_north_up() -> None:
    outlines = {"B1": [(0, 0), (10, 0), (10, 5), (0, 5)], "A1": [(10, 0), (40, 0), (40, 20), (10, 20)]}
    drawing = draw(garden(), outlines)
    assert drawing.surveyed
    bed = next(patch for patch in drawing.patches if patch.tag == "B1")
    points = [tuple(map(float, point.split(","))) for point in bed.points.split()]
    (left, south), (right, _), (_, north), _ = points
    assert (right - left) / (south - north) == pytest.approx(2, rel=0.01)


def test_a_garden_without_areas_is_still_drawn() -> None:
    assert draw([Controller(uid=4, tag="C1", stations=4)], {}).balloons[0].tag == "C1"
    assert draw([], {}).patches == ()


def test_tags_are_ordered_as_people_count() -> None:
    assert sorted(["P10", "P2", "B1", "P1"], key=natural) == ["B1", "P1", "P2", "P10"]


@given(st.floats(0, 5000), st.floats(0, 5000))
def test_ruled_lines_enclose_every_value_and_are_few(one: float, other: float) -> None:
    low, high, step = charts.scale(min(one, other), max(one, other))
    assert low <= min(one, other)
    assert max(one, other) <= high
    assert 1 <= round((high - low) / step) <= 6


def test_a_clock_is_ruled_by_half_hours() -> None:
    assert charts.scale(1018, 1175, charts.CLOCK_STEPS) == (960, 1200, 60)
    assert charts.scale(1018, 1100, charts.CLOCK_STEPS)[2] == 30


def test_bars_stand_on_each_other() -> None:
    chart = charts.stacked(["Jan", "Feb"], [[1, 0], [2, 3]])
    below, above = (bar for bar in chart.bars if bar.x < charts.WIDTH / 2)
    assert above.y + above.height == pytest.approx(below.y)
    assert below.y + below.height == pytest.approx(chart.base)
    assert [total for _, _, total in chart.tops] == [3, 3]


def test_a_missing_value_leaves_its_point_out() -> None:
    chart = charts.lines(["a", "b", "c"], [("x", [1.0, None, 3.0])])
    assert len(chart.lines[0].points) == 2


@pytest.mark.parametrize(
    ("expression", "english", "spanish"),
    [
        ("growing_season", "the growing season", "la temporada de crecimiento"),
        ("06-01..07-31", "from June 1 to July 31", "desde 1 de junio hasta 31 de julio"),
        (
            "last_frost_50-21..last_frost_50+21",
            "from 21 days before the usual last frost to 21 days after the usual last frost",
            "desde 21 días antes de la última helada usual hasta 21 días después de la última helada usual",
        ),
    ],
)
def test_a_season_is_said_in_words(expression: str, english: str, spanish: str) -> None:
    assert in_words(expression) == english
    with override("es"):
        assert in_words(expression).lower() == spanish


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_season_of_the_catalog_shows_its_code(language: str) -> None:
    expressions = {rule.season or rule.within for rule in catalog().values()} - {None}
    with override(language):
        said = [in_words(expression) for expression in expressions if expression]
    assert [words for words in said if "_" in words or ".." in words] == []


@pytest.mark.parametrize(("month", "word"), [(1, "Frost"), (7, "drinks a lot")])
def test_the_season_in_words_follows_the_climate(month: int, word: str) -> None:
    assert word in " ".join(season_words(climate("albuquerque"), date(2026, month, 15)))
