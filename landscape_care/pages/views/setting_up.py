"""Setting up the company: clients, depots and crews; where everything else is set up."""

from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST

from landscape_care.almanac.public_holidays import kept_on
from landscape_care.dispatch import actions as dispatch
from landscape_care.dispatch import queries as dispatch_queries
from landscape_care.dispatch.models import Crew
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms import setting_up as forms
from landscape_care.pages.forms.setting_up import ClientForm, CrewForm, DepotForm, RecordForm
from landscape_care.people import queries as people
from landscape_care.people.models import Role
from landscape_care.properties import actions, queries
from landscape_care.properties.models import Depot
from landscape_care.trades.limits import Refused

A_PAGE = 50
PLACE = "setup"


@office_only
def setup(request: SignedInRequest) -> HttpResponse:
    """Show what can be set up, and how much of it there is."""
    places = queries.visible_properties(request.user)
    page = {
        "place": PLACE,
        "clients": queries.visible_clients(request.user).count(),
        "depots": queries.visible_depots(request.user).count(),
        "crews": dispatch_queries.visible_crews(request.user).count(),
        "people": people.visible_users(request.user).count(),
        "properties": places.count(),
        "without_agreement": places.filter(agreement=None).count(),
    }
    return render(request, "office/setup.html", page)


# --- Clients ------------------------------------------------------------------------------------------


@office_only
def clients(request: SignedInRequest) -> HttpResponse:
    """List the clients, those whose name, code, mail address or telephone number holds the words."""
    rows = queries.visible_clients(request.user).annotate(gardens=Count("properties"))
    search = request.GET.get("q", "").strip()
    for part in search.split():
        holds = Q(name__icontains=part) | Q(code__icontains=part)
        rows = rows.filter(holds | Q(email__icontains=part) | Q(phone__icontains=part))
    page = Paginator(rows.order_by("name", "code"), A_PAGE).get_page(request.GET.get("page"))
    return render(request, "office/clients.html", {"rows": page, "search": search, "place": PLACE})


@office_only
@require_http_methods(["GET", "POST"])
def new_client(request: SignedInRequest) -> HttpResponse:
    """Add a client."""
    form = ClientForm(request.POST or None, stands=False)
    if _taken(form, lambda values: actions.add_client(values, by=request.user)):
        messages.success(request, gettext("The client is on the record."))
        return redirect("pages:clients")
    return _form(request, form, gettext("A new client"), "pages:clients")


@office_only
@require_http_methods(["GET", "POST"])
def client(request: SignedInRequest, code: str) -> HttpResponse:
    """Change a client."""
    row = get_object_or_404(queries.visible_clients(request.user), code=code)
    form = ClientForm(request.POST or None, initial=forms.client_initial(row), stands=True)
    if _taken(form, lambda values: actions.change_client(row, values, by=request.user)):
        messages.success(request, gettext("Saved."))
        return redirect("pages:clients")
    gardens = queries.visible_properties(request.user).filter(client=row)[:A_PAGE]
    return _form(request, form, row.name, "pages:clients", {"gardens": gardens, "code": row.code})


# --- Depots -------------------------------------------------------------------------------------------


@office_only
def depots(request: SignedInRequest) -> HttpResponse:
    """List the depots with the public holidays they keep this year."""
    rows = queries.visible_depots(request.user).annotate(gardens=Count("properties"))
    listed = [(row, _holidays(row)) for row in rows.order_by("name")]
    return render(request, "office/depots.html", {"rows": listed, "place": PLACE})


@office_only
@require_http_methods(["GET", "POST"])
def new_depot(request: SignedInRequest) -> HttpResponse:
    """Add a depot."""
    form = DepotForm(request.POST or None, stands=False)
    if _taken(form, lambda values: actions.add_depot(values, by=request.user)):
        messages.success(request, gettext("The depot is on the record."))
        return redirect("pages:depots")
    return _form(request, form, gettext("A new depot"), "pages:depots")


@office_only
@require_http_methods(["GET", "POST"])
def depot(request: SignedInRequest, code: str) -> HttpResponse:
    """Change where a depot is, and which holidays it keeps."""
    row = get_object_or_404(queries.visible_depots(request.user), code=code)
    form = DepotForm(request.POST or None, initial=forms.depot_initial(row), stands=True)
    if _taken(form, lambda values: actions.change_depot(row, values, by=request.user)):
        messages.success(request, gettext("Saved."))
        return redirect("pages:depots")
    return _form(request, form, row.name, "pages:depots", {"code": row.code, "holidays": _holidays(row)})


def _holidays(row: Depot) -> Mapping[Any, str]:
    year = today_in(row.time_zone).year
    first = today_in(row.time_zone).replace(month=1, day=1).toordinal()
    days = [type(today_in("UTC")).fromordinal(first + count) for count in range(366)]
    kept = kept_on(
        row.holiday_region, [day for day in days if day.year == year], row.holidays_worked.split(",")
    )
    return dict(sorted(kept.items()))


# --- Crews --------------------------------------------------------------------------------------------


@office_only
def crew_list(request: SignedInRequest) -> HttpResponse:
    """List the crews, those that rest among them."""
    rows = dispatch_queries.visible_crews(request.user).prefetch_related("members", "days_off")
    return render(request, "office/crews.html", {"rows": rows, "place": PLACE})


@office_only
@require_http_methods(["GET", "POST"])
def new_crew(request: SignedInRequest) -> HttpResponse:
    """Add a crew."""
    form = _crew_form(request, None)
    if _taken(form, lambda values: _added_crew(request, form, values)):
        messages.success(request, gettext("The crew is on the record."))
        return redirect("pages:crew_list")
    return _form(request, form, gettext("A new crew"), "pages:crew_list")


@office_only
@require_http_methods(["GET", "POST"])
def crew(request: SignedInRequest, code: str) -> HttpResponse:
    """Change a crew, who drives with it, and its days off."""
    row = get_object_or_404(dispatch_queries.visible_crews(request.user), code=code)
    form = _crew_form(request, row)
    if _taken(form, lambda values: _changed_crew(request, row, form, values)):
        messages.success(request, gettext("Saved. Months that are published stay as they are."))
        return redirect("pages:crew_list")
    off = row.days_off.filter(day__gte=today_in(row.depot.time_zone)).order_by("day")
    return _form(request, form, row.name, "pages:crew_list", {"code": row.code, "crew": row, "days_off": off})


@office_only
@require_POST
def rest_crew(request: SignedInRequest, code: str) -> HttpResponse:
    """Plan no more with a crew, or again."""
    row = get_object_or_404(dispatch_queries.visible_crews(request.user), code=code)
    change = dispatch.rest_crew if row.active else dispatch.wake_crew
    change(row, by=request.user)
    return redirect("pages:crew_list")


@office_only
@require_POST
def take_back_day_off(request: SignedInRequest, code: str, number: int) -> HttpResponse:
    """Let a crew work after all."""
    row = get_object_or_404(dispatch_queries.visible_crews(request.user), code=code)
    dispatch.take_back_day_off(get_object_or_404(row.days_off, pk=number), by=request.user)
    messages.success(request, gettext("The crew works on that day again."))
    return redirect("pages:crew_change", code)


def _crew_form(request: SignedInRequest, row: Crew | None) -> CrewForm:
    return CrewForm(
        request.POST or None,
        initial=forms.crew_initial(row) if row else {"weekdays": list("12345")},
        stands=row is not None,
        depots=queries.visible_depots(request.user),
        people=people.visible_users(request.user).filter(role=Role.CREW, is_active=True),
    )


@transaction.atomic
def _added_crew(request: SignedInRequest, form: CrewForm, values: Mapping[str, Any]) -> None:
    dispatch.add_crew(values, members=form.cleaned_data["members"], by=request.user)


@transaction.atomic
def _changed_crew(request: SignedInRequest, row: Crew, form: CrewForm, values: Mapping[str, Any]) -> None:
    dispatch.change_crew(row, values, by=request.user)
    dispatch.set_members(row, form.cleaned_data["members"], by=request.user)


# --- All of them --------------------------------------------------------------------------------------


def _taken(form: RecordForm, write: Callable[[Mapping[str, Any]], object]) -> bool:
    """Whether what was filled in stands on the record now; if not, the form says why."""
    if not form.is_valid():
        return False
    try:
        write(form.values())
    except Refused as refused:
        form.refuse(refused)
        return False
    return True


def _form(
    request: SignedInRequest, form: RecordForm, title: str, back: str, more: Mapping[str, Any] | None = None
) -> HttpResponse:
    page = {"form": form, "title": title, "back": back, "place": PLACE, **(more or {})}
    return render(request, "office/record.html", page, status=422 if form.is_bound else 200)
