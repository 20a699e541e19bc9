"""Writes of the weather: stations, and their days from a file."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from landscape_care.almanac.bounds import check
from landscape_care.care.forecasts import check_address
from landscape_care.care.forecasts import read as read_forecast
from landscape_care.care.models import Forecast, Observation, WeatherStation
from landscape_care.care.observations import Observed, read
from landscape_care.care.weather_book import as_ahead, as_observed, near_station
from landscape_care.care.weather_events import DAYS_TO_WALK
from landscape_care.people.actions import record
from landscape_care.people.models import User
from landscape_care.properties.books import climate_at, climate_book
from landscape_care.properties.models import Property

_VALUES = ("tmax_f", "tmin_f", "rain_in", "eto_in", "gust_mph")


@dataclass(frozen=True, slots=True)
class Taken:
    """What a file brought: days that are new, days with other values than before, and what was kept out."""

    added: int
    changed: int
    told: Observed


@transaction.atomic
def add_station(values: Mapping[str, Any], *, by: User | None) -> WeatherStation:
    """Begin to keep the weather of a place."""
    _allow_office(by)
    check("latitude_deg", values["latitude_deg"], -90, 90)
    check("longitude_deg", values["longitude_deg"], -180, 180)
    climates = climate_book()
    if climates.get(values["climate"]) is None:
        raise ValueError(f"climate is {values['climate']!r}: wanted one of {', '.join(climates.keys())}")
    if values.get("forecast_url"):
        check_address(values["forecast_url"])
    if WeatherStation.objects.filter(code=values["code"]).exists():
        raise ValueError(f"code is {values['code']!r}: another station has it")
    station = WeatherStation.objects.create(**values)
    record("add weather station", station.code, by=by)
    return station


@transaction.atomic
def set_forecast_address(station: WeatherStation, url: str, *, by: User | None) -> None:
    """Ask for the forecast of a station from now on, or, where the address is empty, no more."""
    _allow_office(by)
    if url:
        check_address(url)
    elif station.forecast_from is not None:
        drop_forecast(station)
    rows = WeatherStation.objects.filter(pk=station.pk)
    rows.update(forecast_url=url, forecast_asked_at=None, forecast_trouble="")
    station.refresh_from_db()
    record("set forecast address", station.code, by=by, url=url)


@transaction.atomic
def take_observations(station: WeatherStation, text: str, *, today: date, by: User | None) -> Taken:
    """Keep the good days of a file; the same file again changes nothing."""
    _allow_office(by)
    told = read(text, climate_at(station.climate), today=today)
    rows = Observation.objects.filter(station=station, day__in=[each.day for each in told.days])
    known = {row.day: row for row in rows}
    fresh = [each for each in told.days if each.day not in known]
    new = [Observation(station=station, known_on=today, **asdict(each)) for each in fresh]
    other = [each for each in told.days if each.day in known and as_observed(known[each.day]) != each]
    for each in other:
        for name in _VALUES:
            setattr(known[each.day], name, getattr(each, name))
    Observation.objects.bulk_create(new, batch_size=500)
    Observation.objects.bulk_update([known[each.day] for each in other], _VALUES, batch_size=500)
    if other or any((today - row.day).days <= DAYS_TO_WALK for row in new):
        Property.objects.filter(pk__in=near_station(station)).update(plan_wanted_at=timezone.now())
    if new or other:
        record("take observations", station.code, by=by, added=len(new), changed=len(other))
    return Taken(len(new), len(other), told)


@transaction.atomic
def take_forecast(station: WeatherStation, answer: Any, *, today: date, by: User | None) -> int:
    """Keep the days of a forecast from today on in place of the last; days that passed stay."""
    _allow_office(by)
    zone = ZoneInfo(climate_at(station.climate).time_zone)
    ahead = [each for each in read_forecast(answer, zone) if each.day >= today]
    if not ahead:
        raise ValueError(f"answer has no day from {today} on: wanted a forecast of the coming days")
    now = {as_ahead(row) for row in _coming(station, today)}
    same = now == set(ahead)
    if not same:
        _coming(station, today).delete()
        Forecast.objects.bulk_create([Forecast(station=station, **asdict(each)) for each in ahead])
    if not same or station.forecast_from != today:
        station.forecast_from = today
        Property.objects.filter(pk__in=near_station(station)).update(plan_wanted_at=timezone.now())
    station.forecast_taken_at, station.forecast_trouble = timezone.now(), ""
    station.save(update_fields=["forecast_from", "forecast_taken_at", "forecast_trouble"])
    return 0 if same else len(ahead)


@transaction.atomic
def drop_forecast(station: WeatherStation) -> None:
    """Let a forecast that is too old count no more; care goes back to its usual days."""
    rows = WeatherStation.objects.filter(pk=station.pk).exclude(forecast_from=None)
    if rows.update(forecast_from=None):
        Property.objects.filter(pk__in=near_station(station)).update(plan_wanted_at=timezone.now())


def _coming(station: WeatherStation, today: date) -> QuerySet[Forecast]:
    return Forecast.objects.filter(station=station, day__gte=today)


def _allow_office(by: User | None) -> None:
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office may do this.")
