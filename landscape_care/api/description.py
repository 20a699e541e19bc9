"""The API described by itself (OpenAPI 3.0), with every refusal it may answer."""

import functools
import re
from collections.abc import Callable, Sequence
from http import HTTPStatus
from typing import Any

from drf_spectacular.authentication import BasicScheme
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.settings import patched_settings
from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers

from landscape_care.api.fields import Body, ProblemDetails
from landscape_care.api.problems import MEDIA_TYPE

WRITES = ("POST", "PUT", "PATCH")
SETTINGS: dict[str, Any] = {
    "TITLE": "Landscape Care",
    "DESCRIPTION": "Records, care, visits, months and calendars of one company.",
    "VERSION": "1",
    # Choices stay where they are used: the same word means different lists on different things.
    "POSTPROCESSING_HOOKS": ["landscape_care.api.description.close_bodies"],
    "SCHEMA_PATH_PREFIX": "/api",
    "COMPONENT_SPLIT_REQUEST": True,
    "COMPONENT_SPLIT_PATCH": False,
    "ENUM_GENERATE_CHOICE_DESCRIPTION": False,
}


class PasswordScheme(BasicScheme):  # type: ignore[no-untyped-call]
    """Name and password with each request, as the house's own class checks them."""

    target_class = "landscape_care.api.door.Basic"


class DoorSchema(AutoSchema):
    """Adds to each operation the refusals that every door shares."""

    def get_operation_id(self) -> str:
        """Name an operation by its class, which is unique."""
        name = re.sub(r"(?<!^)(?=[A-Z])", "_", type(self.view).__name__).lower()
        return f"{name}_{self.method.lower()}"

    def get_tags(self) -> list[str]:
        """Group by room."""
        return [type(self.view).__module__.rpartition(".")[2]]

    def _get_response_bodies(self, direction: Any = "response") -> Any:
        bodies = super()._get_response_bodies(direction)
        for status in self._refusals():
            refusal = self._get_response_for_code(  # type: ignore[no-untyped-call]
                ProblemDetails, status, [MEDIA_TYPE], direction
            )
            bodies.setdefault(status, {**refusal, "description": HTTPStatus(int(status)).phrase})
        return bodies

    def _refusals(self) -> list[str]:
        found = ["401", "403", "406"]
        if "{" in self.path:
            found.append("404")
        if self.method in WRITES:
            found += ["400", "415", "422"]
            found += ["409"] if getattr(self.view, "may_conflict", False) else []
        elif self.get_override_parameters():
            found.append("422")
        return found


def told(
    gives: Any, *, takes: Any = None, asked: Any = None, status: int = 200, media: str = ""
) -> Callable[[Any], Any]:
    """Describe one operation: what it takes (body), is asked (query) and gives."""
    key: Any = (status, media) if media else status
    return extend_schema(request=takes, parameters=[asked] if asked else [], responses={key: gives})


def paged(row: Any) -> Any:
    """The serializer of one part of a list."""
    name = getattr(row, "component_name", None) or row.__name__
    return inline_serializer(
        f"{name}Page",
        {
            "count": serializers.IntegerField(help_text="How many there are in all"),
            "next_offset": serializers.IntegerField(allow_null=True, help_text="Where the next part begins"),
            "results": row(many=True),
        },
    )


def close_bodies(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Say in the description that bodies know all their fields."""
    closed = {f"{cls.__name__}Request" for cls in _all_below(Body)}
    for name, schema in result.get("components", {}).get("schemas", {}).items():
        if name in closed:
            schema["additionalProperties"] = False
    return result


def _all_below(cls: type[Any]) -> Sequence[type[Any]]:
    direct = cls.__subclasses__()
    return [*direct, *(inner for below in direct for inner in _all_below(below))]


@functools.cache
def description() -> dict[str, Any]:
    """The whole description; made once, because it depends on the code alone."""
    with patched_settings(SETTINGS):
        generator = SchemaGenerator()  # type: ignore[no-untyped-call]
        described: dict[str, Any] = generator.get_schema(  # type: ignore[no-untyped-call]
            request=None, public=True
        )
    return described
