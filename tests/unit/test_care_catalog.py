"""The rule files and what is refused in them."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from landscape_care.almanac.climate import ClimateBook, climate
from landscape_care.care.catalog import (
    PROPERTY,
    STEMS,
    Adjustment,
    Rule,
    adjusted,
    agreed,
    catalog,
    own_rule,
    read_rules,
    refuse_never_open,
    refuse_shared_names,
    rule_named,
    trouble_with,
    with_adjustment,
)
from landscape_care.care.cautions import cautions
from landscape_care.care.checks import check_rules
from landscape_care.care.rule_names import unknown_names
from landscape_care.trades.kinds import KINDS
from tests.unit.care_garden import courtyard, of_rule, tasks

GOOD = """
[drip-flush]
kind = "zone"
where = { device = "drip" }
every = 90
tolerance_days = 20
set_up = 5
skill = "irrigation_tech"
source = "common practice"
en = { title = "Flush the drip", how = "Open the caps." }
es = { title = "Purgar el goteo", how = "Abra los tapones." }
"""


def changed(old: str, new: str) -> str:
    assert old in GOOD
    return GOOD.replace(old, new)


def test_every_kind_of_thing_and_the_property_itself_has_care() -> None:
    assert {rule.kind for rule in catalog().values()} == {*KINDS, PROPERTY}
    assert {rule.stem for rule in catalog().values()} == set(STEMS)


def test_the_catalog_holds_the_rules_a_courtyard_lives_by() -> None:
    wanted = {
        "sand-filter-backwash",
        "colour-swap-to-cool",
        "colour-swap-to-warm",
        "perennial-cutback",
        "frost-tender-pruning",
        "irrigation-program",
        "light-timer-reset",
        "turf-brushing",
        "joint-sand",
        "drip-flush",
        "backflow-test",
        "tree-strap-loosening",
        "tree-light-tie-loosening",
    }
    assert wanted <= set(catalog())
    assert len(catalog()) >= 60


@pytest.mark.parametrize("rule", catalog().values(), ids=list(catalog()))
def test_a_rule_speaks_both_languages_and_names_its_source(rule: Rule) -> None:
    assert rule.source
    assert rule.text("en").title != rule.text("es").title
    assert rule.text("en").how != rule.text("es").how
    assert bool(rule.en.materials) == bool(rule.es.materials)


def test_every_caution_leaves_the_last_word_to_local_code_and_licensed_practice() -> None:
    assert len(cautions()) == 13
    for caution in cautions().values():
        assert "Local code and licensed practice come first" in caution.in_language("en")[1]
        assert "código local" in caution.in_language("es")[1]


def test_work_that_can_hurt_carries_its_caution() -> None:
    codes = {key: set(rule.cautions) for key, rule in catalog().items()}
    assert "ELEC" in codes["pump-basket"] & codes["transformer-check"]
    assert "BACKFLOW" in codes["backflow-test"]
    assert "SILICA" in codes["joint-sand"] & codes["filter-sand-change"]
    assert "LADDER" in codes["tree-structural-pruning"] & codes["tree-light-tie-loosening"]
    assert "PEST" in codes["weed-prevention-in-gravel"]
    assert "FISH" in codes["sand-filter-backwash"]
    assert catalog()["backflow-test"].skill == "certified_backflow_tester"
    assert catalog()["weed-prevention-in-gravel"].skill == "licensed_applicator"
    assert catalog()["transformer-check"].skill == "licensed_electrician"


def test_the_check_at_start_finds_nothing_wrong_and_would_find_an_unknown_computation() -> None:
    assert check_rules() == []
    [rule] = read_rules("irrigation", changed("every = 90\n", 'computed = "moon_phase"\n')).values()
    assert "moon_phase" in next(iter(unknown_names({rule.key: rule})))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (changed('kind = "zone"', 'kind = "zeppelin"'), "kind is 'zeppelin'"),
        (changed('kind = "zone"', 'kind = "sensor"'), "where is 'device'"),
        (changed('device = "drip"', 'device = "drop"'), "where device is 'drop'"),
        (changed('device = "drip"', 'devise = "drip"'), "where is 'devise'"),
        (changed("every = 90", "every = 0"), "every is 0"),
        (changed("every = 90", 'every = "often"'), "every is 'often': wanted a whole number"),
        (changed("every = 90", ""), "trigger is missing"),
        (changed("every = 90", 'every = 90\nseason = "growing_season"'), "trigger is"),
        (changed("every = 90", 'season = "growing_season"'), "tolerance_days is 20"),
        (changed("every = 90", 'event = "full_moon"'), "event is 'full_moon'"),
        (changed("every = 90", 'every = 90\nwithin = "monsoon_season"'), "'monsoon_season' is unknown"),
        (changed("tolerance_days = 20", "tolerance_days = 45"), "tolerance_days is 45"),
        (changed("tolerance_days = 20", "tolerance_days = -1"), "tolerance_days is -1"),
        (changed("set_up = 5", "set_up = -5"), "set_up_minutes is -5"),
        (changed("set_up = 5", "set_up = 0"), "work takes time"),
        (changed("set_up = 5", 'set_up = 5\nunit = "gallon"'), "unit is 'gallon'"),
        (changed("irrigation_tech", "wizard"), "skill is 'wizard'"),
        (changed("set_up = 5", 'set_up = 5\ncautions = ["LAVA"]'), "cautions is 'LAVA'"),
        (changed("set_up = 5", "set_up = 5\npeople = 0"), "people is 0"),
        (changed("set_up = 5", "set_up = 5\ncolour = 3"), "colour is not a field of a rule"),
        (changed('source = "common practice"', 'source = " "'), "source is ' '"),
        (changed('es = { title = "Purgar el goteo", how = "Abra los tapones." }', ""), "es is missing"),
        (changed('how = "Open the caps."', 'howto = "Open"'), "en: "),
        (changed("set_up = 5", 'set_up = 5\nreading = { quantity = "mood", at_least = 3 }'), "'mood'"),
        (
            changed(
                "set_up = 5", 'set_up = 5\nreading = { quantity = "flow_gpm", at_least = 3, at_most = 2 }'
            ),
            "bound of reading",
        ),
    ],
)
def test_nonsense_is_refused_with_file_rule_and_field(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=r"rules/irrigation\.toml, rule drip-flush: ") as refused:
        read_rules("irrigation", text)
    assert said in str(refused.value)


def test_a_rule_in_the_wrong_file_and_a_broken_file_are_refused() -> None:
    with pytest.raises(ValueError, match=r"belong in irrigation\.toml"):
        read_rules("turf", GOOD)
    with pytest.raises(ValueError, match=r"rules/turf\.toml"):
        read_rules("turf", "[broken")
    with pytest.raises(ValueError, match="Drip_Flush"):
        read_rules("irrigation", GOOD.replace("[drip-flush]", "[Drip_Flush]"))


def test_two_rules_never_share_a_name_not_even_an_old_one() -> None:
    [one] = read_rules("irrigation", GOOD).values()
    text = GOOD.replace("[drip-flush]", "[line-flush]").replace(
        "set_up = 5", 'set_up = 5\nformerly = ["drip-flush"]'
    )
    [other] = read_rules("irrigation", text).values()
    with pytest.raises(ValueError, match="'drip-flush' is a name of drip-flush"):
        refuse_shared_names([one, other])


def test_a_rule_is_found_by_name_and_an_unknown_name_lists_the_known() -> None:
    assert rule_named("drip-flush").kind == "zone"
    with pytest.raises(ValueError, match="backflow-test"):
        rule_named("drip-flash")


def test_the_property_speaks_louder_than_the_company_and_the_company_than_the_catalog() -> None:
    company = {"turf-brushing": Adjustment(every_days=21, minutes=40)}
    own = {"turf-brushing": Adjustment(every_days=10)}
    rule = adjusted(catalog(), company, own)["turf-brushing"]
    assert rule.every_days == 10
    assert rule.labour.minutes(9999) == 40
    assert catalog()["turf-brushing"].every_days == 14


def test_a_shorter_interval_narrows_the_window_so_that_neighbours_stay_apart() -> None:
    rule = adjusted(catalog(), {"turf-brushing": Adjustment(every_days=4)}, {})["turf-brushing"]
    assert rule.tolerance_days == 1


def test_a_rule_switched_off_for_the_company_can_be_switched_on_for_a_property() -> None:
    off = {"turf-brushing": Adjustment(enabled=False)}
    assert "turf-brushing" not in adjusted(catalog(), off, {})
    assert "turf-brushing" in adjusted(catalog(), off, {"turf-brushing": Adjustment(enabled=True)})


def test_an_adjustment_under_an_old_name_counts_for_the_renamed_rule() -> None:
    text = GOOD.replace("set_up = 5", 'set_up = 5\nformerly = ["drip-purge"]')
    rules = read_rules("irrigation", text)
    assert adjusted(rules, {"drip-purge": Adjustment(every_days=60)}, {})["drip-flush"].every_days == 60


@pytest.mark.parametrize(
    ("rule", "values", "said"),
    [
        ("perennial-cutback", Adjustment(every_days=30), "does not repeat by days"),
        ("turf-brushing", Adjustment(offset_days=7), "follows no season"),
        ("perennial-cutback", Adjustment(offset_days=120), "-90 to 90"),
        ("turf-brushing", Adjustment(minutes=5000), "set_up_minutes is 5000"),
    ],
)
def test_an_adjustment_a_rule_cannot_have_is_refused(rule: str, values: Adjustment, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        with_adjustment(catalog()[rule], values)


def test_an_agreement_leaves_out_what_it_does_not_pay_for_and_stretches_what_repeats() -> None:
    rules = agreed(catalog(), ["turf", "lighting"], 28)
    assert {rule.stem for rule in rules.values()} == {"turf", "lighting"}
    assert rules["turf-brushing"].at_least_days == 28
    assert len(agreed(catalog(), [], 7)) == len(catalog())


# --- Days of the year that the company sets itself ---


def test_own_days_take_the_place_of_a_season_and_rename_nothing() -> None:
    before = of_rule(tasks(courtyard()), "perennial-cutback")
    rules = adjusted(catalog(), {"perennial-cutback": Adjustment(fixed="01-20..02-10")}, {})
    after = of_rule(tasks(courtyard(), rules), "perennial-cutback")
    assert [want.key for want in after] == [want.key for want in before]
    assert [(w.window.opens, w.window.closes) for w in after] == [(date(2027, 1, 20), date(2027, 2, 10))]


def test_own_days_across_the_turn_of_the_year_keep_the_name_of_the_season() -> None:
    rules = adjusted(catalog(), {"leaf-netting": Adjustment(fixed="12-15..01-15")}, {})
    [want] = of_rule(tasks(courtyard(), rules, through=date(2027, 6, 1)), "leaf-netting")
    plain = of_rule(tasks(courtyard(), through=date(2027, 12, 31)), "leaf-netting")
    assert want.window.opens == date(2026, 12, 15)
    assert want.occurrence.endswith(plain[-1].occurrence.partition("-")[2])


def test_a_repeating_rule_keeps_to_own_days_of_the_year() -> None:
    rules = adjusted(catalog(), {"paving-sealing": Adjustment(every_days=365, fixed="10-01..10-31")}, {})
    found = of_rule(tasks(courtyard(), rules, through=date(2029, 12, 1)), "paving-sealing")
    assert {want.window.due.month for want in found} <= {10}


@pytest.mark.parametrize(
    ("rule", "values", "words"),
    [
        ("turf-brushing", {"fixed": "03-01..03-21"}, "follows no season"),
        ("perennial-cutback", {"fixed": "spring"}, "wanted first and last day"),
        ("perennial-cutback", {"fixed": "13-01..13-05"}, "13-01"),
        ("perennial-cutback", {"fixed": "03-01..03-21", "offset_days": 3}, "either"),
        ("drain-clearing", {"fixed": "03-01..03-21"}, "more than one season"),
    ],
)
def test_own_days_that_make_no_sense_are_refused(rule: str, values: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        with_adjustment(catalog()[rule], Adjustment(**values))


def test_own_days_of_a_property_count_over_a_shift_of_the_company() -> None:
    company = {"perennial-cutback": Adjustment(offset_days=7, minutes=50)}
    own = {"perennial-cutback": Adjustment(fixed="01-20..02-10")}
    rule = adjusted(catalog(), company, own)["perennial-cutback"]
    assert (rule.fixed, rule.offset_days, rule.labour.set_up_minutes) == ("01-20..02-10", 0, 50)


def test_values_that_a_newer_catalog_cannot_have_harm_nothing() -> None:
    # As if the rule had repeated by days when the value was given.
    rules = adjusted(catalog(), {"perennial-cutback": Adjustment(every_days=30)}, {})
    assert rules["perennial-cutback"] == catalog()["perennial-cutback"]
    assert "does not repeat" in trouble_with(catalog()["perennial-cutback"], Adjustment(every_days=30))
    assert "no longer" in trouble_with(None, Adjustment(minutes=5))


# --- Rules of the company's own ---


OWN: dict[str, Any] = {
    "kind": "planting",
    "where": {"role": "perennial"},
    "every": 21,
    "tolerance_days": 5,
    "set_up": 5,
    "minutes": 2,
    "unit": "plant",
    "skill": "gardener",
    "source": "our own practice",
    "en": {"title": "Pick lavender for the inn", "how": "Cut in bloom."},
    "es": {"title": "Cortar lavanda para la posada", "how": "Corte en flor."},
}


def test_an_own_rule_is_read_by_the_same_checks_as_the_files() -> None:
    rule = own_rule("own-lavender", OWN)
    assert (rule.stem, rule.every_days, rule.labour.unit) == ("planting", 21, "plant")
    assert rule.suits(courtyard().thing(4))


@pytest.mark.parametrize(
    ("key", "change", "words"),
    [
        ("lavender", {}, "begin with own-"),
        ("own-Lavender", {}, "small words"),
        ("own-lavender", {"kind": "spaceship"}, "kind is 'spaceship'"),
        ("own-lavender", {"season": "perennial_cutback"}, "exactly one"),
        ("own-lavender", {"every": None, "tolerance_days": None, "season": "next_moon"}, "anchor"),
        ("own-lavender", {"every": None, "tolerance_days": None, "season": "mean_rises_130F"}, "opens in no"),
        ("own-lavender", {"within": "mean_falls_20F"}, "opens in no"),
        ("own-lavender", {"tolerance_days": 15}, "under half"),
        ("own-lavender", {"colour": "red"}, "not a field of a rule"),
        ("own-lavender", {"where": {"role": "dragon"}}, "dragon"),
        ("own-lavender", {"skill": "wizard"}, "skill is 'wizard'"),
    ],
)
def test_an_own_rule_that_makes_no_sense_is_refused(key: str, change: dict[str, Any], words: str) -> None:
    table = {name: value for name, value in {**OWN, **change}.items() if value is not None}
    with pytest.raises(ValueError, match=words):
        refuse_never_open(own_rule(key, table), ClimateBook())


def test_a_season_that_opens_in_a_companys_own_climate_alone_is_no_nonsense() -> None:
    """A mean of 100 °F is reached in none of the climates that come along."""
    table = {**OWN, "season": "mean_rises_100F"}
    del table["every"], table["tolerance_days"]
    rule, phoenix = own_rule("own-lavender", table), climate("phoenix")
    hot = replace(
        phoenix, key="own-hot", tmax_f=tuple(high + 12 for high in phoenix.tmax_f), eto_in=phoenix.eto_in
    )
    with pytest.raises(ValueError, match="opens in no climate"):
        refuse_never_open(rule, ClimateBook())
    refuse_never_open(rule, ClimateBook((hot,)))
