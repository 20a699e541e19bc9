"""Addresses for a probe: does the process live, can it do its work, does background work go on."""

from datetime import datetime, timedelta

from django.core.cache import cache
from django.db import Error, connection
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache

BEAT = "last-beat"
LONGEST_SILENCE = timedelta(minutes=2)


@never_cache
def alive(request: HttpRequest) -> JsonResponse:
    """Say that this process answers."""
    return JsonResponse({"alive": True})


@never_cache
def ready(request: HttpRequest) -> JsonResponse:
    """Say whether the database answers; pages need nothing else."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except Error:
        return JsonResponse({"database": False}, status=503, headers={"Retry-After": "5"})
    return JsonResponse({"database": True})


@never_cache
def background(request: HttpRequest) -> JsonResponse:
    """Say whether background work goes on: 503 when the last beat is over two minutes old."""
    last: datetime | None = cache.get(BEAT)
    silent = last is None or timezone.now() - last > LONGEST_SILENCE
    return JsonResponse(
        {"background": not silent, "last_beat": last and last.isoformat()}, status=503 if silent else 200
    )
