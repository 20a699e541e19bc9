"""Roads told by an engine: asked once, kept, used by the plans, and estimated where it fails."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, time, timedelta
from time import monotonic

import numpy as np
import pytest
from django.test import Client, override_settings
from django.utils import timezone

from landscape_care.dispatch import actions, queries, roads
from landscape_care.dispatch.models import MonthPlan, PlanState, RoadLeg, RoadTrouble
from landscape_care.dispatch.road_engine import Engine
from landscape_care.dispatch.travel import estimate
from landscape_care.properties.models import Client as Household
from landscape_care.properties.models import Property
from landscape_care.visits import actions as visits
from tests.integration.dispatch_company import MONDAY, Company, add_company, add_task
from tests.integration.road_maps import Map, Reply, Roads, hang, say, serving, town

pytestmark = pytest.mark.django_db
NOW = timezone.now()
DECEMBER = date(2026, 12, 1)


@pytest.fixture
def company() -> Company:
    company = add_company(gardens=4)
    for number, garden in enumerate(company.gardens):
        add_task(garden, f"first{number}", MONDAY, MONDAY + timedelta(10), minutes=60)
        visits.bundle_property(garden.pk, today=MONDAY)
    return company


@contextmanager
def asking(reply: Reply) -> Iterator[str]:
    with serving(reply) as address, override_settings(ROAD_ENGINE=address):
        yield address


def solved(company: Company) -> MonthPlan:
    plan = actions.propose(company.depot, DECEMBER, by=company.office, today=MONDAY, seconds=1)
    return actions.solve_plan(plan.pk, today=MONDAY)


def test_without_an_engine_nothing_is_asked_and_drives_are_estimated(company: Company) -> None:
    assert roads.learn(company.depot, now=NOW) == 0
    places = roads.places_at(company.depot)
    assert np.array_equal(roads.travel(places).minutes, estimate(places).minutes)
    assert solved(company).summary["estimated_pairs"] == 0


@pytest.mark.both
def test_an_engine_is_asked_once_and_its_drives_are_used(company: Company) -> None:
    engine = Roads(town())
    with asking(engine):
        plan = solved(company)
        assert (plan.state, engine.questions) == (PlanState.PROPOSED, 1)
        assert (plan.summary["asked_pairs"], plan.summary["estimated_pairs"]) == (20, 0)
        assert RoadLeg.objects.count() == 20
        for stop in plan.stops.select_related("visit__property", "crew__depot").filter(position=1):
            depot, place = company.depot, stop.visit.property
            start = engine.streets.nearest((depot.latitude_deg, depot.longitude_deg))
            end = engine.streets.nearest((place.latitude_deg, place.longitude_deg))
            assert stop.drive_minutes == pytest.approx(engine.streets.drives(start)[end][0] / 60, abs=0.02)
        assert roads.learn(company.depot, now=NOW) == 0
        assert engine.questions == 1
        later = timezone.now() + roads.OLD_AFTER + timedelta(days=1)
        assert roads.learn(company.depot, now=later) == 20


def test_what_was_told_outlives_the_engine(company: Company) -> None:
    with asking(Roads(town())) as address:
        roads.learn(company.depot, now=NOW)
        before = roads.travel(roads.places_at(company.depot)).minutes
    with override_settings(ROAD_ENGINE=address):
        later = NOW + roads.OLD_AFTER + timedelta(days=1)
        assert roads.learn(company.depot, now=later) == 0
        assert np.array_equal(roads.travel(roads.places_at(company.depot)).minutes, before)
        assert "cannot be reached" in RoadTrouble.objects.get().words


def test_a_new_garden_is_asked_for_and_estimated_until_then(company: Company) -> None:
    with asking(Roads(town())):
        roads.learn(company.depot, now=NOW)
        Property.objects.filter(pk=company.gardens[0].pk).update(latitude_deg=35.16, longitude_deg=-106.60)
        travel = roads.travel(roads.places_at(company.depot))
        assert (travel.asked_pairs, travel.estimated_pairs) == (12, 8)
        assert roads.learn(company.depot, now=NOW) == 20
        assert roads.travel(roads.places_at(company.depot)).estimated_pairs == 0


@pytest.mark.parametrize(
    ("reply", "words"),
    [
        (hang, "gave no answer within"),
        (say(b"<html>busy</html>"), "nonsense"),
        (say(b'{"code":"Ok","durations":[[NaN]],"distances":[[1]]}'), "nonsense"),
        (say(b'{"code":"Ok","durations":[[-5]],"distances":[[1]]}'), "nonsense"),
        (say(b"", 302, Location="http://127.0.0.1:9/"), "not followed"),
    ],
)
def test_an_engine_that_fails_loses_nothing(
    company: Company, reply: Reply, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with asking(reply) as address:
        monkeypatch.setattr(roads, "engine", lambda: Engine(address, timeout_s=0.3, longest_s=0.6))
        began = monotonic()
        plan = solved(company)
        assert monotonic() - began < 10
        assert plan.state == PlanState.PROPOSED
        assert (plan.summary["visits"], plan.summary["estimated_pairs"]) == (4, 20)
        told = roads.word_on(plan.summary)
        assert told.trouble is not None
        assert words in told.trouble.en
        assert told.trouble.es != told.trouble.en


def test_after_trouble_the_engine_is_left_alone_for_a_while(company: Company) -> None:
    with asking(say(b"no")):
        roads.learn(company.depot, now=NOW)
    engine = Roads(town())
    with asking(engine) as address:
        RoadTrouble.objects.update(source=address)
        assert roads.learn(company.depot, now=NOW + timedelta(minutes=1)) == 0
        assert engine.questions == 0
        assert roads.learn(company.depot, now=NOW + timedelta(minutes=6)) == 20
        assert roads.trouble() is None


def test_a_garden_that_no_road_reaches_is_not_served_and_says_so(company: Company) -> None:
    streets, island = town(), company.gardens[3]
    Property.objects.filter(pk=island.pk).update(latitude_deg=35.50, longitude_deg=-106.60)
    streets.street((35.50, -106.60), (35.51, -106.60))
    with asking(Roads(streets)):
        plan = solved(company)
    left = plan.unserved.select_related("visit").get()
    assert left.visit.property_id == island.pk
    assert (left.reason, left.reason_es) == (
        "No road leads there from the depot",
        "Ningún camino lleva allí desde la base",
    )
    assert plan.stops.count() == 3


def test_a_garden_off_the_engines_map_is_estimated(company: Company) -> None:
    Property.objects.filter(pk=company.gardens[3].pk).update(latitude_deg=35.30)
    with asking(Roads(town())):
        plan = solved(company)
    assert (plan.summary["asked_pairs"], plan.summary["estimated_pairs"]) == (12, 8)
    assert plan.stops.count() == 4


def test_the_board_says_how_far_the_roads_are_known(company: Company) -> None:
    office = Client()
    office.force_login(company.office)
    address = f"/board/{company.depot.code}/2026-12/"
    solved(company)
    assert "estimated from coordinates" in office.get(address).content.decode()
    with asking(say(b"no")):
        solved(company)
        said = office.get(address).content.decode()
        assert "20 drives between places are estimated" in said
        assert "nonsense" in said
        spanish = office.get(address, headers={"Accept-Language": "es"}).content.decode()
        assert "disparate" in spanish


def test_a_page_never_asks_the_engine(company: Company) -> None:
    engine = Roads(town())
    plan = solved(company)
    with asking(engine):
        stop = plan.stops.first()
        assert stop is not None
        actions.weigh_move(stop.pk, day=stop.day, crew=stop.crew, by=company.office, today=MONDAY)
        queries.route_problem(plan, MONDAY)
    assert engine.questions == 0


def test_a_map_of_more_than_a_hundred_places_is_asked_in_parts() -> None:
    company = add_company(gardens=0)
    engine = Roads(Map())
    for number in range(120):
        here, there = ((round(35.1 + n / 1000, 3), -106.6) for n in (number, number + 1))
        engine.streets.street(here, there)
    Property.objects.bulk_create(_gardens(company, 119))
    with asking(engine):
        assert roads.learn(company.depot, now=NOW) == 120 * 119
        assert engine.questions == 9
        travel = roads.travel(roads.places_at(company.depot))
    assert travel.estimated_pairs == 0
    assert np.isfinite(travel.minutes).all()


def _gardens(company: Company, count: int) -> Iterator[Property]:
    household = Household.objects.get()
    for number in range(count):
        yield Property(
            code=f"garden-{number}",
            name=f"Garden {number}",
            client=household,
            depot=company.depot,
            latitude_deg=35.102 + number / 1000,
            longitude_deg=-106.6,
            time_zone="America/Denver",
            access_opens=time(8),
            access_closes=time(16),
            watering_opens=time(2),
            watering_closes=time(6),
            care_starts_on=MONDAY,
        )
