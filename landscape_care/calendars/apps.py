"""The calendars room as a Django app."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class CalendarsConfig(AppConfig):
    """Named after the room."""

    name = "landscape_care.calendars"
    label = "calendars"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Watch what calendars tell, except while tables are being rebuilt."""
        from landscape_care.calendars.watching import start_watching, stop_watching

        pre_migrate.connect(stop_watching, sender=self, dispatch_uid="calendars stop watching")
        post_migrate.connect(start_watching, sender=self, dispatch_uid="calendars start watching")
