"""Who is asking, who works here, and the log of who did what."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from landscape_care.api.description import paged, told
from landscape_care.api.door import Door, OfficeDoor, page_of, person, plain_query, query, shown
from landscape_care.api.fields import ModelRow, PageQuery
from landscape_care.people import queries
from landscape_care.people.models import AuditEntry, User


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


class PersonList(OfficeDoor):
    """The people who sign in."""

    @told(paged(PersonRow), asked=PageQuery)
    def get(self, request: Request) -> Response:
        """List the people."""
        return page_of(queries.visible_users(person(request)), plain_query(request), PersonRow)


class AuditRow(ModelRow[AuditEntry]):
    """One thing somebody did; nobody means the house itself."""

    by = serializers.SlugRelatedField[Any](slug_field="username", read_only=True, allow_null=True)
    detail = serializers.DictField(read_only=True)

    class Meta:  # noqa: D106
        model = AuditEntry
        fields = ("at", "by", "verb", "subject", "detail")


class AuditQuery(PageQuery):
    """Which entries."""

    by = serializers.CharField(required=False, max_length=150, help_text="User name")
    verb = serializers.CharField(required=False, max_length=40)


class AuditList(OfficeDoor):
    """The log of who did what; nothing in it can be changed."""

    @told(paged(AuditRow), asked=AuditQuery)
    def get(self, request: Request) -> Response:
        """List the entries, the newest first."""
        asked, rows = query(AuditQuery, request), queries.visible_audit(person(request))
        filters = {"by": "by__username", "verb": "verb"}
        rows = rows.filter(**{column: asked[name] for name, column in filters.items() if name in asked})
        return page_of(rows, asked, AuditRow)
