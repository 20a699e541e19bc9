"""The record for superusers, to look at: every change goes through the actions, which keep its history."""

from django.contrib import admin

from landscape_care.people.admin import LookOnly
from landscape_care.properties.models import Agreement, Client, Depot, InstalledThing, Property, ThingChange


@admin.register(Client)
class ClientAdmin(LookOnly):
    """Owners and managers."""

    list_display = ("code", "name", "language")
    search_fields = ("code", "name")


@admin.register(Depot)
class DepotAdmin(LookOnly):
    """Yards."""

    list_display = ("code", "name", "time_zone")


@admin.register(Property)
class PropertyAdmin(LookOnly):
    """Gardens, without their gate codes."""

    list_display = ("code", "name", "client", "depot", "climate", "planned_through")
    list_filter = ("depot", "climate")
    search_fields = ("code", "name", "street")
    exclude = ("gate_code",)


@admin.register(Agreement)
class AgreementAdmin(LookOnly):
    """What owners pay for."""

    list_display = ("property", "cadence", "weekdays")
    list_filter = ("cadence",)


@admin.register(InstalledThing)
class InstalledThingAdmin(LookOnly):
    """All installed things."""

    list_display = ("property", "tag", "kind", "name", "installed_on", "removed_on")
    list_filter = ("kind",)
    search_fields = ("tag", "name", "property__code")


@admin.register(ThingChange)
class ThingChangeAdmin(LookOnly):
    """History of the record."""

    list_display = ("at", "thing", "field", "was", "now", "by", "reason")
    list_filter = ("field",)
