"""What all installed things share, their history and their photos."""

from typing import ClassVar

from django.db import models

from landscape_care.people.models import User
from landscape_care.properties.models.property import Property
from landscape_care.trades.kinds import KINDS


class InstalledThing(models.Model):
    """Anything of the as-built record; each kind is a table of its own that extends this one."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="things")
    kind = models.CharField(max_length=20, choices=[(kind, kind) for kind in KINDS])
    tag = models.CharField(max_length=20)
    name = models.CharField(max_length=80, blank=True)
    note = models.TextField(blank=True)
    installed_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    outline = models.JSONField(default=list, blank=True, help_text="Corners on the plan, in feet")

    class Meta:
        ordering: ClassVar = ["property_id", "tag"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["property", "tag"], name="thing_tag_unique_on_property"),
            models.CheckConstraint(
                condition=models.Q(removed_on=None) | models.Q(removed_on__gte=models.F("installed_on")),
                name="thing_removed_after_installed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tag} {self.name or self.kind}"


class ThingChange(models.Model):
    """One change of one field of an installed thing: history is kept, nothing is overwritten silently."""

    thing = models.ForeignKey(InstalledThing, on_delete=models.PROTECT, related_name="changes")
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    field = models.CharField(max_length=40)
    was = models.JSONField(null=True)
    now = models.JSONField(null=True)
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar = ["-id"]

    def __str__(self) -> str:
        return f"{self.thing}: {self.field} {self.was} → {self.now}"


class Photo(models.Model):
    """A picture of a property or of one installed thing."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="photos")
    thing = models.ForeignKey(
        InstalledThing, null=True, blank=True, on_delete=models.PROTECT, related_name="photos"
    )
    picture = models.ImageField(upload_to="photos/%Y/%m/")
    caption = models.CharField(max_length=160, blank=True)
    taken_at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["-taken_at"]

    def __str__(self) -> str:
        return self.caption or str(self.picture.name)
