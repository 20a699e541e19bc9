"""The care room for the superuser, to look only: what changes goes through actions."""

from django.contrib import admin

from landscape_care.care.models import (
    CareTask,
    Forecast,
    Observation,
    OwnRule,
    Reading,
    Report,
    RuleAdjustment,
    WeatherStation,
)
from landscape_care.people.admin import LookOnly


@admin.register(CareTask)
class CareTaskAdmin(LookOnly):
    """Care tasks."""

    list_display = (
        "key",
        "property",
        "title",
        "opens_on",
        "due_on",
        "closes_on",
        "state",
        "held",
        "revision",
    )
    list_filter = ("state", "stem", "skill", "held")
    search_fields = ("key", "title", "property__code")
    list_select_related = ("property",)


@admin.register(RuleAdjustment)
class RuleAdjustmentAdmin(LookOnly):
    """The company's own values."""

    list_display = (
        "rule",
        "property",
        "enabled",
        "every_days",
        "offset_days",
        "minutes",
        "fixed",
        "reason",
        "ended_at",
    )
    list_filter = ("rule",)


@admin.register(Reading)
class ReadingAdmin(LookOnly):
    """Readings."""

    list_display = ("thing", "quantity", "value", "unit", "taken_on", "by")
    list_filter = ("quantity",)


@admin.register(Report)
class ReportAdmin(LookOnly):
    """Reports."""

    list_display = ("property", "kind", "happened_on", "thing", "note", "by", "withdrawn_at")
    list_filter = ("kind",)


@admin.register(OwnRule)
class OwnRuleAdmin(LookOnly):
    """Rules of the company's own."""

    list_display = ("key", "by", "at", "ended_at")


@admin.register(WeatherStation)
class WeatherStationAdmin(LookOnly):
    """Weather stations."""

    list_display = ("code", "name", "climate")


@admin.register(Observation)
class ObservationAdmin(LookOnly):
    """Days of weather."""

    list_display = ("station", "day", "tmax_f", "tmin_f", "rain_in", "eto_in", "gust_mph")
    list_filter = ("station",)


@admin.register(Forecast)
class ForecastAdmin(LookOnly):
    """Days ahead."""

    list_display = ("station", "day", "tmax_f", "tmin_f", "gust_mph")
