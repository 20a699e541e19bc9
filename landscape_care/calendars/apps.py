"""The calendars room as a Django app."""

from django.apps import AppConfig


class CalendarsConfig(AppConfig):
    """Named after the room."""

    name = "landscape_care.calendars"
    label = "calendars"
    default_auto_field = "django.db.models.BigAutoField"
