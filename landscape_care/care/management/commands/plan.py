"""Plan the care of one property or of all."""

from argparse import ArgumentParser
from collections.abc import Iterable
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from landscape_care.care import actions, queries
from landscape_care.properties.models import Property


class Command(BaseCommand):
    """`python3 manage.py plan [--property CODE] [--dry-run]`."""

    help = "Plan the care of one property or of all, as the clock does every minute where it is wanted."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Which property, and whether to write."""
        parser.add_argument("--property", metavar="CODE", help="Only the property with this code")
        parser.add_argument("--dry-run", action="store_true", help="Say what would change and write nothing")
        parser.add_argument(
            "--today", type=date.fromisoformat, help="Plan as of this day, such as 2027-03-01"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Print one line for each property."""
        for place in self._places(options["property"]):
            today = options["today"] or timezone.localdate(timezone=place.zone())
            report = preview(place, today) if options["dry_run"] else actions.plan_care(place.pk, today=today)
            self.stdout.write(
                f"{place.code}: {report.added} added, {report.moved} moved, {report.withdrawn} withdrawn"
            )

    def _places(self, code: str | None) -> Iterable[Property]:
        places = Property.objects.order_by("code")
        found = places if code is None else places.filter(code=code)
        if code is not None and not found:
            raise CommandError(f"property {code!r} is unknown: use the code of a property")
        return found


def preview(place: Property, today: date) -> actions.PlanReport:
    """Count what planning would change."""
    changes = queries.changes_wanted(place, today=today, through=queries.horizon(place, today))
    return actions.PlanReport(len(changes.add), len(changes.move), len(changes.withdraw))
