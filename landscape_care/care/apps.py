"""The care room as a Django app."""

from django.apps import AppConfig


class CareConfig(AppConfig):
    """Named after the room."""

    name = "landscape_care.care"
    label = "care"
    default_auto_field = "django.db.models.BigAutoField"
