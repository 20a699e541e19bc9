"""Who may open which page, and where a person lands."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.views.decorators.gzip import gzip_page

from landscape_care.people.models import User

P = ParamSpec("P")
Page = Callable[Concatenate[HttpRequest, P], HttpResponse]


class SignedInRequest(HttpRequest):
    """A request of a person who has signed in."""

    user: User


SignedInPage = Callable[Concatenate[SignedInRequest, P], HttpResponse]


def _no_store(answer: HttpResponse) -> HttpResponse:
    answer.headers.setdefault("Cache-Control", "private, no-store")
    return answer


def pressed(page: Page[P]) -> Page[P]:
    """Send a page compressed.

    Compression lets who can make a browser ask, and measure the answers, guess secrets that stand on
    the page beside what was asked (BREACH). So only pages without a secret are pressed: their form
    tokens are masked anew in each answer, they hold no code and no secret address, and the answer is
    lengthened by a random count of bytes.
    """
    return gzip_page(page)


def signed_in(page: SignedInPage[P]) -> Page[P]:
    """Open a page to everybody who has signed in; it is kept by no browser or proxy."""

    @wraps(page)
    def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        return _no_store(page(request, *args, **kwargs))  # type: ignore[arg-type]

    return login_required(guarded)


def office_only(page: SignedInPage[P]) -> Page[P]:
    """Open a page to the office and dispatchers alone."""

    @wraps(page)
    def guarded(request: SignedInRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if not request.user.in_office():
            raise PermissionDenied("This page is for the office.")
        return page(request, *args, **kwargs)

    return signed_in(guarded)


def landing(user: User) -> str:
    """Where a person begins."""
    return "/" if user.in_office() else "/crew/"
