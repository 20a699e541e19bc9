"""What a month costs as its plan stands, beside the plan before and the month before."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from django.db.models import Sum

from landscape_care.dispatch import queries
from landscape_care.dispatch.models import MonthPlan, PlanState, PreferredCrew
from landscape_care.properties.models import Depot

COMPARED = (PlanState.PROPOSED, PlanState.PUBLISHED, PlanState.SUPERSEDED, PlanState.WITHDRAWN)


@dataclass(frozen=True, kw_only=True)
class Figures:
    """The figures of one plan; driving with the ways back to the depot."""

    visits: int = 0
    unserved: int = 0
    crew_days: int = 0
    service_minutes: int = 0
    drive_minutes: float = 0.0
    drive_miles: float = 0.0
    overtime_minutes: int = 0
    asked_for_crew: int = 0
    by_that_crew: int = 0

    @property
    def visits_per_crew_day(self) -> float | None:
        """How many visits a crew makes on a day that it works."""
        return self.visits / self.crew_days if self.crew_days else None

    @property
    def preferred_share(self) -> float | None:
        """Of the visits at properties that prefer a crew, the share that this crew serves."""
        return self.by_that_crew / self.asked_for_crew if self.asked_for_crew else None

    @property
    def drive_minutes_per_visit(self) -> float | None:
        """Driving for each visit."""
        return self.drive_minutes / self.visits if self.visits else None


def figures_of(plan: MonthPlan) -> Figures:
    """The figures of a plan as it stands now, moves by hand included."""
    stops = list(plan.stops.values_list("crew_id", "day", "arrives_at", "leaves_at", "visit__property_id"))
    driving = plan.stops.aggregate(minutes=Sum("drive_minutes"), miles=Sum("drive_miles"))
    frames = plan.crew_routes.aggregate(
        minutes=Sum("return_minutes"), miles=Sum("return_miles"), overtime=Sum("overtime_minutes")
    )
    preferred = preferred_crews(plan.depot)
    asked = [(crew, preferred[place]) for crew, *_, place in stops if place in preferred]
    return Figures(
        visits=len(stops),
        unserved=plan.unserved.count(),
        crew_days=len({(crew, day) for crew, day, *_ in stops}),
        service_minutes=sum(queries.minute(end) - queries.minute(start) for _, _, start, end, _ in stops),
        drive_minutes=(driving["minutes"] or 0.0) + (frames["minutes"] or 0.0),
        drive_miles=(driving["miles"] or 0.0) + (frames["miles"] or 0.0),
        overtime_minutes=frames["overtime"] or 0,
        asked_for_crew=len(asked),
        by_that_crew=sum(crew == wanted for crew, wanted in asked),
    )


def preferred_crews(depot: Depot) -> Mapping[int, int]:
    """The crew that a property prefers, by property."""
    rows = PreferredCrew.objects.filter(property__depot=depot)
    return dict(rows.values_list("property_id", "crew_id"))


class PlanFigures(NamedTuple):
    """A plan with its figures."""

    plan: MonthPlan
    figures: Figures


@dataclass(frozen=True)
class Compared:
    """A plan beside the one before it and the month before; None where there is none."""

    plan: MonthPlan
    now: Figures
    before: PlanFigures | None
    last_month: PlanFigures | None


def compared(plan: MonthPlan) -> Compared:
    """A plan beside the published one, or else the attempt before it, and beside the month before."""
    earlier = MonthPlan.objects.filter(depot=plan.depot_id, month=plan.month, state__in=COMPARED)
    earlier = earlier.exclude(pk=plan.pk).order_by("-number")
    before = None
    if plan.state == PlanState.PROPOSED:
        before = earlier.filter(state=PlanState.PUBLISHED).first()
    before = before or earlier.filter(number__lt=plan.number).first()
    last = queries.published_plan(plan.depot, queries.month_before(plan.month))
    return Compared(plan, figures_of(plan), _with_figures(before), _with_figures(last))


def _with_figures(plan: MonthPlan | None) -> PlanFigures | None:
    return PlanFigures(plan, figures_of(plan)) if plan else None
