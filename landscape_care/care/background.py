"""Celery calls of the care room: ids only, safe to run twice."""

import logging
from collections.abc import Iterable
from datetime import date

from celery import shared_task
from django.utils import timezone

from landscape_care.care import actions, forecast_asking, queries
from landscape_care.properties.models import Property

log = logging.getLogger(__name__)


@shared_task
def plan_due() -> None:
    """Ask for a plan of every property that wants one, a few at a time."""
    for property_ids in queries.to_plan_together(timezone.now().date()):
        plan_some.enqueue(property_ids)  # type: ignore[attr-defined]


@shared_task
def plan_some(property_ids: list[int]) -> None:
    """Plan those of some properties that still want it, each as of the day it is there."""
    for today, waiting in queries.still_to_plan(property_ids, timezone.now()).items():
        planned = _planned_together(waiting, today)
        # What somebody else is writing is waited for alone, and so is what spoiled it for the others.
        for property_id in waiting:
            if property_id not in planned:
                plan_one.enqueue(property_id)  # type: ignore[attr-defined]


def _planned_together(property_ids: Iterable[int], today: date) -> set[int]:
    try:
        return set(actions.plan_together(property_ids, today=today))
    except Exception:
        log.warning("A plan of several properties failed; each is planned alone.", exc_info=True)
        return set()


@shared_task
def plan_one(property_id: int) -> None:
    """Plan the care of one property as of the day it is there."""
    place = Property.objects.get(pk=property_id)
    actions.plan_care(property_id, today=timezone.localdate(timezone=place.zone()))


@shared_task
def ask_forecasts() -> None:
    """Ask for the forecast of every station that has an address for it and was not asked for lately."""
    for station_id in forecast_asking.stations_to_ask(timezone.now()).values_list("pk", flat=True):
        ask_forecast.enqueue(station_id)  # type: ignore[attr-defined]


@shared_task
def ask_forecast(station_id: int) -> None:
    """Ask for the forecast of one station; trouble is kept with it."""
    forecast_asking.ask_for(station_id, now=timezone.now())
