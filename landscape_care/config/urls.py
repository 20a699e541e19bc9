"""Every address of the house: probes, the stock admin for superusers, and the rooms."""

from django.contrib import admin
from django.urls import include, path

from landscape_care.config import health

urlpatterns = [
    path("healthz", health.alive),
    path("readyz", health.ready),
    path("readyz/background", health.background),
    path("stock-admin/", admin.site.urls),
    path("api/", include("landscape_care.api.urls")),
    path("", include("landscape_care.calendars.urls")),
    path("", include("landscape_care.pages.urls")),
]
