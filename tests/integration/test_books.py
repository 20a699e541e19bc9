"""A company's own plants and climates: checked like those that come along, and used wherever those are."""

from datetime import date
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied

from landscape_care.almanac.anchors import windows_in_year
from landscape_care.almanac.climate import climate
from landscape_care.care import actions as care
from landscape_care.care import queries as care_queries
from landscape_care.care.models import CareTask
from landscape_care.people.actions import add_user
from landscape_care.people.models import AuditEntry, Role, User
from landscape_care.properties import actions, book_entries, books, queries
from landscape_care.properties.findings import findings
from landscape_care.properties.models import OwnClimate, OwnPlant, Property
from landscape_care.properties.records import ESTIMATED
from landscape_care.trades.kinds import Zone
from landscape_care.trades.limits import Refused
from landscape_care.trades.plants import plant
from landscape_care.trades.zone_needs import zone_need
from tests.integration.api_company import OWN_CLIMATE, OWN_PLANT
from tests.integration.care_company import START, garden, put
from tests.integration.gardens import PLACE, add_property, looked_at, small_garden

pytestmark = pytest.mark.django_db

CLIMATE: dict[str, Any] = {
    name: tuple(value) if isinstance(value, list) else value for name, value in OWN_CLIMATE.items()
}
# A colour plant that fades in the heat like pansies and drinks less.
OWN_COLOUR = OWN_PLANT | {
    "key": "own-nemesia",
    "botanical": "Nemesia hybrids",
    "common": "nemesia",
    "common_es": "nemesia",
    "group": "annual_cool",
    "exposure": "sun-part",
    "water_class": "M",
    "plant_factor": 0.8,
    "root_depth_in": 8.0,
    "hardiness_f": 28.0,
    "width_ft": 1.0,
    "spacing_in": 9.0,
    "cutback": "remove at swap",
    "frost_tender": True,
}


def office() -> User:
    return add_user("office", "a long password", role=Role.OFFICE)


def own_plant(**values: Any) -> OwnPlant:
    return book_entries.add_plant(OWN_PLANT | values, by=None)


def own_climate(**values: Any) -> OwnClimate:
    return book_entries.add_climate(CLIMATE | values, by=None)


def problems(caught: pytest.ExceptionInfo[Refused]) -> dict[str, str]:
    return {problem.field: problem.wanted for problem in caught.value.problems}


def planned(place: Property) -> None:
    care.plan_care(place.pk, today=START)


def with_colour(place: Property, **values: Any) -> Any:
    bed = put(place, "bed", "B1", area_ft2=40.0, exposure="full_sun")
    put(place, "controller", "C1", stations=4)
    given = {"bed_id": bed.pk, "plant": "Nemesia", "partner": "zinnia", "role": "seasonal_colour"}
    return put(place, "planting", "P1", **(given | {"quantity": 72} | values))


# --- Plants in use ----------------------------------------------------------------------------


def test_an_own_plant_is_found_by_name_in_forms_and_spreadsheets() -> None:
    book_entries.add_plant(OWN_COLOUR, by=None)
    sheets = small_garden()
    sheets["plantings"][1][3] = "NEMESIA"
    looked = looked_at(sheets)
    assert looked.problems == ()
    assert [entry.record.plant for entry in looked.things if entry.record.kind == "planting"] == [  # type: ignore[attr-defined]
        "own-nemesia"
    ]


def test_a_misspelt_own_plant_is_refused_with_its_name_as_the_nearest() -> None:
    book_entries.add_plant(OWN_COLOUR, by=None)
    sheets = small_garden()
    sheets["plantings"][1][3] = "nemessia"
    [problem] = looked_at(sheets).problems
    assert "did you mean nemesia" in problem.wanted


def test_an_own_plant_fills_record_care_water_need_and_findings() -> None:
    row = book_entries.add_plant(OWN_COLOUR, by=None)
    place = garden()
    planting = with_colour(place)
    zone = {"controller_id": place.things.get(tag="C1").pk, "station": 1, "device": "spray", "flow_gpm": 2.0}
    put(place, "zone", "Z1", **zone, area_ft2=40.0, planting_ids=(planting.pk,))
    record = queries.as_built(place)
    standing = record.thing(planting.pk)
    assert (standing.plant, standing.group, standing.frost_tender) == ("own-nemesia", "annual_cool", True)
    need = zone_need(record, record.of_kind(Zone)[0], START)
    assert need is not None
    assert (need.plant_factor, need.root_depth_in) == (row.plant_factor, row.root_depth_in)
    planned(place)
    [swap, *_] = CareTask.objects.filter(rule="colour-swap-to-cool").order_by("due_on")
    assert swap.details["colour"] == {
        "out": "zinnia-elegans",
        "in": "own-nemesia",
        "bed": "B1",
        "exposure": "full_sun",
    }
    assert swap.details["lines"]["en"][0] == "72 nemesia, 2 flats of 36, 9 in apart"
    assert CareTask.objects.filter(rule="frost-cloth-ready").exists()
    assert not [found for found in findings(record, climate("albuquerque")) if found.look == "unknown-plant"]


def test_one_record_and_many_know_the_same_plants() -> None:
    book_entries.add_plant(OWN_COLOUR, by=None)
    one, other = garden("casa-14"), garden("casa-15")
    with_colour(one)
    with_colour(other, plant="pansy")
    together = queries.as_builts([one.pk, other.pk])
    assert together == {one.pk: queries.as_built(one), other.pk: queries.as_built(other)}
    assert [own.key for own in together[one.pk].plants.own] == ["own-nemesia"]
    assert together[other.pk].plants.own == ()


def test_a_plant_changed_in_kind_plans_its_gardens_again_and_no_other() -> None:
    row = book_entries.add_plant(OWN_COLOUR, by=None)
    place, other = garden("casa-14"), garden("casa-15")
    with_colour(place)
    with_colour(other, plant="pansy")
    for each in (place, other):
        planned(each)
    assert CareTask.objects.filter(property=place, rule="frost-cloth-ready", state="open").exists()
    book_entries.change_plant(row, {"frost_tender": False, "hardiness_f": 20.0}, reason="hardier", by=None)
    place.refresh_from_db()
    other.refresh_from_db()
    assert (place.plan_wanted_at is not None, other.plan_wanted_at) == (True, None)
    planned(place)
    assert not CareTask.objects.filter(property=place, rule="frost-cloth-ready", state="open").exists()
    assert not care.plan_care(place.pk, today=START)


def test_a_plant_in_use_is_not_retired_and_says_where_it_stands() -> None:
    row = book_entries.add_plant(OWN_COLOUR, by=None)
    planting = with_colour(garden())
    with pytest.raises(Refused) as refused:
        book_entries.retire_plant(row, reason="no longer sold", by=None)
    assert "it is in use at casa-14 P1" in problems(refused)["key"]
    actions.remove(planting, START, reason="pulled", by=None)
    assert book_entries.retire_plant(row, reason="no longer sold", by=None).ended_at is not None


def test_a_retired_plant_is_not_offered_and_what_stood_keeps_its_facts() -> None:
    row = book_entries.add_plant(OWN_COLOUR, by=None)
    place = garden()
    planting = with_colour(place)
    actions.remove(planting, START, reason="pulled", by=None)
    book_entries.retire_plant(row, reason="no longer sold", by=None)
    assert queries.as_built(place).thing(planting.pk).group == "annual_cool"
    with pytest.raises(Refused, match="is unknown"):
        put(place, "planting", "P2", plant="nemesia", role="seasonal_colour", quantity=3)
    book_entries.offer_again(row, by=None)
    assert put(place, "planting", "P2", plant="nemesia", role="seasonal_colour", quantity=3).pk


# --- Plants at the door -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "field", "wanted"),
    [
        ({"key": "pansy"}, "key", "begin with own-"),
        ({"key": "own-Pansy"}, "key", "small letters"),
        ({"common": "Rosemary"}, "common", "rosmarinus-officinalis-salvia-rosmarinus goes by it"),
        ({"common_es": "romero"}, "common_es", "goes by it"),
        ({"group": "bush"}, "group", "one of annual_cool"),
        ({"plant_factor": 8.0}, "plant_factor", "0.01 to 1.2"),
        ({"plant_factor": 0.9}, "plant_factor", "0.1 to 0.35 for water class L"),
        ({"hardiness_f": 40.0}, "frost_tender", "yes"),
        ({"source": ""}, "source", "not be empty"),
        ({"width_ft": -1.0}, "width_ft", "0.1 to 120"),
        ({"leaves": 3}, "leaves", "no such field"),
    ],
)
def test_a_plant_that_cannot_be_is_refused_by_its_field(
    values: dict[str, Any], field: str, wanted: str
) -> None:
    with pytest.raises(Refused) as refused:
        own_plant(**values)
    assert wanted in problems(refused)[field]
    assert not OwnPlant.objects.exists()


def test_the_same_key_twice_is_refused() -> None:
    own_plant()
    again = {"botanical": "Salvia 'B'", "common": "other rosemary", "common_es": "otro romero"}
    with pytest.raises(Refused) as refused:
        own_plant(**again)
    assert "in use already" in problems(refused)["key"]


def test_a_name_of_another_own_plant_is_refused_also_in_a_change() -> None:
    own_plant()
    row = book_entries.add_plant(OWN_COLOUR, by=None)
    with pytest.raises(Refused) as refused:
        book_entries.change_plant(row, {"common": "Tall Rosemary"}, reason="try", by=None)
    assert "own-tuscan goes by it" in problems(refused)["common"]


def test_every_write_leaves_a_trace_and_only_the_office_writes() -> None:
    chief = office()
    row = book_entries.add_plant(OWN_PLANT, by=chief)
    book_entries.change_plant(row, {"width_ft": 5.0}, reason="measured", by=chief)
    book_entries.retire_plant(row, reason="no more", by=chief)
    book_entries.offer_again(row, by=chief)
    place = book_entries.add_climate(CLIMATE, by=chief)
    book_entries.change_climate(place, {"last_frost": "05-06"}, reason="colder", by=chief)
    book_entries.retire_climate(place, reason="moved", by=chief)
    verbs = AuditEntry.objects.filter(by=chief).order_by("id").values_list("verb", flat=True)
    assert list(verbs) == [
        "add own plant",
        "change own plant",
        "retire own plant",
        "offer own plant again",
        "add own climate",
        "change own climate",
        "retire own climate",
    ]
    change = AuditEntry.objects.get(verb="change own plant")
    assert (change.detail["was"], change.detail["now"]) == ({"width_ft": 4.0}, {"width_ft": 5.0})
    crew = add_user("crew", "a long password", role=Role.CREW)
    with pytest.raises(PermissionDenied):
        book_entries.add_plant(OWN_COLOUR, by=crew)
    with pytest.raises(PermissionDenied):
        book_entries.change_climate(place, {}, reason="try", by=crew)


# --- Climates ---------------------------------------------------------------------------------


def test_a_garden_near_an_own_climate_gets_it_and_care_follows_its_frost() -> None:
    own_climate()
    place = add_property(latitude_deg=35.23, longitude_deg=-106.6)
    assert place.climate == "own-corrales"
    with_colour(place, plant="pansy")
    care.plan_care(place.pk, today=START)
    warm = CareTask.objects.get(rule="colour-swap-to-warm")
    [(opens, closes)] = windows_in_year("annual_swap_to_warm", books.climate_at("own-corrales"), 2027)
    assert (warm.opens_on, warm.closes_on) == (opens, closes)
    assert opens == date(2027, 5, 18)  # two weeks after the last frost that was typed
    en, _es = care_queries.why(warm, START)
    assert "Corrales" in en


def test_an_own_climate_without_measured_evapotranspiration_estimates_it_and_says_so() -> None:
    own_climate()
    place = books.climate_at("own-corrales")
    assert place.eto_provenance == ESTIMATED
    assert 0.6 * sum(climate("albuquerque").eto_in) < sum(place.eto_in) < sum(climate("albuquerque").eto_in)
    measured = tuple(round(month * 1.1, 2) for month in place.eto_in)
    own_climate(key="own-pan", name="Pan", eto_in=measured, eto_provenance="our evaporation pan")
    assert books.climate_at("own-pan").eto_in == measured
    assert books.climate_at("own-pan").eto_provenance == "our evaporation pan"


def test_a_changed_climate_plans_its_gardens_again_and_moves_their_windows() -> None:
    row = own_climate()
    place = add_property(climate="own-corrales")
    with_colour(place, plant="pansy")
    care.plan_care(place.pk, today=START)
    before = CareTask.objects.get(rule="colour-swap-to-warm")
    book_entries.change_climate(row, {"last_frost": "05-14"}, reason="ten years more", by=None)
    place.refresh_from_db()
    assert place.plan_wanted_at is not None
    care.plan_care(place.pk, today=START)
    after = CareTask.objects.get(rule="colour-swap-to-warm")
    assert (after.key, after.opens_on - before.opens_on) == (before.key, date(2027, 5, 14) - date(2027, 5, 4))
    assert not care.plan_care(place.pk, today=START)


def test_a_climate_with_gardens_in_it_is_not_retired() -> None:
    row = own_climate()
    place = add_property(climate="own-corrales")
    with pytest.raises(Refused) as refused:
        book_entries.retire_climate(row, reason="wrong", by=None)
    assert "in use at casa-14" in problems(refused)["key"]
    actions.change_property(place, {"climate": "albuquerque"}, by=None)
    assert book_entries.retire_climate(row, reason="wrong", by=None).ended_at is not None
    with pytest.raises(Refused) as refused:
        actions.change_property(place, {"climate": "own-corrales"}, by=None)
    assert "empty or one of albuquerque" in problems(refused)["climate"]


def test_a_climate_nobody_knows_is_refused_with_those_there_are() -> None:
    own_climate()
    sheets = small_garden()
    sheets["properties"] = [[*PLACE, "climate"], [*PLACE.values(), "atlantis"]]
    [problem] = looked_at(sheets).problems
    assert (problem.column, problem.row) == ("climate", 2)
    assert "own-corrales" in problem.wanted
    with pytest.raises(Refused) as refused:
        add_property(climate="atlantis")
    assert "own-corrales" in problems(refused)["climate"]


def _with(field: str, month: int, value: float) -> dict[str, Any]:
    months = list(CLIMATE[field])
    months[month - 1] = value
    return {field: tuple(months)}


@pytest.mark.parametrize(
    ("values", "field", "wanted"),
    [
        (_with("tmax_f", 7, 4.0) | _with("tmin_f", 7, 1.0), "tmax_f.7", "4 °C would be 39 °F"),
        (_with("tmin_f", 7, 95.0), "tmin_f.7", "July: not above tmax_f, 93"),
        ({"tmax_f": CLIMATE["tmax_f"][:11]}, "tmax_f", "twelve values"),
        (_with("rain_in", 3, -0.5), "rain_in.3", "March: from 0 to 120 in"),
        ({"last_frost": "10-10", "first_frost": "05-04"}, "last_frost", "the last frost of spring"),
        ({"last_frost": "5/4"}, "last_frost", "MM-DD"),
        ({"first_frost": ""}, "first_frost", "both dates, or neither"),
        ({"key": "denver"}, "key", "begin with own-"),
        ({"name": "Denver Intl CO"}, "name", "denver goes by it"),
        ({"time_zone": "Mountain"}, "time_zone", "America/Denver"),
        ({"temperature_provenance": " "}, "temperature_provenance", "not be empty"),
        ({"tmax_f": ("hot",) * 12}, "tmax_f", "twelve numbers °F"),
        ({"elevation_m": 9000.0}, "elevation_m", "5500"),
    ],
)
def test_a_climate_that_cannot_be_is_refused_by_its_field(
    values: dict[str, Any], field: str, wanted: str
) -> None:
    with pytest.raises(Refused) as refused:
        own_climate(**values)
    assert wanted in problems(refused)[field]
    assert not OwnClimate.objects.exists()


def test_a_rule_may_follow_a_season_that_opens_in_an_own_climate_alone() -> None:
    table = {
        "kind": "turf",
        "season": "mean_rises_100F",
        "set_up": 5,
        "skill": "gardener",
        "source": "our own practice",
        "en": {"title": "Shade the turf", "how": "Hang the cloth."},
        "es": {"title": "Sombrear el pasto", "how": "Cuelgue la malla."},
    }
    with pytest.raises(ValueError, match="opens in no climate"):
        care.set_own_rule("own-shade", table, reason="hot", by=None)
    phoenix = climate("phoenix")
    hot = CLIMATE | {
        "key": "own-hot",
        "name": "The hot yard",
        "latitude_deg": phoenix.latitude_deg,
        "longitude_deg": phoenix.longitude_deg,
        "tmax_f": tuple(high + 12 for high in phoenix.tmax_f),
        "tmin_f": phoenix.tmin_f,
        "last_frost": "",
        "first_frost": "",
    }
    book_entries.add_climate(hot, by=None)
    assert care.set_own_rule("own-shade", table, reason="hot", by=None).key == "own-shade"


def test_plants_and_climates_that_come_along_cost_no_question() -> None:
    assert books.climate_at("tucson") is climate("tucson")
    assert books.plants_named(["viola-x-wittrockiana"]).get("viola-x-wittrockiana") is plant("pansy")
