"""Weather stations and their days."""

import csv
import io
from typing import Any

from rest_framework import parsers, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import paged, told
from landscape_care.api.door import (
    Door,
    OfficeDoor,
    office_writes,
    one,
    page_of,
    person,
    plain_query,
    query,
    read,
    shown,
    today_in,
)
from landscape_care.api.fields import Body, Day, ModelRow, Number, PageQuery, ProblemRow
from landscape_care.api.problems import row_of
from landscape_care.care import queries as care
from landscape_care.care import weather_book, weather_intake
from landscape_care.care.models import Elsewhere, Observation, WeatherStation
from landscape_care.care.observations import MORE, NEEDED
from landscape_care.properties.books import climate_at
from landscape_care.properties.models import Property
from landscape_care.properties.queries import visible_properties
from landscape_care.trades.limits import Problem, Refused

LARGEST_FILE = 2_000_000
MOST_DAYS = 4000


class StationRow(ModelRow[WeatherStation]):
    """A place whose weather is noted day by day, for the properties near it."""

    class Meta:  # noqa: D106
        model = WeatherStation
        fields = (
            "code",
            "name",
            "latitude_deg",
            "longitude_deg",
            "climate",
            "forecast_url",
            "forecast_taken_at",
            "forecast_from",
            "forecast_trouble",
        )


class StationBody(Body):
    """A new station; its climate is what its days are checked against."""

    code = serializers.RegexField(r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)
    name = serializers.CharField(max_length=120)
    latitude_deg = Number(min_value=-90, max_value=90)
    longitude_deg = Number(min_value=-180, max_value=180)
    climate = serializers.CharField(max_length=40, help_text="Key of a climate, see climates/")
    forecast_url = serializers.CharField(
        max_length=200, required=False, allow_blank=True, help_text="Empty: no forecast is asked for"
    )


class StationList(Door):
    """Weather stations."""

    @told(paged(StationRow), asked=PageQuery)
    def get(self, request: Request) -> Response:
        """List the stations."""
        return page_of(weather_book.visible_stations(person(request)), plain_query(request), StationRow)

    @told(StationRow, takes=StationBody, status=201)
    def post(self, request: Request) -> Response:
        """Begin to keep the weather of a place."""
        by, given = office_writes(request), read(StationBody, request.data)
        try:
            row = weather_intake.add_station(given, by=by)
        except ValueError as nonsense:
            raise Refused([_problem(given, str(nonsense))]) from nonsense
        return shown(row, StationRow, 201)


def _problem(given: dict[str, Any], words: str) -> Problem:
    field = words.split(" ", 1)[0]
    field = field if field in given else "forecast_url"
    return Problem(field, given.get(field), words.partition("wanted ")[2] or words)


class StationDetail(Door):
    """One weather station."""

    @told(StationRow)
    def get(self, request: Request, code: str) -> Response:
        """Show a station."""
        return shown(_station(request, code), StationRow)


class ObservationRow(ModelRow[Observation]):
    """The weather of one day: °F, inches, miles an hour."""

    class Meta:  # noqa: D106
        model = Observation
        fields = ("day", "tmax_f", "tmin_f", "rain_in", "eto_in", "gust_mph")


class ObservationQuery(PageQuery):
    """Which days."""

    first = Day(required=False)
    last = Day(required=False)


class ObservationBody(Body):
    """The weather of one day; the month's usual values decide whether it can be."""

    day = Day()
    tmax_f = Number()
    tmin_f = Number()
    rain_in = Number()
    eto_in = Number(required=False, allow_null=True)
    gust_mph = Number(required=False, allow_null=True)


class ObservationsBody(Body):
    """Days of a station; the same days again change nothing."""

    observations = serializers.ListField(child=ObservationBody(), min_length=1, max_length=MOST_DAYS)


class ObservationFile(Body):
    """A CSV file with the columns day, tmax_f, tmin_f, rain_in and, where measured, eto_in and gust_mph."""

    file = serializers.FileField(max_length=200, allow_empty_file=True)


class TakenRow(serializers.Serializer[Any]):
    """What became of the days: kept, changed, kept out with the reason, and missing between."""

    added = serializers.IntegerField()
    changed = serializers.IntegerField()
    problems = ProblemRow(many=True)
    missing = serializers.ListField(child=Day())


class ObservationList(Door):
    """The days of a station."""

    @told(paged(ObservationRow), asked=ObservationQuery)
    def get(self, request: Request, code: str) -> Response:
        """List the days, the newest first."""
        asked = query(ObservationQuery, request)
        rows = weather_book.visible_days(_station(request, code), asked.get("first"), asked.get("last"))
        return page_of(rows, asked, ObservationRow)

    @told(TakenRow, takes=ObservationsBody)
    def post(self, request: Request, code: str) -> Response:
        """Keep the days that can be; the others come back with what would be right."""
        office_writes(request)
        station = _station(request, code)
        days = read(ObservationsBody, request.data)["observations"]
        return _taken(request, station, _as_csv(days))


class ObservationUpload(OfficeDoor):
    """The days of a station in a file."""

    parser_classes = (parsers.MultiPartParser,)

    @told(TakenRow, takes=ObservationFile)
    def post(self, request: Request, code: str) -> Response:
        """Keep the days of a CSV file that can be; the others come back with what would be right."""
        station, file = _station(request, code), read(ObservationFile, request.data)["file"]
        return _taken(request, station, _text(file))


class AdjustRow(serializers.Serializer[Any]):
    """The seasonal adjust of a zone for the coming fortnight, and the days it rests on."""

    tag = serializers.CharField()
    percent = serializers.IntegerField(help_text="Of what is set on the controller")
    depletion_in = serializers.FloatField(help_text="Water missing in the ground")
    allowed_in = serializers.FloatField(help_text="Water that may be missing before the next run")
    measured_days = serializers.IntegerField()
    bridged_days = serializers.IntegerField(help_text="Days behind that were not measured")
    forecast_days = serializers.IntegerField()
    usual_days = serializers.IntegerField(help_text="Days ahead that are not forecast")


class AheadRow(serializers.Serializer[Any]):
    """What is forecast for a day; null where nothing is said."""

    day = Day()
    tmax_f = serializers.FloatField(allow_null=True)
    tmin_f = serializers.FloatField(allow_null=True)
    gust_mph = serializers.FloatField(allow_null=True)
    rain_in = serializers.FloatField(allow_null=True)
    rain_percent = serializers.FloatField(allow_null=True)


class OtherDaysRow(serializers.Serializer[Any]):
    """Care that people were told for a day that planning would not take now; the office decides."""

    task = serializers.IntegerField(source="task_id")
    told_for = Day()
    opens_on = Day()
    due_on = Day()
    closes_on = Day()
    why = serializers.ChoiceField(choices=Elsewhere.choices)


class PropertyWeatherRow(serializers.Serializer[Any]):
    """The weather behind a property: its station, the fortnight, the days ahead, and told care."""

    station = serializers.CharField(allow_null=True, help_text="Code; null where none stands within 40 km")
    forecast_trouble = serializers.CharField(allow_blank=True)
    adjusts = AdjustRow(many=True)
    missing = serializers.ListField(child=Day(), help_text="Not measured and taken as they usually are")
    unforecast = serializers.ListField(child=Day(), help_text="Not forecast and taken as they usually are")
    ahead = AheadRow(many=True)
    elsewhere = OtherDaysRow(many=True)


class PropertyWeather(OfficeDoor):
    """The weather behind a property."""

    @told(PropertyWeatherRow)
    def get(self, request: Request, code: str) -> Response:
        """Show the seasonal adjust for the coming fortnight, and what the weather wants elsewhere."""
        place: Property = one(visible_properties(person(request)), code=code)
        today, station = today_in(place.time_zone), weather_book.station_of(place)
        coming = weather_book.fortnight(place, today)
        found = {
            "station": station and station.code,
            "forecast_trouble": station.forecast_trouble if station else "",
            "adjusts": coming.adjusts,
            "missing": coming.missing,
            "unforecast": coming.unforecast,
            "ahead": weather_book.ahead_from(station, today) if station else [],
            "elsewhere": care.elsewhere(person(request), today).filter(task__property=place),
        }
        return Response(PropertyWeatherRow(found).data)


def _station(request: Request, code: str) -> WeatherStation:
    row: WeatherStation = one(weather_book.visible_stations(person(request)), code=code)
    return row


def _taken(request: Request, station: WeatherStation, text: str) -> Response:
    today = today_in(climate_at(station.climate).time_zone)
    taken = weather_intake.take_observations(station, text, today=today, by=person(request))
    problems = [row_of(problem) for problem in taken.told.problems]
    found = {"added": taken.added, "changed": taken.changed, "problems": problems}
    return Response(TakenRow({**found, "missing": taken.told.missing}).data)


def _as_csv(days: list[dict[str, Any]]) -> str:
    """The days as the lines of a file, so that one pair of eyes looks at both; the first is row 2."""
    written = io.StringIO()
    lines = csv.DictWriter(written, (*NEEDED, *MORE))
    lines.writeheader()
    lines.writerows(days)
    return written.getvalue()


def _text(file: Any) -> str:
    if file.size is None or file.size > LARGEST_FILE:
        raise Refused([Problem("file", file.name, f"at most {LARGEST_FILE // 1_000_000} MB")])
    try:
        return str(file.read(), "utf-8-sig")
    except UnicodeDecodeError:
        raise Refused([Problem("file", file.name, "text in UTF-8")]) from None
