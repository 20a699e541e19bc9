"""What a forecast does to stored care: untold care goes round bad days, told care is pointed out."""

from datetime import date, time, timedelta
from typing import Any

import pytest
from django.utils import timezone

from landscape_care.care import actions, queries, weather_book, weather_intake
from landscape_care.care.models import CareTask, OtherDays, WeatherStation
from landscape_care.properties.models import Property
from landscape_care.visits.models import Visit, VisitState, VisitTask
from tests.integration.care_company import START, crew, garden, office, put, sand_filter
from tests.integration.test_care_weather_kept import HEADER, station

pytestmark = [pytest.mark.django_db, pytest.mark.both]
SWEEP = "property:leaf-litter"


def days_ahead(first: date, *gusts_mph: float, high_f: float = 70) -> dict[str, Any]:
    """An answer in the form of the weather service: for each day its gusts and one high."""
    periods = [
        {
            "startTime": f"{first + timedelta(number)}T06:00:00-07:00",
            "isDaytime": True,
            "temperature": high_f,
            "temperatureUnit": "F",
            "windSpeed": f"{gust} mph",
        }
        for number, gust in enumerate(gusts_mph)
    ]
    return {"properties": {"periods": periods}}


def planned(place: Property, today: date = START) -> actions.PlanReport:
    return actions.plan_care(place.pk, today=today)


def windows(place: Property) -> dict[str, tuple[date, date, date]]:
    rows = CareTask.objects.filter(property=place, state="open")
    return {row.key: (row.opens_on, row.due_on, row.closes_on) for row in rows}


def tell(task: CareTask, day: date) -> Visit:
    """Put a task into a visit that people were told about."""
    visit = Visit.objects.create(
        property_id=task.property_id, slot=f"told-{task.pk}", opens_on=day, closes_on=day, minutes=30,
        state=VisitState.PUBLISHED, day=day, arrives_at=time(8), leaves_at=time(9), changed_at=timezone.now(),
    )  # fmt: skip
    VisitTask.objects.create(visit=visit, task=task)
    return visit


@pytest.fixture
def place() -> Property:
    return garden()


@pytest.fixture
def here() -> WeatherStation:
    return station()


def first_sweep(place: Property) -> CareTask:
    return CareTask.objects.get(property=place, key=f"{SWEEP}:1")


def test_wind_on_the_due_day_moves_that_care_and_nothing_else(place: Property, here: WeatherStation) -> None:
    planned(place)
    before, sweep = windows(place), first_sweep(place)
    first = sweep.due_on - timedelta(2)
    weather_intake.take_forecast(here, days_ahead(first, 5, 5, 40, 5, 5), today=first, by=None)
    assert planned(place).moved == 1
    after = windows(place)
    assert {key for key in before if after[key] != before[key]} == {sweep.key}
    assert after[sweep.key][0] == after[sweep.key][1] == sweep.due_on + timedelta(1)
    assert not planned(place)


def test_a_forecast_that_changes_its_mind_gives_the_days_back(place: Property, here: WeatherStation) -> None:
    planned(place)
    before, sweep = windows(place), first_sweep(place)
    first = sweep.due_on - timedelta(1)
    weather_intake.take_forecast(here, days_ahead(first, 5, 40, 5), today=first, by=None)
    planned(place)
    weather_intake.take_forecast(here, days_ahead(first, 5, 10, 5), today=first, by=None)
    assert planned(place).moved == 1
    assert windows(place) == before


def test_a_moved_task_says_what_is_forecast_and_where_it_went(place: Property, here: WeatherStation) -> None:
    planned(place)
    due = first_sweep(place).due_on
    weather_intake.take_forecast(
        here, days_ahead(due - timedelta(1), 5, 40, 5), today=due - timedelta(1), by=None
    )
    planned(place)
    en, es = queries.why(first_sweep(place), due)
    assert "gusts of 40 mph is forecast, and it is not done over 25 mph, so it is due on" in en
    assert f"{(due + timedelta(1)).day}, {due.year}" in en
    assert "ráfagas de 40 mph" in es


def test_told_care_stays_and_is_pointed_out_until_the_forecast_is_fair(
    place: Property, here: WeatherStation
) -> None:
    planned(place)
    sweep = first_sweep(place)
    tell(sweep, sweep.due_on)
    before = windows(place)
    first = sweep.due_on - timedelta(1)
    weather_intake.take_forecast(here, days_ahead(first, 5, 40, 5), today=first, by=None)
    assert not planned(place)
    assert windows(place) == before
    [other] = queries.elsewhere(office(), first)
    assert (other.task, other.told_for, other.why) == (sweep, sweep.due_on, "weather")
    assert other.opens_on == sweep.due_on + timedelta(1)
    assert "People were told" in queries.why(sweep, first)[0]
    assert "decide la oficina" in queries.why(sweep, first)[1]
    pk = other.pk
    assert not planned(place)
    assert OtherDays.objects.get().pk == pk
    weather_intake.take_forecast(here, days_ahead(first, 5, 5, 5), today=first, by=None)
    planned(place)
    assert not OtherDays.objects.exists()


def test_care_told_on_a_day_that_the_weather_chose_moves_none_that_follows(
    place: Property, here: WeatherStation
) -> None:
    planned(place)
    before, sweep = windows(place), first_sweep(place)
    first = sweep.due_on - timedelta(1)
    weather_intake.take_forecast(here, days_ahead(first, 5, 40, 5), today=first, by=None)
    planned(place)
    moved = first_sweep(place)
    assert moved.due_on == sweep.due_on + timedelta(1)
    tell(moved, moved.due_on)
    assert not planned(place)
    after = windows(place)
    assert {key for key in before if after[key] != before[key]} == {sweep.key}
    assert not OtherDays.objects.exists()


def test_told_care_with_no_good_day_left_is_pointed_out_too(place: Property, here: WeatherStation) -> None:
    planned(place)
    sweep = first_sweep(place)
    tell(sweep, sweep.due_on)
    gusts = [40.0] * ((sweep.closes_on - sweep.opens_on).days + 1)
    weather_intake.take_forecast(here, days_ahead(sweep.opens_on, *gusts), today=sweep.opens_on, by=None)
    planned(place)
    assert OtherDays.objects.get().why == "weather"
    assert "no day of its window is good" in queries.why(sweep, sweep.opens_on)[0]


def test_told_care_that_a_reading_wants_sooner_is_pointed_out_and_not_moved(place: Property) -> None:
    thing = sand_filter(place)
    planned(place)
    backwash = CareTask.objects.filter(rule="sand-filter-backwash").earliest("due_on")
    tell(backwash, backwash.due_on)
    read_on = START + timedelta(3)
    actions.take_reading(thing, "filter_pressure_psi", 19, "psi", on=read_on, by=None)
    planned(place)
    backwash.refresh_from_db()
    [other] = OtherDays.objects.all()
    assert (other.task_id, other.why, other.opens_on) == (backwash.pk, "reading", read_on)
    assert other.told_for == backwash.due_on
    actions.settle(backwash, "done", on=read_on + timedelta(1), by=None)
    planned(place)
    assert not OtherDays.objects.exists()


def test_held_care_and_care_told_for_a_fair_day_are_not_pointed_out(
    place: Property, here: WeatherStation
) -> None:
    planned(place)
    sweep = first_sweep(place)
    tell(sweep, sweep.due_on + timedelta(1))
    first = sweep.due_on - timedelta(1)
    weather_intake.take_forecast(here, days_ahead(first, 5, 40, 5), today=first, by=None)
    planned(place)
    assert not OtherDays.objects.exists()
    weather_intake.take_forecast(here, days_ahead(first, 5, 5, 40), today=first, by=None)
    actions.hold(sweep, by=None)
    planned(place)
    assert not OtherDays.objects.exists()


def test_crews_are_shown_no_decisions_of_the_office(place: Property) -> None:
    assert not queries.elsewhere(crew(), START).exists()


def test_planting_goes_round_a_hot_day_and_spraying_round_wind(place: Property, here: WeatherStation) -> None:
    put(place, "planting", "P1", plant="viola-x-wittrockiana", role="seasonal_colour",
        partner="zinnia-elegans", area_ft2=40.0)  # fmt: skip
    put(place, "gravel", "G1", area_ft2=300.0, depth_in=2.0)
    planned(place)
    swap = CareTask.objects.filter(rule="colour-swap-to-warm").earliest("due_on")
    hot = days_ahead(swap.due_on - timedelta(1), 5, 5, high_f=108)
    hot["properties"]["periods"][0]["temperature"] = 80
    weather_intake.take_forecast(here, hot, today=swap.due_on - timedelta(1), by=None)
    planned(place)
    swap.refresh_from_db()
    assert swap.details["weather"]["measured"] == "tmax_f"
    spray = CareTask.objects.filter(rule="weed-prevention-in-gravel").earliest("due_on")
    usual = spray.due_on
    weather_intake.take_forecast(here, days_ahead(usual, 15, 5), today=usual, by=None)
    planned(place)
    spray.refresh_from_db()
    assert spray.due_on == usual + timedelta(1)


def test_a_storm_ahead_is_made_ready_for_and_a_measured_one_walked_after(
    place: Property, here: WeatherStation
) -> None:
    blow = START + timedelta(4)
    weather_intake.take_forecast(here, days_ahead(START, 5, 5, 5, 5, 55), today=START, by=None)
    planned(place)
    ready = CareTask.objects.get(rule="storm-ready")
    assert (ready.due_on, ready.closes_on) == (blow - timedelta(1), blow - timedelta(1))
    weather_intake.take_observations(
        here, f"{HEADER}{blow},60,40,0,,58\n", today=blow + timedelta(1), by=None
    )
    planned(place)
    assert CareTask.objects.get(rule="storm-walk").opens_on == blow


def test_heat_and_a_hard_freeze_make_their_rounds_and_say_why(place: Property, here: WeatherStation) -> None:
    put(place, "backflow", "BF1")
    cold, hot = START + timedelta(30), date(2027, 7, 10)
    weather_intake.take_observations(here, f"{HEADER}{cold},40,22,0,,5\n", today=cold + timedelta(1), by=None)
    weather_intake.take_observations(here, f"{HEADER}{hot},104,70,0,,5\n", today=hot + timedelta(1), by=None)
    planned(place)
    look, walk = CareTask.objects.get(rule="backflow-freeze-look"), CareTask.objects.get(rule="heat-walk")
    assert (look.opens_on, look.occurrence, walk.opens_on) == (
        cold,
        "2026-27-winter",
        hot + timedelta(1),
    )
    assert "28 °F or less of this winter was Dec 2, 2026" in queries.why(look, cold)[0]
    assert "Unusual heat is forecast or was measured about Jul 11, 2027" in queries.why(walk, hot)[0]


def test_a_year_of_old_weather_sends_nobody_out(place: Property, here: WeatherStation) -> None:
    day = START + timedelta(5)
    weather_intake.take_observations(here, f"{HEADER}{day},40,20,0,,60\n", today=day + timedelta(60), by=None)
    planned(place, day + timedelta(60))
    assert not CareTask.objects.filter(rule__in=("storm-walk", "backflow-freeze-look")).exists()


def test_each_new_forecast_asks_for_a_plan_and_the_same_one_again_does_not(
    place: Property, here: WeatherStation
) -> None:
    def asked(today: date, *gusts_mph: float) -> bool:
        planned(place)
        weather_intake.take_forecast(here, days_ahead(START, *gusts_mph), today=today, by=None)
        return bool(Property.objects.get(pk=place.pk).plan_wanted_at)

    assert asked(START, 5, 5, 5)
    assert not asked(START, 5, 5, 5)
    assert asked(START, 5, 40, 5)
    # A day later its first day has passed, and with it counts no more.
    assert asked(START + timedelta(1), 5, 40, 5)
    assert WeatherStation.objects.get().forecast_from == START + timedelta(1)


def test_a_forecast_that_is_too_old_counts_no_more(place: Property, here: WeatherStation) -> None:
    planned(place)
    before, due = windows(place), first_sweep(place).due_on
    weather_intake.take_forecast(here, days_ahead(due, 40, 5), today=due, by=None)
    planned(place)
    assert windows(place) != before
    weather_intake.drop_forecast(here)
    place.refresh_from_db()
    assert place.plan_wanted_at is not None
    planned(place)
    assert windows(place) == before
    assert weather_book.ahead_at(WeatherStation.objects.get()) == {}
