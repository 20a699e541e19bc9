"""What may come in through the API: strict bodies, finite numbers, plausible days."""

import re
from collections.abc import Mapping
from datetime import date, time
from typing import Any, ClassVar, TypeVar

from django.db import models
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

M = TypeVar("M", bound=models.Model)

FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2199, 12, 31)
CLOCK = r"^([01]\d|2[0-3]):[0-5]\d(:[0-5]\d(\.\d{1,6})?)?$"
LARGEST_ID = 2**63 - 1


class Body(serializers.Serializer[Any]):
    """A body or query that knows all its fields: a misspelt one is refused, not overlooked."""

    def to_internal_value(self, data: Any) -> Any:
        """Refuse unknown names, then read the known ones."""
        unknown = sorted(set(data) - set(self.fields)) if isinstance(data, Mapping) else []
        if unknown:
            known = ", ".join(name for name, field in self.fields.items() if not field.read_only)
            raise serializers.ValidationError({str(name): [f"one of the names {known}"] for name in unknown})
        return super().to_internal_value(data)


class Number(serializers.FloatField):
    """A finite JSON number; neither text nor true or false."""

    def to_internal_value(self, data: Any) -> float:
        """Refuse what only looks like a number."""
        if (
            isinstance(data, bool | str)
            or not isinstance(data, int | float)
            or abs(data) > 1e300
            or data != data
        ):
            self.fail("invalid")
        return float(data)


class Whole(serializers.IntegerField):
    """A whole JSON number that the database can hold."""

    def __init__(self, **choices: Any) -> None:
        choices.setdefault("max_value", LARGEST_ID)
        super().__init__(**choices)

    def to_internal_value(self, data: Any) -> int:
        """Refuse true, false and fractions."""
        if isinstance(data, bool) or (isinstance(data, float) and not data.is_integer()):
            self.fail("invalid")
        return super().to_internal_value(data)


class Day(serializers.DateField):
    """A date between 1900 and 2199, so that reckoning with it stays inside the calendar."""

    def to_internal_value(self, value: Any) -> date:
        """Refuse days far from any garden."""
        day = super().to_internal_value(value)
        if not FIRST_DAY <= day <= LAST_DAY:
            raise serializers.ValidationError(f"a day from {FIRST_DAY} to {LAST_DAY}")
        return day


@extend_schema_field({"type": "string", "pattern": CLOCK, "example": "07:30"})
class Clock(serializers.TimeField):
    """A local clock time without an offset, so that it is not the `time` of RFC 3339."""

    def to_internal_value(self, value: Any) -> time:
        """Refuse a time with an offset: it would be dropped without a word."""
        if isinstance(value, str) and not re.fullmatch(CLOCK, value):
            self.fail("invalid", format="HH:MM")
        return super().to_internal_value(value)


class ModelRow(serializers.ModelSerializer[M]):
    """A row of a table as an answer shows it."""

    serializer_field_mapping: ClassVar = {
        **serializers.ModelSerializer.serializer_field_mapping,
        models.TimeField: Clock,
    }


class Identity(Whole):
    """The number of a row."""

    def __init__(self, **choices: Any) -> None:
        super().__init__(**{"min_value": 1, **choices})


class PageQuery(Body):
    """Which part of a list is wanted."""

    limit = serializers.IntegerField(min_value=1, max_value=500, default=50, help_text="How many at most")
    offset = serializers.IntegerField(
        min_value=0, max_value=10_000_000, default=0, help_text="After how many"
    )


class ReasonBody(Body):
    """Why somebody does this."""

    reason = serializers.CharField(max_length=200)


class ProblemRow(serializers.Serializer[Any]):
    """One wrong value; file, sheet and row (0 for the sheet as a whole) where it came in a spreadsheet."""

    field = serializers.CharField()
    value = serializers.JSONField(allow_null=True)
    wanted = serializers.CharField()
    file = serializers.CharField(required=False)
    sheet = serializers.CharField(required=False)
    row = serializers.IntegerField(required=False)


class ProblemDetails(serializers.Serializer[Any]):
    """Problem details (RFC 9457); `problems` where values are refused, `reason` where one was given."""

    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField()
    instance = serializers.CharField()
    problems = ProblemRow(many=True, required=False)
    reason = serializers.CharField(required=False)
