"""What happened on a property and asks for care: storms, requests of the owner, failures."""

from datetime import date

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_POST

from landscape_care.care import actions
from landscape_care.care import queries as care
from landscape_care.care.models import ReportKind
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.things import Day
from landscape_care.properties import queries
from landscape_care.properties.models import Property

KINDS = [
    (ReportKind.STORM, _("Storm")),
    (ReportKind.OWNER_REQUEST, _("Request of the owner")),
    (ReportKind.FAILED_PLANTS, _("Plants that failed")),
    (ReportKind.FAILED_LAMPS, _("Lamps that failed")),
    (ReportKind.LARGE_REFILL, _("Large refill of a water feature")),
]


class ReportForm(forms.Form):
    """What happened, when, to what."""

    kind = forms.ChoiceField(label=_("What happened?"), choices=KINDS)
    on = forms.DateField(label=pgettext_lazy("date", "On"), widget=Day())
    thing = forms.ChoiceField(label=_("Which thing?"), required=False)
    note = forms.CharField(
        label=_("What is wanted or what was seen?"),
        max_length=400,
        required=False,
        widget=forms.Textarea({"rows": 3}),
    )

    def for_property(self, place: Property, today: date) -> None:
        """Offer what stands there, and take no day of the future."""
        self.place, self.today = place, today
        self.things = {thing.tag: thing for thing in queries.installed(place, today)}
        offered = [(tag, f"{tag} {thing.name}".strip()) for tag, thing in self.things.items()]
        self.fields["thing"].choices = [("", _("the whole property")), *offered]  # type: ignore[attr-defined]

    def clean_on(self) -> date:
        """A report tells what has happened."""
        on: date = self.cleaned_data["on"]
        if on > self.today:
            raise forms.ValidationError(gettext("Give today or a day before."))
        if on < self.place.care_starts_on:
            raise forms.ValidationError(
                gettext("Care began on %(day)s.") % {"day": self.place.care_starts_on}
            )
        return on


@office_only
@require_http_methods(["GET", "POST"])
def reports(request: SignedInRequest, code: str) -> HttpResponse:
    """What was reported of a property, and one report more."""
    place = get_object_or_404(queries.visible_properties(request.user), code=code)
    today = today_in(place.time_zone)
    form = ReportForm(request.POST or None, initial={"on": today})
    form.for_property(place, today)
    if form.is_valid() and _reported(form, place, request):
        return redirect("pages:reports", place.code)
    page = {
        "property": place,
        "form": form,
        "reports": care.visible_reports(request.user).filter(property=place)[:100],
        "place": "properties",
    }
    return render(request, "office/reports.html", page, status=422 if form.is_bound else 200)


@office_only
@require_POST
def withdraw_report(request: SignedInRequest, number: int) -> HttpResponse:
    """Take back a report that was a mistake."""
    row = get_object_or_404(care.visible_reports(request.user), pk=number)
    try:
        actions.withdraw_report(row, reason=request.POST.get("reason", ""), by=request.user)
        messages.success(request, gettext("The report is taken back; care is planned again."))
    except ValueError as refused:
        messages.error(request, str(refused))
    return redirect("pages:reports", row.property.code)


def _reported(form: ReportForm, place: Property, request: SignedInRequest) -> bool:
    given = form.cleaned_data
    try:
        thing = form.things.get(given["thing"])
        actions.report(place, given["kind"], on=given["on"], by=request.user, thing=thing, note=given["note"])
    except ValueError as refused:
        form.add_error(None, str(refused))
        return False
    messages.success(request, gettext("It is noted; the care that follows is planned."))
    return True
