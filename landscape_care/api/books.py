"""Plants and climates to choose from: those that come along and the company's own."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.almanac.anchors import NAMED_WINDOWS, windows_in_year
from landscape_care.almanac.climate import Climate, climates
from landscape_care.almanac.refusals import OWN_PREFIX
from landscape_care.api.description import paged, told
from landscape_care.api.door import Door, OfficeDoor, office_writes, one, person, query, read, today_in
from landscape_care.api.fields import Body, Day, PageQuery, ReasonBody
from landscape_care.api.problems import Conflict
from landscape_care.api.records import fields_from
from landscape_care.properties import book_entries, books, queries
from landscape_care.properties.models import OwnClimate, OwnPlant
from landscape_care.properties.records import ClimateRecord
from landscape_care.trades.plants import GROUPS, Plant, plants

_KEPT = ("key",)


class BookQuery(PageQuery):
    """Which of them."""

    own = serializers.BooleanField(required=False, help_text="Only the company's own, or only the others")
    search = serializers.CharField(required=False, max_length=80, help_text="Part of a key or name")


def _part(found: Sequence[dict[str, Any]], asked: dict[str, Any], shown_by: Any) -> Response:
    first, last = asked["offset"], asked["offset"] + asked["limit"]
    rows = shown_by(found[first:last], many=True).data
    next_offset = last if last < len(found) else None
    return Response({"count": len(found), "next_offset": next_offset, "results": rows})


def _matches(row: dict[str, Any], asked: dict[str, Any], names: Iterable[str]) -> bool:
    if "own" in asked and asked["own"] != row["own"]:
        return False
    word = asked.get("search", "").casefold()
    return any(word in str(row[name]).casefold() for name in names)


def _own_row(rows: QuerySet[Any], key: str, along: Plant | Climate | None) -> Any:
    """The row of an own key; what came along stays as it is."""
    if along is not None:
        raise Conflict(f"{key} came along and stays as it is; add one of your own beside it.")
    return one(rows, key=key)


# --- Plants -----------------------------------------------------------------------------------

PlantRow = type(
    "PlantRow",
    (serializers.Serializer,),
    {
        "__doc__": "A kind of plant, with the source of its figures.",
        **fields_from(Plant),
        "own": serializers.BooleanField(help_text="The company's own"),
        "retired": serializers.BooleanField(help_text="No longer offered"),
    },
)
PlantBody = type(
    "PlantBody",
    (Body,),
    {"__doc__": "A new plant of the company's own; its key begins with own-.", **fields_from(Plant)},
)
PlantChangeBody = type(
    "PlantChangeBody",
    (Body,),
    {
        "__doc__": "Other figures of an own plant, and why.",
        **fields_from(Plant, leave_out=_KEPT, required=False),
        "reason": serializers.CharField(max_length=200),
    },
)


class PlantQuery(BookQuery):
    """Which plants."""

    group = serializers.ChoiceField(GROUPS, required=False)


def _told_plant(plant: Plant, *, retired: bool = False) -> dict[str, Any]:
    return {**asdict(plant), "own": plant.key.startswith(OWN_PREFIX), "retired": retired}


def _own_plant(row: OwnPlant) -> dict[str, Any]:
    return _told_plant(books.as_plant(row), retired=row.ended_at is not None)


class PlantList(Door):
    """The plants of the catalog and the company's own."""

    @told(paged(PlantRow), asked=PlantQuery)
    def get(self, request: Request) -> Response:
        """List the plants, the company's own last."""
        asked = query(PlantQuery, request)
        rows = [_told_plant(plant) for plant in plants().values()]
        rows += map(_own_plant, queries.visible_own_plants(person(request)))
        names = ("key", "botanical", "common", "common_es")
        found = [row for row in rows if _matches(row, asked, names)]
        found = [row for row in found if asked.get("group") in (None, row["group"])]
        return _part(found, asked, PlantRow)

    @told(PlantRow, takes=PlantBody, status=201)
    def post(self, request: Request) -> Response:
        """Add a plant of the company's own."""
        by = office_writes(request)
        row = book_entries.add_plant(read(PlantBody, request.data), by=by)
        return Response(PlantRow(_own_plant(row)).data, status=201)


class PlantDetail(Door):
    """One plant."""

    may_conflict = True

    @told(PlantRow)
    def get(self, request: Request, key: str) -> Response:
        """Show a plant."""
        if (plant := plants().get(key)) is not None:
            return Response(PlantRow(_told_plant(plant)).data)
        row = one(queries.visible_own_plants(person(request)), key=key)
        return Response(PlantRow(_own_plant(row)).data)

    @told(PlantRow, takes=PlantChangeBody)
    def patch(self, request: Request, key: str) -> Response:
        """Change an own plant; care of the gardens it stands in is planned again."""
        by, given = office_writes(request), read(PlantChangeBody, request.data)
        row = _the_plant(request, key)
        changed = book_entries.change_plant(row, given, reason=given.pop("reason"), by=by)
        return Response(PlantRow(_own_plant(changed)).data)


class PlantRetirement(OfficeDoor):
    """Offering an own plant no more."""

    may_conflict = True

    @told(PlantRow, takes=ReasonBody)
    def post(self, request: Request, key: str) -> Response:
        """Retire an own plant that stands nowhere."""
        reason, row = read(ReasonBody, request.data)["reason"], _the_plant(request, key)
        retired = book_entries.retire_plant(row, reason=reason, by=person(request))
        return Response(PlantRow(_own_plant(retired)).data)


class PlantReturn(OfficeDoor):
    """Offering an own plant again."""

    may_conflict = True

    @told(PlantRow)
    def post(self, request: Request, key: str) -> Response:
        """Offer a plant that was retired."""
        row = book_entries.offer_again(_the_plant(request, key), by=person(request))
        return Response(PlantRow(_own_plant(row)).data)


def _the_plant(request: Request, key: str) -> Any:
    along = plants().get(key)
    return _own_row(queries.visible_own_plants(person(request)), key, along)


# --- Climates ---------------------------------------------------------------------------------


class WindowRow(serializers.Serializer[Any]):
    """The days of one named window in a year."""

    name = serializers.CharField()
    opens_on = Day()
    closes_on = Day()


_CLIMATE_ROW = {
    "__doc__": "A usual year, January first, with the source of its figures.",
    **fields_from(ClimateRecord),
    "own": serializers.BooleanField(help_text="The company's own"),
    "retired": serializers.BooleanField(help_text="No longer offered"),
    "band": serializers.CharField(help_text="How hard the winter is: mild, cool or cold"),
}
ClimateRow = type("ClimateRow", (serializers.Serializer,), dict(_CLIMATE_ROW))
ClimateWithWindows = type(
    "ClimateWithWindows", (serializers.Serializer,), {**_CLIMATE_ROW, "windows": WindowRow(many=True)}
)
ClimateBody = type(
    "ClimateBody",
    (Body,),
    {
        "__doc__": "A new climate of the company's own; its key begins with own-.",
        **fields_from(ClimateRecord),
    },
)
ClimateChangeBody = type(
    "ClimateChangeBody",
    (Body,),
    {
        "__doc__": "Other figures of an own climate, and why.",
        **fields_from(ClimateRecord, leave_out=_KEPT, required=False),
        "reason": serializers.CharField(max_length=200),
    },
)


def _told_climate(place: Climate, *, retired: bool = False) -> dict[str, Any]:
    return {
        **asdict(place),
        "last_frost": place.last_frost or "",
        "first_frost": place.first_frost or "",
        "own": place.key.startswith(OWN_PREFIX),
        "retired": retired,
        "band": place.band,
    }


def _own_climate(row: OwnClimate) -> dict[str, Any]:
    return _told_climate(books.record_of(row).climate, retired=row.ended_at is not None)


def _windows(place: Climate, today: date) -> list[dict[str, Any]]:
    return [
        {"name": name, "opens_on": opens, "closes_on": closes}
        for name in NAMED_WINDOWS
        for opens, closes in windows_in_year(name, place, today.year)
    ]


class ClimateList(Door):
    """The climates that came along and the company's own."""

    @told(paged(ClimateRow), asked=BookQuery)
    def get(self, request: Request) -> Response:
        """List the climates, the company's own last."""
        asked = query(BookQuery, request)
        rows = [_told_climate(each) for each in climates().values()]
        rows += map(_own_climate, queries.visible_own_climates(person(request)))
        return _part([row for row in rows if _matches(row, asked, ("key", "name"))], asked, ClimateRow)

    @told(ClimateRow, takes=ClimateBody, status=201)
    def post(self, request: Request) -> Response:
        """Add a climate of the company's own."""
        by = office_writes(request)
        row = book_entries.add_climate(read(ClimateBody, request.data), by=by)
        return Response(ClimateRow(_own_climate(row)).data, status=201)


class ClimateDetail(Door):
    """One climate."""

    may_conflict = True

    @told(ClimateWithWindows)
    def get(self, request: Request, key: str) -> Response:
        """Show a climate with its named windows of this year."""
        if (along := climates().get(key)) is not None:
            place, row = along, _told_climate(along)
        else:
            own = one(queries.visible_own_climates(person(request)), key=key)
            place, row = books.record_of(own).climate, _own_climate(own)
        windows = _windows(place, today_in(place.time_zone))
        return Response(ClimateWithWindows({**row, "windows": windows}).data)

    @told(ClimateRow, takes=ClimateChangeBody)
    def patch(self, request: Request, key: str) -> Response:
        """Change an own climate; care of the gardens in it is planned again."""
        by, given = office_writes(request), read(ClimateChangeBody, request.data)
        row = _the_climate(request, key)
        changed = book_entries.change_climate(row, given, reason=given.pop("reason"), by=by)
        return Response(ClimateRow(_own_climate(changed)).data)


class ClimateRetirement(OfficeDoor):
    """Offering an own climate no more."""

    may_conflict = True

    @told(ClimateRow, takes=ReasonBody)
    def post(self, request: Request, key: str) -> Response:
        """Retire an own climate in which no garden lies."""
        reason, row = read(ReasonBody, request.data)["reason"], _the_climate(request, key)
        retired = book_entries.retire_climate(row, reason=reason, by=person(request))
        return Response(ClimateRow(_own_climate(retired)).data)


class ClimateReturn(OfficeDoor):
    """Offering an own climate again."""

    may_conflict = True

    @told(ClimateRow)
    def post(self, request: Request, key: str) -> Response:
        """Offer a climate that was retired."""
        row = book_entries.offer_again(_the_climate(request, key), by=person(request))
        return Response(ClimateRow(_own_climate(row)).data)


def _the_climate(request: Request, key: str) -> Any:
    return _own_row(queries.visible_own_climates(person(request)), key, climates().get(key))
