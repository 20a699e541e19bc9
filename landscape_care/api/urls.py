"""Addresses of the API."""

from django.urls import path, re_path

from landscape_care.api import index, people

app_name = "api"
urlpatterns = [
    path("", index.front, name="front"),
    path("schema/", index.Schema.as_view(), name="schema"),
    path("me/", people.Me.as_view(), name="me"),
    re_path(r"^.*$", index.Nothing.as_view(), name="nothing"),
]
