"""The heartbeat of background work."""

from celery import shared_task
from django.core.cache import cache
from django.utils import timezone

from landscape_care.config.health import BEAT


@shared_task
def note_beat() -> None:
    """Note that beat, broker and worker are alive."""
    cache.set(BEAT, timezone.now(), timeout=None)
