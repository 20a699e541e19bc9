"""Celery calls of the care room: ids only, safe to run twice."""

from celery import shared_task
from django.utils import timezone

from landscape_care.care import actions, queries
from landscape_care.properties.models import Property


@shared_task
def plan_due() -> None:
    """Ask for a plan of every property that wants one; one that fails stops no other."""
    for property_id in queries.to_plan(timezone.now().date()).values_list("pk", flat=True):
        plan_one.delay(property_id)


@shared_task
def plan_one(property_id: int) -> None:
    """Plan the care of one property as of the day it is there."""
    place = Property.objects.get(pk=property_id)
    actions.plan_care(property_id, today=timezone.localdate(timezone=place.zone()))
