"""The api room as a Django app."""

from django.apps import AppConfig


class ApiConfig(AppConfig):
    """Named after the room."""

    name = "landscape_care.api"
    label = "api"
    default_auto_field = "django.db.models.BigAutoField"
