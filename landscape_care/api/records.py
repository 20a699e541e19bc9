"""Records as JSON: serializers made from the limits of the record classes, so a field is described once."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import MISSING, Field, fields
from typing import Any

from drf_spectacular.utils import PolymorphicProxySerializer
from rest_framework import serializers

from landscape_care.api.fields import Body, Clock, Day, Identity, Number, Whole
from landscape_care.trades.kinds import KINDS, Thing
from landscape_care.trades.limits import Limit


class Identities(serializers.ListField):
    """Numbers of other things, each once and in order, as the record holds them."""

    def to_internal_value(self, data: Any) -> Any:
        """Make the list a tuple."""
        return tuple(sorted(set(super().to_internal_value(data))))


class Months(serializers.ListField):
    """A number for each month, January first; how many there must be is said by the record."""

    def to_internal_value(self, data: Any) -> Any:
        """Make the list a tuple."""
        return tuple(super().to_internal_value(data))


def _field_for(limit: Limit, **choices: Any) -> serializers.Field[Any, Any, Any, Any]:
    makers: dict[str, Callable[[], serializers.Field[Any, Any, Any, Any]]] = {
        "number": lambda: Number(min_value=limit.low, max_value=limit.high, **choices),
        "whole": lambda: Whole(min_value=int(limit.low or 0), max_value=int(limit.high or 0), **choices),
        "choice": lambda: serializers.ChoiceField([word for word in limit.choices if word], **choices),
        "text": lambda: serializers.CharField(max_length=int(limit.high or 0), allow_blank=True, **choices),
        "flag": lambda: serializers.BooleanField(**choices),
        "day": lambda: Day(**choices),
        "clock": lambda: Clock(**choices),
        "reference": lambda: Identity(**choices),
        "months": lambda: Months(child=Number(), max_length=24, **choices),
        "many": lambda: Identities(child=Identity(), max_length=500, **choices),
    }
    return makers[limit.kind]()


def _serializer_field(described: "Field[Any]", **more: Any) -> serializers.Field[Any, Any, Any, Any]:
    limit: Limit = described.metadata["limit"]
    choices: dict[str, Any] = {"help_text": f"{limit.help} {limit.unit}".strip()}
    if described.default is not MISSING:
        choices |= {"required": False, "allow_null": described.default is None}
    return _field_for(limit, **(choices | more))


def fields_from(record_class: Any, *, leave_out: Collection[str] = (), **more: Any) -> dict[str, Any]:
    """The serializer fields of a record class, by name; `more` holds for each of them."""
    named = (f for f in fields(record_class) if "limit" in f.metadata and f.name not in leave_out)
    return {f.name: _serializer_field(f, **more) for f in named}


def _serializer_of(record_class: type[Thing]) -> type[Body]:
    found = fields_from(record_class)
    found["tag"] = serializers.CharField(max_length=20, help_text="Short mark on the plan, such as B1 or Z3")
    found["kind"] = serializers.ChoiceField([record_class.kind])
    found["id"] = serializers.IntegerField(source="uid", read_only=True)
    return type(f"{record_class.__name__}Body", (Body,), {"__doc__": record_class.__doc__, **found})


SERIALIZERS: Mapping[str, type[Body]] = {kind: _serializer_of(cls) for kind, cls in KINDS.items()}


def _any_kind(*, many: bool = False) -> PolymorphicProxySerializer:
    return PolymorphicProxySerializer(
        component_name="Thing", serializers=dict(SERIALIZERS), resource_type_field_name="kind", many=many
    )


ANY_KIND = _any_kind()
MANY_KINDS = _any_kind(many=True)


def as_json(thing: Thing) -> dict[str, Any]:
    """One installed thing as its kind's serializer shows it."""
    return dict(SERIALIZERS[thing.kind](thing).data)


def values_for(given: Any) -> tuple[str, dict[str, Any]]:
    """The kind that a body names and its checked values."""
    kind = given.get("kind") if isinstance(given, Mapping) else None
    if not isinstance(kind, str) or kind not in SERIALIZERS:
        raise serializers.ValidationError({"kind": [f"one of {', '.join(SERIALIZERS)}"]})
    serializer = SERIALIZERS[kind](data=given)
    serializer.is_valid(raise_exception=True)
    values = dict(serializer.validated_data)
    return values.pop("kind"), values


def changes_for(kind: str, given: Any) -> dict[str, Any]:
    """The checked values of some fields of a kind."""
    serializer = SERIALIZERS[kind](data=given, partial=True)
    try:
        serializer.is_valid(raise_exception=True)
    except serializers.ValidationError as refused:
        raise serializers.ValidationError({"values": refused.detail}) from refused
    return {name: value for name, value in serializer.validated_data.items() if name != "kind"}
