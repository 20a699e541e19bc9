"""The people who sign in: who they are, what they do, and a new password."""

from django import forms as django_forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext, gettext_noop
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.setting_up import NewPersonForm, PasswordForm, PersonForm
from landscape_care.people import actions, queries
from landscape_care.people.models import Role, User

PLACE = "setup"
SAID_BY_ACTIONS = (
    gettext_noop("Only an administrator changes an administrator."),
    gettext_noop("Somebody else has to do this to your own account."),
)


@office_only
def users(request: SignedInRequest) -> HttpResponse:
    """List everybody who signs in, or did."""
    rows = queries.visible_users(request.user).prefetch_related("crews")
    return render(request, "office/users.html", {"rows": rows, "place": PLACE})


@sensitive_post_parameters("password")
@office_only
@require_http_methods(["GET", "POST"])
def new_user(request: SignedInRequest) -> HttpResponse:
    """Add somebody who signs in."""
    form = NewPersonForm(request.POST or None, people=queries.visible_users(request.user))
    if form.is_valid():
        given = form.cleaned_data
        user = actions.add_user(
            given["username"],
            given["password"],
            role=Role(given["role"]),
            name=given["first_name"],
            language=given["language"],
        )
        actions.change_user(user, {"email": given["email"]}, by=request.user)
        messages.success(request, gettext("%(name)s may sign in now.") % {"name": user.first_name})
        return redirect("pages:users")
    return _form(request, form, gettext("Somebody new"))


@office_only
@require_http_methods(["GET", "POST"])
def user(request: SignedInRequest, number: int) -> HttpResponse:
    """Change name, mail address, role or language of somebody."""
    row = _person(request, number)
    now = {name: getattr(row, name) for name in actions.CHANGEABLE}
    form = PersonForm(request.POST or None, initial=now)
    if form.is_valid():
        try:
            actions.change_user(row, form.cleaned_data, by=request.user)
        except PermissionDenied as denied:
            form.add_error(None, gettext(str(denied)))
        else:
            messages.success(request, gettext("Saved."))
            return redirect("pages:users")
    return _form(request, form, _called(row), row)


@sensitive_post_parameters("password")
@office_only
@require_http_methods(["GET", "POST"])
def password(request: SignedInRequest, number: int) -> HttpResponse:
    """Give somebody a new password."""
    row = _person(request, number)
    form = PasswordForm(request.POST or None)
    if form.is_valid():
        try:
            actions.set_password(row, form.cleaned_data["password"], by=request.user)
        except PermissionDenied as denied:
            form.add_error(None, gettext(str(denied)))
        except django_forms.ValidationError as refused:
            form.add_error("password", refused)
        else:
            messages.success(request, gettext("The new password of %(name)s holds.") % {"name": _called(row)})
            return redirect("pages:users")
    return _form(request, form, gettext("A new password for %(name)s") % {"name": _called(row)})


@office_only
@require_POST
def open_or_close(request: SignedInRequest, number: int) -> HttpResponse:
    """Let somebody sign in no more, or again."""
    row = _person(request, number)
    change = actions.close_account if row.is_active else actions.open_account
    try:
        change(row, by=request.user)
    except PermissionDenied as denied:
        messages.error(request, gettext(str(denied)))
    return redirect("pages:users")


def _person(request: SignedInRequest, number: int) -> User:
    return get_object_or_404(queries.visible_users(request.user), pk=number)


def _called(row: User) -> str:
    return row.get_full_name() or row.get_username()


def _form(
    request: SignedInRequest, form: django_forms.Form, title: str, person: User | None = None
) -> HttpResponse:
    page = {"form": form, "title": title, "back": "pages:users", "person": person, "place": PLACE}
    return render(request, "office/record.html", page, status=422 if form.is_bound else 200)
