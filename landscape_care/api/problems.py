"""Every refusal of the API in one form: problem details for HTTP APIs (RFC 9457)."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, time
from http import HTTPStatus
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response

from landscape_care.care.actions import NotOpen
from landscape_care.dispatch.actions import PlanNotReady, SeenOtherwise, StopChanged
from landscape_care.properties.intake import IntakeRefused, RowProblem
from landscape_care.trades.limits import Problem, Refused
from landscape_care.visits.actions import BodyDiffers, VisitWithdrawn

MEDIA_TYPE = "application/problem+json"
WANTED = {"required": "a value: it is missing", "null": "a value, not null", "blank": "some text, not none"}
BOUND = re.compile(r"Ensure this value is (less|greater) than or equal to (.+)\.")
MOST_TOLD = 10
NEVER_REPEATED = ("password", "gate_code", "token")


@dataclass(frozen=True)
class Sort:
    """A sort of refusal that this API names itself; the rest is told by its HTTP status alone."""

    name: str
    status: int
    title: str
    meaning: str

    @property
    def address(self) -> str:
        """Where the sort is explained; it is the `type` of the answer."""
        return f"/api/#{self.name}"


REFUSED = Sort(
    "refused", 422, "Some values cannot be right", "`problems` lists field, value and what is wanted."
)
BODY_DIFFERS = Sort(
    "body-differs", 422, "This id was used for something else", "Make a new id for what is really new."
)
CONFLICT = Sort(
    "conflict", 409, "Somebody was faster", "`detail` says what happened; read again, then decide."
)
WITHDRAWN = Sort(
    "visit-withdrawn", 409, "This visit was withdrawn", "`reason` says why; nothing of it is noted."
)
SORTS = (REFUSED, BODY_DIFFERS, CONFLICT, WITHDRAWN)


class Conflict(exceptions.APIException):
    """The state of the thing does not allow this any more; the detail says why."""

    status_code = HTTPStatus.CONFLICT


def answer(error: Exception, context: Mapping[str, Any]) -> Response | None:
    """Turn a refusal into problem details; None lets a real fault of ours through."""
    described = _described(error, context)
    if described is None:
        return None
    status, body = described
    body["instance"] = clean(context["request"].path)
    return Response(body, status=status, content_type=MEDIA_TYPE, headers=_headers(error))


def _described(error: Exception, context: Mapping[str, Any]) -> tuple[int, dict[str, Any]] | None:
    if isinstance(error, Refused):
        return _refused(error.problems)
    if isinstance(error, exceptions.ValidationError):
        return _refused(_problems_in(error.detail, _given(context)))
    if isinstance(error, IntakeRefused):
        return _listed([row_problem(problem) for problem in error.problems])
    for sort, kinds in _own_refusals():
        if isinstance(error, kinds):
            return sort.status, {**_body(sort.status, str(error), sort), **_reason(error)}
    return _told_by_status(error)


def _told_by_status(error: Exception) -> tuple[int, dict[str, Any]] | None:
    if isinstance(error, Http404):
        return _plain(404, "There is nothing here, or it is not yours to see.")
    if isinstance(error, PermissionDenied):
        return _plain(403, str(error) or "Your role does not allow this.")
    if isinstance(error, exceptions.APIException):
        return _plain(error.status_code, str(error.detail))
    return None


def _reason(error: Exception) -> dict[str, str]:
    reason = getattr(error, "reason", "")
    return {"reason": clean(reason)} if reason else {}


def _own_refusals() -> Iterable[tuple[Sort, tuple[type[Exception], ...]]]:
    return (
        (CONFLICT, (Conflict, NotOpen, StopChanged, PlanNotReady, SeenOtherwise)),
        (WITHDRAWN, (VisitWithdrawn,)),
        (BODY_DIFFERS, (BodyDiffers,)),
    )


def _plain(status: int, detail: str) -> tuple[int, dict[str, Any]]:
    return status, _body(status, detail)


def _body(status: int, detail: str, sort: Sort | None = None) -> dict[str, Any]:
    return {
        "type": sort.address if sort else "about:blank",
        "title": sort.title if sort else HTTPStatus(status).phrase,
        "status": status,
        "detail": clean(detail),
    }


def _refused(problems: Iterable[Problem]) -> tuple[int, dict[str, Any]]:
    return _listed([_row(problem.field, problem.value, problem.wanted) for problem in problems])


def row_of(problem: Problem) -> dict[str, Any]:
    """A problem as answers list it."""
    return _row(problem.field, problem.value, problem.wanted)


def row_problem(problem: RowProblem) -> dict[str, Any]:
    """A wrong cell of a spreadsheet as answers list it."""
    place = {"file": clean(problem.file), "sheet": clean(problem.sheet), "row": problem.row}
    return {**_row(problem.column, problem.value, problem.wanted), **place}


def _row(field: str, value: object, wanted: str) -> dict[str, Any]:
    return {"field": clean(field), "value": shown_value(field, value), "wanted": clean(wanted)}


def _listed(rows: list[dict[str, Any]]) -> tuple[int, dict[str, Any]]:
    told = [f"{row['field']}: wanted {row['wanted']}" for row in rows[:MOST_TOLD]]
    more = [f"and {len(rows) - MOST_TOLD} more"] if len(rows) > MOST_TOLD else []
    return REFUSED.status, {**_body(REFUSED.status, "; ".join(told + more), REFUSED), "problems": rows}


def _given(context: Mapping[str, Any]) -> Any:
    request = context["request"]
    return request.query_params if request.method in ("GET", "HEAD") else request.data


def _problems_in(detail: Any, given: Any, path: str = "") -> Iterator[Problem]:
    if isinstance(detail, Mapping):
        for name, inner in detail.items():
            known = given.get(name) if isinstance(given, Mapping) else None
            yield from _problems_in(inner, known, _below(path, name))
    elif isinstance(detail, list) and any(isinstance(inner, Mapping) for inner in detail):
        for number, inner in enumerate(detail):
            known = given[number] if isinstance(given, list) and number < len(given) else None
            yield from _problems_in(inner, known, _below(path, number))
    else:
        said = detail if isinstance(detail, list) else [detail]
        yield Problem(path or "body", given, " ".join(map(_wanted, said)))


def _wanted(said: object) -> str:
    bound = BOUND.fullmatch(str(said))
    if bound is not None:
        return f"{bound[2]} or {'less' if bound[1] == 'less' else 'more'}"
    return WANTED.get(getattr(said, "code", ""), str(said))


def _below(path: str, name: object) -> str:
    if name == "non_field_errors":
        return path
    return f"{path}.{name}" if path else str(name)


def shown_value(field: str, value: object) -> Any:
    """A given value as an answer may repeat it: short, plain, and never a secret."""
    if field.rpartition(".")[2] in NEVER_REPEATED:
        return None
    if value is None or isinstance(value, bool | int | float):
        return _finite(value)
    if isinstance(value, date | time):
        return value.isoformat()
    return clean(str(value))[:200]


def _finite(value: object) -> object:
    # JSON has no word for these two.
    return str(value) if isinstance(value, float) and value - value != 0 else value


def clean(text: str) -> str:
    """The text without halves of surrogate pairs, which no answer could carry."""
    return text.encode("utf-8", "replace").decode()


def _headers(error: Exception) -> dict[str, str]:
    headers: dict[str, str] = {"Cache-Control": "no-store"}
    if isinstance(error, exceptions.APIException):
        if challenge := getattr(error, "auth_header", None):
            headers["WWW-Authenticate"] = challenge
        if wait := getattr(error, "wait", None):
            headers["Retry-After"] = str(int(wait) + 1)
    return headers
