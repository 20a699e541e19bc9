"""Putting installed things on the record, changing them, and noting that they went."""

from collections import defaultdict
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from landscape_care.pages import words
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.drawing import natural
from landscape_care.pages.forms.things import Day, Neighbours, ThingForm, initial_of, thing_form
from landscape_care.pages.templatetags.wording import plant_name
from landscape_care.properties import actions, queries
from landscape_care.properties.models import InstalledThing, Property
from landscape_care.trades.kinds import KINDS, STEMS, Planting
from landscape_care.trades.limits import Refused


class RemovalForm(forms.Form):
    """The day a thing went, and why."""

    on = forms.DateField(label=_("Removed on"), widget=Day())
    reason = forms.CharField(label=_("Why?"), max_length=200)


@office_only
def choose_kind(request: SignedInRequest, code: str) -> HttpResponse:
    """Ask which kind of thing is to be put on the record."""
    place = _place(request, code)
    families = [(stem, [kind for kind, record in KINDS.items() if record.stem == stem]) for stem in STEMS]
    return render(
        request, "office/kinds.html", {"property": place, "families": families, "place": "properties"}
    )


@office_only
@require_http_methods(["GET", "POST"])
def install(request: SignedInRequest, code: str, kind: str) -> HttpResponse:
    """Put a new thing on the record."""
    place = _place(request, code)
    if kind not in KINDS:
        return redirect("pages:choose_kind", code)
    today = today_in(place.time_zone)
    made = thing_form(kind, _neighbours(place))
    form = made(request.POST or None, initial={"installed_on": today})
    del form.fields["reason"]
    if form.is_valid() and (thing := _installed(form, place, kind, request)):
        messages.success(request, gettext("%(tag)s is on the record.") % {"tag": thing.tag})
        return redirect(_on_sheet(place, thing.tag))
    title = gettext("Install: %(kind)s") % {"kind": words.word(words.KIND_NAMES, kind)}
    return _form_page(request, form, property=place, title=title)


@office_only
@require_http_methods(["GET", "POST"])
def change(request: SignedInRequest, code: str, tag: str) -> HttpResponse:
    """Show one thing with its history, and change it."""
    place = _place(request, code)
    thing = queries.whole(get_object_or_404(place.things, tag=tag))
    form = thing_form(thing.kind, _neighbours(place, without=thing.pk))(
        request.POST or None, initial=initial_of(thing)
    )
    del form.fields["removed_on"]
    form.fields["reason"].required = True
    if form.is_valid() and _changed(form, thing, request):
        messages.success(request, gettext("%(tag)s was changed.") % {"tag": thing.tag})
        return redirect(_on_sheet(place, form.cleaned_data["tag"]))
    title = f"{thing.tag} {thing.name or words.word(words.KIND_NAMES, thing.kind)}"
    known = {
        "history": thing.changes.select_related("by"),
        "readings": thing.readings.all()[:20],
        "photos": thing.photos.all()[:12],
    }
    return _form_page(request, form, property=place, title=title, thing=thing, **known)


@office_only
@require_http_methods(["GET", "POST"])
def remove(request: SignedInRequest, code: str, tag: str) -> HttpResponse:
    """Note the day a thing went; it stays on the record."""
    place = _place(request, code)
    thing = get_object_or_404(place.things, tag=tag, removed_on=None)
    form = RemovalForm(request.POST or None, initial={"on": today_in(place.time_zone)})
    if form.is_valid() and _removed(form, thing, request):
        messages.success(request, gettext("%(tag)s has gone; its history stays.") % {"tag": tag})
        return redirect("pages:property", code)
    return _form_page(request, form, property=place, title=gettext("Remove %(thing)s") % {"thing": thing})


# --- Steps ------------------------------------------------------------------------------------


def _installed(
    form: ThingForm, place: Property, kind: str, request: SignedInRequest
) -> InstalledThing | None:
    try:
        return actions.install(place, kind, form.values(), by=request.user)
    except Refused as refused:
        form.refuse(refused)
        return None


def _changed(form: ThingForm, thing: InstalledThing, request: SignedInRequest) -> bool:
    values = {name: value for name, value in form.values().items() if name in form.changed_data}
    try:
        actions.change(thing, values, reason=form.cleaned_data["reason"], by=request.user)
    except Refused as refused:
        form.refuse(refused)
        return False
    return True


def _removed(form: RemovalForm, thing: InstalledThing, request: SignedInRequest) -> bool:
    try:
        actions.remove(thing, form.cleaned_data["on"], reason=form.cleaned_data["reason"], by=request.user)
    except Refused as refused:
        for problem in refused.problems:
            form.add_error("on", gettext("Wanted: %(wanted)s.") % {"wanted": problem.wanted})
        return False
    return True


def _place(request: SignedInRequest, code: str) -> Property:
    return get_object_or_404(queries.visible_properties(request.user), code=code)


def _neighbours(place: Property, without: int = 0) -> Neighbours:
    standing: dict[str, list[tuple[int, str]]] = defaultdict(list)
    things = [t for t in queries.as_built(place).things if t.removed_on is None and t.uid != without]
    for thing in sorted(things, key=lambda thing: natural(thing.tag)):
        name = thing.name or (plant_name(thing.plant) if isinstance(thing, Planting) else "")
        standing[thing.kind].append((thing.uid, f"{thing.tag} {name}".strip()))
    return standing


def _on_sheet(place: Property, tag: str) -> str:
    return f"{reverse('pages:property', args=[place.code])}#t-{tag}"


def _form_page(request: SignedInRequest, form: forms.Form, **more: Any) -> HttpResponse:
    status = 422 if form.is_bound else 200
    return render(request, "office/thing.html", {"form": form, "place": "properties", **more}, status=status)
