"""Who owns gardens, and where crews start."""

from typing import ClassVar

from django.db import models

from landscape_care.people.models import Language


class Client(models.Model):
    """An owner or manager of one or several properties."""

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    language = models.CharField(max_length=2, choices=Language.choices, default=Language.ENGLISH)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering: ClassVar = ["code"]

    def __str__(self) -> str:
        return self.name


class Depot(models.Model):
    """A yard where crews start and finish the day."""

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    latitude_deg = models.FloatField()
    longitude_deg = models.FloatField()
    time_zone = models.CharField(max_length=60)
    holiday_region = models.CharField(
        max_length=10, blank=True, help_text="Whose public holidays are kept, such as US-NM; empty: none"
    )
    holidays_worked = models.CharField(
        max_length=400, blank=True, help_text="Names of those on which crews work all the same, with commas"
    )

    class Meta:
        ordering: ClassVar = ["code"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(
                    latitude_deg__gte=-90,
                    latitude_deg__lte=90,
                    longitude_deg__gte=-180,
                    longitude_deg__lte=180,
                ),
                name="depot_on_earth",
            )
        ]

    def __str__(self) -> str:
        return self.name
