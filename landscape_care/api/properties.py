"""Clients, depots, properties and their as-built record."""

from typing import Any

from django.db.models import Q, QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import parsers, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.answers import Attachment, RawRenderer
from landscape_care.api.description import paged, told
from landscape_care.api.door import (
    Door,
    OfficeDoor,
    chosen,
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
from landscape_care.api.fields import Body, Day, Identity, ModelRow, PageQuery
from landscape_care.api.records import (
    ANY_KIND,
    MANY_KINDS,
    as_json,
    changes_for,
    fields_from,
    values_for,
)
from landscape_care.properties import actions, queries
from landscape_care.properties.books import climate_at
from landscape_care.properties.findings import WATCH, WRONG, findings
from landscape_care.properties.models import Agreement, Cadence, Client, Depot, Photo, Property, ThingChange
from landscape_care.properties.records import KNOWN_STEMS, ClientRecord, DepotRecord, PropertyRecord
from landscape_care.trades.garden_water import garden_water
from landscape_care.trades.kinds import KINDS, Thing
from landscape_care.visits.queries import visible_photos

# --- Clients and depots -----------------------------------------------------------------------


class ClientRow(ModelRow[Client]):
    """An owner or manager."""

    class Meta:  # noqa: D106
        model = Client
        fields = ("code", "name", "language", "email", "phone", "note")


ClientBody = type("ClientBody", (Body,), {"__doc__": "A new client.", **fields_from(ClientRecord)})


class ClientList(OfficeDoor):
    """Owners and managers; for the office, because their addresses are here."""

    @told(paged(ClientRow), asked=PageQuery)
    def get(self, request: Request) -> Response:
        """List the clients."""
        return page_of(queries.visible_clients(person(request)), plain_query(request), ClientRow)

    @told(ClientRow, takes=ClientBody, status=201)
    def post(self, request: Request) -> Response:
        """Add a client."""
        row = actions.add_client(read(ClientBody, request.data), by=office_writes(request))
        return shown(row, ClientRow, 201)


class ClientDetail(OfficeDoor):
    """One client."""

    @told(ClientRow)
    def get(self, request: Request, code: str) -> Response:
        """Show a client."""
        return shown(one(queries.visible_clients(person(request)), code=code), ClientRow)


class DepotRow(ModelRow[Depot]):
    """A yard where crews start."""

    class Meta:  # noqa: D106
        model = Depot
        fields = (
            "code",
            "name",
            "latitude_deg",
            "longitude_deg",
            "time_zone",
            "holiday_region",
            "holidays_worked",
        )


DepotBody = type("DepotBody", (Body,), {"__doc__": "A new depot.", **fields_from(DepotRecord)})


class DepotList(Door):
    """Yards where crews start."""

    @told(paged(DepotRow), asked=PageQuery)
    def get(self, request: Request) -> Response:
        """List the depots."""
        return page_of(queries.visible_depots(person(request)), plain_query(request), DepotRow)

    @told(DepotRow, takes=DepotBody, status=201)
    def post(self, request: Request) -> Response:
        """Add a depot."""
        by = office_writes(request)
        return shown(actions.add_depot(read(DepotBody, request.data), by=by), DepotRow, 201)


class DepotDetail(Door):
    """One depot."""

    @told(DepotRow)
    def get(self, request: Request, code: str) -> Response:
        """Show a depot."""
        return shown(one(queries.visible_depots(person(request)), code=code), DepotRow)


# --- Properties -------------------------------------------------------------------------------


class AgreementRow(ModelRow[Agreement]):
    """How often, on which weekdays (1 Monday to 7 Sunday) and for which kinds of care somebody comes."""

    stems = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:  # noqa: D106
        model = Agreement
        fields = ("cadence", "weekdays", "stems", "least_days", "most_days")


class PropertyRow(ModelRow[Property]):
    """A property without its gate code and access note, which belong to the day of a visit."""

    client = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    depot = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    agreement = serializers.SerializerMethodField()

    class Meta:  # noqa: D106
        model = Property
        fields = (
            "code",
            "name",
            "client",
            "depot",
            "street",
            "town",
            "latitude_deg",
            "longitude_deg",
            "elevation_m",
            "time_zone",
            "climate",
            "access_opens",
            "access_closes",
            "watering_weekdays",
            "watering_opens",
            "watering_closes",
            "static_pressure_psi",
            "supply_gpm",
            "care_starts_on",
            "care_ends_on",
            "planned_through",
            "agreement",
        )

    @extend_schema_field(AgreementRow(allow_null=True))
    def get_agreement(self, row: Property) -> Any:
        """The agreement, or null while there is none."""
        agreement = getattr(row, "agreement", None)
        return AgreementRow(agreement).data if agreement else None


class PropertyQuery(PageQuery):
    """Which properties."""

    depot = serializers.SlugField(required=False, help_text="Code of a depot")
    client = serializers.SlugField(required=False, help_text="Code of a client")
    search = serializers.CharField(required=False, max_length=80, help_text="Part of a code, name or street")


PropertyBody = type("PropertyBody", (Body,), {"__doc__": "A new property.", **fields_from(PropertyRecord)})
PropertyChangeBody = type(
    "PropertyChangeBody",
    (Body,),
    {
        "__doc__": "What changed of a property, and why.",
        **fields_from(PropertyRecord, leave_out=("code",), required=False),
        "reason": serializers.CharField(max_length=200),
    },
)


class AgreementBody(Body):
    """How often somebody comes, on which weekdays and for which kinds of care; no kinds means all."""

    cadence = serializers.ChoiceField(Cadence.choices)
    weekdays = serializers.RegexField("^[1-7]{1,7}$", default="12345")
    stems = serializers.ListField(
        child=serializers.ChoiceField(KNOWN_STEMS), default=list, max_length=len(KNOWN_STEMS)
    )
    least_days = serializers.IntegerField(min_value=1, max_value=366, default=None, allow_null=True)
    most_days = serializers.IntegerField(min_value=1, max_value=366, default=None, allow_null=True)


class PropertyList(Door):
    """Gardens and courtyards under care."""

    @told(paged(PropertyRow), asked=PropertyQuery)
    def get(self, request: Request) -> Response:
        """List the properties."""
        asked = query(PropertyQuery, request)
        return page_of(_found(queries.visible_properties(person(request)), asked), asked, PropertyRow)

    @told(PropertyRow, takes=PropertyBody, status=201)
    def post(self, request: Request) -> Response:
        """Add a property; empty climate, elevation and time zone are taken from its place and depot."""
        by, given = office_writes(request), read(PropertyBody, request.data)
        depot = chosen(queries.visible_depots(by), "depot", code=given["depot"])
        row = actions.add_property(given, by=by, today=today_in(depot.time_zone))
        return shown(row, PropertyRow, 201)


def _found(rows: QuerySet[Property], asked: dict[str, Any]) -> QuerySet[Property]:
    if "depot" in asked:
        rows = rows.filter(depot__code=asked["depot"])
    if "client" in asked:
        rows = rows.filter(client__code=asked["client"])
    if word := asked.get("search"):
        rows = rows.filter(Q(code__icontains=word) | Q(name__icontains=word) | Q(street__icontains=word))
    return rows


def property_coded(request: Request, code: str) -> Property:
    """The property of an address, if the person may see it."""
    row: Property = one(queries.visible_properties(person(request)), code=code)
    return row


class PropertyDetail(Door):
    """One property."""

    @told(PropertyRow)
    def get(self, request: Request, code: str) -> Response:
        """Show a property."""
        return shown(property_coded(request, code), PropertyRow)

    @told(PropertyRow, takes=PropertyChangeBody)
    def patch(self, request: Request, code: str) -> Response:
        """Change what is known of a place; care is planned again."""
        by, row = office_writes(request), property_coded(request, code)
        given = read(PropertyChangeBody, request.data)
        reason = given.pop("reason")
        return shown(actions.change_property(row, given, reason=reason, by=by), PropertyRow)


class PropertyAgreement(Door):
    """What the owner pays for."""

    @told(AgreementRow, takes=AgreementBody)
    def put(self, request: Request, code: str) -> Response:
        """Set the agreement; care is planned again."""
        by, row = office_writes(request), property_coded(request, code)
        agreement = actions.set_agreement(row, **read(AgreementBody, request.data), by=by)
        return shown(agreement, AgreementRow)


class FindingRow(serializers.Serializer[Any]):
    """A fault of the record, with what would mend it."""

    tag = serializers.CharField()
    severity = serializers.ChoiceField((WATCH, WRONG))
    message_en = serializers.CharField()
    message_es = serializers.CharField()
    remedy_en = serializers.CharField()
    remedy_es = serializers.CharField()


class PropertyFindings(Door):
    """What the record says is wrong."""

    @told(FindingRow(many=True))
    def get(self, request: Request, code: str) -> Response:
        """List what the record of a property says is wrong today."""
        record = queries.as_built(property_coded(request, code))
        found = findings(record, climate_at(record.climate), today=today_in(record.time_zone))
        return Response(FindingRow(found, many=True).data)


class ZoneWaterRow(serializers.Serializer[Any]):
    """What a zone needs, and what its programs give it, by month of a usual year, January first."""

    tag = serializers.CharField()
    controller = serializers.CharField()
    needed_by_month_gal = serializers.ListField(child=serializers.FloatField())
    set_by_month_gal = serializers.ListField(child=serializers.FloatField())
    needed_in_a_year_gal = serializers.FloatField()
    set_in_a_year_gal = serializers.FloatField()


class PropertyWater(Door):
    """The water of a garden."""

    @told(ZoneWaterRow(many=True))
    def get(self, request: Request, code: str) -> Response:
        """List the water of each zone by month and year, gallons, where it can be computed."""
        record = queries.as_built(property_coded(request, code))
        zones = garden_water(record, climate_at(record.climate), today_in(record.time_zone))
        return Response(ZoneWaterRow(zones, many=True).data)


# --- Installed things -------------------------------------------------------------------------


class ThingQuery(Body):
    """Which installed things."""

    kind = serializers.ChoiceField(tuple(KINDS), required=False)
    standing_on = Day(required=False, help_text="Only what was installed on this day")


class ThingChangeBody(Body):
    """New values of some fields, and why."""

    values = serializers.DictField(allow_empty=False, help_text="Fields of the kind with their new values")
    reason = serializers.CharField(max_length=200)


class RemovalBody(Body):
    """The day a thing went, and why."""

    on = Day()
    reason = serializers.CharField(max_length=200)


class ThingChangeRow(ModelRow[ThingChange]):
    """One change of one field."""

    by = serializers.SlugRelatedField[Any](slug_field="username", read_only=True, allow_null=True)
    was = serializers.JSONField(read_only=True)
    now = serializers.JSONField(read_only=True)

    class Meta:  # noqa: D106
        model = ThingChange
        fields = ("at", "by", "field", "was", "now", "reason")


class PropertyThings(Door):
    """The as-built record: everything that was ever installed, with its numbers and dates."""

    @told(MANY_KINDS, asked=ThingQuery)
    def get(self, request: Request, code: str) -> Response:
        """List the installed things of a property in tag order."""
        asked = query(ThingQuery, request)
        things = queries.as_built(property_coded(request, code)).things
        return Response([as_json(thing) for thing in things if _wanted(thing, asked)])

    @told(ANY_KIND, takes=ANY_KIND, status=201)
    def post(self, request: Request, code: str) -> Response:
        """Install a thing; references are numbers of other things of the property."""
        by, row = office_writes(request), property_coded(request, code)
        kind, values = values_for(request.data)
        thing = actions.install(row, kind, values, by=by)
        return Response(as_json(queries.record_of(thing)), status=201)


def _wanted(thing: Thing, asked: dict[str, Any]) -> bool:
    if "kind" in asked and thing.kind != asked["kind"]:
        return False
    return "standing_on" not in asked or thing.stands_on(asked["standing_on"])


class ThingDetail(Door):
    """One installed thing."""

    @told(ANY_KIND)
    def get(self, request: Request, number: int) -> Response:
        """Show an installed thing."""
        return Response(as_json(queries.record_of(one(queries.visible_things(person(request)), pk=number))))

    @told(ANY_KIND, takes=ThingChangeBody)
    def patch(self, request: Request, number: int) -> Response:
        """Change some fields; what they were stays in the history."""
        by = office_writes(request)
        thing, given = one(queries.visible_things(by), pk=number), read(ThingChangeBody, request.data)
        values = changes_for(thing.kind, given["values"])
        changed = actions.change(thing, values, reason=given["reason"], by=by)
        return Response(as_json(queries.record_of(changed)))


class ThingRemoval(Door):
    """The end of an installed thing; its row and its history stay."""

    @told(ANY_KIND, takes=RemovalBody)
    def post(self, request: Request, number: int) -> Response:
        """Note the day a thing went."""
        by = office_writes(request)
        thing = one(queries.visible_things(by), pk=number)
        removed = actions.remove(thing, **read(RemovalBody, request.data), by=by)
        return Response(as_json(queries.record_of(removed)))


class ThingHistory(Door):
    """What changed on an installed thing."""

    @told(paged(ThingChangeRow), asked=PageQuery)
    def get(self, request: Request, number: int) -> Response:
        """List the changes, the newest first."""
        thing = one(queries.visible_things(person(request)), pk=number)
        return page_of(thing.changes.select_related("by"), plain_query(request), ThingChangeRow)


# --- Photos -----------------------------------------------------------------------------------


class PhotoRow(ModelRow[Photo]):
    """A picture; its bytes lie at `photos/<id>/picture/`."""

    property = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    thing = serializers.PrimaryKeyRelatedField[Any](read_only=True, allow_null=True)

    class Meta:  # noqa: D106
        model = Photo
        fields = ("id", "property", "thing", "caption", "taken_at")


class PhotoBody(Body):
    """A JPEG, PNG or WebP picture of at most 12 MB; it is kept without what the camera wrote into it."""

    picture = serializers.FileField()
    caption = serializers.CharField(max_length=160, required=False, allow_blank=True)
    thing = Identity(required=False, help_text="Number of an installed thing of the property")


class PropertyPhotos(Door):
    """Pictures of a property."""

    parser_classes = (parsers.MultiPartParser,)

    @told(paged(PhotoRow), asked=PageQuery)
    def get(self, request: Request, code: str) -> Response:
        """List the pictures, the newest first."""
        rows = visible_photos(person(request)).filter(property=property_coded(request, code))
        return page_of(rows, plain_query(request), PhotoRow)

    @told(PhotoRow, takes=PhotoBody, status=201)
    def post(self, request: Request, code: str) -> Response:
        """Add a picture."""
        row, given = property_coded(request, code), read(PhotoBody, request.data)
        number = given.get("thing")
        things = queries.visible_things(person(request)).filter(property=row)
        thing = chosen(things, "thing", pk=number) if number else None
        photo = actions.add_photo(
            row, given["picture"], thing=thing, caption=given.get("caption", ""), by=person(request)
        )
        return shown(photo, PhotoRow, 201)


class PhotoPicture(Door):
    """The bytes of a picture, for those who may see the property."""

    renderer_classes = (RawRenderer,)

    @told(bytes, media="image/jpeg")
    def get(self, request: Request, number: int) -> Response:
        """Fetch a picture."""
        photo = one(visible_photos(person(request)), pk=number)
        with photo.picture.open("rb") as file:
            return Attachment(file.read(), media_type="image/jpeg", name=f"photo-{photo.pk}.jpg")
