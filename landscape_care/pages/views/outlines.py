"""Drawing the as-built plan: the outline of each area, by pointer, keys or numbers."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.pages.drawing import area_ft2 as recorded_ft2
from landscape_care.pages.drawing import natural
from landscape_care.pages.drawing_table import table
from landscape_care.pages.refusals import wanted
from landscape_care.properties import actions, outlines, queries
from landscape_care.properties.models import Property
from landscape_care.trades.kinds import Thing
from landscape_care.trades.limits import Refused


class OutlineForm(forms.Form):
    """The corners of one area."""

    corners = forms.CharField(
        label=_("Corners, one a line: feet east, feet north"),
        required=False,
        max_length=4000,
        widget=forms.Textarea({"rows": 8, "data-corners": "", "spellcheck": "false"}),
        help_text=_("Measured from any one point of the property, the same for all areas. Empty: not drawn."),
    )


@office_only
def plan(request: SignedInRequest, code: str) -> HttpResponse:
    """Show all areas as they are drawn, and which are not yet."""
    place = get_object_or_404(queries.visible_properties(request.user), code=code)
    return render(request, "office/outlines.html", _page(place, None))


@office_only
@require_http_methods(["GET", "POST"])
def draw_area(request: SignedInRequest, code: str, tag: str) -> HttpResponse:
    """Draw the outline of one area."""
    place = get_object_or_404(queries.visible_properties(request.user), code=code)
    thing = get_object_or_404(place.things, tag=tag)
    form = OutlineForm(request.POST or None, initial={"corners": outlines.written(thing.outline)})
    if form.is_valid():
        try:
            corners = outlines.read_corners(form.cleaned_data["corners"])
            actions.draw_outline(thing, corners, by=request.user)
        except Refused as refused:
            for problem in refused.problems:
                message = gettext("Wanted: %(wanted)s.") % {"wanted": wanted(problem)}
                form.add_error("corners", message)
        else:
            messages.success(request, gettext("%(tag)s is drawn.") % {"tag": tag})
            return redirect("pages:plan", code)
    page = {**_page(place, tag), "form": form}
    return render(request, "office/outlines.html", page, status=422 if form.is_bound else 200)


def _page(place: Property, tag: str | None) -> dict[str, Any]:
    today = today_in(place.time_zone)
    ground = [thing for thing in queries.as_built(place).things if _lies(thing) and thing.stands_on(today)]
    drawn = {row.tag: row.outline for row in place.things.all() if row.outline}
    drawn = {thing.tag: drawn[thing.tag] for thing in ground if thing.tag in drawn}
    areas = [
        (thing, recorded_ft2(thing), outlines.area_ft2(drawn[thing.tag]) if thing.tag in drawn else None)
        for thing in sorted(ground, key=lambda thing: natural(thing.tag))
    ]
    page = {"property": place, "areas": areas, "table": table(drawn), "tag": tag, "place": "properties"}
    return page | {"left": len(areas) - len(drawn)}


def _lies(thing: Thing) -> bool:
    return recorded_ft2(thing) > 0
