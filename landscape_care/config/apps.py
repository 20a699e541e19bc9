"""Bind background work to this installation when Django starts."""

from django.apps import AppConfig


class StartingConfig(AppConfig):
    """Load Celery with Django, so that every process enqueues to the same broker."""

    name = "landscape_care.config"
    label = "config"

    def ready(self) -> None:
        """Load the Celery application."""
        from . import celery  # noqa: F401
