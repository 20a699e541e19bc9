"""Background calls of the calendars room; each is safe to run twice."""

from celery import shared_task

from landscape_care.calendars import actions


@shared_task
def sweep_notes() -> None:
    """Keep the notes of changes few, so that counting them stays cheap."""
    actions.sweep_notes()
