"""Crews from spreadsheets."""

from datetime import date, time
from io import BytesIO
from pathlib import Path

import pytest
from django.core.exceptions import PermissionDenied
from openpyxl import Workbook

from landscape_care.care.catalog import SKILLS
from landscape_care.dispatch import crew_intake as intake
from landscape_care.dispatch import intake as whole
from landscape_care.dispatch.models import Crew
from landscape_care.properties.intake import IntakeRefused, Source
from landscape_care.properties.intake import check as check_gardens
from landscape_care.properties.models import Property
from tests.integration.dispatch_company import add_company

pytestmark = pytest.mark.django_db
DEMO = sorted((Path(intake.__file__).parent.parent / "properties" / "demo").glob("*.xlsx"))
HEADER = "code,name,depot,people,skills,shift_opens,shift_closes,break_minutes,weekdays\n"


def sheet(*rows: str, header: str = HEADER) -> Source:
    return Source("crews.csv", (header + "\n".join(rows)).encode())


def test_the_crews_of_the_demo_have_every_skill_in_each_depot() -> None:
    depots = {entry.record.code for entry in check_gardens(DEMO).depots}
    found = intake.check(DEMO, new_depots=depots)
    assert not found.problems
    assert len(found.crews) == 5
    for depot in depots:
        known = {skill for crew in found.crews if crew.depot == depot for skill in crew.skill_list()}
        assert known == set(SKILLS)


def test_crews_are_added_with_their_shift_and_skills() -> None:
    company = add_company(gardens=0)
    row = 'pinon,Piñon crew,albuquerque,2,"gardener, Certified backflow tester",7:00,4:30 PM,45,1234'
    found = intake.check([sheet(row)])
    assert intake.apply(found, by=company.office) == 1
    crew = Crew.objects.get(code="pinon")
    assert (crew.name, crew.depot, crew.people) == ("Piñon crew", company.depot, 2)
    assert crew.skills == ["gardener", "certified_backflow_tester"]
    assert (crew.shift_opens, crew.shift_closes) == (time(7), time(16, 30))
    assert (crew.break_minutes, crew.weekdays) == (45, "1234")


@pytest.mark.parametrize(
    ("row", "column", "wanted"),
    [
        ("a,A,albuquerque,two,gardener,7:00,15:00,30,12345", "people", "whole number"),
        ("a,A,albuquerque,0,gardener,7:00,15:00,30,12345", "people", "1 to 20"),
        ("a,A,albuquerque,2,gardner,7:00,15:00,30,12345", "skills", "some of gardener"),
        ("a,A,albuquerque,2,,7:00,15:00,30,12345", "skills", "text"),
        ("a,A,nowhere,2,gardener,7:00,15:00,30,12345", "depot", "albuquerque"),
        ("a,A,albuquerque,2,gardener,soon,15:00,30,12345", "shift_opens", "clock time"),
        ("a,A,albuquerque,2,gardener,7:00,6:00,30,12345", "shift_closes", "after 07:00"),
        ("a,A,albuquerque,2,gardener,7:00,15:00,30,89", "weekdays", "1 (Monday)"),
        ("cottonwood,A,albuquerque,2,gardener,7:00,15:00,30,12345", "code", "already here"),
    ],
)
def test_a_wrong_cell_is_named_with_what_would_be_right(row: str, column: str, wanted: str) -> None:
    company = add_company(gardens=0)
    found = intake.check([sheet("new,New crew,albuquerque,2,gardener,7:00,15:00,30,12345", row)])
    (problem,) = found.problems
    assert (problem.sheet, problem.row, problem.column) == ("crews", 3, column)
    assert wanted in problem.wanted
    with pytest.raises(IntakeRefused):
        intake.apply(found, by=company.office)
    assert not Crew.objects.filter(code="new").exists()


def test_a_code_twice_in_one_file_and_a_wrong_header_are_named() -> None:
    add_company(gardens=0)
    row = "new,New crew,albuquerque,2,gardener,7:00,15:00,30,12345"
    (twice,) = intake.check([sheet(row, row)]).problems
    assert (twice.row, twice.column) == (3, "code")
    header = HEADER.replace("people", "persons").replace("name,", "")
    found = intake.check([sheet("new,albuquerque,2,gardener,7:00,15:00,30,12345", header=header)])
    assert [(one.row, one.column) for one in found.problems] == [(1, "persons"), (1, "name"), (2, "name")]


def test_a_workbook_as_a_spreadsheet_program_writes_it_is_understood() -> None:
    company = add_company(gardens=0)
    book = Workbook()
    page = book.active
    assert page is not None
    page.title = "Crews"
    page.append(["Code", "Name", "Depot", "People", "Skills", "Shift opens", "Shift closes"])
    page.append(["night", "Night crew", "albuquerque", 3.0, "mason", time(14), time(22)])
    file = BytesIO()
    book.save(file)
    found = intake.check([Source("crews.xlsx", file.getvalue())])
    assert not found.problems
    intake.apply(found, by=company.office)
    assert Crew.objects.get(code="night").people == 3


def test_only_the_office_takes_crews_in() -> None:
    company = add_company(gardens=0)
    with pytest.raises(PermissionDenied):
        intake.apply(intake.CrewIntake(), by=company.lead)


def test_the_whole_template_is_a_problem_while_it_is_empty() -> None:
    (problem,) = whole.check([Source("t.xlsx", whole.template())], today=date(2026, 11, 25)).problems
    assert "at least one row" in problem.wanted


def test_crews_may_be_brought_in_without_gardens() -> None:
    company = add_company(gardens=0)
    found = whole.check(
        [sheet("new,New crew,albuquerque,2,gardener,7:00,15:00,30,12345")], today=date(2026, 11, 25)
    )
    assert found.problems == ()
    assert whole.take_in(found, by=company.office)["crews"] == 1


def test_care_done_before_by_an_unknown_rule_is_named_at_its_row() -> None:
    company = add_company(gardens=1)
    code = Property.objects.get().code
    text = f"property,tag,rule,done_on\n{code},,water-polishing,2026-10-01\n".encode()
    found = whole.check([Source("last_care.csv", text)], today=date(2026, 11, 25))
    wrong = [problem for problem in found.problems if problem.column == "rule"]
    assert [(problem.sheet, problem.row, problem.value) for problem in wrong] == [
        ("last_care", 2, "water-polishing")
    ]
    with pytest.raises(whole.IntakeRefused):
        whole.take_in(found, by=company.office)
