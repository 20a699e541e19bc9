"""Background calls of the dispatch room; each is safe to run twice."""

from celery import shared_task
from django.utils import timezone

from landscape_care.dispatch import actions, letters, queries, what_ifs
from landscape_care.dispatch.models import MonthPlan, WhatIf


@shared_task
def solve_waiting() -> None:
    """Solve what waits, and what a solver that has gone away left behind."""
    actions.free_abandoned(timezone.now())
    for plan_id in queries.waiting_plans().values_list("pk", flat=True):
        solve_one(plan_id)
    what_ifs.free_abandoned(timezone.now())
    for number in what_ifs.waiting().values_list("pk", flat=True):
        solve_what_if(number)


@shared_task
def solve_one(plan_id: int) -> None:
    """Solve one plan on the day it is at its depot."""
    plan = MonthPlan.objects.select_related("depot").get(pk=plan_id)
    actions.solve_plan(plan_id, today=queries.today_at(plan.depot, timezone.now()))


@shared_task
def solve_what_if(number: int) -> None:
    """Work one what-if out, from the day it is at its depot."""
    row = WhatIf.objects.select_related("depot").get(pk=number)
    what_ifs.solve(number, today=queries.today_at(row.depot, timezone.now()))


@shared_task
def send_letters() -> None:
    """Send the letters that wait."""
    letters.send_waiting(timezone.now())
