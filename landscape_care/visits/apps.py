"""The visits room as a Django app."""

from django.apps import AppConfig


class VisitsConfig(AppConfig):
    """Named after the room."""

    name = "landscape_care.visits"
    label = "visits"
    default_auto_field = "django.db.models.BigAutoField"
