"""Tables of the visits room for superusers, to look at: changes go through actions."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from landscape_care.visits.models import BundlingRun, Completion, Visit, VisitTask


class LookOnly(admin.ModelAdmin):  # type: ignore[type-arg]
    """Shows rows and changes none."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        """Nothing is added here."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nothing is changed here."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nothing is deleted anywhere."""
        return False


class VisitLook(LookOnly):
    """Visits with their state and day."""

    list_display = ("property", "slot", "state", "day", "crew_name", "opens_on", "closes_on", "revision")
    list_filter = ("state",)


class CompletionLook(LookOnly):
    """What crews noted."""

    list_display = ("task", "visit", "outcome", "done_on", "by")
    list_filter = ("outcome",)


admin.site.register(Visit, VisitLook)
admin.site.register(Completion, CompletionLook)
admin.site.register((VisitTask, BundlingRun), LookOnly)
