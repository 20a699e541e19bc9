"""Working out what waits: a month as a whole, or the answer to what goes against it."""

from datetime import date

from django.utils import timezone

from landscape_care.dispatch import disruptions, months, roads
from landscape_care.dispatch.models import MonthPlan


def solve_plan(plan_id: int, *, today: date) -> MonthPlan:
    """Solve a waiting plan; a plan that somebody else has taken is left to them."""
    if not MonthPlan.objects.filter(pk=plan_id, disruption__isnull=False).exists():
        return months.solve_with(_whole_month, plan_id, today=today)
    return months.solve_with(_work_out, plan_id, today=today, rest=disruptions.keep_rest)


def _whole_month(plan: MonthPlan, today: date, signs: months.Signs) -> months.Work:
    roads.learn(plan.depot, now=timezone.now())
    return months.work_on_month(plan, today, signs)


def _work_out(plan: MonthPlan, today: date, _: months.Signs) -> months.Work:
    roads.learn(plan.depot, now=timezone.now())
    return disruptions.work_out(plan, today)
