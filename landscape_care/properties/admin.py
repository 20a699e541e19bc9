"""The record for superusers, to look at: every change goes through the actions, which keep its history."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from landscape_care.properties.models import Agreement, Client, Depot, InstalledThing, Property, ThingChange


class LookOnly(admin.ModelAdmin):  # type: ignore[type-arg]
    """A table that is shown and not written."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        """Rows come from actions alone."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Actions change rows, with a reason and a name."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nothing of the record is deleted."""
        return False


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
