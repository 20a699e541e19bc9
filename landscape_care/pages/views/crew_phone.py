"""What makes the crew pages work without a signal: the worker, the manifest, a word that all is well.

The pages that a phone keeps hold no gate code. A code has an address of its own, asked for with a
signal on the day of the visit, noted, and kept by nobody.
"""

import hashlib
import json
from datetime import date
from functools import lru_cache
from pathlib import Path

from django.contrib.staticfiles import finders
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, render
from django.templatetags.static import static
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from landscape_care.dispatch import queries
from landscape_care.pages.days import today_in
from landscape_care.pages.doors import SignedInRequest, signed_in
from landscape_care.people.actions import record
from landscape_care.visits import queries as visits

SHELL = (
    "pages/sheet.css",
    "pages/crew.js",
    "pages/crew_queue.js",
    "pages/crew_sending.js",
    "pages/crew_words.js",
    "pages/leaving.js",
    "pages/icon.svg",
)
"""Everything a crew page loads beside itself."""
PAPER = "#fbfaf5"


@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """Write the service worker with the names that the files of this version have."""
    script = render(
        request,
        "crew/worker.js",
        {"shell": json.dumps([static(name) for name in SHELL]), "version": _version()},
        content_type="text/javascript; charset=utf-8",
    )
    script.headers["Cache-Control"] = "no-cache"
    return script


@lru_cache(maxsize=1)
def _version() -> str:
    """The same as long as every file of the shell is the same."""
    found = [path for name in SHELL if (path := finders.find(name))]
    return hashlib.sha256(b"".join(Path(path).read_bytes() for path in found)).hexdigest()[:12]


@require_GET
def manifest(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - its language is the thread's
    """Describe the crew pages to a phone that puts them on its home screen."""
    described = {
        "name": "Landscape Care",
        "short_name": gettext("My day"),
        "start_url": "/crew/",
        "id": "/crew/",
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": [
            {"src": static("pages/icon.svg"), "sizes": "any", "type": "image/svg+xml"},
            *(
                {"src": static(f"pages/icon-{px}.png"), "sizes": f"{px}x{px}", "type": "image/png"}
                for px in (192, 512)
            ),
        ],
    }
    return JsonResponse(described, content_type="application/manifest+json")


@signed_in
@require_GET
def hello(request: SignedInRequest) -> HttpResponse:
    """Say that there is a signal, who is signed in, and what to sign what is sent with."""
    return JsonResponse({"person": request.user.pk, "token": get_token(request)})


@signed_in
@require_GET
def no_signal(request: SignedInRequest) -> HttpResponse:
    """The page a phone keeps for what it has not kept."""
    return render(request, "crew/no_signal.html", {"place": "crew"})


@signed_in
@require_GET
def gate(request: SignedInRequest, code: str, day: date, visit: int) -> HttpResponse:
    """Show the gate code of a visit, to its crew on the day and to the office; who asked is noted."""
    crew = get_object_or_404(queries.visible_crews(request.user), code=code)
    found = get_object_or_404(visits.visible_visits(request.user), pk=visit)
    on_the_day = queries.visible_stops(request.user).filter(
        visit=found, crew=crew, day=today_in(found.property.time_zone)
    )
    if not request.user.in_office() and not on_the_day.exists():
        raise PermissionDenied("The gate code is shown to the crew on the day of the visit.")
    record("see access", f"{found.property.code} {found.slot}", by=request.user)
    if request.headers.get("Accept") == "application/json":
        return JsonResponse({"gate": found.property.gate_code, "note": found.property.access_note})
    return render(request, "crew/gate.html", {"place": "crew", "visit": found, "crew": crew, "day": day})
