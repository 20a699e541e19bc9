"""The public computations on their page, in the API and in the shell."""

import html
import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils.translation import override

from landscape_care.people.actions import add_user
from landscape_care.people.models import Role
from landscape_care.trades import reckoning

pytestmark = pytest.mark.django_db
EVERY = sorted(reckoning.reckonings())


@pytest.fixture
def crew(client: Client) -> Client:
    client.force_login(add_user("juniper", "adobe wall at noon", role=Role.CREW, name="Juniper"))
    return client


def written(*words: str, **options: object) -> str:
    out = StringIO()
    call_command("reckon", *words, stdout=out, **options)
    return out.getvalue()


def text_of(answer: object) -> str:
    return answer.content.decode()  # type: ignore[attr-defined, no-any-return]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", EVERY)
def test_each_page_shows_its_example_with_formula_and_source(name: str, language: str, crew: Client) -> None:
    crew.post("/language/", {"language": language})
    asked = reckoning.reckoning(name)
    with override(language):
        page = crew.get(f"/reckon/{name}/")
    found = reckoning.in_words(reckoning.answer(asked, asked.example), language)
    assert page.status_code == 200
    assert page.context["told"] == found
    formula = asked.formula_es if language == "es" else asked.formula_en
    shown = html.unescape(text_of(page))
    told = [*(line[1] for line in found.figures), *found.sentences]
    told += [cell for table in found.tables for row in table.rows for cell in row]
    assert [each for each in (*told, formula) if each not in shown] == []


def test_the_list_names_every_computation(crew: Client) -> None:
    page = text_of(crew.get("/reckon/"))
    assert [name for name in EVERY if f'href="/reckon/{name}/"' not in page] == []


def test_a_page_answers_for_the_numbers_in_its_address(crew: Client) -> None:
    page = crew.get("/reckon/voltage_drop_v/", {"awg": "12", "length_ft": "200", "amperes": "2.5"})
    assert page.context["told"].figures == [("Voltage lost on a cable", "1.980 V")]


@pytest.mark.parametrize(("language", "words"), [("en", "a number above 0"), ("es", "un número mayor que 0")])
def test_a_page_says_what_is_wrong_in_the_readers_language(language: str, words: str, crew: Client) -> None:
    crew.post("/language/", {"language": language})
    page = crew.get("/reckon/filter_rate_gpm_ft2/", {"gallons_per_minute": "30", "filter_area_ft2": "0"})
    assert page.status_code == 422
    assert words in text_of(page)


def test_an_unknown_computation_is_not_there(crew: Client) -> None:
    assert crew.get("/reckon/no_such_figure/").status_code == 404
    assert crew.get("/api/reckon/no_such_figure/").status_code == 404


def test_the_api_lists_inputs_with_unit_bounds_and_source(crew: Client) -> None:
    found = {each["name"]: each for each in crew.get("/api/reckon/").json()}
    assert sorted(found) == EVERY
    area = next(each for each in found["filter_rate_gpm_ft2"]["inputs"] if each["name"] == "filter_area_ft2")
    assert (area["unit"], area["low"], area["high"], area["low_is_refused"]) == ("ft²", 0, None, True)
    assert "FAO" in found["wind_at_2m"]["source"]["es"]


@pytest.mark.parametrize("name", EVERY)
def test_api_shell_and_function_give_the_same_example(name: str, crew: Client) -> None:
    asked = reckoning.reckoning(name)
    expected = reckoning.plain(asked.function(**reckoning.answer(asked, asked.example).given))
    typed = {key: json.dumps(v) if isinstance(v, list) else str(v) for key, v in asked.example.items()}
    assert crew.get(f"/api/reckon/{name}/", typed).json()["value"] == expected
    words = [f"{key}={value}" for key, value in typed.items()]
    assert json.loads(written(name, *words, json=True))["value"] == expected


@pytest.mark.parametrize(
    ("name", "given", "field"),
    [
        ("eto_hargreaves", {"tmax_c": "10", "tmin_c": "20"}, "tmin_c"),
        ("actual_vapour_pressure_from_rh_max", {"tmin_c": "10", "rh_max_pct": "101"}, "rh_max_pct"),
        ("wind_at_2m", {"wind_m_s": "-1", "height_m": "3"}, "wind_m_s"),
        ("extraterrestrial_radiation", {"latitude_deg": "95"}, "latitude_deg"),
        ("drip_minutes", {"gallons": "5", "emitters": "2", "emitter_gph": "0"}, "emitter_gph"),
        ("plants_square", {"area_ft2": "10", "spacing_in": "0"}, "spacing_in"),
        ("filter_rate_gpm_ft2", {"filter_area_ft2": "0"}, "filter_area_ft2"),
        ("plants_square", {"area_ft2": "nan", "spacing_in": "6"}, "area_ft2"),
        ("plants_square", {"area_ft2": "1e400", "spacing_in": "6"}, "area_ft2"),
        ("plants_square", {"area": "10"}, "area"),
        ("voltage_drop_v", {"awg": "13"}, "awg"),
        ("sunset", {"day": "2027-02-30"}, "day"),
        ("sunset", {"time_zone": "Nowhere/Land"}, "time_zone"),
        ("voltage_drop_chain_v", {"segments": "25,10"}, "segments"),
        ("seasonal_windows", {"tmean": "60,70"}, "tmean"),
        ("windows_of_a_year", {"expression": "spring"}, "expression"),
        ("eto_of_a_day", {"rh_max_pct": "", "rh_min_pct": "40"}, "rh_min_pct"),
    ],
)
def test_nonsense_is_refused_by_its_field(name: str, given: dict[str, str], field: str, crew: Client) -> None:
    example = reckoning.reckoning(name).example
    typed = {key: json.dumps(v) if isinstance(v, list) else str(v) for key, v in example.items()}
    refused = crew.get(f"/api/reckon/{name}/", {**typed, **given})
    assert refused.status_code == 422
    assert field in {problem["field"] for problem in refused.json()["problems"]}
    with pytest.raises(CommandError, match=field):
        written(name, *(f"{key}={value}" for key, value in {**typed, **given}.items()))


def test_polar_day_has_no_sunset_and_says_so(crew: Client) -> None:
    place = {"day": "2026-06-21", "latitude_deg": "70", "longitude_deg": "20", "time_zone": "Europe/Oslo"}
    assert crew.get("/api/reckon/sunset/", place).json()["value"] is None
    assert "does not happen" in text_of(crew.get("/reckon/sunset/", place))


def test_the_shell_lists_every_computation_with_its_source() -> None:
    text = written(list=True)
    assert [name for name in EVERY if name not in text] == []
    assert sorted(each["name"] for each in json.loads(written(list=True, json=True))) == EVERY


@pytest.mark.parametrize(
    "words", [("flats", "plants"), ("no_such_figure",), ("flats", "plants=1", "plants=2")]
)
def test_the_shell_refuses_what_it_cannot_read(words: tuple[str, ...]) -> None:
    with pytest.raises(CommandError):
        written(*words)
