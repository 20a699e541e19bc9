"""The people room as a Django app."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """Named after the room."""

    name = "landscape_care.people"
    label = "people"
    default_auto_field = "django.db.models.BigAutoField"
