"""The calendars of the house and a view that does nothing, to measure against."""

from django.http import HttpRequest, HttpResponse
from django.urls import include, path


def bare(request: HttpRequest) -> HttpResponse:
    """Answer with nothing."""
    return HttpResponse(b"ok", content_type="text/plain")


urlpatterns = [path("bare", bare), path("", include("landscape_care.calendars.urls"))]
