"""Secret addresses under which people subscribe to calendars."""

from typing import ClassVar

from django.db import models

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
    body_digest = models.CharField(max_length=64, blank=True, help_text="SHA-256 of the file as last built")
    body_changed_at = models.DateTimeField(null=True, blank=True, help_text="When that file first differed")

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
