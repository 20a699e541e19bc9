"""Tables of the dispatch room for superusers, to look at: changes go through actions."""

from django.contrib import admin

from landscape_care.dispatch.models import (
    Closure,
    Crew,
    CrewDayOff,
    CrewHours,
    CrewRoute,
    Disruption,
    Letter,
    MonthPlan,
    RoadLeg,
    RoadTrouble,
    Stop,
    Unserved,
    WhatIf,
)
from landscape_care.people.admin import LookOnly


class CrewLook(LookOnly):
    """Crews with people, shift and skills."""

    list_display = ("code", "name", "depot", "people", "skills", "shift_opens", "shift_closes", "active")


class PlanLook(LookOnly):
    """Attempts at a month."""

    list_display = ("depot", "month", "number", "state", "asked_at", "solved_at", "published_at")
    list_filter = ("depot", "state")


class StopLook(LookOnly):
    """Stops of all plans."""

    list_display = ("day", "crew", "position", "visit", "arrives_at", "leaves_at", "held", "version")
    list_filter = ("crew",)


admin.site.register(Crew, CrewLook)
admin.site.register(MonthPlan, PlanLook)
admin.site.register(Stop, StopLook)
admin.site.register(
    (
        Closure,
        CrewDayOff,
        CrewHours,
        CrewRoute,
        Disruption,
        Letter,
        RoadLeg,
        RoadTrouble,
        Unserved,
        WhatIf,
    ),
    LookOnly,
)
