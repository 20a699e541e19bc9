"""People for superusers. The log is shown and never changed."""

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest

from landscape_care.people.models import AuditEntry, User


@admin.register(User)
class PersonAdmin(UserAdmin):  # type: ignore[type-arg]
    """Users with their role and language."""

    list_display = ("username", "first_name", "role", "language", "is_active")
    list_filter = ("role", "is_active")
    fieldsets = (*(UserAdmin.fieldsets or ()), ("Role", {"fields": ("role", "language")}))
    add_fieldsets = (*UserAdmin.add_fieldsets, ("Role", {"fields": ("role", "language")}))


class LookOnly(admin.ModelAdmin):  # type: ignore[type-arg]
    """Rows to read; what changes goes through the actions of the rooms."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        """Nobody adds here."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody changes here."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody deletes here."""
        return False


@admin.register(AuditEntry)
class AuditEntryAdmin(LookOnly):
    """Who did what, newest first."""

    list_display = ("at", "by", "verb", "subject")
    list_filter = ("verb",)
    search_fields = ("subject",)
