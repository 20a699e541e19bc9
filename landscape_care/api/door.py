"""What every resource of the API shares: who may knock, how lists are cut, how refusals look."""

from collections.abc import Callable
from datetime import date, datetime
from typing import Any, ClassVar, cast
from zoneinfo import ZoneInfo

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404
from rest_framework import authentication, exceptions, parsers, permissions, renderers, serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from landscape_care.api import problems
from landscape_care.api.description import DoorSchema
from landscape_care.api.fields import PageQuery
from landscape_care.people.models import Role, User


class Basic(authentication.BasicAuthentication):
    """A name and a password with each request (RFC 7617), for programs."""

    www_authenticate_realm = "Landscape Care"

    def authenticate_credentials(self, userid: str, password: str, request: Any = None) -> Any:
        """Refuse names that no database could hold before asking it."""
        if "\0" in userid or "\0" in password:
            raise exceptions.AuthenticationFailed("The name or the password is wrong.")
        return super().authenticate_credentials(userid, password, request)

    def authenticate_header(self, request: Any) -> str:
        """Challenge programs; a page's own request must not open the browser's password window."""
        if "Sec-Fetch-Mode" in request.headers:
            return 'Session realm="Landscape Care"'
        return f'Basic realm="{self.www_authenticate_realm}"'


class CompanyPeople(permissions.BasePermission):
    """People of the company; owners have their calendar and their page instead."""

    message = "The interface is for the people of the company."

    def has_permission(self, request: Any, view: Any) -> bool:
        """Whether the person signed in and works here."""
        user = request.user
        return bool(user.is_authenticated and (user.is_superuser or user.role != Role.OWNER))


class OfficeOnly(CompanyPeople):
    """Office and dispatchers."""

    message = "This is for the office."

    def has_permission(self, request: Any, view: Any) -> bool:
        """Whether the person keeps the company's records."""
        return super().has_permission(request, view) and request.user.in_office()


class Door(APIView):
    """A resource: signed in people only, JSON in and out, problem details on refusal."""

    authentication_classes = (Basic, authentication.SessionAuthentication)
    permission_classes: tuple[type[permissions.BasePermission], ...] = (CompanyPeople,)
    renderer_classes: tuple[type[renderers.BaseRenderer], ...] = (renderers.JSONRenderer,)
    parser_classes: tuple[type[parsers.BaseParser], ...] = (parsers.JSONParser,)
    schema = DoorSchema()
    may_conflict: ClassVar[bool] = False

    def get_exception_handler(self) -> Callable[..., Response | None]:
        """Refusals are problem details here, whatever the rest of the house does."""
        return problems.answer

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        """Keep answers out of shared caches: they depend on the person."""
        answer = super().finalize_response(request, response, *args, **kwargs)
        answer.headers.setdefault("Cache-Control", "private, no-store")
        return answer


class OfficeDoor(Door):
    """A resource that only the office uses."""

    permission_classes = (OfficeOnly,)


def person(request: Request) -> User:
    """Who asks."""
    return cast(User, request.user)


def office_writes(request: Request) -> User:
    """Who asks, if that person may change the company's records."""
    user = person(request)
    if not user.in_office():
        raise PermissionDenied("Only the office changes this.")
    return user


def read(body: Any, given: Any) -> Any:
    """The checked values of a body or query."""
    serializer = body(data=given)
    serializer.is_valid(raise_exception=True)
    return serializer.validated_data


def query(body: Any, request: Request) -> Any:
    """The checked values of the query string."""
    return read(body, request.query_params.dict())


def one(rows: QuerySet[Any], **which: Any) -> Any:
    """The row, or 404 where it is unknown or not visible."""
    return get_object_or_404(rows, **which)


def chosen(rows: QuerySet[Any], field: str, **which: Any) -> Any:
    """The row that a body names, or a problem on that field."""
    row = rows.filter(**which).first()
    if row is None:
        raise serializers.ValidationError({field: ["the name of one that exists and that you may see"]})
    return row


def page_of(rows: QuerySet[Any], asked: dict[str, Any], shown_by: Any) -> Response:
    """One part of a list, with the count of all."""
    first, count = asked["offset"], rows.count()
    last = first + asked["limit"]
    shown = shown_by(rows[first:last], many=True).data
    return Response({"count": count, "next_offset": last if last < count else None, "results": shown})


def plain_query(request: Request) -> Any:
    """Checked limit and offset of a list without filters."""
    return query(PageQuery, request)


def shown(row: Any, shown_by: Any, status: int = 200) -> Response:
    """One row as an answer."""
    return Response(shown_by(row).data, status=status)


def day_named(text: str) -> date:
    """The day of an address, or 404."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Http404 from None


def today_in(time_zone: str) -> date:
    """The day it is now at a place."""
    return datetime.now(ZoneInfo(time_zone)).date()
