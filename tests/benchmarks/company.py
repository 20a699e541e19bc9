"""The demo company in an empty database, taken in and planned through the actions, with a stopwatch."""

import json
import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta

FIRST_DAY = date(2026, 11, 16)


def begin() -> None:
    """Start Django on a database of its own that goes with the process."""
    folder = tempfile.TemporaryDirectory(prefix="care-benchmark-")
    # A broker that is away: nothing of what is measured runs beside it.
    os.environ |= {"LANDSCAPE_CARE_DATA": folder.name, "LANDSCAPE_CARE_MODE": "test", "LOG_LEVEL": "ERROR"}
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "landscape_care.config.settings")
    globals()["_folder"] = folder
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)


def say(what: str, **figures: object) -> None:
    """Print one line of figures."""
    print(json.dumps({"what": what, **figures}), flush=True)


@contextmanager
def measured(what: str) -> Iterator[dict[str, object]]:
    """Measure what happens inside; figures put into the given dictionary are printed beside the seconds."""
    figures: dict[str, object] = {}
    begun = time.perf_counter()
    yield figures
    say(what, seconds=round(time.perf_counter() - begun, 3), **figures)


def take_in(today: date = FIRST_DAY) -> None:
    """Take in gardens, crews and the history of the demo company."""
    from landscape_care.dispatch import intake
    from landscape_care.properties.demo import FILES

    with measured("take in") as figures:
        figures |= intake.take_in(intake.check(FILES, today=today), by=None)


def plan_care(today: date, what: str = "plan care") -> None:
    """Plan the care of all properties."""
    from landscape_care.care.actions import plan_care as plan
    from landscape_care.properties.models import Property

    with measured(what) as figures:
        reports = [plan(pk, today=today) for pk in Property.objects.values_list("pk", flat=True)]
        for name in ("added", "moved", "withdrawn"):
            figures[name] = sum(getattr(report, name) for report in reports)


def bundle(today: date, what: str = "bundle") -> None:
    """Bundle the care tasks of all properties."""
    from landscape_care.properties.models import Property
    from landscape_care.visits.actions import bundle_property

    with measured(what) as figures:
        reports = [bundle_property(pk, today=today) for pk in Property.objects.values_list("pk", flat=True)]
        for name in ("added", "changed", "withdrawn"):
            figures[name] = sum(getattr(report, name) for report in reports)


def next_month(today: date) -> date:
    """The first day of the month that follows."""
    return (today.replace(day=1) + timedelta(31)).replace(day=1)
