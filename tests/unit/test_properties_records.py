"""Records and tables say the same about a thing; records refuse what cannot be true."""

from dataclasses import fields
from datetime import date, time
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from landscape_care.properties.building import build
from landscape_care.properties.intake.forms import FORMS
from landscape_care.properties.models import (
    TABLES,
    Agreement,
    Client,
    Depot,
    OwnClimate,
    OwnPlant,
    Property,
)
from landscape_care.properties.models.thing import InstalledThing
from landscape_care.properties.records import (
    AgreementRecord,
    ClientRecord,
    ClimateRecord,
    DepotRecord,
    PropertyRecord,
)
from landscape_care.trades.kinds import KINDS, Bed
from landscape_care.trades.limits import Limit, Refused, limits_of
from landscape_care.trades.plants import Plant

BESIDE_THE_RECORD = {"id", "kind", "property_id", "outline", "installedthing_ptr_id"}
PLANNING = {"plan_wanted_at", "planned_through"}

PLACE: dict[str, Any] = {
    "code": "casa-14",
    "name": "Casa 14",
    "client": "acequia",
    "depot": "yard",
    "street": "14 Acequia Lane",
    "town": "Albuquerque",
    "latitude_deg": 35.1,
    "longitude_deg": -106.6,
}


def columns_of(table: type[Any]) -> set[str]:
    columns = {field.attname for field in table._meta.concrete_fields}
    return columns | {f"{field.name.removesuffix('s')}_ids" for field in table._meta.many_to_many}


@pytest.mark.parametrize("kind", KINDS)
def test_a_table_has_exactly_the_fields_of_its_kind(kind: str) -> None:
    assert columns_of(TABLES[kind]) - BESIDE_THE_RECORD == set(limits_of(KINDS[kind]))


@pytest.mark.parametrize(("table", "record"), [(OwnPlant, Plant), (OwnClimate, ClimateRecord)])
def test_a_table_of_a_book_has_exactly_the_fields_of_its_record(table: type[Any], record: type[Any]) -> None:
    assert columns_of(table) - {"id", "by_id", "at", "ended_at"} == set(limits_of(record))


@pytest.mark.parametrize("kind", KINDS)
def test_a_column_has_the_default_of_its_kind_and_may_be_empty_where_the_kind_says_so(kind: str) -> None:
    given = {f.name: f.default for f in fields(KINDS[kind]) if "limit" in f.metadata}
    for column in TABLES[kind]._meta.concrete_fields:
        if column.attname not in given or column.attname in ("installed_on", "removed_on", "tag", "name"):
            continue
        if given[column.attname] is None:
            assert column.null, f"{kind}.{column.attname} may be empty in the record"
        elif column.has_default():
            assert column.default == given[column.attname], f"{kind}.{column.attname}"


@pytest.mark.parametrize("kind", KINDS)
def test_a_column_holds_the_longest_word_and_the_largest_count_its_kind_allows(kind: str) -> None:
    for name, limit in limits_of(KINDS[kind]).items():
        if limit.kind == "many":
            continue
        column: Any = TABLES[kind]._meta.get_field(name.removesuffix("_id"))
        if limit.kind == "text":
            assert column.max_length is None or column.max_length >= (limit.high or 0)
        if limit.kind == "choice":
            assert column.max_length >= max(map(len, limit.choices))
        if limit.kind == "whole":
            # Bounds of Django's integer columns on every database.
            largest = 32767 if "Small" in type(column).__name__ else 2147483647
            assert largest >= (limit.high or 0)


@pytest.mark.parametrize(
    ("table", "record", "beside"),
    [
        (Client, ClientRecord, {"id"}),
        (Depot, DepotRecord, {"id"}),
        (Property, PropertyRecord, {"id", *PLANNING}),
        (Agreement, AgreementRecord, {"id"}),
    ],
)
def test_a_table_has_exactly_the_fields_of_its_record(table: Any, record: Any, beside: set[str]) -> None:
    names = {column.removesuffix("_id") for column in columns_of(table) - beside}
    assert names == set(limits_of(record))


def test_every_kind_has_a_sheet_and_every_sheet_names_the_property() -> None:
    assert {form.kind for form in FORMS.values() if form.kind} == set(KINDS)
    for form in FORMS.values():
        assert form.sheet in ("clients", "depots", "properties") or "property" in form.needed


def test_the_shared_row_of_a_thing_has_the_fields_every_kind_shares() -> None:
    shared = {"tag", "name", "installed_on", "removed_on"}
    assert shared <= {field.attname for field in InstalledThing._meta.concrete_fields}


# --- What is refused --------------------------------------------------------------------------


def wanted_by(record: Any, values: dict[str, Any]) -> list[str]:
    """What would be right, for every problem; nothing when the record is accepted."""
    try:
        build(record, values)
    except Refused as caught:
        return [problem.wanted for problem in caught.problems]
    return []


def refused(record: Any, values: dict[str, Any]) -> dict[str, str]:
    with pytest.raises(Refused) as caught:
        build(record, values)
    return {problem.field: problem.wanted for problem in caught.value.problems}


def test_every_missing_unknown_and_wrong_value_is_named_at_once() -> None:
    problems = refused(Bed, {"tag": "B1", "area_ft2": -4.0, "colour": "red"})
    assert set(problems) == {"area_ft2", "exposure", "colour"}
    assert problems["area_ft2"] == "a number from 1 to 200000 sq ft"


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("code", "Casa 14"),
        ("code", ""),
        ("latitude_deg", 91.0),
        ("longitude_deg", float("nan")),
        ("time_zone", "Mars/Olympus"),
        ("watering_weekdays", "018"),
        ("watering_weekdays", "11"),
        ("watering_weekdays", ""),
        ("access_closes", time(6)),
        ("supply_gpm", float("inf")),
        ("elevation_m", 9000.0),
        ("name", "   "),
        ("street", ["14"]),
    ],
)
def test_a_property_refuses_what_cannot_be_true(field: str, value: Any) -> None:
    assert field in refused(PropertyRecord, PLACE | {field: value})


def test_care_cannot_end_before_it_starts() -> None:
    days = {"care_starts_on": date(2026, 3, 2), "care_ends_on": date(2026, 3, 1)}
    assert "care_ends_on" in refused(PropertyRecord, PLACE | days)


def test_watering_may_run_past_midnight() -> None:
    hours = {"watering_opens": time(22), "watering_closes": time(5)}
    assert build(PropertyRecord, PLACE | hours).watering_closes == time(5)


def test_kinds_of_care_of_an_agreement_must_exist() -> None:
    assert "stems" in refused(AgreementRecord, {"property": "casa-14", "cadence": "weekly", "stems": "lawns"})
    agreed = build(
        AgreementRecord, {"property": "casa-14", "cadence": "weekly", "stems": "Planting; lighting,"}
    )
    assert agreed.stem_list() == ["planting", "lighting"]


@given(st.text(max_size=9))
def test_weekdays_are_accepted_exactly_when_they_are_different_digits_from_1_to_7(weekdays: str) -> None:
    right = bool(weekdays) and set(weekdays) <= set("1234567") and len(set(weekdays)) == len(weekdays)
    try:
        build(AgreementRecord, {"property": "casa-14", "cadence": "weekly", "weekdays": weekdays})
    except Refused:
        assert not right
    else:
        assert right


@given(
    st.dictionaries(
        st.sampled_from(sorted(limits_of(PropertyRecord))),
        st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(), st.lists(st.integers())),
    )
)
def test_values_of_any_type_are_refused_in_words_or_accepted(values: dict[str, Any]) -> None:
    assert all(wanted_by(PropertyRecord, PLACE | values))


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=25)
@given(st.data())
def test_a_thing_with_values_of_any_type_is_refused_in_words_or_accepted(
    kind: str, data: st.DataObject
) -> None:
    limits = limits_of(KINDS[kind])
    values = data.draw(st.fixed_dictionaries({name: _near(limit) for name, limit in limits.items()}))
    assert all(wanted_by(KINDS[kind], values))


def _near(limit: Limit) -> st.SearchStrategy[Any]:
    """Mostly right values, sometimes nonsense."""
    right: dict[str, st.SearchStrategy[Any]] = {
        "number": st.floats(limit.low or 0, limit.high or 1) if limit.kind == "number" else st.none(),
        "whole": st.integers(int(limit.low or 0), int(limit.high or 1)),
        "choice": st.sampled_from(limit.choices or ("",)),
        "text": st.text(max_size=int(limit.high or 1)),
        "flag": st.booleans(),
        "day": st.dates(),
        "clock": st.times(),
        "reference": st.integers(1, 9),
        "many": st.lists(st.integers(1, 9)).map(tuple),
    }
    return st.one_of(right[limit.kind], right[limit.kind], st.none(), st.text(max_size=3), st.floats())
