"""Tables of the visits room for superusers, to look at: changes go through actions."""

from django.contrib import admin

from landscape_care.people.admin import LookOnly
from landscape_care.visits.models import BundlingRun, Completion, DayRequest, TimeMark, Visit, VisitTask


class VisitLook(LookOnly):
    """Visits with their state and day."""

    list_display = ("property", "slot", "state", "day", "crew_name", "opens_on", "closes_on", "revision")
    list_filter = ("state",)


class CompletionLook(LookOnly):
    """What crews noted."""

    list_display = ("task", "visit", "outcome", "done_on", "by")
    list_filter = ("outcome",)


admin.site.register(Visit, VisitLook)
admin.site.register(Completion, CompletionLook)
admin.site.register((VisitTask, BundlingRun, DayRequest, TimeMark), LookOnly)
