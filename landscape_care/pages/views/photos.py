"""Pictures, shown to those who may see the property."""

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from landscape_care.pages.doors import SignedInRequest, office_only, signed_in
from landscape_care.properties import actions, queries
from landscape_care.trades.limits import Refused
from landscape_care.visits.queries import visible_photos


@signed_in
def photo(request: SignedInRequest, number: int) -> HttpResponse:
    """Send one picture."""
    kept = get_object_or_404(visible_photos(request.user), pk=number)
    answer = FileResponse(kept.picture.open("rb"), content_type="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=3600"
    return answer  # type: ignore[return-value]


@office_only
@require_POST
def add_photo(request: SignedInRequest, code: str) -> HttpResponse:
    """Keep a picture of a property, or of the installed thing whose tag is given."""
    place = get_object_or_404(queries.visible_properties(request.user), code=code)
    tag, file = request.POST.get("tag"), request.FILES.get("picture")
    thing = get_object_or_404(place.things, tag=tag) if tag else None
    back = redirect("pages:change", code, tag) if tag else redirect("pages:property", code)
    if file is None:
        messages.error(request, gettext("Choose a picture first."))
        return back
    try:
        caption = request.POST.get("caption", "")
        actions.add_photo(place, file, thing=thing, caption=caption, by=request.user)
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, gettext("Wanted: %(wanted)s.") % {"wanted": problem.wanted})
    else:
        messages.success(request, gettext("The picture is kept."))
    return back
