"""Stone underfoot: paving and gravel."""

from django.db import models

from landscape_care.properties.models.thing import InstalledThing


class Paving(InstalledThing):
    """Paving with joints and steps; as in `trades.kinds.Paving`."""

    stone = models.CharField(max_length=20)
    area_ft2 = models.FloatField()
    joint = models.CharField(max_length=20, default="polymeric_sand")
    joint_width_in = models.FloatField(default=0.125)
    steps = models.PositiveSmallIntegerField(default=0)
    sealed = models.BooleanField(default=False)


class Gravel(InstalledThing):
    """Gravel or decomposed granite; as in `trades.kinds.Gravel`."""

    area_ft2 = models.FloatField()
    depth_in = models.FloatField(default=2)
    material = models.CharField(max_length=20, default="gravel")
