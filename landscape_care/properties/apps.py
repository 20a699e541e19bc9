"""The properties room as a Django app."""

from django.apps import AppConfig


class PropertiesConfig(AppConfig):
    """Named after the room."""

    name = "landscape_care.properties"
    label = "properties"
    default_auto_field = "django.db.models.BigAutoField"
