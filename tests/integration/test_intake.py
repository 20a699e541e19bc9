"""Gardens in from spreadsheets: every wrong cell is named, and all is taken in or nothing."""

import io
import time
import zipfile
from datetime import date
from datetime import time as clock
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.core.management import CommandError, call_command
from openpyxl import load_workbook

from landscape_care.people.actions import add_user
from landscape_care.people.models import AuditEntry, Role
from landscape_care.properties import actions, intake
from landscape_care.properties.demo import FILES, WORKBOOKS
from landscape_care.properties.intake import IntakeRefused, RowProblem, Source
from landscape_care.properties.intake.forms import FORMS
from landscape_care.properties.models import (
    Agreement,
    Bed,
    Client,
    Depot,
    InstalledThing,
    Planting,
    Property,
    Zone,
)
from landscape_care.trades.limits import Refused
from tests.integration.gardens import TODAY, Sheets, add_property, looked_at, packed, small_garden, workbook

pytestmark = pytest.mark.django_db


def places(problems: tuple[RowProblem, ...]) -> list[tuple[str, int, str]]:
    return [(problem.sheet, problem.row, problem.column) for problem in problems]


def nothing_written() -> bool:
    tables: list[Any] = [Client, Depot, Property, Agreement, InstalledThing, AuditEntry]
    return not any(table.objects.exists() for table in tables)


# --- What is right goes in --------------------------------------------------------------------


def test_a_small_garden_goes_in_whole() -> None:
    found = looked_at(small_garden())
    assert found.problems == ()
    counts = intake.apply(found, by=None, today=TODAY)
    assert (counts.clients, counts.properties, counts.things) == (1, 1, 4)
    assert Zone.objects.get().plantings.get() == Planting.objects.get()
    assert Planting.objects.get().bed == Bed.objects.get()
    assert AuditEntry.objects.get().detail == {"properties": 1, "things": 4}


def test_what_was_left_empty_comes_from_depot_climate_and_day_of_intake() -> None:
    intake.apply(looked_at(small_garden()), by=None, today=TODAY)
    place = Property.objects.get()
    assert (place.climate, place.time_zone, place.care_starts_on) == ("albuquerque", "America/Denver", TODAY)
    # Elevation of the Albuquerque climate station in the almanac.
    assert place.elevation_m == 1619
    assert place.plan_wanted_at is not None


def test_plants_are_kept_by_their_catalog_key() -> None:
    sheets = small_garden()
    sheets["plantings"].append(["casa-14", "P2", "B1", "Salvia greggii", "perennial", 5])
    intake.apply(looked_at(sheets), by=None, today=TODAY)
    assert set(Planting.objects.values_list("plant", flat=True)) == {"viola-x-wittrockiana", "salvia-greggii"}


def test_headers_and_sheet_names_are_read_in_any_case_and_spacing() -> None:
    sheets = small_garden()
    sheets["Plantings "] = [
        ["PROPERTY", " Tag", "bed", "Plant", "role", "Quantity"],
        *sheets.pop("plantings")[1:],
    ]
    sheets["Last care"] = [
        ["Property", "tag", "Rule", "Done on"],
        ["casa-14", "Z1", "drip-flush", "10/1/2026"],
    ]
    found = looked_at(sheets)
    assert found.problems == ()
    assert found.history() == [("casa-14", "Z1", "drip-flush", date(2026, 10, 1))]


def test_csv_files_a_zip_of_them_and_a_workbook_say_the_same() -> None:
    csv = {
        f"{name}.csv": "\n".join(",".join(map(str, row)) for row in rows)
        for name, rows in small_garden().items()
    }
    loose = intake.check([Source(name, text.encode()) for name, text in csv.items()], today=TODAY)
    zipped = intake.check(
        [Source("g.zip", packed({f"gardens/{name}": text for name, text in csv.items()}))], today=TODAY
    )
    from_workbook = looked_at(small_garden())
    assert loose.problems == zipped.problems == from_workbook.problems == ()

    def things(found: intake.Intake) -> list[Any]:
        return sorted((entry.record for entry in found.things), key=lambda thing: thing.tag)

    def plain(found: intake.Intake) -> list[tuple[Any, ...]]:
        return [
            (thing.kind, thing.tag, dict(thing.traits()), dict(thing.amounts())) for thing in things(found)
        ]

    assert plain(loose) == plain(zipped) == plain(from_workbook)


@pytest.mark.parametrize(
    "text",
    [
        "code;name\nacequia;Casa Ñandú\n",
        "code\tname\nacequia\tCasa Ñandú\n",
        '\ufeffcode,name\r\nacequia,"Casa Ñandú"\r\n',
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "cp1252", "utf-16"])
def test_csv_of_any_usual_program_is_read(text: str, encoding: str) -> None:
    if encoding != "utf-8":
        text = text.removeprefix("\ufeff")
    found = intake.check([Source("clients.csv", text.encode(encoding))], today=TODAY)
    assert found.problems == ()
    assert found.clients[0].record.name == "Casa Ñandú"


def test_things_can_be_added_to_a_property_that_is_here_and_refer_to_what_stands_there() -> None:
    place = add_property()
    bed = actions.install(place, "bed", {"tag": "B1", "area_ft2": 80.0, "exposure": "shade"}, by=None)
    Property.objects.update(plan_wanted_at=None)
    found = looked_at({"plantings": small_garden()["plantings"]})
    assert found.problems == ()
    intake.apply(found, by=None, today=TODAY)
    assert Planting.objects.get().bed_id == bed.pk
    assert Property.objects.get().plan_wanted_at is not None


def test_a_remark_and_an_empty_row_are_passed_over_and_row_numbers_still_fit() -> None:
    sheets = small_garden()
    header, row = sheets["beds"]
    sheets["beds"] = [header, ["# area as measured"], [], row, [None, None], [*row[:1], "B2", -4, *row[3:]]]
    assert places(looked_at(sheets).problems) == [("beds", 6, "area_ft2")]


# --- What is wrong is named -------------------------------------------------------------------

WRONG_CELLS: list[tuple[str, int, str, Any, str]] = [
    # sheet, row, column, value, a word of what would be right
    ("clients", 2, "code", "Acequia Lane", "small letters"),
    ("depots", 2, "time_zone", "Denver", "America/Denver"),
    ("properties", 2, "depot", "nowhere", "code of a depot"),
    ("properties", 2, "client", "nobody", "code of a client"),
    ("properties", 2, "latitude_deg", 135.1, "from -90 to 90"),
    ("agreements", 2, "cadence", "daily", "weekly"),
    ("agreements", 2, "property", "casa-41", "code of a property"),
    ("beds", 2, "area_ft2", -120, "from 1 to 200000"),
    ("beds", 2, "area_ft2", "big", "a number"),
    ("beds", 2, "exposure", "sunny", "full_sun"),
    ("beds", 2, "installed_on", "spring", "a date"),
    ("beds", 2, "tag", "", "Short mark"),
    ("beds", 2, "property", "casa-41", "code of a property"),
    ("plantings", 2, "plant", "pansie", "pansy"),
    ("plantings", 2, "bed", "B9", "tag of a bed"),
    ("plantings", 2, "bed", "C1", "tag of a bed"),
    ("plantings", 2, "quantity", 2.5, "whole number"),
    ("zones", 2, "flow_gpm", "", "a flow"),
    ("zones", 2, "controller", "P1", "tag of a controller"),
    ("zones", 2, "plantings", "P1, P7", "tag of a planting"),
    ("zones", 2, "device", "hose", "drip"),
]


@pytest.mark.parametrize(("sheet", "row", "column", "value", "wanted"), WRONG_CELLS)
def test_a_wrong_cell_is_named_with_what_would_be_right(
    sheet: str, row: int, column: str, value: Any, wanted: str
) -> None:
    sheets = small_garden()
    sheets[sheet][row - 1][sheets[sheet][0].index(column)] = value
    problems = looked_at(sheets).problems
    named = [
        problem
        for problem in problems
        if (problem.sheet, problem.row, problem.column) == (sheet, row, column)
    ]
    assert len(named) == 1
    assert named[0].value in (value or None, "P7")
    if column != "tag":
        assert wanted in named[0].wanted


def test_an_unknown_plant_comes_with_the_nearest_names() -> None:
    sheets = small_garden()
    sheets["plantings"][1][3] = "pancy"
    assert "pansy" in looked_at(sheets).problems[0].wanted


def test_removed_before_installed_is_named() -> None:
    sheets = small_garden()
    sheets["beds"][0].append("removed_on")
    sheets["beds"][1].append(date(2019, 1, 1))
    assert places(looked_at(sheets).problems) == [("beds", 2, "removed_on")]


def test_a_place_outside_every_known_climate_is_named_on_its_coordinates() -> None:
    sheets = small_garden()
    header, row = sheets["properties"]
    row[header.index("latitude_deg")], row[header.index("longitude_deg")] = 64.15, -21.94  # Reykjavik
    problems = looked_at(sheets).problems
    assert places(problems) == [("properties", 2, "latitude_deg"), ("properties", 2, "longitude_deg")]
    assert "km" in problems[0].wanted


def test_a_tag_used_twice_is_named_where_it_comes_again() -> None:
    sheets = small_garden()
    sheets["controllers"][1][1] = "B1"
    named = places(looked_at(sheets).problems)
    assert ("controllers", 2, "tag") in named
    assert ("beds", 2, "tag") not in named


def test_a_tag_that_stands_on_the_record_is_named() -> None:
    place = add_property()
    actions.install(place, "drain", {"tag": "B1"}, by=None)
    problems = looked_at({"beds": small_garden()["beds"]}).problems
    assert places(problems) == [("beds", 2, "tag")]
    assert "on the record" in problems[0].wanted


def test_a_code_used_twice_is_named_where_it_comes_again() -> None:
    sheets = small_garden()
    sheets["properties"].append(list(sheets["properties"][1]))
    assert places(looked_at(sheets).problems) == [("properties", 3, "code")]


def test_a_property_without_an_agreement_is_named() -> None:
    sheets = small_garden()
    del sheets["agreements"]
    assert places(looked_at(sheets).problems) == [("properties", 2, "code")]


def test_an_unknown_column_a_missing_column_and_an_unknown_sheet_are_named() -> None:
    sheets: Sheets = small_garden()
    sheets["beds"][0] = ["property", "tag", "area_ft2", "sun", "installed_on"]
    sheets["lawns"] = [["property"], ["casa-14"]]
    named = places(looked_at(sheets).problems)
    assert ("beds", 1, "sun") in named
    assert ("beds", 1, "exposure") in named
    assert ("lawns", 0, "") in named
    # A missing column is told once, not again in each row.
    assert ("beds", 2, "exposure") not in named


def test_a_cell_that_stands_under_no_header_is_named() -> None:
    sheets = small_garden()
    sheets["controllers"][1].append("in the garage")
    assert places(looked_at(sheets).problems) == [("controllers", 2, "column 4")]


def test_care_done_on_a_day_to_come_or_on_an_unknown_tag_is_named() -> None:
    sheets = small_garden()
    sheets["last_care"] = [
        ["property", "tag", "rule", "done_on"],
        ["casa-14", "Z1", "drip-flush", date(2026, 11, 26)],
        ["casa-14", "Z9", "drip-flush", date(2026, 10, 1)],
        ["casa-14", None, "property-walk", date(2026, 10, 1)],
        ["casa-14", "Z1", None, date(2026, 10, 1)],
    ]
    named = places(looked_at(sheets).problems)
    assert named == [("last_care", 2, "done_on"), ("last_care", 3, "tag"), ("last_care", 5, "rule")]


def test_all_wrong_rows_of_a_large_file_are_named_and_no_others() -> None:
    sheets = small_garden()
    wrong = set(range(7, 1500, 13))
    sheets["beds"] = [["property", "tag", "area_ft2", "exposure"]]
    for row in range(2, 1502):
        sheets["beds"].append(["casa-14", f"B{row - 1}", -1 if row in wrong else 50, "shade"])
    problems = looked_at(sheets).problems
    assert {problem.row for problem in problems} == wrong
    assert {problem.column for problem in problems} == {"area_ft2"}


# --- Files that are no spreadsheets -----------------------------------------------------------


def encrypted(content: bytes) -> bytes:
    """The same archive with the flag that says its members need a password (APPNOTE 4.4.4, bit 0)."""
    marked = bytearray(content)
    for signature, flags in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = marked.find(signature)
        while at >= 0:
            marked[at + flags] |= 1
            at = marked.find(signature, at + 4)
    return bytes(marked)


def unsuitable() -> dict[str, bytes]:
    good = packed({"clients.csv": "code,name\na,A\n"})
    return {
        "a picture": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00",
        "nothing": b"",
        "an old workbook": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 512,
        "half a workbook": workbook(small_garden())[:900],
        "an encrypted zip": encrypted(good),
        "a zip cut off": good[:-10],
        "a zip of something else": packed({"plan.pdf": "%PDF-1.7"}),
        "an empty zip": packed({}),
        "a workbook without sheets in it": packed({"[Content_Types].xml": "<Types/>"}),
        "a workbook of broken XML": packed({"[Content_Types].xml": "<Types", "xl/workbook.xml": "<"}),
        "csv with an open quote": b'code,name\na,"A\n',
    }


@pytest.mark.parametrize("what", unsuitable())
def test_a_file_that_is_no_spreadsheet_is_named_and_nothing_breaks(what: str) -> None:
    found = intake.check([Source("plan", unsuitable()[what])], today=TODAY)
    assert len(found.problems) == 1
    assert found.problems[0].file == "plan"
    assert found.problems[0].wanted


@pytest.mark.parametrize("name", ["gardens.xlsx", "Gardens.XLSX", "gardens.zip"])
def test_a_page_saved_under_the_name_of_a_workbook_is_no_workbook(name: str) -> None:
    (problem,) = intake.check([Source(name, b"<html>Please sign in</html>")], today=TODAY).problems
    assert (problem.file, problem.value) == (name, "no workbook and no archive")
    assert "a workbook or zip file that opens" in problem.wanted


def test_the_other_files_are_still_looked_at() -> None:
    sheets = small_garden()
    sheets["beds"][1][2] = -1
    found = intake.check([Source("a.pdf", b"\x00\x01"), Source("g.xlsx", workbook(sheets))], today=TODAY)
    assert [(problem.file, problem.row) for problem in found.problems] == [("a.pdf", 0), ("g.xlsx", 2)]


def test_an_archive_that_unpacks_to_far_too_much_is_refused_unread() -> None:
    written = io.BytesIO()
    with (
        zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("beds.csv", "w") as member,
    ):
        for _ in range(201):
            member.write(b"," * 1024 * 1024)
    began = time.process_time()
    found = intake.check([Source("b.zip", written.getvalue())], today=TODAY)
    assert "unpacks to too much" in str(found.problems[0].value)
    assert time.process_time() - began < 2


def test_an_empty_workbook_is_a_problem() -> None:
    found = looked_at({"Sheet1": []})
    assert len(found.problems) == 1
    assert "at least one row" in found.problems[0].wanted


# --- All or nothing ---------------------------------------------------------------------------


def test_an_intake_with_a_problem_writes_nothing() -> None:
    sheets = small_garden()
    sheets["zones"][1][3] = 0
    with pytest.raises(IntakeRefused):
        intake.apply(looked_at(sheets), by=None, today=TODAY)
    assert nothing_written()


def test_a_second_intake_of_the_same_file_names_every_row_and_changes_nothing() -> None:
    intake.apply(looked_at(small_garden()), by=None, today=TODAY)
    before = list(InstalledThing.objects.values_list("pk", flat=True))
    again = looked_at(small_garden())
    assert {(problem.sheet, problem.row) for problem in again.problems} == {
        (sheet, 2) for sheet in small_garden()
    }
    assert list(InstalledThing.objects.values_list("pk", flat=True)) == before


def test_what_came_in_between_check_and_apply_leaves_nothing_half_written() -> None:
    found = looked_at(small_garden())
    add_property(code="other-place")
    with pytest.raises(IntakeRefused, match="since the files were checked"):
        intake.apply(found, by=None, today=TODAY)
    assert not Property.objects.filter(code="casa-14").exists()


@pytest.mark.parametrize("role", [Role.CREW, Role.OWNER])
def test_only_the_office_takes_gardens_in(role: Role) -> None:
    stranger = add_user("x", "a long password", role=role)
    with pytest.raises(PermissionDenied):
        intake.apply(looked_at(small_garden()), by=stranger, today=TODAY)
    assert not Property.objects.exists()


def test_ten_thousand_rows_go_in_within_seconds() -> None:
    """Ten seconds are promised; more is a fault even on a slow machine."""
    sheets = small_garden()
    codes = [f"casa-{number}" for number in range(100)]
    sheets["properties"] = [sheets["properties"][0]] + [
        [code, *sheets["properties"][1][1:]] for code in codes
    ]
    sheets["agreements"] = [["property", "cadence"]] + [[code, "monthly"] for code in codes]
    sheets["beds"] = [["property", "tag", "area_ft2", "exposure"]]
    sheets["beds"] += [[code, f"B{number}", 50, "shade"] for code in codes for number in range(97)]
    for sheet in ("plantings", "controllers", "zones"):
        del sheets[sheet]
    content = workbook(sheets)
    began = time.process_time()
    found = intake.check([Source("g.xlsx", content)], today=TODAY)
    counts = intake.apply(found, by=None, today=TODAY)
    assert counts.things == 9700
    assert time.process_time() - began < 10


# --- The template and the demo company --------------------------------------------------------


def test_the_template_has_a_sheet_and_a_column_for_everything_and_says_what_is_right() -> None:
    book = load_workbook(io.BytesIO(intake.template()))
    assert set(book.sheetnames) == {"read_me", *FORMS}
    for name, form in FORMS.items():
        header, wanted = (next(book[name].iter_rows(row, row, values_only=True)) for row in (1, 2))
        assert header == tuple(form.columns)
        assert all(wanted)
    offered = {str(rule.formula1) for rule in book["beds"].data_validations.dataValidation}
    assert '"full_sun,filtered_shade,shade"' in offered


def test_a_template_filled_in_goes_in_and_an_empty_one_is_a_problem() -> None:
    assert "at least one row" in intake.check([Source("t.xlsx", intake.template())]).problems[0].wanted
    book = load_workbook(io.BytesIO(intake.template()))
    for name, rows in small_garden().items():
        columns = list(FORMS[name].columns)
        for column, cell in zip(rows[0], rows[1], strict=True):
            book[name].cell(3, columns.index(column) + 1, cell)
    written = io.BytesIO()
    book.save(written)
    found = intake.check([Source("t.xlsx", written.getvalue())], today=TODAY)
    assert found.problems == ()
    assert found.counts().things == 4


def test_the_demo_company_goes_in() -> None:
    found = intake.check(FILES, today=TODAY)
    assert found.problems == ()
    counts = intake.apply(found, by=None, today=TODAY)
    assert (counts.depots, counts.properties) == (2, 60)
    assert {kind for kind, _ in counts.by_kind} == {form.kind for form in FORMS.values() if form.kind}
    assert set(Property.objects.values_list("climate", flat=True)) == {"albuquerque", "tucson"}
    assert all(entry.record.done_on <= TODAY for entry in found.last_care)


def test_the_demo_workbooks_are_small_and_name_no_person_as_author() -> None:
    for file in WORKBOOKS:
        assert file.stat().st_size < 300_000
        assert load_workbook(file, read_only=True).properties.creator == "Demo company"


# --- The command ------------------------------------------------------------------------------


def run(*arguments: Any) -> str:
    said = io.StringIO()
    call_command("take_in", *map(str, arguments), stdout=said, stderr=said)
    return said.getvalue()


def test_the_command_checks_takes_in_and_names_problems(tmp_path: Any) -> None:
    file = tmp_path / "garden.xlsx"
    file.write_bytes(workbook(small_garden()))
    assert "nothing was written" in run("--check", file)
    assert nothing_written()
    assert "properties              1" in run(file)
    errors = io.StringIO()
    with pytest.raises(CommandError, match="nothing was written") as caught:
        call_command("take_in", str(file), stderr=errors)
    assert caught.value.returncode == 1
    assert "casa-14" in errors.getvalue()


def test_the_command_takes_nothing_when_past_care_names_an_unknown_rule(tmp_path: Any) -> None:
    sheets = small_garden()
    sheets["last_care"] = [
        ["property", "tag", "rule", "done_on"],
        ["casa-14", "Z1", "dusting", date(2026, 10, 1)],
    ]
    file = tmp_path / "garden.xlsx"
    file.write_bytes(workbook(sheets))
    with pytest.raises((CommandError, Refused)):
        run(file)
    assert nothing_written()


def test_the_command_writes_the_template_with_a_sheet_for_crews(tmp_path: Any) -> None:
    file = tmp_path / "empty.xlsx"
    run("--template", file)
    assert {"crews", "beds"} <= set(load_workbook(file, read_only=True).sheetnames)


def test_a_clock_cell_of_a_workbook_is_a_clock_time() -> None:
    sheets = small_garden()
    sheets["properties"][0] += ["access_opens", "access_closes"]
    sheets["properties"][1] += [clock(6, 30), "4:15 pm"]
    intake.apply(looked_at(sheets), by=None, today=TODAY)
    place = Property.objects.get()
    assert (place.access_opens, place.access_closes) == (clock(6, 30), clock(16, 15))
