"""Two addresses for a probe: does the process live, and can it do its work."""

from django.db import Error, connection
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache


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
