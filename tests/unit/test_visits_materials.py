"""Load lists."""

from landscape_care.visits.materials import MATERIALS, LoadLine, Needs, load_list


def test_counted_material_is_added_up_and_rounded_up_to_what_can_be_loaded() -> None:
    lines = load_list([Needs({"plants": 36, "mulch_yd3": 0.42}), Needs({"plants": 18, "mulch_yd3": 0.23})])
    assert lines == (
        LoadLine("Plants", "Plantas", 54, "plants", "plantas"),
        LoadLine("Mulch", "Mantillo", 0.7, "yd³", "yd³"),
    )


def test_an_exact_step_is_not_rounded_further() -> None:
    assert load_list([Needs({"compost_yd3": 0.1}), Needs({"compost_yd3": 0.2})])[0].amount == 0.3


def test_numbers_that_are_nothing_to_load_are_left_out() -> None:
    assert load_list([Needs({"backwash_minutes": 3, "plants": 0})]) == ()


def test_named_material_is_listed_once_with_both_languages_side_by_side() -> None:
    lines = load_list([Needs({}, "ties, bags", "amarres, bolsas"), Needs({}, "bags", "bolsas")])
    assert [(line.en, line.es) for line in lines] == [("ties", "amarres"), ("bags", "bolsas")]


def test_lists_that_are_not_side_by_side_stay_whole() -> None:
    (line,) = load_list([Needs({}, "new straps", "cintas nuevas, tijeras")])
    assert (line.en, line.es) == ("new straps", "cintas nuevas, tijeras")


def test_every_material_has_both_names_and_a_step() -> None:
    assert all(one.en and one.es and one.unit and one.step > 0 for one in MATERIALS.values())
