"""Crews, and the months planned for them."""

from typing import ClassVar

from django.db import models

from landscape_care.people.models import User
from landscape_care.properties.models import Client, Depot, Property
from landscape_care.visits.models import Visit


class Crew(models.Model):
    """People with a vehicle who leave a depot, drive a route and come back."""

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="crews")
    people = models.PositiveSmallIntegerField(default=2)
    skills = models.JSONField(default=list)
    shift_opens = models.TimeField()
    shift_closes = models.TimeField()
    break_minutes = models.PositiveSmallIntegerField(default=30)
    weekdays = models.CharField(max_length=7, default="12345", help_text="1 Monday to 7 Sunday")
    payload_lb = models.FloatField(
        null=True, blank=True, help_text="What the vehicle carries; empty: not asked"
    )
    bed_yd3 = models.FloatField(null=True, blank=True, help_text="What its bed holds; empty: not asked")
    heat_opens = models.TimeField(
        null=True, blank=True, help_text="On hot days the shift may begin from; empty: never earlier"
    )
    members = models.ManyToManyField(User, blank=True, related_name="crews")
    active = models.BooleanField(default=True)

    class Meta:
        ordering: ClassVar = ["depot_id", "code"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(shift_closes__gt=models.F("shift_opens")), name="crew_shift_in_order"
            )
        ]

    def __str__(self) -> str:
        return self.name


class PreferredCrew(models.Model):
    """The crew that a property knows and would rather have; dispatch pays a price for another one."""

    property = models.OneToOneField(Property, on_delete=models.PROTECT, related_name="preferred_crew")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="preferred_by")

    def __str__(self) -> str:
        return f"{self.property}: {self.crew}"


class CrewDayOff(models.Model):
    """A day on which a crew does not work."""

    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="days_off")
    day = models.DateField()
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["crew", "day"], name="crew_day_off_once")]

    def __str__(self) -> str:
        return f"{self.crew} off on {self.day}"


class PlanState(models.TextChoices):
    """Where the plan of a month stands."""

    WAITING = "waiting", "Waiting to be solved"
    SOLVING = "solving", "Being solved"
    PROPOSED = "proposed", "Proposed"
    PUBLISHED = "published", "Published"
    SUPERSEDED = "superseded", "Replaced"
    FAILED = "failed", "Failed"
    WITHDRAWN = "withdrawn", "Withdrawn"


class MonthPlan(models.Model):
    """One attempt at a depot's month; at most one of them is published at a time."""

    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="month_plans")
    month = models.DateField(help_text="First day of the month")
    number = models.PositiveIntegerField(help_text="1, 2, 3 ... within depot and month")
    state = models.CharField(max_length=12, choices=PlanState.choices, default=PlanState.WAITING)
    seconds_allowed = models.PositiveIntegerField(default=20)
    summary = models.JSONField(default=dict)
    asked_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    claimed_at = models.DateTimeField(null=True, blank=True, help_text="When solving began")
    heard_at = models.DateTimeField(null=True, blank=True, help_text="The solver's last sign of life")
    progress = models.JSONField(default=dict, help_text="Share done, best so far")
    stop_wanted = models.BooleanField(default=False, help_text="End solving and keep the best so far")
    solved_at = models.DateTimeField(null=True, blank=True)
    published_at = models.DateTimeField(null=True, blank=True)
    failure = models.CharField(max_length=300, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar = ["-month", "depot_id", "-number"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["depot", "month", "number"], name="plan_number_unique"),
            models.UniqueConstraint(
                fields=["depot", "month"], condition=models.Q(state="published"), name="plan_one_published"
            ),
            models.CheckConstraint(condition=models.Q(month__day=1), name="plan_month_is_first_day"),
        ]

    def __str__(self) -> str:
        return f"{self.depot} {self.month:%Y-%m} no. {self.number}"


class Stop(models.Model):
    """A visit on a crew's route on one day of a plan."""

    plan = models.ForeignKey(MonthPlan, on_delete=models.PROTECT, related_name="stops")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="stops")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="stops")
    day = models.DateField()
    position = models.PositiveSmallIntegerField(help_text="1 is the first stop of the day")
    drive_minutes = models.FloatField(default=0, help_text="From the stop before, or from the depot")
    drive_miles = models.FloatField(default=0)
    arrives_at = models.TimeField()
    leaves_at = models.TimeField()
    held = models.BooleanField(default=False, help_text="Day and crew stay as they are when planned again")
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering: ClassVar = ["day", "crew_id", "position"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["plan", "visit"], name="stop_visit_once_in_plan"),
            models.CheckConstraint(
                condition=models.Q(leaves_at__gt=models.F("arrives_at")), name="stop_takes_time"
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["crew", "day"], name="stop_crew_day")]

    def __str__(self) -> str:
        return f"{self.day} {self.crew} {self.position}: {self.visit}"


class CrewRoute(models.Model):
    """What frames the stops of a crew's day: leaving the depot, the way back, and overtime.

    `version` counts changes of the order of the day.
    """

    plan = models.ForeignKey(MonthPlan, on_delete=models.PROTECT, related_name="crew_routes")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="crew_routes")
    day = models.DateField()
    starts_at = models.TimeField()
    ends_at = models.TimeField()
    return_minutes = models.FloatField(default=0)
    return_miles = models.FloatField(default=0)
    overtime_minutes = models.PositiveSmallIntegerField(default=0)
    version = models.PositiveIntegerField(default=0)
    changed_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["day", "crew_id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["plan", "crew", "day"], name="crew_route_once_in_plan")
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.crew}"


class Unserved(models.Model):
    """A visit that a plan could not place, with the reason in words."""

    plan = models.ForeignKey(MonthPlan, on_delete=models.PROTECT, related_name="unserved")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    reason_es = models.CharField(max_length=200)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["plan", "visit"], name="unserved_once_in_plan")
        ]

    def __str__(self) -> str:
        return f"{self.visit}: {self.reason}"


# --- What goes against the plan -----------------------------------------------------------------------


class DisruptionKind(models.TextChoices):
    """What makes a published month change."""

    RAIN = "rain", "Rain"
    HEAT = "heat", "Heat"
    CREW_AWAY = "crew_away", "Crew away"
    VEHICLE_DOWN = "vehicle_down", "Vehicle down"
    PROPERTY_CLOSED = "property_closed", "Property closed"
    URGENT_CALL = "urgent_call", "Urgent call"


class Disruption(models.Model):
    """Something that hits a published month, and the plan that answers it.

    Nobody is told and nothing holds before it is confirmed; `seen` is what the answer was worked
    out from, so that it is confirmed only while that still stands.
    """

    kind = models.CharField(max_length=16, choices=DisruptionKind.choices)
    first_day = models.DateField()
    last_day = models.DateField()
    crews = models.ManyToManyField(Crew, blank=True, related_name="disruptions")
    property = models.ForeignKey(
        Property, null=True, blank=True, on_delete=models.PROTECT, related_name="disruptions"
    )
    opens_at = models.TimeField(null=True, blank=True, help_text="Heat: crews start at")
    closes_at = models.TimeField(null=True, blank=True, help_text="Heat: crews are back by")
    visit = models.ForeignKey(
        Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="disruptions"
    )
    words = models.CharField(max_length=200, blank=True)
    base = models.ForeignKey(MonthPlan, on_delete=models.PROTECT, related_name="disruptions")
    plan = models.OneToOneField(MonthPlan, on_delete=models.PROTECT, related_name="disruption")
    seen = models.CharField(max_length=64, blank=True)
    asked_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    confirmed_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(last_day__gte=models.F("first_day")), name="disruption_days_in_order"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.first_day}"


class CrewHours(models.Model):
    """Other hours of a crew on one day, such as an early end in the heat."""

    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="other_hours")
    day = models.DateField()
    opens_at = models.TimeField()
    closes_at = models.TimeField()
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["crew", "day"], name="crew_hours_once"),
            models.CheckConstraint(
                condition=models.Q(closes_at__gt=models.F("opens_at")), name="crew_hours_in_order"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.crew} {self.day}"


class Closure(models.Model):
    """Days on which nobody may enter a property."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="closures")
    first_day = models.DateField()
    last_day = models.DateField()
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(last_day__gte=models.F("first_day")), name="closure_days_in_order"
            )
        ]

    def __str__(self) -> str:
        return f"{self.property} closed {self.first_day}"


# --- Letters --------------------------------------------------------------------------------------------


class LetterState(models.TextChoices):
    """Where a letter stands."""

    WAITING = "waiting", "Waiting"
    SENDING = "sending", "Being sent"
    SENT = "sent", "Sent"
    FAILED = "failed", "Failed"


class Letter(models.Model):
    """A mail about changed visits, written with the change itself and sent afterwards, once.

    A letter that was being sent when its sender died stays `sending`: it may have left, so it is
    not sent again by itself.
    """

    key = models.CharField(max_length=120, unique=True, help_text="What it is about and to whom")
    client = models.ForeignKey(
        Client, null=True, blank=True, on_delete=models.PROTECT, related_name="letters"
    )
    person = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="letters")
    address = models.EmailField()
    subject = models.CharField(max_length=160)
    body = models.TextField()
    state = models.CharField(max_length=8, choices=LetterState.choices, default=LetterState.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    written_at = models.DateTimeField(auto_now_add=True)
    send_after = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    failure = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar = ["-id"]
        indexes: ClassVar = [models.Index(fields=["state", "send_after"], name="letter_state_after")]

    def __str__(self) -> str:
        return f"{self.subject} to {self.address}"


# --- Roads ----------------------------------------------------------------------------------------------


class RoadLeg(models.Model):
    """The drive from one place to another as a road engine told it; no minutes where no road leads.

    Places are written to the fourth decimal of a degree, some eleven metres.
    """

    source = models.CharField(max_length=200, help_text="The address of the engine")
    start = models.CharField(max_length=24)
    end = models.CharField(max_length=24)
    minutes = models.FloatField(null=True)
    miles = models.FloatField(null=True)
    asked_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["source", "start", "end"], name="road_leg_once"),
            models.CheckConstraint(
                condition=models.Q(minutes=None, miles=None) | models.Q(minutes__gte=0, miles__gte=0),
                name="road_leg_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.start} to {self.end}"


class RoadTrouble(models.Model):
    """Why a road engine gave no answer when it was last asked; empty words when it did."""

    source = models.CharField(max_length=200, unique=True)
    asked_at = models.DateTimeField()
    words = models.CharField(max_length=300, blank=True)
    words_es = models.CharField(max_length=300, blank=True)

    def __str__(self) -> str:
        return f"{self.source}: {self.words or 'answers'}"


# --- What if --------------------------------------------------------------------------------------------


class WhatIfState(models.TextChoices):
    """Where a what-if stands."""

    WAITING = "waiting", "Waiting to be worked out"
    SOLVING = "solving", "Being worked out"
    DONE = "done", "Worked out"
    FAILED = "failed", "Failed"
    WITHDRAWN = "withdrawn", "Withdrawn"


class WhatIf(models.Model):
    """A copy of some months of a depot with something changed, beside the months as they are.

    It touches no plan, no visit and no crew: everything it finds is in `answer`.
    """

    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="what_ifs")
    first_month = models.DateField(help_text="First day of the first month")
    months = models.PositiveSmallIntegerField(default=1)
    changes = models.JSONField(default=dict)
    seconds_allowed = models.PositiveIntegerField(default=60)
    state = models.CharField(max_length=12, choices=WhatIfState.choices, default=WhatIfState.WAITING)
    progress = models.JSONField(default=dict, help_text="Share done")
    stop_wanted = models.BooleanField(default=False, help_text="End and keep the months done so far")
    answer = models.JSONField(default=dict)
    failure = models.CharField(max_length=300, blank=True)
    asked_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    heard_at = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(months__gte=1, months__lte=12), name="what_if_one_to_twelve_months"
            ),
            models.CheckConstraint(
                condition=models.Q(first_month__day=1), name="what_if_begins_on_first_day"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.depot} {self.first_month:%Y-%m}, {self.months} months"
