"""Own plants, climates, rules and the days of weather stations, written through the API."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from landscape_care.almanac.climate import climates
from landscape_care.care.models import Observation
from landscape_care.people.models import AuditEntry
from landscape_care.properties.models import OwnClimate, OwnPlant
from landscape_care.trades.plants import plants
from tests.integration.api_company import OWN_CLIMATE, OWN_PLANT, OWN_RULE, Company, add_company, send

pytestmark = pytest.mark.django_db
LOW = OWN_PLANT | {"key": "own-low", "botanical": "S. 'Low'", "common": "low one", "common_es": "bajo"}


@pytest.fixture
def company() -> Company:
    return add_company()


def problems(answer: Any) -> dict[str, str]:
    assert answer.status_code == 422, answer.content
    return {row["field"]: row["wanted"] for row in answer.json()["problems"]}


def test_all_plants_and_climates_are_told_with_their_sources(company: Company) -> None:
    told = send("crew", "GET", "plants/?limit=500").json()
    assert told["count"] == len(plants()) + 1
    assert all(row["source"] for row in told["results"])
    assert [row["key"] for row in told["results"] if row["own"]] == ["own-tuscan"]
    places = send("crew", "GET", "climates/").json()["results"]
    assert {row["key"] for row in places} == {*climates(), "own-corrales"}
    assert all(row["temperature_provenance"] and row["frost_provenance"] for row in places)


def test_a_plant_is_added_used_changed_and_kept_while_it_stands(company: Company) -> None:
    assert send("office", "POST", "plants/", LOW).status_code == 201
    planting = {"kind": "planting", "tag": "P9", "plant": "low one", "role": "shrub", "quantity": 4}
    installed = send("office", "POST", "properties/casa-14/things/", planting)
    assert (installed.status_code, installed.json()["plant"]) == (201, "own-low")
    changed = send("office", "PATCH", "plants/own-low/", {"width_ft": 6.0, "reason": "measured"})
    assert (changed.status_code, changed.json()["width_ft"]) == (200, 6.0)
    assert AuditEntry.objects.filter(verb="change own plant", subject="own-low").exists()
    refused = send("office", "POST", "plants/own-low/retirement/", {"reason": "no longer sold"})
    assert "in use at casa-14 P9" in problems(refused)["key"]


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"key": "pansy"}, "key"),
        ({"key": "own-tuscan"}, "key"),
        ({"common": "rosemary"}, "common"),
        ({"group": "bush"}, "group"),
        ({"plant_factor": "high"}, "plant_factor"),
        ({"plant_factor": 0.9}, "plant_factor"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_a_plant_that_cannot_be_is_refused_by_its_field(
    company: Company, values: dict[str, Any], field: str
) -> None:
    assert field in problems(send("office", "POST", "plants/", LOW | values))
    assert OwnPlant.objects.count() == 1


def test_what_came_along_stays_as_it_is(company: Company) -> None:
    change = {"width_ft": 1.0, "reason": "try"}
    assert send("office", "PATCH", "plants/viola-cornuta/", change).status_code == 409
    assert send("office", "POST", "climates/tucson/retirement/", {"reason": "try"}).status_code == 409


def test_a_climate_answers_with_the_windows_of_its_year(company: Company) -> None:
    told = send("crew", "GET", "climates/own-corrales/").json()
    windows = {row["name"]: row for row in told["windows"]}
    assert windows["annual_swap_to_warm"]["opens_on"].endswith("-05-18")
    assert (told["band"], len(told["eto_in"])) == ("cold", 12)


@pytest.mark.parametrize(
    ("values", "field", "wanted"),
    [
        ({"tmax_f": [*OWN_CLIMATE["tmax_f"][:6], 4.0, *OWN_CLIMATE["tmax_f"][7:]]}, "tmin_f.7", "not above"),
        ({"tmax_f": OWN_CLIMATE["tmax_f"][:11]}, "tmax_f", "twelve values"),
        ({"rain_in": [-0.1] * 12}, "rain_in.1", "January: from 0"),
        ({"last_frost": "10-10", "first_frost": "05-04"}, "last_frost", "last frost of spring"),
        ({"tmax_f": "hot"}, "tmax_f", "list"),
        ({"key": "denver"}, "key", "begin with own-"),
        ({"key": "own-corrales", "name": "Elsewhere"}, "key", "in use already"),
    ],
)
def test_a_climate_that_cannot_be_is_refused_by_its_field(
    company: Company, values: dict[str, Any], field: str, wanted: str
) -> None:
    given = OWN_CLIMATE | {"key": "own-placitas", "name": "Placitas"} | values
    assert wanted in problems(send("office", "POST", "climates/", given))[field]
    assert OwnClimate.objects.count() == 1


# --- Rules ------------------------------------------------------------------------------------


def test_a_rule_is_made_changed_and_ended(company: Company) -> None:
    body = OWN_RULE | {"key": "own-cold-spots", "reason": "try", "where": {"infill": ["zeolite"]}}
    assert send("office", "POST", "own-rules/", body).json()["every_days"] == 45
    assert send("office", "POST", "own-rules/", body).status_code == 409
    change = OWN_RULE | {"every": 60, "reason": "enough"}
    assert send("office", "PUT", "own-rules/own-cold-spots/", change).json()["every_days"] == 60
    assert send("office", "POST", "own-rules/own-cold-spots/end/", {"reason": "no"}).status_code == 200
    assert send("office", "GET", "own-rules/own-cold-spots/").status_code == 404


@pytest.mark.parametrize(
    ("values", "field", "wanted"),
    [
        ({"season": "perennial_cutback"}, "trigger", "exactly one of"),
        ({"every": None, "tolerance_days": None}, "trigger", "exactly one of"),
        ({"every": None, "tolerance_days": None, "season": "next_moon"}, "window", "is unknown"),
        ({"every": None, "tolerance_days": None, "season": "mean_rises_130F"}, "season", "no climate"),
        ({"every": 0}, "every", "1 or more"),
        ({"tolerance_days": 30}, "tolerance_days", "under half"),
        ({"where": {"colour": ["red"]}}, "where", "one of"),
        ({"key": "drip-flush"}, "key", "begin with own-"),
        ({"skill": "wizard"}, "skill", "wizard"),
        ({"labour": 5}, "labour", "one of the names"),
        ({"en": {"title": "No words"}}, "en.how", "missing"),
    ],
)
def test_a_rule_that_makes_no_sense_is_refused_by_its_field(
    company: Company, values: dict[str, Any], field: str, wanted: str
) -> None:
    body = OWN_RULE | {"key": "own-cold-spots", "reason": "try"} | values
    told = problems(send("office", "POST", "own-rules/", {k: v for k, v in body.items() if v is not None}))
    assert wanted in told[field]


# --- Weather ----------------------------------------------------------------------------------

DAYS = [
    {"day": "2025-07-01", "tmax_f": 95.0, "tmin_f": 67.0, "rain_in": 0.0},
    {"day": "2025-07-02", "tmax_f": 4.0, "tmin_f": 1.0, "rain_in": 0.0},
    {"day": "2025-07-03", "tmax_f": 60.0, "tmin_f": 70.0, "rain_in": 0.0},
    {"day": "2025-07-05", "tmax_f": 93.0, "tmin_f": 66.0, "rain_in": 0.2},
]


def test_good_days_are_kept_and_the_others_come_back_with_their_reason(company: Company) -> None:
    told = send("office", "POST", "weather-stations/valle/days/", {"observations": DAYS})
    assert told.status_code == 200
    answer = told.json()
    assert (answer["added"], answer["changed"]) == (2, 0)
    assert [row["field"].split()[:2] for row in answer["problems"]] == [["row", "3"], ["row", "4"]]
    assert answer["missing"] == ["2025-07-02", "2025-07-03", "2025-07-04"]
    again = send("office", "POST", "weather-stations/valle/days/", {"observations": DAYS}).json()
    assert (again["added"], again["changed"]) == (0, 0)
    listed = send("crew", "GET", "weather-stations/valle/days/?first=2025-07-02").json()["results"]
    assert [row["day"] for row in listed] == ["2025-07-05"]


def test_a_file_of_days_is_judged_like_days_in_json(company: Company) -> None:
    lines = ["day,tmax_f,tmin_f,rain_in", *(",".join(str(v) for v in day.values()) for day in DAYS)]
    file = SimpleUploadedFile("days.csv", "\n".join(lines).encode(), content_type="text/csv")
    told = send("office", "POST", "weather-stations/valle/days/file/", {"file": file}).json()
    assert (told["added"], len(told["problems"])) == (2, 2)
    assert Observation.objects.count() == 2


def test_a_file_that_is_no_text_is_refused(company: Company) -> None:
    file = SimpleUploadedFile("days.csv", b"\xff\xfe\x00", content_type="text/csv")
    answer = send("office", "POST", "weather-stations/valle/days/file/", {"file": file})
    assert "UTF-8" in problems(answer)["file"]


def test_a_station_wants_a_climate_that_is_known_and_a_code_of_its_own(company: Company) -> None:
    station = {"code": "mesa", "name": "Mesa", "latitude_deg": 35.2, "longitude_deg": -106.6}
    unknown = send("office", "POST", "weather-stations/", station | {"climate": "moon"})
    assert "own-corrales" in problems(unknown)["climate"]
    known = send("office", "POST", "weather-stations/", station | {"climate": "own-corrales"})
    assert known.status_code == 201
    twice = send("office", "POST", "weather-stations/", station | {"climate": "albuquerque"})
    assert "code" in problems(twice)
