"""What the last look at the record of a property found, so that a page need not look at all of them."""

from django.db import models

from landscape_care.properties.models.property import Property


class RecordCheck(models.Model):
    """The wrong findings of a record; the row goes when the record changes and comes with the next look."""

    property = models.OneToOneField(Property, on_delete=models.CASCADE, related_name="record_check")
    checked_on = models.DateField(db_index=True)
    count = models.PositiveIntegerField(db_index=True, help_text="Wrong findings")
    wrong = models.JSONField(default=list, help_text="Tag, message and remedy of each, in en and es")

    def __str__(self) -> str:
        return f"{self.property}: {self.count} on {self.checked_on}"
