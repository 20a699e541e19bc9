"""The register of public computations: nothing in it is a second copy of a function."""

import inspect
import math

import pytest

from landscape_care.almanac.bounds import OutOfBounds
from landscape_care.trades import reckoning
from landscape_care.trades.limits import Refused

EVERY = list(reckoning.reckonings().values())
NUMERIC = ("number", "whole")


@pytest.mark.parametrize("asked", EVERY, ids=lambda asked: asked.name)
def test_the_inputs_are_those_of_the_function(asked: reckoning.Reckoning) -> None:
    assert [each.name for each in asked.inputs] == list(inspect.signature(asked.function).parameters)
    needed = {each.name for each in asked.inputs if each.is_required}
    assert needed <= set(asked.example) <= {each.name for each in asked.inputs}


@pytest.mark.parametrize("asked", EVERY, ids=lambda asked: asked.name)
def test_each_is_named_in_two_languages_with_formula_and_source(asked: reckoning.Reckoning) -> None:
    assert asked.craft in reckoning.CRAFTS
    assert asked.title_en
    assert asked.title_es
    assert asked.formula_en
    assert asked.formula_es
    assert asked.source_en
    assert asked.source_es
    unnamed = [each.name for each in asked.inputs if each.label_en == each.name.replace("_", " ")]
    assert unnamed == []


@pytest.mark.parametrize("asked", EVERY, ids=lambda asked: asked.name)
def test_a_number_outside_its_bounds_is_refused(asked: reckoning.Reckoning) -> None:
    for each in (one for one in asked.inputs if one.kind in NUMERIC):
        assert each.low is not None, each.name
        below = each.low - 1 if each.kind == "whole" else math.nextafter(each.low, -math.inf)
        outside = [each.low if each.is_open else below]
        outside += [] if each.high is None else [each.high + max(1, abs(each.high) * 1e-9)]
        for value in outside:
            with pytest.raises(Refused) as refused:
                reckoning.answer(asked, {**asked.example, each.name: value})
            assert refused.value.problems


@pytest.mark.parametrize("asked", EVERY, ids=lambda asked: asked.name)
def test_no_example_gives_what_is_no_number(asked: reckoning.Reckoning) -> None:
    assert "NaN" not in str(reckoning.plain(reckoning.answer(asked, asked.example).value))


def test_a_refusal_names_field_value_and_bounds_in_both_languages() -> None:
    with pytest.raises(Refused) as refused:
        reckoning.answer(reckoning.reckoning("plants_square"), {"area_ft2": "10", "spacing_in": "0"})
    (problem,) = refused.value.problems
    assert isinstance(problem, reckoning.Wrong)
    assert (problem.field, problem.value) == ("spacing_in", "0")
    assert problem.wanted == "a number from 1 to 1200"
    assert problem.wanted_es == "un número de 1 a 1200"


def test_every_wrong_input_is_told_at_once() -> None:
    with pytest.raises(Refused) as refused:
        reckoning.answer(reckoning.reckoning("voltage_drop_v"), {"awg": "13", "amperes": "x", "volts": "12"})
    assert [problem.field for problem in refused.value.problems] == ["volts", "awg", "length_ft", "amperes"]


def test_an_unknown_name_is_answered_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match=r"use one of .*velocity_fps"):
        reckoning.reckoning("velocity")


def test_bounds_are_those_of_the_check() -> None:
    asked = reckoning.reckoning("pressure_kpa")
    (height,) = asked.inputs
    with pytest.raises(OutOfBounds) as refused:
        asked.function(math.nan)
    assert (height.low, height.high) == (refused.value.low, refused.value.high)
