"""The catalog of plants and planting arithmetic."""

from dataclasses import replace

import pytest

from landscape_care.almanac.refusals import Refused
from landscape_care.trades.planting import (
    cubic_yards,
    flats,
    mulch,
    planted_area_ft2,
    planting_mix,
    plants_square,
    plants_triangular,
)
from landscape_care.trades.plants import EXPOSURES, GROUPS, WATER_CLASSES, PlantBook, plant, plants
from landscape_care.trades.water_need import PLANT_FACTORS


def test_every_plant_has_names_in_both_languages_and_a_source() -> None:
    assert len(plants()) == 106
    for each in plants().values():
        assert each.common
        assert each.common_es
        assert each.source


def test_no_two_plants_share_a_name() -> None:
    for name in ("key", "botanical", "common", "common_es"):
        assert len({getattr(each, name) for each in plants().values()}) == len(plants())


def test_every_group_water_class_and_exposure_is_met_in_the_catalog() -> None:
    catalog = plants().values()
    assert {each.group for each in catalog} == set(GROUPS)
    assert {each.water_class for each in catalog} == set(WATER_CLASSES)
    assert {each.exposure for each in catalog} == set(EXPOSURES)


def test_a_plant_factor_is_that_of_its_class_or_of_annual_flowers() -> None:
    """Annual flowers 0.8 whatever their class, ANSI/ASABE S623; low-water annuals 0.3."""
    for each in plants().values():
        annual = each.group.startswith("annual") and each.water_class != "L"
        assert each.plant_factor == (0.8 if annual else PLANT_FACTORS[each.water_class]), each.key


@pytest.mark.parametrize(
    "name",
    [
        "rosa-knock-out-type",
        "Rosa 'Knock Out' type",
        "shrub rose",
        "SHRUB ROSE",
        "rosal arbustivo",
    ],
)
def test_a_plant_is_found_by_any_of_its_names(name: str) -> None:
    assert plant(name).key == "rosa-knock-out-type"


def test_a_name_in_brackets_is_a_name() -> None:
    assert plant("vinca").botanical == "Catharanthus roseus"
    assert plant("Madagascar periwinkle").botanical == "Catharanthus roseus"


@pytest.mark.parametrize(
    ("wrong", "meant"), [("lavendar", "English lavender"), ("pansey", "pansy"), ("rosmary", "rosemary")]
)
def test_a_misspelt_plant_is_refused_with_the_nearest_name(wrong: str, meant: str) -> None:
    with pytest.raises(ValueError, match=f"did you mean {meant}"):
        plant(wrong)


def test_a_name_like_nothing_is_refused_without_a_guess() -> None:
    with pytest.raises(ValueError, match="nothing in the catalog is like it"):
        plant("xqzzk")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"group": "bush"}, "group"),
        ({"exposure": "bright"}, "exposure"),
        ({"water_class": "X"}, "water_class"),
        ({"plant_factor": 0}, "plant_factor"),
        ({"spacing_in": 0}, "spacing_in"),
        ({"root_depth_in": 100}, "root_depth_in"),
        ({"key": "Rosemary!"}, "key is 'Rosemary!', wanted small letters"),
        ({"source": " "}, "source is ' ', wanted something"),
        ({"plant_factor": 0.8}, "plant_factor is 0.8, wanted 0.1 to 0.35 for water class L"),
        ({"hardiness_f": 36.0}, "frost_tender is False, wanted yes: it bears no colder than 36"),
        ({"spacing_in": 400.0}, "spacing_in is 400.0, wanted at most 3 times its width"),
    ],
)
def test_a_plant_that_cannot_be_is_refused(change: dict[str, object], field: str) -> None:
    with pytest.raises(ValueError, match=field):
        replace(plant("rosemary"), **change)  # type: ignore[arg-type]


def test_every_wrong_field_of_a_plant_is_told_at_once() -> None:
    with pytest.raises(Refused) as refused:
        replace(plant("rosemary"), group="bush", width_ft=-1.0, source="")
    assert [problem.field for problem in refused.value.problems] == ["group", "width_ft", "source"]


OWN = replace(
    plant("rosemary"),
    key="own-tuscan",
    botanical="Salvia 'Tuscan'",
    common="tall rosemary",
    common_es="romero alto",
)


def test_a_companys_own_plant_is_found_by_its_names_beside_the_catalog() -> None:
    book = PlantBook((OWN,))
    assert book.named("Tall Rosemary") is book.named("own-tuscan") is book.get("own-tuscan") is OWN
    assert book.named("rosemary") is plant("rosemary")
    assert book.nearest_names("tall rosemarry")[0] == "tall rosemary"
    with pytest.raises(ValueError, match="'own-tuscan' is unknown"):
        plant("own-tuscan")


def test_an_own_plant_takes_no_name_of_the_catalog_in_silence() -> None:
    same_name = replace(OWN, common_es="romero")
    assert PlantBook().taken_names(same_name) == {"common_es": plant("rosemary")}
    assert PlantBook((OWN,)).taken_names(OWN) == {}
    with pytest.raises(ValueError, match=r"may be two: say rosmarinus-officinalis.* or own-tuscan"):
        PlantBook((same_name,)).named("Romero")


def test_triangles_hold_fifteen_percent_more_than_squares() -> None:
    assert plants_triangular(100, 12) / plants_square(100, 12) == pytest.approx(1.1547, abs=1e-4)


def test_half_a_spacing_stays_free_along_the_edges_of_a_small_bed() -> None:
    assert planted_area_ft2(10, 4, spacing_in=12) == pytest.approx(9 * 3)
    assert planted_area_ft2(0.5, 4, spacing_in=12) == 0


def test_planting_mix_comes_in_thirds_with_fifteen_percent_to_settle() -> None:
    """Common practice: 120 ft² by 15 in is 5.6 yd³ in place and 6.4 loose."""
    mix = planting_mix(120, 15)
    assert mix.in_place_yd3 == pytest.approx(5.56, abs=0.01)
    assert mix.loose_yd3 == pytest.approx(6.39, abs=0.01)
    assert mix.native_soil_yd3 == mix.compost_yd3 == mix.sand_yd3


def test_a_full_flat_is_not_rounded_up() -> None:
    assert flats(72, 36) == 2
    assert flats(0, 36) == 0


def test_mulch_deeper_than_six_inches_is_refused() -> None:
    with pytest.raises(ValueError, match="depth_in"):
        mulch(100, 8)


def test_a_negative_area_is_refused() -> None:
    with pytest.raises(ValueError, match="area_ft2"):
        cubic_yards(-1, 3)
