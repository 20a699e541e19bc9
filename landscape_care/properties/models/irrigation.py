"""Controllers, zones and what belongs to the irrigation supply."""

from django.db import models

from landscape_care.properties.models.planting import Planting
from landscape_care.properties.models.thing import InstalledThing


class Controller(InstalledThing):
    """An irrigation controller; as in `trades.kinds.Controller`."""

    # The name that Django would choose for the way back is the name of a foreign key elsewhere.
    installedthing_ptr = models.OneToOneField(
        InstalledThing,
        on_delete=models.CASCADE,
        parent_link=True,
        primary_key=True,
        related_name="as_controller",
    )
    stations = models.PositiveSmallIntegerField()
    battery = models.BooleanField(default=True)


class Zone(InstalledThing):
    """One valve; as in `trades.kinds.Zone`."""

    controller = models.ForeignKey(Controller, null=True, on_delete=models.PROTECT, related_name="zones")
    station = models.PositiveSmallIntegerField()
    device = models.CharField(max_length=12)
    area_ft2 = models.FloatField(null=True, blank=True)
    precipitation_in_h = models.FloatField(null=True, blank=True)
    flow_gpm = models.FloatField(null=True, blank=True)
    emitters = models.PositiveIntegerField(default=0)
    emitter_gph = models.FloatField(null=True, blank=True)
    distribution_uniformity = models.FloatField(null=True, blank=True)
    tubing = models.CharField(max_length=20, default="unknown")
    line_ft = models.FloatField(null=True, blank=True)
    lines = models.PositiveSmallIntegerField(default=1)
    slope_ft = models.FloatField(null=True, blank=True)
    emitter_kind = models.CharField(max_length=20, default="unknown")
    regulator_psi = models.FloatField(null=True, blank=True)
    plantings = models.ManyToManyField(Planting, blank=True, related_name="zones")
    set_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    set_weekdays = models.CharField(max_length=7, blank=True)
    set_start = models.TimeField(null=True, blank=True)

    def planting_ids(self) -> tuple[int, ...]:
        """The plantings this zone serves."""
        return tuple(sorted(planting.pk for planting in self.plantings.all()))


class ValveBox(InstalledThing):
    """A box with valves; as in `trades.kinds.ValveBox`."""

    valves = models.PositiveSmallIntegerField(default=1)


class Sensor(InstalledThing):
    """A rain, freeze or moisture sensor; as in `trades.kinds.Sensor`."""

    measures = models.CharField(max_length=20, default="rain")


class Backflow(InstalledThing):
    """A backflow prevention assembly; as in `trades.kinds.Backflow`."""

    size_in = models.FloatField(default=1)
    serial = models.CharField(max_length=40, blank=True)
