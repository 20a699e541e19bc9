"""Reads of the changes of colour that are ahead."""

from datetime import date

from django.contrib.auth.models import AnonymousUser

from landscape_care.care.colour_orders import KindOrder, PocketOrder, by_kind
from landscape_care.care.models import CareTask, TaskState
from landscape_care.care.queries import visible_tasks
from landscape_care.people.models import User


def orders(user: User | AnonymousUser, today: date, *, lead_days: int) -> list[KindOrder]:
    """What to order for the changes of colour whose window is not over."""
    rows = visible_tasks(user).filter(state=TaskState.OPEN, details__has_key="colour", closes_on__gte=today)
    return by_kind([_pocket(task) for task in rows.order_by("opens_on", "id")], lead_days)


def _pocket(task: CareTask) -> PocketOrder:
    colour, numbers = task.details["colour"], task.details["numbers"]
    return PocketOrder(
        task_id=task.pk,
        property_code=task.property.code,
        property_name=task.property.name,
        tag=task.thing.tag if task.thing else "",
        outgoing=colour["out"],
        incoming=colour["in"],
        bed=colour["bed"],
        exposure=colour["exposure"],
        plants=int(numbers["plants"]),
        flats=int(numbers["flats"]),
        compost_yd3=numbers.get("compost_yd3", 0.0),
        opens_on=task.opens_on,
        closes_on=task.closes_on,
    )
