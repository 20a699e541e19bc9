"""Artificial turf."""

from django.db import models

from landscape_care.properties.models.thing import InstalledThing


class Turf(InstalledThing):
    """An area of artificial turf; as in `trades.kinds.Turf`."""

    area_ft2 = models.FloatField()
    infill = models.CharField(max_length=20, default="silica_sand")
