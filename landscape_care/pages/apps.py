"""The pages room as a Django app."""

from django.apps import AppConfig


class PagesConfig(AppConfig):
    """Named after the room."""

    name = "landscape_care.pages"
    label = "pages"
    default_auto_field = "django.db.models.BigAutoField"
