"""The care room as a Django app."""

from django.apps import AppConfig
from django.core.checks import register


class CareConfig(AppConfig):
    """Named after the room; its rules are checked at start."""

    name = "landscape_care.care"
    label = "care"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Have the rules checked with everything else."""
        from landscape_care.care.checks import check_rules

        register(check_rules)
