"""Who is asking."""

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import told
from landscape_care.api.door import Door, person, shown
from landscape_care.api.fields import ModelRow
from landscape_care.people.models import User


class PersonRow(ModelRow[User]):
    """A person as the house knows them."""

    name = serializers.CharField(source="get_full_name", read_only=True)

    class Meta:  # noqa: D106
        model = User
        fields = ("username", "name", "role", "language")


class Me(Door):
    """The person who asks."""

    @told(PersonRow)
    def get(self, request: Request) -> Response:
        """Your name, role and language."""
        return shown(person(request), PersonRow)
