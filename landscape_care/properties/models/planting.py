"""Beds and plantings."""

from django.db import models

from landscape_care.properties.models.thing import InstalledThing


class Bed(InstalledThing):
    """A planting bed; fields and limits as in `trades.kinds.Bed`."""

    # The name that Django would choose for the way back is the name of a foreign key elsewhere.
    installedthing_ptr = models.OneToOneField(
        InstalledThing, on_delete=models.CASCADE, parent_link=True, primary_key=True, related_name="as_bed"
    )
    area_ft2 = models.FloatField()
    exposure = models.CharField(max_length=20)
    soil = models.CharField(max_length=20)
    amended_depth_in = models.FloatField(default=12)
    mulch = models.CharField(max_length=10, default="organic")
    mulch_depth_in = models.FloatField(default=2)


class Planting(InstalledThing):
    """Plants of one kind, or a colour pocket; fields and limits as in `trades.kinds.Planting`."""

    bed = models.ForeignKey(Bed, null=True, blank=True, on_delete=models.PROTECT, related_name="plantings")
    plant = models.CharField(max_length=80)
    partner = models.CharField(max_length=80, blank=True)
    role = models.CharField(max_length=20)
    quantity = models.PositiveIntegerField(default=0)
    area_ft2 = models.FloatField(null=True, blank=True)
    spacing_in = models.FloatField(null=True, blank=True)
    canopy_ft = models.FloatField(null=True, blank=True)
    staked = models.BooleanField(default=False)
