"""The property: a place with hours, water supply and an agreement."""

from typing import ClassVar
from zoneinfo import ZoneInfo

from django.db import models

from landscape_care.properties.encryption import EncryptedText
from landscape_care.properties.models.client import Client, Depot


class Cadence(models.TextChoices):
    """How often the agreement sends somebody."""

    WEEKLY = "weekly", "Weekly"
    FORTNIGHTLY = "fortnightly", "Every two weeks"
    MONTHLY = "monthly", "Monthly"
    SEASONAL = "seasonal", "Four times a year"


class Property(models.Model):
    """A garden or courtyard under care."""

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="properties")
    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="properties")
    street = models.CharField(max_length=160)
    town = models.CharField(max_length=80)
    latitude_deg = models.FloatField()
    longitude_deg = models.FloatField()
    elevation_m = models.FloatField(default=0)
    time_zone = models.CharField(max_length=60)
    climate = models.CharField(max_length=40, help_text="Key of a climate of the almanac")
    access_opens = models.TimeField(help_text="Crews may enter from")
    access_closes = models.TimeField(help_text="Crews must have left by")
    access_note = models.TextField(blank=True)
    gate_code = EncryptedText(blank=True, default="")
    watering_weekdays = models.CharField(max_length=7, default="1234567", help_text="1 Monday to 7 Sunday")
    watering_opens = models.TimeField()
    watering_closes = models.TimeField()
    static_pressure_psi = models.FloatField(null=True, blank=True)
    supply_gpm = models.FloatField(null=True, blank=True)
    care_starts_on = models.DateField(help_text="Care is planned from this day")
    care_ends_on = models.DateField(null=True, blank=True)
    plan_wanted_at = models.DateTimeField(
        null=True,
        blank=True,
        db_index=True,
        help_text="Set when something changed and care must be planned again",
    )
    planned_through = models.DateField(null=True, blank=True, db_index=True)

    class Meta:
        ordering: ClassVar = ["code"]
        verbose_name_plural = "properties"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(
                    latitude_deg__gte=-90,
                    latitude_deg__lte=90,
                    longitude_deg__gte=-180,
                    longitude_deg__lte=180,
                ),
                name="property_on_earth",
            ),
            models.CheckConstraint(
                condition=models.Q(access_closes__gt=models.F("access_opens")),
                name="property_access_closes_later",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def zone(self) -> ZoneInfo:
        """The time zone of the place."""
        return ZoneInfo(self.time_zone)


class Agreement(models.Model):
    """What the owner pays for: how often, on which weekdays, and which kinds of care."""

    property = models.OneToOneField(Property, on_delete=models.PROTECT, related_name="agreement")
    cadence = models.CharField(max_length=12, choices=Cadence.choices)
    weekdays = models.CharField(max_length=7, default="12345", help_text="Allowed days, 1 Monday to 7 Sunday")
    least_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="At least so many days between two visits"
    )
    most_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="At most so many days between two visits"
    )
    stems = models.JSONField(
        default=list, help_text="Kinds of care included, such as planting or lighting; empty means all"
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(cadence__in=Cadence.values), name="agreement_cadence_known"
            )
        ]

    def __str__(self) -> str:
        return f"{self.property} {self.cadence}"
