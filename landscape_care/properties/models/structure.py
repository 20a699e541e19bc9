"""Walls, pergolas, fireplaces."""

from django.db import models

from landscape_care.properties.models.thing import InstalledThing


class Boundary(InstalledThing):
    """A wall, fence or hedge line; as in `trades.kinds.Boundary`."""

    material = models.CharField(max_length=12, default="block")
    length_ft = models.FloatField()
    gates = models.PositiveSmallIntegerField(default=0)


class Structure(InstalledThing):
    """A pergola, bench or the like; as in `trades.kinds.Structure`."""

    form = models.CharField(max_length=12, default="pergola")
    material = models.CharField(max_length=12, default="wood")


class Fireplace(InstalledThing):
    """An outdoor fireplace; as in `trades.kinds.Fireplace`."""

    fuel = models.CharField(max_length=8, default="wood")
