"""Signing in and out, and choosing the language."""

from typing import Any

from django.conf import settings
from django.contrib.auth import logout
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from landscape_care.pages.doors import landing
from landscape_care.people import actions as people
from landscape_care.people.entrance import is_waiting
from landscape_care.people.models import User


class SignInForm(AuthenticationForm):
    """User name and password, with a word to people who have to wait."""

    def clean(self) -> dict[str, Any]:
        """Say why even the right password does not help now."""
        if is_waiting(self.request, str(self.data.get("username", ""))):
            self.add_error(
                None, gettext("Too many wrong tries. Wait a quarter of an hour, or ask the office.")
            )
            return self.cleaned_data
        cleaned: dict[str, Any] = super().clean()
        return cleaned


class SignIn(LoginView):
    """The door; the role of the person decides where it leads."""

    template_name = "sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_default_redirect_url(self) -> str:
        """Lead to where the role begins."""
        return landing(self.request.user) if isinstance(self.request.user, User) else "/"

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Let the person in and speak their language."""
        answer = super().form_valid(form)
        user = form.get_user()
        people.record("sign in", user.get_username(), by=user)
        return speak(answer, user.language)


sign_in = sensitive_post_parameters("password")(SignIn.as_view())


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Leave, and forget the session; the browser forgets what it kept of these pages."""
    logout(request)
    answer = redirect(settings.LOGOUT_REDIRECT_URL)
    answer.headers["Clear-Site-Data"] = '"storage"'
    return answer


@require_POST
def choose_language(request: HttpRequest) -> HttpResponse:
    """Switch the language of the pages, for good when somebody has signed in."""
    language = request.POST.get("language", "en")
    if language not in dict(settings.LANGUAGES):
        language = settings.LANGUAGE_CODE
    if request.user.is_authenticated:
        people.choose_language(request.user, language)
    return speak(HttpResponseRedirect(_own_address(request)), language)


def _own_address(request: HttpRequest) -> str:
    wanted = request.POST.get("next", "/")
    ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if ours else "/"


def speak(answer: HttpResponse, language: str) -> HttpResponse:
    """Remember the language in this browser."""
    answer.set_cookie(
        settings.LANGUAGE_COOKIE_NAME,
        language,
        max_age=365 * 24 * 3600,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
    return answer
