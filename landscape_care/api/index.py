"""The first page of the API for a person, and the address for everything that is not there."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.html import format_html, format_html_join
from django.views.decorators.http import require_safe
from drf_spectacular.utils import extend_schema
from rest_framework import renderers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import description
from landscape_care.api.door import Door
from landscape_care.api.problems import SORTS


@require_safe
def front(_: HttpRequest) -> HttpResponse:
    """List the resources and explain the refusals, as a plain page."""
    paths = description()["paths"]
    rows = format_html_join(
        "\n",
        "<tr><td><code>{}</code></td><td>{}</td></tr>",
        ((path, ", ".join(method.upper() for method in methods)) for path, methods in paths.items()),
    )
    refusals = format_html_join(
        "\n",
        '<dt id="{}">{} {}</dt><dd>{}</dd>',
        ((sort.name, sort.status, sort.title, sort.meaning) for sort in SORTS),
    )
    return HttpResponse(
        format_html(
            '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Landscape Care API</title>'
            '<meta name="viewport" content="width=device-width, initial-scale=1"></head><body><main>'
            "<h1>Landscape Care API</h1><p>Sign in with a session or with name and password (Basic)."
            ' The full description is at <a href="/api/schema/">/api/schema/</a> (OpenAPI).</p>'
            "<table><thead><tr><th>Address</th><th>Methods</th></tr></thead><tbody>{}</tbody></table>"
            "<h2>Refusals</h2><p>Problem details, RFC 9457.</p><dl>{}</dl></main></body></html>",
            rows,
            refusals,
        )
    )


class DescriptionRenderer(renderers.JSONRenderer):
    """JSON under the media type of an OpenAPI description."""

    media_type = "application/vnd.oai.openapi+json"
    format = "openapi"


class Schema(Door):
    """The description of this API."""

    renderer_classes = (DescriptionRenderer, renderers.JSONRenderer)

    @extend_schema(exclude=True)
    def get(self, request: Request) -> Response:
        """The OpenAPI description as JSON."""
        return Response(description())


class Nothing(Door):
    """Whatever address nobody lives at."""

    schema = None  # type: ignore[assignment]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Say so for every method, to whoever signed in."""
        super().initial(request, *args, **kwargs)
        raise Http404
