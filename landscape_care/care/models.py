"""Care tasks with their windows, the company's changes to rules, and readings taken on site."""

from typing import ClassVar

from django.db import models

from landscape_care.people.models import User
from landscape_care.properties.models import InstalledThing, Property


class TaskState(models.TextChoices):
    """Where a care task stands. Done and skipped are settled and never change by planning."""

    OPEN = "open", "Open"
    DONE = "done", "Done"
    SKIPPED = "skipped", "Skipped"
    WITHDRAWN = "withdrawn", "Withdrawn"


SETTLED = (TaskState.DONE, TaskState.SKIPPED)


class CareTask(models.Model):
    """One piece of care that should happen on a property inside a window of days.

    `key` names the task for good: thing, rule and occurrence. `series` is the key without
    the occurrence. Rows are written by `care.actions` alone.
    """

    # No index of its own: the two below that begin with the property serve as well.
    property = models.ForeignKey(
        Property, on_delete=models.PROTECT, related_name="care_tasks", db_index=False
    )
    thing = models.ForeignKey(InstalledThing, null=True, on_delete=models.PROTECT, related_name="care_tasks")
    rule = models.CharField(max_length=60)
    stem = models.CharField(max_length=20)
    series = models.CharField(max_length=100)
    occurrence = models.CharField(max_length=30)
    key = models.CharField(max_length=140)
    title = models.CharField(max_length=160)
    title_es = models.CharField(max_length=160)
    opens_on = models.DateField()
    due_on = models.DateField()
    closes_on = models.DateField()
    minutes = models.PositiveIntegerField()
    people = models.PositiveSmallIntegerField(default=1)
    skill = models.CharField(max_length=40)
    cautions = models.JSONField(default=list)
    details = models.JSONField(default=dict, help_text="numbers by name, and lines in en and es")
    state = models.CharField(max_length=10, choices=TaskState.choices, default=TaskState.OPEN)
    held = models.BooleanField(default=False, help_text="The office keeps this window as it is")
    settled_on = models.DateField(null=True, blank=True)
    skip_reason = models.CharField(max_length=200, blank=True)
    revision = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["due_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["property", "key"], name="task_key_unique_on_property"),
            models.CheckConstraint(
                condition=models.Q(due_on__gte=models.F("opens_on"), closes_on__gte=models.F("due_on")),
                name="task_window_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=SETTLED, settled_on__isnull=False)
                | (~models.Q(state__in=SETTLED) & models.Q(settled_on__isnull=True)),
                name="task_settled_has_day",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["state", "due_on"], name="task_state_due"),
            models.Index(fields=["property", "series"], name="task_series"),
        ]

    def __str__(self) -> str:
        return f"{self.title} ({self.opens_on} to {self.closes_on})"


class Elsewhere(models.TextChoices):
    """Why planning would now do told care on other days."""

    WEATHER = "weather", "Weather"
    READING = "reading", "Reading"
    RECORD = "record", "Record, rules or past care"


class OtherDays(models.Model):
    """The days that planning finds right for care that people were told for a day outside of them.

    Told care is not moved by itself; this row points it out to the office.
    """

    task = models.OneToOneField(CareTask, on_delete=models.CASCADE, related_name="other_days")
    told_for = models.DateField()
    opens_on = models.DateField()
    due_on = models.DateField()
    closes_on = models.DateField()
    why = models.CharField(max_length=10, choices=Elsewhere.choices)

    class Meta:
        ordering: ClassVar = ["told_for", "task_id"]

    def __str__(self) -> str:
        return f"{self.task_id}: told for {self.told_for}, wanted {self.opens_on} to {self.closes_on}"


class RuleAdjustment(models.Model):
    """The company's own value for a rule, everywhere or on one property; the newest live row counts."""

    property = models.ForeignKey(
        Property, null=True, blank=True, on_delete=models.PROTECT, related_name="rule_adjustments"
    )
    rule = models.CharField(max_length=60)
    enabled = models.BooleanField(null=True)
    every_days = models.PositiveIntegerField(null=True)
    offset_days = models.SmallIntegerField(null=True)
    minutes = models.PositiveIntegerField(null=True)
    # None leaves the season as it is, like the values above.
    fixed = models.CharField(  # noqa: DJ001
        max_length=12, null=True, help_text="Yearly days that count instead of the season: 03-01..03-21"
    )
    reason = models.CharField(max_length=200)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["property", "rule"],
                condition=models.Q(ended_at=None),
                name="adjustment_one_live_on_property",
            ),
            models.UniqueConstraint(
                fields=["rule"],
                condition=models.Q(ended_at=None, property=None),
                name="adjustment_one_live_for_all",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rule} on {self.property or 'all properties'}"


class OwnRule(models.Model):
    """A care rule of the company's own, kept as the table that `catalog.own_rule` reads."""

    key = models.SlugField(max_length=60, unique=True)
    table = models.JSONField()
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["key"]

    def __str__(self) -> str:
        return self.key


class Reading(models.Model):
    """A measured value of an installed thing, such as a filter pressure in psi."""

    thing = models.ForeignKey(InstalledThing, on_delete=models.PROTECT, related_name="readings")
    quantity = models.CharField(max_length=40)
    value = models.FloatField()
    unit = models.CharField(max_length=20)
    taken_on = models.DateField()
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["-taken_on", "-id"]

    def __str__(self) -> str:
        return f"{self.quantity} {self.value:g} {self.unit} on {self.taken_on}"


class ReportKind(models.TextChoices):
    """What can be reported; the rules that follow from it name these as their event."""

    STORM = "storm", "Storm"
    OWNER_REQUEST = "owner_request", "Request of the owner"
    FAILED_PLANTS = "failed_plants", "Plants that failed"
    FAILED_LAMPS = "failed_lamps", "Lamps that failed"
    LARGE_REFILL = "large_refill", "Large refill of a water feature"


class Report(models.Model):
    """Something that happened on a property, or to one thing of it, and asks for care."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="reports")
    thing = models.ForeignKey(
        InstalledThing, null=True, blank=True, on_delete=models.PROTECT, related_name="reports"
    )
    kind = models.CharField(max_length=20, choices=ReportKind.choices)
    happened_on = models.DateField()
    note = models.CharField(max_length=400, blank=True)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-happened_on", "-id"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=models.Q(kind__in=ReportKind.values), name="report_kind_known")
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.happened_on}"


class WeatherStation(models.Model):
    """A place whose weather is noted day by day, for the properties near it."""

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    latitude_deg = models.FloatField()
    longitude_deg = models.FloatField()
    climate = models.CharField(max_length=40, help_text="Key of the climate to check rows against")
    forecast_url = models.URLField(blank=True, help_text="Empty: no forecast is asked for")
    forecast_asked_at = models.DateTimeField(null=True, blank=True)
    forecast_taken_at = models.DateTimeField(null=True, blank=True)
    forecast_from = models.DateField(
        null=True, blank=True, help_text="First day of the forecast that holds; none where it is too old"
    )
    forecast_trouble = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering: ClassVar = ["code"]

    def __str__(self) -> str:
        return self.name


class Observation(models.Model):
    """The weather of one day at a station, °F, inches and miles an hour; see `observations.DayObserved`."""

    station = models.ForeignKey(WeatherStation, on_delete=models.PROTECT, related_name="observations")
    day = models.DateField()
    tmax_f = models.FloatField()
    tmin_f = models.FloatField()
    rain_in = models.FloatField()
    eto_in = models.FloatField(null=True)
    gust_mph = models.FloatField(null=True)
    known_on = models.DateField(null=True, help_text="When it came in; what is known late sends nobody out")

    class Meta:
        ordering: ClassVar = ["station_id", "-day"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["station", "day"], name="observation_one_a_day"),
            models.CheckConstraint(
                condition=models.Q(rain_in__gte=0, tmax_f__gte=models.F("tmin_f")),
                name="observation_can_be",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.station_id} {self.day}"


class Forecast(models.Model):
    """What is forecast at a station for a day; the next answer takes its place."""

    station = models.ForeignKey(WeatherStation, on_delete=models.PROTECT, related_name="forecasts")
    day = models.DateField()
    tmax_f = models.FloatField(null=True)
    tmin_f = models.FloatField(null=True)
    gust_mph = models.FloatField(null=True)
    rain_in = models.FloatField(null=True)
    rain_percent = models.FloatField(null=True)

    class Meta:
        ordering: ClassVar = ["station_id", "day"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["station", "day"], name="forecast_one_a_day"),
        ]

    def __str__(self) -> str:
        return f"{self.station_id} {self.day}"
