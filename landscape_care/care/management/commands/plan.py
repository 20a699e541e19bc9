"""Plan the care of one property or of all, or say first what that would change."""

from argparse import ArgumentParser
from collections.abc import Iterable
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from landscape_care.care import actions, queries
from landscape_care.care.plan_preview import Difference, by_rule, differences, told
from landscape_care.care.reconciliation import Changes
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
        """Print one line for each property; before it is done, each change, and the count by rule."""
        all_found: list[Difference] = []
        for place in self._places(options["property"]):
            today = options["today"] or timezone.localdate(timezone=place.zone())
            if options["dry_run"]:
                all_found += self._preview(place, today)
                continue
            self._say(place, actions.plan_care(place.pk, today=today))
        if options["dry_run"]:
            self._sum_up(all_found)

    def _preview(self, place: Property, today: date) -> list[Difference]:
        changes = changes_now(place, today)
        self._say(place, actions.PlanReport.of(changes))
        found = list(differences(changes))
        for each in found:
            self.stdout.write(f"  {each.rule}: {each.kind}: {each.key}: {each.words}")
        return found

    def _say(self, place: Property, report: actions.PlanReport) -> None:
        self.stdout.write(
            f"{place.code}: {report.added} added, {report.moved} moved, {report.withdrawn} withdrawn"
        )

    def _sum_up(self, found: list[Difference]) -> None:
        self.stdout.write("By rule:" if found else "Nothing would change.")
        for rule, counts in by_rule(found).items():
            self.stdout.write(f"  {rule}: {told(counts)}")

    def _places(self, code: str | None) -> Iterable[Property]:
        places = Property.objects.order_by("code")
        found = places if code is None else places.filter(code=code)
        if code is not None and not found:
            raise CommandError(f"property {code!r} is unknown: use the code of a property")
        return found


def changes_now(place: Property, today: date) -> Changes:
    """What planning would change; nothing is written."""
    return queries.changes_wanted(place, today=today, through=queries.horizon(place, today))
