"""Addresses in the stock admin: to look at; issuing and revoking are actions."""

from django.contrib import admin
from django.http import HttpRequest

from landscape_care.calendars.models import Address


@admin.register(Address)
class AddressAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    """Who may read which calendar, and who did."""

    list_display = (
        "audience",
        "name",
        "hint",
        "language",
        "issued_at",
        "revoked_at",
        "last_read_at",
        "last_reader",
    )
    list_filter = ("audience", "language")
    exclude = ("digest",)

    def has_add_permission(self, request: HttpRequest) -> bool:
        """Refuse: a row made here would have no token."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Address | None = None) -> bool:
        """Refuse: the audience of an address never changes."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Address | None = None) -> bool:
        """Refuse: an address is revoked and stays known."""
        return False
