"""Addresses in the stock admin: to look at; issuing and revoking are actions."""

from django.contrib import admin

from landscape_care.calendars.models import Address
from landscape_care.people.admin import LookOnly


@admin.register(Address)
class AddressAdmin(LookOnly):
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
