"""Drains."""

from django.db import models

from landscape_care.properties.models.thing import InstalledThing


class Drain(InstalledThing):
    """Drain grates; as in `trades.kinds.Drain`."""

    grates = models.PositiveSmallIntegerField(default=1)
