"""Bringing in records from spreadsheets: the empty workbook, a look at every row, then all or nothing."""

import shutil
import time
import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.files.storage import FileSystemStorage
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from landscape_care.dispatch import intake
from landscape_care.dispatch.intake import Found, IntakeRefused, Source
from landscape_care.pages.doors import SignedInRequest, office_only
from landscape_care.people import actions as people

KEPT_SECONDS = 24 * 3600
PROBLEMS_SHOWN = 500
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@office_only
@require_http_methods(["GET", "POST"])
def bring_in(request: SignedInRequest) -> HttpResponse:
    """Offer the empty workbook, take files and look at every row; nothing is written yet."""
    if request.method == "GET":
        return render(request, "office/intake.html", {"place": "intake"})
    files = request.FILES.getlist("files")
    if not files:
        messages.error(request, gettext("Choose at least one file."))
        return redirect("pages:intake")
    request.session["intake"] = _kept(files)
    return redirect("pages:intake_checked")


@office_only
@require_GET
def checked(request: SignedInRequest) -> HttpResponse:
    """Show what the files hold and what is wrong, before anything is written."""
    sources = _sources(request)
    if not sources:
        return redirect("pages:intake")
    looked = _checked(sources)
    _remember_refusal(request, sources, looked)
    page = {
        "place": "intake",
        "names": [source.name for source in sources],
        "counts": looked.counts(),
        "problems": looked.problems[:PROBLEMS_SHOWN],
        "problem_count": len(looked.problems),
    }
    return render(request, "office/intake_checked.html", page)


@office_only
@require_POST
def take_in(request: SignedInRequest) -> HttpResponse:
    """Write everything that was looked at, or nothing."""
    sources = _sources(request)
    looked = _checked(sources) if sources else None
    if looked is None or looked.problems:
        return redirect("pages:intake_checked")
    try:
        counts = intake.take_in(looked, by=request.user)
    except IntakeRefused as refused:
        messages.error(request, gettext("Nothing was written. %(why)s") % {"why": refused})
        return redirect("pages:intake_checked")
    shutil.rmtree(_folder(request.session.pop("intake")), ignore_errors=True)
    messages.success(request, _said(counts))
    return redirect("pages:properties")


@office_only
@require_GET
def template(_request: SignedInRequest) -> HttpResponse:
    """Hand out the empty workbook."""
    answer = HttpResponse(intake.template(), content_type=XLSX)
    answer.headers["Content-Disposition"] = 'attachment; filename="landscape-care-records.xlsx"'
    return answer


# --- Steps ------------------------------------------------------------------------------------


def _checked(sources: Sequence[Source]) -> Found:
    return intake.check(sources, today=timezone.localdate())


def _remember_refusal(request: SignedInRequest, sources: Sequence[Source], looked: Found) -> None:
    """Note once that files were refused, so that the office's first page can ask for a decision."""
    name = request.session["intake"]
    if looked.problems and request.session.get("intake_refused") != name:
        names = ", ".join(source.name for source in sources)
        people.record("refuse intake", names, by=request.user, problems=len(looked.problems))
        request.session["intake_refused"] = name


def _said(counts: dict[str, int]) -> str:
    return gettext("%(properties)d properties and %(things)d things are on the record now.") % {
        "properties": counts["properties"],
        "things": counts["things"],
    }


def _kept(files: "Sequence[UploadedFile[Any]]") -> str:
    """Keep files for a day, so that what was looked at is what is written."""
    _forget_old()
    name = str(uuid.uuid4())
    storage = FileSystemStorage(_folder(name))
    for file in files:
        storage.save(Path(file.name or "file").name, file)
    return name


def _sources(request: SignedInRequest) -> list[Source]:
    folder = _folder(request.session.get("intake", "none"))
    return [Source(file.name, file.read_bytes()) for file in sorted(folder.glob("*"))]


def _folder(name: str) -> Path:
    return Path(settings.MEDIA_ROOT) / "intake" / name


def _forget_old() -> None:
    for folder in _folder("").glob("*"):
        if folder.stat().st_mtime < time.time() - KEPT_SECONDS:
            shutil.rmtree(folder, ignore_errors=True)
