"""Celery calls of the properties room: ids only, safe to run twice."""

from celery import shared_task
from django.utils import timezone

from landscape_care.properties import record_checks


@shared_task
def check_due() -> None:
    """Ask for a look at every record that changed or was not looked at today, a few at a time."""
    waiting = list(record_checks.to_check(timezone.now().date()).values_list("pk", flat=True))
    for start in range(0, len(waiting), record_checks.AT_ONCE):
        check_some.enqueue(waiting[start : start + record_checks.AT_ONCE])  # type: ignore[attr-defined]


@shared_task
def check_some(property_ids: list[int]) -> None:
    """Look at some records."""
    record_checks.check_together(property_ids, timezone.now().date())
