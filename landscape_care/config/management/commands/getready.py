"""Compile the search over days ahead of the first month that is planned."""

from typing import Any

from django.core.management.base import BaseCommand

from landscape_care.dispatch.month_search import make_ready


class Command(BaseCommand):
    """`python3 manage.py getready`."""

    help = (
        "Compile the search over days, so that the first month planned on this machine does not wait for it. "
        "What is compiled is kept beside the code, or in the folder that NUMBA_CACHE_DIR names."
    )
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        """Compile, or find it compiled."""
        make_ready()
