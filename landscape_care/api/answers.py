"""Answers that are files."""

from typing import Any

from rest_framework import renderers
from rest_framework.response import Response


class RawRenderer(renderers.JSONRenderer):
    """Bytes as they are; a refusal is JSON as everywhere."""

    media_type = "*/*"
    format = "raw"

    def render(self, data: Any, *args: Any, **kwargs: Any) -> bytes:
        """Leave bytes alone."""
        return data if isinstance(data, bytes) else bytes(super().render(data, *args, **kwargs))


class Attachment(Response):
    """A file to keep; the browser must not guess what it is."""

    def __init__(self, content: bytes, *, media_type: str, name: str) -> None:
        headers = {
            "Content-Disposition": f'attachment; filename="{name}"',
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "private, no-store",
        }
        super().__init__(content, content_type=media_type, headers=headers)
