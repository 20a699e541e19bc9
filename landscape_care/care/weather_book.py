"""Reads of the weather: the station of a property, its days, and what they ask of the controller."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.contrib.auth.models import AnonymousUser
from django.db.models import Max, QuerySet

from landscape_care.almanac.climate import distance_km
from landscape_care.care.models import Forecast, Observation, WeatherStation
from landscape_care.care.observations import DayObserved
from landscape_care.care.soil_water import (
    LOOK_BACK_DAYS,
    Adjust,
    DayWater,
    adjust,
    coming_water,
    days_of_water,
)
from landscape_care.care.weather_events import Happening, Known, happenings
from landscape_care.care.weather_limits import Ahead, DayAhead
from landscape_care.people.models import User
from landscape_care.properties.books import climate_at
from landscape_care.properties.models import Property
from landscape_care.properties.queries import as_built, visible_properties
from landscape_care.trades.kinds import Zone
from landscape_care.trades.zone_needs import zone_need

# Farther away it rains on another day (common practice).
FARTHEST_STATION_KM = 40.0


def visible_stations(user: User | AnonymousUser) -> QuerySet[WeatherStation]:
    """The stations, for whoever sees properties."""
    rows = WeatherStation.objects.all()
    return rows if visible_properties(user).exists() else rows.none()


def stations_with_reach(user: User | AnonymousUser) -> list[tuple[WeatherStation, date | None]]:
    """The stations, each with its last day."""
    rows = visible_stations(user).annotate(last=Max("observations__day"))
    return [(row, row.last) for row in rows]


def station_of(place: Property, among: Iterable[WeatherStation] | None = None) -> WeatherStation | None:
    """The nearest station, at most 40 km away; `among` spares reading them for each property."""
    here = (place.latitude_deg, place.longitude_deg)
    known = WeatherStation.objects.all() if among is None else among
    away = [(distance_km(here, (s.latitude_deg, s.longitude_deg)), s) for s in known]
    near = [each for each in away if each[0] <= FARTHEST_STATION_KM]
    return min(near, key=lambda each: each[0])[1] if near else None


def near_station(station: WeatherStation) -> list[int]:
    """The properties that go by a station."""
    known = list(WeatherStation.objects.all())
    return [place.pk for place in Property.objects.all() if station_of(place, known) == station]


def visible_days(station: WeatherStation, first: date | None, last: date | None) -> QuerySet[Observation]:
    """The days of a station that somebody sees, the newest first."""
    rows = Observation.objects.filter(station=station).order_by("-day")
    rows = rows.filter(day__gte=first) if first else rows
    return rows.filter(day__lte=last) if last else rows


def observed(station: WeatherStation, first: date, last: date) -> dict[date, DayObserved]:
    """The days of a station that are noted, by day."""
    rows = Observation.objects.filter(station=station, day__gte=first, day__lte=last)
    return {row.day: as_observed(row) for row in rows}


def as_observed(row: Observation) -> DayObserved:
    """A stored day as plain values."""
    return DayObserved(row.day, row.tmax_f, row.tmin_f, row.rain_in, row.eto_in, row.gust_mph)


def weather_happenings(station: WeatherStation, first: date) -> list[Happening]:
    """What the weather of a station asks for from a day on, as measured in time and as forecast."""
    rows = list(Observation.objects.filter(station=station, day__gte=first))
    known = Known(
        climate_at(station.climate),
        {row.day: as_observed(row) for row in rows},
        {row.day: row.known_on for row in rows if row.known_on},
        {row.day: as_ahead(row) for row in Forecast.objects.filter(station=station, day__gte=first)},
    )
    return list(happenings(known))


def ahead_at(station: WeatherStation) -> Ahead:
    """The days of the forecast that holds, the first of it on; nothing once it is too old to count."""
    if station.forecast_from is None:
        return {}
    rows = Forecast.objects.filter(station=station, day__gte=station.forecast_from)
    return {row.day: as_ahead(row) for row in rows.order_by("day")}


def ahead_from(station: WeatherStation, today: date) -> list[DayAhead]:
    """The days of the forecast that holds from today on, in order."""
    return [each for day, each in ahead_at(station).items() if day >= today]


def as_ahead(row: Forecast) -> DayAhead:
    """A stored day of a forecast as plain values."""
    return DayAhead(row.day, row.tmax_f, row.tmin_f, row.gust_mph, row.rain_in, row.rain_percent)


@dataclass(frozen=True, slots=True)
class Fortnight:
    """What the coming two weeks ask of a property's zones, and the days that rest on what is usual.

    `missing` days lie behind and were not measured, `unforecast` ones lie ahead.
    """

    adjusts: tuple[Adjust, ...] = ()
    missing: tuple[date, ...] = ()
    unforecast: tuple[date, ...] = ()


def fortnight(place: Property, today: date) -> Fortnight:
    """The seasonal adjust of each zone for the fortnight from today, with the days that are not known."""
    station, record = station_of(place), as_built(place)
    if station is None:
        return Fortnight()
    weather, yesterday = climate_at(place.climate), today - timedelta(1)
    first = today - timedelta(LOOK_BACK_DAYS)
    days = days_of_water(observed(station, first, yesterday), weather, first=first, last=yesterday)
    coming = coming_water(ahead_at(station), weather, first=today)
    zones = [zone for zone in record.of_kind(Zone) if zone.stands_on(today)]
    needs = [(zone, zone_need(record, zone, today)) for zone in zones]
    found = [adjust(zone, need, days, coming=coming) for zone, need in needs if need]
    return Fortnight(tuple(each for each in found if each is not None), _usual(days), _usual(coming))


def _usual(days: Iterable[DayWater]) -> tuple[date, ...]:
    return tuple(each.day for each in days if each.source == "usual")


def adjusts(place: Property, today: date) -> list[Adjust]:
    """The seasonal adjust of each zone for the coming fortnight."""
    return list(fortnight(place, today).adjusts)
