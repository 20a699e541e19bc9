"""Lists of the office: narrowed, paged, taken along as CSV, and kept under a name."""

import csv
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse, QueryDict, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_POST

from landscape_care.pages import words as named
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.forms.things import Day
from landscape_care.pages.inert import inert_row
from landscape_care.pages.lists import LISTS, Asked, Column, Listing, Rows, rows_of
from landscape_care.people import actions as people
from landscape_care.people import queries as people_queries
from landscape_care.properties import queries
from landscape_care.trades.kinds import STEMS

A_PAGE, AT_ONCE = 50, 500
MARK_OF_UTF8 = "\ufeff"


class Narrow(forms.Form):
    """How a list is narrowed."""

    words = forms.CharField(label=_("Name, code or town"), max_length=80, required=False)
    depot = forms.ChoiceField(label=_("Depot"), required=False)
    first = forms.DateField(label=_("From day"), required=False, widget=Day())
    last = forms.DateField(label=_("To day"), required=False, widget=Day())
    skill = forms.ChoiceField(
        label=_("Skill"), required=False, choices=[("", _("any")), *named.SKILL_NAMES.items()]
    )
    stem = forms.ChoiceField(
        label=_("Kind of care"),
        required=False,
        choices=[("", _("any")), *((stem, named.STEM_NAMES[stem]) for stem in (*STEMS, "property"))],
    )

    def __init__(self, *args: Any, listing: Listing, depots: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["depot"] = forms.ChoiceField(
            label=_("Depot"), required=False, choices=[("", _("any")), *depots]
        )
        self.fields = {name: self.fields[name] for name in listing.narrowed_by}

    def asked(self) -> Asked:
        """What was asked; what makes no sense narrows nothing."""
        self.is_valid()
        return Asked(**{name: value for name, value in self.cleaned_data.items() if value})


class KeepForm(forms.Form):
    """A name for a list."""

    name = forms.CharField(max_length=60)


@office_only
def lists(request: SignedInRequest) -> HttpResponse:
    """Show which lists there are, and those kept under a name."""
    page = {"lists": LISTS.values(), "saved": people_queries.saved_lists(request.user), "place": "lists"}
    return render(request, "office/lists.html", page)


@office_only
def one_list(request: SignedInRequest, key: str) -> HttpResponse:
    """Show one list, a page of it at a time."""
    listing, form = _asked(request, key)
    leaf = Paginator(_rows(request, listing, form), A_PAGE).get_page(request.GET.get("page"))
    page = {
        "listing": listing,
        "form": form,
        "rows": leaf,
        "cells": [[_cell(column, row) for column in listing.columns] for row in leaf],
        "asked": _narrowed(form),
        "saved": people_queries.saved_lists(request.user).filter(listing=key),
        "place": "lists",
    }
    return render(request, "office/list.html", page)


@office_only
def list_csv(request: SignedInRequest, key: str) -> HttpResponse:
    """Send a whole list for a spreadsheet; nothing in it can run there."""
    listing, form = _asked(request, key)
    lines = _lines(listing, _rows(request, listing, form))
    answer = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    answer.headers["Content-Disposition"] = f'attachment; filename="{listing.key}.csv"'
    return cast(HttpResponse, answer)


@office_only
@require_POST
def keep(request: SignedInRequest, key: str) -> HttpResponse:
    """Keep a list as it is narrowed now under a name."""
    listing = _listing(key)
    form = Narrow(request.POST, listing=listing, depots=_depots(request))
    name = KeepForm({"name": request.POST.get("name", "")})
    address = f"{reverse('pages:list', args=[key])}?{_narrowed(form)}"
    if not name.is_valid():
        messages.error(request, gettext("A list is kept under a name of 1 to 60 letters."))
        return redirect(address)
    people.save_list(request.user, name.cleaned_data["name"], listing=key, narrowed=_narrowed(form))
    messages.success(request, gettext("Kept. It stands on the page of lists."))
    return redirect(address)


@office_only
@require_POST
def forget(request: SignedInRequest, number: int) -> HttpResponse:
    """Forget a list that was kept."""
    people.forget_list(get_object_or_404(people_queries.saved_lists(request.user), pk=number))
    return redirect("pages:lists")


# --- How it is asked ----------------------------------------------------------------------------------


def _listing(key: str) -> Listing:
    if key not in LISTS:
        raise Http404
    return LISTS[key]


def _asked(request: SignedInRequest, key: str) -> tuple[Listing, Narrow]:
    listing = _listing(key)
    return listing, Narrow(request.GET, listing=listing, depots=_depots(request))


def _depots(request: SignedInRequest) -> list[tuple[str, str]]:
    return [(depot.code, depot.name) for depot in queries.visible_depots(request.user)]


def _rows(request: SignedInRequest, listing: Listing, form: Narrow) -> Rows:
    depot = queries.visible_depots(request.user).first()
    today = today_in(depot.time_zone if depot else "UTC")
    return rows_of(listing, request.user, form.asked(), today)


def _narrowed(form: Narrow) -> str:
    """What was asked, as the rest of an address."""
    told = QueryDict(mutable=True)
    for name, value in asdict(form.asked()).items():
        if value:
            told[name] = str(value)
    return told.urlencode()


def _cell(column: Column, row: Any) -> tuple[str, object, str]:
    """The heading of a cell, what stands in it, and where it leads."""
    leads = column.leads_to(row) if column.leads_to else None
    address = reverse(leads[0], args=[leads[1]]) if leads else ""
    return str(column.heading), column.cell(row), address


class _Echo:
    """A file that hands back what is written into it."""

    def write(self, line: str) -> str:
        """Hand the line back."""
        return line


def _lines(listing: Listing, rows: Rows) -> Iterator[str]:
    writer = csv.writer(_Echo())
    yield MARK_OF_UTF8 + writer.writerow(inert_row(str(column.heading) for column in listing.columns))
    for row in rows.iterator(chunk_size=AT_ONCE):
        yield writer.writerow(inert_row(column.cell(row) for column in listing.columns))
