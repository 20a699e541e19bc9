"""The public computations: which there are, and what they give for numbers in the address."""

from typing import Any

from django.http import Http404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import told
from landscape_care.api.door import Door, query
from landscape_care.api.fields import Body
from landscape_care.api.problems import shown_value
from landscape_care.trades import reckoning

INPUTS = OpenApiParameter(
    name="inputs",
    description="The inputs by their names, as in `length_ft=100`; days as 2027-06-21, lists with commas.",
    type={"type": "object", "additionalProperties": {"type": "string"}},
    location=OpenApiParameter.QUERY,
    style="form",
    explode=True,
    required=False,
)


class InBothLanguages(serializers.Serializer[Any]):
    """The same words in English and Spanish."""

    en = serializers.CharField()
    es = serializers.CharField()


class InputRow(serializers.Serializer[Any]):
    """One input: its kind and unit, and the bounds that the computation keeps; null is no bound."""

    name = serializers.CharField()
    kind = serializers.CharField()
    unit = serializers.CharField(allow_blank=True)
    label = InBothLanguages()  # type: ignore[assignment]
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    low_is_refused = serializers.BooleanField(help_text="Whether the lower bound itself is refused")
    choices = serializers.ListField(child=serializers.CharField())
    required = serializers.BooleanField()  # type: ignore[assignment]
    default = serializers.JSONField(allow_null=True)


class ReckoningRow(serializers.Serializer[Any]):
    """A public computation with its inputs, formula and source, and an example that makes sense."""

    name = serializers.CharField()
    craft = serializers.CharField()
    title = InBothLanguages()
    unit = serializers.CharField(allow_blank=True)
    formula = InBothLanguages()
    source = InBothLanguages()  # type: ignore[assignment]
    about = serializers.CharField()
    inputs = InputRow(many=True)
    example = serializers.DictField()


class ReckonedRow(serializers.Serializer[Any]):
    """What a computation gives; null where it does not happen or is without end."""

    name = serializers.CharField()
    inputs = serializers.DictField()
    value = serializers.JSONField(allow_null=True)
    unit = serializers.CharField(allow_blank=True)
    formula = InBothLanguages()
    source = InBothLanguages()  # type: ignore[assignment]


class ReckoningQuery(Body):
    """Which computations."""

    craft = serializers.ChoiceField(list(reckoning.CRAFTS), required=False)


class ReckoningList(Door):
    """The public computations of the almanac and the trades."""

    @told(ReckoningRow(many=True), asked=ReckoningQuery)
    def get(self, request: Request) -> Response:
        """List the computations."""
        craft = query(ReckoningQuery, request).get("craft")
        found = [each for each in reckoning.reckonings().values() if craft in (None, each.craft)]
        return Response([reckoning.shown(each) for each in found])


class ReckoningDetail(Door):
    """One computation."""

    @extend_schema(request=None, parameters=[INPUTS], responses={200: ReckonedRow})
    def get(self, request: Request, name: str) -> Response:
        """Compute with the inputs of the query."""
        known = reckoning.reckonings().get(name)
        if known is None:
            raise Http404
        answer = reckoning.answer(known, request.query_params.dict())
        return Response(
            {
                "name": known.name,
                "inputs": {key: _given(key, value) for key, value in answer.given.items()},
                "value": reckoning.plain(answer.value),
                "unit": known.unit,
                "formula": {"en": known.formula_en, "es": known.formula_es},
                "source": {"en": known.source_en, "es": known.source_es},
            }
        )


def _given(key: str, value: object) -> Any:
    plain = reckoning.plain(value)
    return plain if isinstance(plain, list) else shown_value(key, plain)
