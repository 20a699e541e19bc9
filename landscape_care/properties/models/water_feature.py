"""Water features with pump and filter."""

from django.db import models

from landscape_care.properties.models.thing import InstalledThing


class WaterFeature(InstalledThing):
    """A fountain, basin, pond or stream; as in `trades.kinds.WaterFeature`."""

    surface_ft2 = models.FloatField()
    volume_gal = models.FloatField()
    fall_ft = models.FloatField(default=0)
    fish = models.BooleanField(default=False)


class Pump(InstalledThing):
    """A pump; as in `trades.kinds.Pump`."""

    water_feature = models.ForeignKey(WaterFeature, null=True, on_delete=models.PROTECT, related_name="pumps")
    power_hp = models.FloatField()
    flow_gpm = models.FloatField(null=True, blank=True)
    head_ft = models.FloatField(null=True, blank=True)
    hours_per_day = models.FloatField(default=12)
    baskets = models.PositiveSmallIntegerField(default=1)


class Filter(InstalledThing):
    """A filter with its clean pressure; as in `trades.kinds.Filter`."""

    water_feature = models.ForeignKey(
        WaterFeature, null=True, on_delete=models.PROTECT, related_name="filters"
    )
    medium = models.CharField(max_length=12)
    area_ft2 = models.FloatField(null=True, blank=True)
    clean_psi = models.FloatField(null=True, blank=True)
