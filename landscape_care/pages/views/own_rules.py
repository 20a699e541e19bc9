"""Care rules of the company's own: made, changed and ended by the office."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST

from landscape_care.care import actions
from landscape_care.care import queries as care
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.own_rules import OwnRuleForm, filled_from


@office_only
@require_http_methods(["GET", "POST"])
def own_rule(request: SignedInRequest, rule: str | None = None) -> HttpResponse:
    """Make a rule of the company's own, or give new values to one."""
    row = get_object_or_404(care.own_rules(request.user), key=rule) if rule else None
    form = OwnRuleForm(request.POST or None, initial=filled_from(row.key, row.table) if row else None)
    if row is not None:
        form.fields["name"].disabled = True
    if form.is_valid() and _set(form, request):
        messages.success(request, gettext("The rule holds; care is planned again."))
        return redirect("pages:rules")
    page = {"form": form, "own": row, "place": "rules"}
    return render(request, "office/own_rule.html", page, status=422 if form.is_bound else 200)


@office_only
@require_POST
def end_own_rule(request: SignedInRequest, rule: str) -> HttpResponse:
    """Ask for no more care by an own rule."""
    row = get_object_or_404(care.own_rules(request.user), key=rule)
    try:
        actions.end_own_rule(row, reason=request.POST.get("reason", ""), by=request.user)
    except ValueError as refused:
        messages.error(request, str(refused))
        return redirect("pages:own_rule", rule)
    messages.success(request, gettext("The rule has ended; care is planned again."))
    return redirect("pages:rules")


def _set(form: OwnRuleForm, request: SignedInRequest) -> bool:
    try:
        actions.set_own_rule(form.key(), form.table(), reason=form.cleaned_data["reason"], by=request.user)
    except ValueError as refused:
        field = str(refused).split(" ", 1)[0]
        form.add_error(field if field in form.fields else None, str(refused))
        return False
    return True
