"""The dispatch room as a Django app."""

from django.apps import AppConfig


class DispatchConfig(AppConfig):
    """Named after the room."""

    name = "landscape_care.dispatch"
    label = "dispatch"
    default_auto_field = "django.db.models.BigAutoField"
