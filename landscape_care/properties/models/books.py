"""A company's own kinds of plants and its own climates, beside those that come along."""

from typing import ClassVar

from django.db import models

from landscape_care.people.models import User


class OwnPlant(models.Model):
    """A kind of plant of the company's own; fields and limits as in `trades.plants.Plant`."""

    key = models.SlugField(max_length=60, unique=True)
    botanical = models.CharField(max_length=80)
    common = models.CharField(max_length=80)
    common_es = models.CharField(max_length=80)
    group = models.CharField(max_length=20)
    exposure = models.CharField(max_length=12)
    water_class = models.CharField(max_length=2)
    plant_factor = models.FloatField()
    root_depth_in = models.FloatField()
    hardiness_f = models.FloatField()
    width_ft = models.FloatField()
    spacing_in = models.FloatField()
    cutback = models.CharField(max_length=120)
    winter_cut = models.CharField(max_length=4, default="none")
    frost_tender = models.BooleanField(default=False)
    reseeds = models.BooleanField(default=False)
    source = models.CharField(max_length=200)
    note = models.CharField(max_length=400, blank=True)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now=True)
    ended_at = models.DateTimeField(null=True, blank=True, help_text="Set when it is no longer offered")

    class Meta:
        ordering: ClassVar = ["key"]

    def __str__(self) -> str:
        return self.common


class OwnClimate(models.Model):
    """A usual year of the company's own; fields and limits as in `records.ClimateRecord`."""

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    latitude_deg = models.FloatField()
    longitude_deg = models.FloatField()
    elevation_m = models.FloatField()
    time_zone = models.CharField(max_length=60)
    tmax_f = models.JSONField(help_text="Twelve months, January first")
    tmin_f = models.JSONField(help_text="Twelve months, January first")
    rain_in = models.JSONField(help_text="Twelve months, January first")
    eto_in = models.JSONField(null=True, blank=True, help_text="Empty: estimated from highs and lows")
    last_frost = models.CharField(max_length=5, blank=True)
    first_frost = models.CharField(max_length=5, blank=True)
    irrigation_share = models.FloatField(default=1.0)
    temperature_provenance = models.CharField(max_length=200)
    eto_provenance = models.CharField(max_length=200, blank=True)
    frost_provenance = models.CharField(max_length=200)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now=True)
    ended_at = models.DateTimeField(null=True, blank=True, help_text="Set when it is no longer offered")

    class Meta:
        ordering: ClassVar = ["key"]

    def __str__(self) -> str:
        return self.name
