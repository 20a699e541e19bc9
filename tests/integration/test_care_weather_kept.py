"""Weather in the database: taken in from files once, and what follows from it."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied

from landscape_care.care import actions, weather_book, weather_intake
from landscape_care.care.models import CareTask, Observation, WeatherStation
from landscape_care.properties.actions import leave_settings
from landscape_care.properties.models import Property
from tests.integration.care_company import START, crew, garden, put

pytestmark = pytest.mark.django_db
TODAY = date(2027, 6, 15)
HEADER = "day,tmax_f,tmin_f,rain_in,eto_in,gust_mph\n"


def station(latitude_deg: float = 35.1) -> WeatherStation:
    values = {
        "code": f"st-{latitude_deg:.0f}",
        "name": "Valley station",
        "latitude_deg": latitude_deg,
        "longitude_deg": -106.6,
        "climate": "albuquerque",
    }
    return weather_intake.add_station(values, by=None)


def a_month(*, gust_mph: float = 10.0, rain_in: float = 0.0, eto_in: float = 0.3) -> str:
    days = (TODAY - timedelta(count) for count in range(30, 0, -1))
    rows = (f"{day},88,60,{rain_in},{eto_in},{gust_mph}" for day in days)
    return HEADER + "\n".join(rows)


def watered() -> Property:
    place = garden()
    bed = put(place, "bed", "B1", area_ft2=100.0, exposure="full_sun", soil="sandy_loam")
    pocket = put(
        place, "planting", "P1", bed_id=bed.pk, plant="viola-x-wittrockiana", role="seasonal_colour",
        partner="zinnia-elegans", area_ft2=40.0,
    )  # fmt: skip
    box = put(place, "controller", "C1", stations=4)
    zone = put(
        place, "zone", "Z1", controller_id=box.pk, station=1, device="micro_spray", area_ft2=40.0,
        flow_gpm=0.9, planting_ids=(pocket.pk,),
    )  # fmt: skip
    leave_settings(zone, {"set_minutes": 7, "set_weekdays": "1234567"}, by=None)
    return place


def test_a_file_is_taken_once_and_again_changes_nothing() -> None:
    here = station()
    first = weather_intake.take_observations(here, a_month(), today=TODAY, by=None)
    again = weather_intake.take_observations(here, a_month(), today=TODAY, by=None)
    other = weather_intake.take_observations(here, a_month(rain_in=0.1), today=TODAY, by=None)
    assert (first.added, again.added, again.changed, other.changed) == (30, 0, 0, 30)
    assert Observation.objects.count() == 30


def test_rows_that_cannot_be_are_kept_out_and_told() -> None:
    text = f"{HEADER}2027-06-01,4,1,0,,\n2027-06-02,88,60,0,,\n"
    taken = weather_intake.take_observations(station(), text, today=TODAY, by=None)
    assert taken.added == 1
    assert [problem.field for problem in taken.told.problems] == ["row 2"]


def test_gusts_of_a_storm_send_somebody_round_once_however_it_is_told() -> None:
    place = garden()
    day = START + timedelta(20)
    text = f"{HEADER}{day},60,40,0,,52\n"
    weather_intake.take_observations(station(), text, today=day + timedelta(1), by=None)
    place.refresh_from_db()
    assert place.plan_wanted_at is not None
    actions.report(place, "storm", on=day, by=None)
    actions.plan_care(place.pk, today=START)
    assert [task.occurrence for task in CareTask.objects.filter(rule="storm-walk")] == [day.isoformat()]
    assert not actions.plan_care(place.pk, today=START)


def test_a_station_far_away_says_nothing_of_a_property() -> None:
    place = garden()
    station(36.5)
    assert weather_book.station_of(place) is None
    assert weather_book.adjusts(place, TODAY) == []
    near = station(35.2)
    assert weather_book.station_of(place) == near


def test_a_wet_month_asks_for_less_than_a_dry_one() -> None:
    place, here = watered(), station()
    weather_intake.take_observations(here, a_month(), today=TODAY, by=None)
    [dry] = weather_book.adjusts(place, TODAY)
    rain = "".join(f"{TODAY - timedelta(n)},88,60,1.5,0.3,10\n" for n in (2, 1))
    weather_intake.take_observations(here, HEADER + rain, today=TODAY, by=None)
    [wet] = weather_book.adjusts(place, TODAY)
    assert wet.percent < dry.percent
    assert (dry.tag, dry.measured_days, dry.bridged_days) == ("Z1", 30, 0)


def test_stations_that_make_no_sense_and_people_who_may_not_are_refused() -> None:
    values = {"code": "x", "name": "X", "latitude_deg": 95.0, "longitude_deg": 0.0, "climate": "phoenix"}
    with pytest.raises(ValueError, match="latitude_deg is 95"):
        weather_intake.add_station(values, by=None)
    with pytest.raises(ValueError, match="climate is 'moon'"):
        weather_intake.add_station({**values, "latitude_deg": 1.0, "climate": "moon"}, by=None)
    with pytest.raises(PermissionDenied):
        weather_intake.add_station(values, by=crew())


# --- Forecasts ---


def freeze(day: date, low_f: float) -> dict[str, object]:
    night = {
        "startTime": f"{day - timedelta(1)}T18:00:00-07:00",
        "isDaytime": False,
        "temperature": low_f,
        "temperatureUnit": "F",
        "windSpeed": "5 mph",
    }
    return {"properties": {"periods": [night]}}


def test_a_forecast_freeze_makes_care_once_and_goes_with_the_next_forecast() -> None:
    place, here = garden(), station()
    put(place, "backflow", "BF1")
    morning = START + timedelta(3)
    assert weather_intake.take_forecast(here, freeze(morning, 29), today=START, by=None) > 0
    assert weather_intake.take_forecast(here, freeze(morning, 29), today=START, by=None) == 0
    actions.plan_care(place.pk, today=START)
    [task] = CareTask.objects.filter(rule="backflow-freeze-drain")
    assert (task.due_on, task.state) == (morning - timedelta(1), "open")
    assert not actions.plan_care(place.pk, today=START)
    weather_intake.take_forecast(here, freeze(morning, 45), today=START, by=None)
    assert actions.plan_care(place.pk, today=START).withdrawn == 1


def test_a_freeze_that_has_passed_stays_when_the_next_forecast_comes() -> None:
    place, here = garden(), station()
    put(place, "backflow", "BF1")
    morning = START + timedelta(3)
    weather_intake.take_forecast(here, freeze(morning, 29), today=START, by=None)
    actions.plan_care(place.pk, today=START)
    later = morning + timedelta(1)
    weather_intake.take_forecast(here, freeze(later + timedelta(5), 45), today=later, by=None)
    assert not actions.plan_care(place.pk, today=START)


def test_a_forecast_that_cannot_be_read_leaves_the_last_one() -> None:
    here = station()
    weather_intake.take_forecast(here, freeze(START, 29), today=START, by=None)
    with pytest.raises(ValueError, match="periods"):
        weather_intake.take_forecast(here, {"error": "busy"}, today=START, by=None)
    assert here.forecasts.count() == 1


def test_without_an_address_no_forecast_is_asked_for() -> None:
    from io import StringIO

    from django.core.management import call_command

    station()
    said = StringIO()
    call_command("forecast", stdout=said, stderr=said)
    assert said.getvalue() == ""
