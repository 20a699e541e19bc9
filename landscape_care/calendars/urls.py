"""The addresses of calendars."""

from django.urls import re_path

from landscape_care.calendars.views import feed

app_name = "calendars"
urlpatterns = [re_path(r"^calendars/(?P<token>[^/]{1,200})\.ics$", feed, name="feed")]
