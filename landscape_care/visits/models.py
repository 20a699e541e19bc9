"""Visits that bundle care tasks, and the log of what crews did."""

import uuid
from typing import ClassVar

from django.db import models

from landscape_care.care.models import CareTask
from landscape_care.people.models import User
from landscape_care.properties.models import Photo, Property


class VisitState(models.TextChoices):
    """Where a visit stands. People are told about published, done and withdrawn ones."""

    PLANNED = "planned", "Planned"
    PUBLISHED = "published", "Published"
    DONE = "done", "Done"
    WITHDRAWN = "withdrawn", "Withdrawn"


class Visit(models.Model):
    """One stop at a property that settles several care tasks.

    `slot` names the visit for good (the week or month of the agreement it serves, and the
    skill when one crew cannot do all). `day`, `arrives_at`, `leaves_at` and `crew_name` are
    what people were told; a proposal of dispatch does not touch them.
    """

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="visits")
    slot = models.CharField(max_length=60)
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    opens_on = models.DateField()
    closes_on = models.DateField()
    weekdays = models.CharField(max_length=7, default="12345")
    minutes = models.PositiveIntegerField()
    people = models.PositiveSmallIntegerField(default=1)
    skills = models.JSONField(default=list)
    state = models.CharField(max_length=10, choices=VisitState.choices, default=VisitState.PLANNED)
    day = models.DateField(null=True, blank=True)
    arrives_at = models.TimeField(null=True, blank=True)
    leaves_at = models.TimeField(null=True, blank=True)
    crew_name = models.CharField(max_length=80, blank=True)
    moved_from = models.DateField(null=True, blank=True)
    announced = models.BooleanField(default=False, help_text="People have been told at least once")
    withdrawn_reason = models.CharField(max_length=200, blank=True)
    notes = models.JSONField(default=list, help_text="What the office should know, as pairs of en and es")
    revision = models.PositiveIntegerField(default=0)
    urgent = models.BooleanField(default=False, help_text="An urgent call: bundling leaves it as it is")
    changed_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["opens_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["property", "slot"], name="visit_slot_unique_on_property"),
            models.CheckConstraint(
                condition=models.Q(closes_on__gte=models.F("opens_on")), name="visit_window_in_order"
            ),
            models.CheckConstraint(
                condition=~models.Q(state="published")
                | models.Q(day__isnull=False, arrives_at__isnull=False, leaves_at__isnull=False),
                name="visit_published_has_time",
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["state", "day"], name="visit_state_day")]

    def __str__(self) -> str:
        return f"{self.property} {self.slot}"


class BundlingRun(models.Model):
    """When the care tasks of a property were last bundled, so that a sweep knows where work waits."""

    property = models.OneToOneField(Property, on_delete=models.PROTECT, related_name="bundling_run")
    at = models.DateTimeField()
    on_day = models.DateField()
    through = models.DateField()

    def __str__(self) -> str:
        return f"{self.property} bundled {self.at:%Y-%m-%d %H:%M}"


class VisitTask(models.Model):
    """A care task inside a visit; a task is in one visit at a time."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="visit_tasks")
    task = models.OneToOneField(CareTask, on_delete=models.PROTECT, related_name="visit_task")

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.visit}: {self.task}"


class Outcome(models.TextChoices):
    """What a crew says of a care task."""

    DONE = "done", "Done"
    SKIPPED = "skipped", "Could not do"
    FOLLOW_UP = "follow_up", "Done, needs follow-up"


class Completion(models.Model):
    """What was really done for one care task; the id is made by the sender, so it may be sent twice."""

    id = models.UUIDField(primary_key=True)
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="completions")
    task = models.ForeignKey(CareTask, on_delete=models.PROTECT, related_name="completions")
    outcome = models.CharField(max_length=10, choices=Outcome.choices)
    reason = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)
    readings = models.JSONField(default=list)
    settings_left = models.JSONField(default=dict)
    done_on = models.DateField()
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    body_digest = models.CharField(max_length=64)
    photos = models.ManyToManyField(Photo, blank=True, related_name="completions")

    class Meta:
        ordering: ClassVar = ["-recorded_at"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~models.Q(outcome="skipped") | ~models.Q(reason=""),
                name="completion_skip_has_reason",
            )
        ]

    def __str__(self) -> str:
        return f"{self.task} {self.outcome}"


class TimeSort(models.TextChoices):
    """What a crew's clock says of a visit."""

    STARTED = "started", "Work started"
    FINISHED = "finished", "Work finished"


class TimeMark(models.Model):
    """A crew began or ended its work on a visit; the id is made by the sender, so it may be sent twice."""

    id = models.UUIDField(primary_key=True)
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="time_marks")
    sort = models.CharField(max_length=10, choices=TimeSort.choices)
    at = models.DateTimeField(help_text="By the clock of the phone, or of the server without scripts")
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering: ClassVar = ["at", "recorded_at"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=models.Q(sort__in=TimeSort.values), name="time_mark_sort_known")
        ]

    def __str__(self) -> str:
        return f"{self.visit} {self.sort} {self.at:%Y-%m-%d %H:%M}"


class DayRequest(models.Model):
    """An owner's wish for another day of a visit; it moves nothing by itself, the office decides."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="day_requests")
    day = models.DateField(help_text="The day that does not suit")
    words = models.CharField(max_length=300, blank=True, help_text="Which days suit, in the owner's words")
    asked_at = models.DateTimeField(auto_now_add=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    answer = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar = ["day", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["visit"], condition=models.Q(settled_at=None), name="day_request_one_open"
            )
        ]

    def __str__(self) -> str:
        return f"{self.visit}: another day than {self.day}"
