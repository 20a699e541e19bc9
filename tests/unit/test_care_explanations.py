"""What a care task says of itself agrees with its days, for every rule of the catalog."""

from datetime import date

import pytest

from landscape_care.almanac.climate import climate
from landscape_care.care.catalog import catalog
from landscape_care.care.details import Scene, hours_per_day
from landscape_care.care.explanations import Facts, LastCare, explain
from landscape_care.care.generation import History, Past, Reported, Wanted, days_between
from landscape_care.care.season_reasons import climate_sentence, say_day
from tests.unit.care_garden import PLACES, START, courtyard, of_rule, tasks

STORM = Reported("storm", date(2027, 7, 9), "2027-07-09")


def facts(want: Wanted, place: str, last: LastCare | None = None) -> Facts:
    garden = courtyard(place)
    scene, rule, thing = Scene(garden, climate(place)), catalog()[want.rule], garden.thing(want.thing_uid)
    installed = thing is not None and thing.installed_on > START
    return Facts(
        series=want.series,
        occurrence=want.occurrence,
        window=want.window,
        starts_on=thing.installed_on if installed else START,
        installed=installed,
        climate=scene.climate,
        every_days=days_between(rule, scene, thing),
        hours_per_day=hours_per_day(scene, thing) if rule.run_hours and thing else None,
        last=last,
        numbers=want.details.get("numbers", {}),
    )


def every_task(place: str) -> list[Wanted]:
    return tasks(courtyard(place), history=History(reports={"storm": [STORM]}))


@pytest.mark.parametrize("place", sorted(PLACES))
def test_every_task_explains_itself_in_one_to_three_sentences_of_both_languages(place: str) -> None:
    for want in every_task(place):
        rule = catalog()[want.rule]
        en, es = explain(rule, rule, facts(want, place))
        assert en != es
        for said in (en, es):
            assert 1 <= said.count(". ") + 1 <= 3
            assert said.endswith(".")
            assert "None" not in said
            assert "{" not in said


@pytest.mark.parametrize("place", sorted(PLACES))
def test_the_days_that_are_told_are_those_of_the_window(place: str) -> None:
    for want in every_task(place):
        rule = catalog()[want.rule]
        en, es = explain(rule, rule, facts(want, place))
        if rule.season is not None:
            told: tuple[date, ...] = (want.window.opens, want.window.closes)
        elif rule.repeats:
            told = (want.window.due,)
        else:
            continue
        assert all(say_day(day)[0] in en and say_day(day)[1] in es for day in told)


def test_what_is_counted_leads_to_the_due_day_of_every_plain_interval() -> None:
    last = Past(3, date(2026, 12, 20))
    history = History(series={want.series: last for want in tasks(courtyard())})
    counted = 0
    for want in tasks(courtyard(), history=history):
        rule = catalog()[want.rule]
        if rule.repeats and not rule.within:
            counted += 1
            assert facts(want, "albuquerque", LastCare(3, last.last_on, True)).expected_on == want.window.due
    assert counted > 100


def test_the_season_of_a_place_is_told_with_its_frost_and_its_means() -> None:
    # Source: usual last frost of Albuquerque, 14 April, NOAA 1991-2020 normals (from memory).
    told = climate_sentence("frost_tender_prune", climate("albuquerque"), 2027)
    assert told is not None
    assert "the last frost is about Apr 14, 2027" in told[0]
    assert "la última helada es hacia el 14 abr 2027" in told[1]
    assert climate_sentence("06-01..06-30", climate("albuquerque"), 2027) is None


def test_a_skipped_care_before_is_not_told_as_done() -> None:
    want = of_rule(tasks(courtyard()), "turf-brushing")[0]
    last = LastCare(0, date(2026, 11, 9), done=False)
    en, _ = explain(catalog()[want.rule], catalog()[want.rule], facts(want, "albuquerque", last))
    assert "last skipped on Nov 9, 2026" in en
