"""Secret addresses under which people subscribe to calendars."""

from typing import ClassVar

from django.db import models

from landscape_care.calendars.options import Options
from landscape_care.dispatch.models import Crew
from landscape_care.people.models import Language
from landscape_care.properties.models import Client, Depot, Property


class Audience(models.TextChoices):
    """Whom a feed is for; it decides what is told."""

    PROPERTY = "property", "One property, for its owner"
    CLIENT = "client", "All properties of a client"
    CREW = "crew", "A crew"
    DEPOT = "depot", "A depot"
    COMPANY = "company", "The whole company"


class Shows(models.TextChoices):
    """What a calendar shows of all that its audience may see."""

    ALL = "all", "Visits and care of the season"
    VISITS = "visits", "Visits alone"
    SEASONS = "seasons", "Care of the season alone"
    WINDOWS = "windows", "Every care window"
    TODOS = "todos", "Every care window as a list to do"


class Address(models.Model):
    """One secret address; only the SHA-256 of its token is kept, so it can be shown only when issued."""

    digest = models.CharField(max_length=64, unique=True)
    hint = models.CharField(max_length=8, help_text="First letters of the token, to tell addresses apart")
    audience = models.CharField(max_length=10, choices=Audience.choices)
    property = models.ForeignKey(Property, null=True, on_delete=models.PROTECT, related_name="addresses")
    client = models.ForeignKey(Client, null=True, on_delete=models.PROTECT, related_name="addresses")
    crew = models.ForeignKey(Crew, null=True, on_delete=models.PROTECT, related_name="addresses")
    depot = models.ForeignKey(Depot, null=True, on_delete=models.PROTECT, related_name="addresses")
    name = models.CharField(max_length=80)
    language = models.CharField(max_length=2, choices=Language.choices, default=Language.ENGLISH)
    issued_at = models.DateTimeField(auto_now_add=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_read_at = models.DateTimeField(null=True, blank=True)
    last_reader = models.CharField(max_length=80, blank=True)
    shows = models.CharField(max_length=8, choices=Shows.choices, default=Shows.ALL)
    stems = models.JSONField(default=list, blank=True, help_text="Kinds of care; none for all")
    past_days = models.PositiveSmallIntegerField(null=True, blank=True, help_text="How far back, in days")
    ahead_days = models.PositiveSmallIntegerField(null=True, blank=True, help_text="How far ahead, in days")
    alarm_minutes = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Minutes before a visit at which an alarm sounds; empty for none"
    )
    version = models.PositiveIntegerField(default=0, help_text="Grows when what is shown is chosen anew")

    class Meta:  # noqa: D106 - the table's own rules
        ordering: ClassVar = ["id"]
        verbose_name_plural = "addresses"
        constraints: ClassVar = [
            models.CheckConstraint(
                name="address_fits_audience",
                condition=(
                    models.Q(audience="property", property__isnull=False, client=None, crew=None, depot=None)
                    | models.Q(audience="client", client__isnull=False, property=None, crew=None, depot=None)
                    | models.Q(audience="crew", crew__isnull=False, property=None, client=None, depot=None)
                    | models.Q(audience="depot", depot__isnull=False, property=None, client=None, crew=None)
                    | models.Q(audience="company", property=None, client=None, crew=None, depot=None)
                ),
            )
        ]

    def __str__(self) -> str:
        return f"{self.audience} {self.name} ({self.hint}…)"

    def options(self) -> Options:
        """What was chosen for this address."""
        return Options(
            shows=self.shows,
            stems=tuple(self.stems),
            past_days=self.past_days,
            ahead_days=self.ahead_days,
            alarm_minutes=self.alarm_minutes,
        )


class CalendarFile(models.Model):
    """The file of an address as it was last told: what is sent, and what was told of each entry.

    Moments are whole seconds since 1970 in UTC, as Last-Modified has them.
    """

    address = models.OneToOneField(
        Address, primary_key=True, on_delete=models.CASCADE, related_name="calendar_file"
    )
    made_of = models.CharField(max_length=120, help_text="Mark of the rows and the code it was made from")
    fresh_until_s = models.BigIntegerField(help_text="When the day ends there and another day is shown")
    changed_s = models.BigIntegerField(help_text="When the file first differed from the one before")
    tag = models.CharField(max_length=64, help_text="Digest of the file")
    size = models.PositiveIntegerField(help_text="Bytes")
    zipped_size = models.PositiveIntegerField(help_text="Bytes with gzip")
    zipped = models.BinaryField(help_text="The file with gzip")
    told = models.BinaryField(help_text="What was told of each entry, and the index of the sheets")

    def __str__(self) -> str:
        return f"file of {self.address}"


class Change(models.Model):
    """That something which calendars tell was changed; written by triggers of the database alone.

    `about` is `property:<number>`, `all` or `routes`; the row `watching` stands while the triggers do.
    `part` is `visit:<number>` where one visit alone is told otherwise, `untold` where owners read
    nothing of it, and empty where anything may have changed.
    """

    about = models.CharField(max_length=40)
    part = models.CharField(max_length=40, default="", db_default="", blank=True)

    class Meta:  # noqa: D106 - the table's own rules
        indexes: ClassVar = [
            models.Index(fields=["about", "part"], name="change_about_part"),
            models.Index(fields=["about", "id"], name="change_about_newest"),
        ]

    def __str__(self) -> str:
        return f"{self.about} {self.part}".strip()
