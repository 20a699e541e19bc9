"""The house stays in order: what import contracts cannot say."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps

from landscape_care.properties.models import TABLES
from landscape_care.trades.kinds import KINDS

ROOT = Path(__file__).parents[2]
HOUSE = ROOT / "landscape_care"
ROOMS = (
    "almanac",
    "trades",
    "people",
    "properties",
    "care",
    "visits",
    "dispatch",
    "calendars",
    "api",
    "pages",
)
STEMS = sorted({kind.stem for kind in KINDS.values()})
DRAWERS = {"utils", "util", "helpers", "helper", "services", "service", "core", "common", "signals", "misc"}
VAGUE = re.compile(r"(Manager|Handler|Helper|Service|Util|Utils)$")
TEXTS = {".py", ".toml", ".md", ".html", ".css", ".js", ".yml", ".txt", ".csv", ".po", ".svg", ".json", ""}


def modules(*rooms: str) -> Iterator[Path]:
    """Every module of these rooms, migrations aside."""
    for room in rooms:
        yield from (file for file in sorted((HOUSE / room).rglob("*.py")) if "migrations" not in file.parts)


def written_by_us() -> Iterator[Path]:
    """Every text file that belongs to the project."""
    left_out = {".git", ".venv", "var", "staticfiles", "__pycache__", "node_modules", "screenshots"}
    for place in sorted(ROOT.iterdir()):
        if place.name in left_out or place.name.endswith("_cache") or place.name == ".hypothesis":
            continue
        files = sorted(place.rglob("*")) if place.is_dir() else [place]
        yield from (
            file
            for file in files
            if file.is_file() and file.suffix in TEXTS and not left_out & set(file.parts[len(ROOT.parts) :])
        )


def place(node: ast.AST, file: Path) -> str:
    return f"{file.relative_to(ROOT)}:{getattr(node, 'lineno', 0)}"


def test_the_house_has_exactly_its_rooms() -> None:
    found = {folder.name for folder in HOUSE.iterdir() if (folder / "__init__.py").exists()}
    assert found == {*ROOMS, "config"}


def test_pages_and_api_reach_tables_only_through_queries_and_actions() -> None:
    found = [
        place(node, file)
        for file in modules("pages", "api")
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.Attribute) and node.attr in ("objects", "_default_manager", "_base_manager")
    ]
    assert found == []


def test_no_module_is_a_drawer() -> None:
    found = [str(file.relative_to(ROOT)) for file in modules(*ROOMS, "config") if file.stem in DRAWERS]
    assert found == []


def test_no_class_has_a_name_that_says_nothing() -> None:
    found = [
        f"{place(node, file)} {node.name}"
        for file in modules(*ROOMS, "config")
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.ClassDef) and VAGUE.search(node.name)
    ]
    assert found == []


def test_no_function_takes_more_than_six_arguments_in_a_row() -> None:
    found = [
        f"{place(node, file)} {node.name}"
        for file in modules(*ROOMS, "config")
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.FunctionDef) and len(node.args.args) > 7
    ]
    assert found == []


def test_pure_code_never_reads_the_clock() -> None:
    pure = [*modules("almanac", "trades")]
    pure += [
        HOUSE / "care" / name for name in ("catalog.py", "generation.py", "reconciliation.py", "details.py")
    ]
    pure += [
        HOUSE / "visits" / "bundling.py",
        HOUSE / "dispatch" / "routing.py",
        HOUSE / "calendars" / "feeds.py",
    ]
    clocks = {"today", "now", "utcnow", "localdate", "time_ns"}
    found = [
        place(node, file)
        for file in pure
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in clocks
    ]
    assert found == []


def test_every_table_points_to_its_own_room_or_a_lower_one() -> None:
    order = {room: number for number, room in enumerate(ROOMS)}
    upward = [
        f"{model._meta.label}.{column.name}"
        for model in apps.get_models()
        for column in model._meta.get_fields()
        if column.many_to_one or column.one_to_one or column.many_to_many
        if column.concrete and column.related_model is not None
        if model._meta.app_label in order
        if order.get(column.related_model._meta.app_label, -1) > order[model._meta.app_label]
    ]
    assert upward == []


def test_every_kind_of_thing_has_its_table() -> None:
    assert set(TABLES) == set(KINDS)


@pytest.mark.parametrize("stem", STEMS)
def test_a_stem_has_table_rules_and_template(stem: str) -> None:
    assert (HOUSE / "properties" / "models" / f"{stem}.py").is_file()
    assert (HOUSE / "care" / "rules" / f"{stem}.toml").is_file()
    assert (ROOT / "templates" / "things" / f"{stem}.html").is_file()


@pytest.mark.parametrize("stem", [stem for stem in STEMS if (HOUSE / "trades" / f"{stem}.py").exists()])
def test_the_formulas_of_a_stem_are_checked_against_the_outside(stem: str) -> None:
    imported: set[str] = set()
    for file in (ROOT / "tests" / "published").rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.ImportFrom):
                imported |= {node.module or "", *(f"{node.module}.{name.name}" for name in node.names)}
    assert f"landscape_care.trades.{stem}" in imported


def test_no_file_names_a_folder_of_somebodys_machine_or_a_package_registry() -> None:
    revealing = re.compile(
        "|".join(("/" + "work/", "/" + "root/", "/" + "home/[a-z]", "pypi" + r"\.", "index" + "-url"))
    )
    found = [
        f"{file.relative_to(ROOT)}:{number}"
        for file in written_by_us()
        for number, line in enumerate(file.read_text(encoding="utf-8", errors="replace").splitlines(), 1)
        if revealing.search(line)
    ]
    assert found == []


def test_no_locked_file_with_registry_addresses_is_kept() -> None:
    ignored = (ROOT / ".gitignore").read_text().splitlines()
    assert "uv.lock" in ignored
