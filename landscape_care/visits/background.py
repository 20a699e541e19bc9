"""Background calls of the visits room; each is safe to run twice."""

from celery import shared_task
from django.utils import timezone

from landscape_care.properties.models import Property
from landscape_care.visits import actions, queries


@shared_task
def bundle_due() -> None:
    """Bundle every property whose tasks changed or that was not bundled today."""
    for property_id in queries.properties_waiting(timezone.now(), horizon_days=actions.HORIZON_DAYS):
        bundle_one.enqueue(property_id)  # type: ignore[attr-defined]


@shared_task
def bundle_one(property_id: int) -> None:
    """Bundle one property on the day it has there."""
    zone = Property.objects.get(pk=property_id).zone()
    actions.bundle_property(property_id, today=timezone.localdate(timezone=zone))
