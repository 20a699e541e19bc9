"""Low-voltage lighting: transformer, wire runs, fixtures."""

from django.db import models

from landscape_care.properties.models.thing import InstalledThing


class Transformer(InstalledThing):
    """A transformer with its timer; as in `trades.kinds.Transformer`."""

    # The name that Django would choose for the way back is the name of a foreign key elsewhere.
    installedthing_ptr = models.OneToOneField(
        InstalledThing,
        on_delete=models.CASCADE,
        parent_link=True,
        primary_key=True,
        related_name="as_transformer",
    )
    capacity_va = models.FloatField()
    volts = models.FloatField(default=12)
    timer = models.CharField(max_length=12)
    set_on = models.TimeField(null=True, blank=True)
    set_off = models.TimeField(null=True, blank=True)


class WireRun(InstalledThing):
    """A cable; as in `trades.kinds.WireRun`."""

    transformer = models.ForeignKey(
        Transformer, null=True, on_delete=models.PROTECT, related_name="wire_runs"
    )
    awg = models.PositiveSmallIntegerField()
    length_ft = models.FloatField()


class Fixture(InstalledThing):
    """Equal lights at one place; as in `trades.kinds.Fixture`."""

    transformer = models.ForeignKey(Transformer, null=True, on_delete=models.PROTECT, related_name="fixtures")
    wire_run = models.ForeignKey(
        WireRun, null=True, blank=True, on_delete=models.PROTECT, related_name="fixtures"
    )
    distance_ft = models.FloatField(null=True, blank=True)
    watts = models.FloatField()
    quantity = models.PositiveSmallIntegerField(default=1)
    rated_hours = models.PositiveIntegerField(null=True, blank=True)
    hung_in_tree = models.BooleanField(default=False)
