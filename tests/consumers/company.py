"""The demo company with visits around every change of the clock, and an address for each audience."""

import urllib.request
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone

from landscape_care.calendars import actions, queries
from landscape_care.calendars.models import Audience
from landscape_care.calendars.options import Options
from landscape_care.config.demo_company import first_of_each_depot, open_demo_company
from landscape_care.dispatch.models import Crew
from landscape_care.properties.models import Depot, Property
from landscape_care.visits.models import Visit
from tests.consumers.occurrences import Occurrence, expected

BACK, AHEAD = 80, 380


def open_company() -> dict[str, str]:
    """Make the demo company; the tokens of its calendars by a short name."""
    open_demo_company(lambda line: print(f"  {line}", flush=True))
    gardens = list(first_of_each_depot())
    for place in gardens:
        Visit.objects.bulk_create(visits_around_clock_changes(place))
    return dict(addresses(gardens))


def visits_around_clock_changes(place: Property) -> list[Visit]:
    """Visits a week apart, and at every hour of the days on which the clock is changed in Denver."""
    today = timezone.localdate()
    weekly = [(today + timedelta(days), 8) for days in range(-BACK, AHEAD, 7)]
    changes = [
        (day, hour)
        for days in range(-BACK, AHEAD)
        for day in [today + timedelta(days)]
        if _offset(day) != _offset(day + timedelta(1))
        for hour in (0, 1, 4, 9, 16)
    ]
    return [_visit(place, day, hour, number) for number, (day, hour) in enumerate([*weekly, *changes])]


def _offset(day: date) -> timedelta | None:
    return datetime.combine(day, time(), ZoneInfo("America/Denver")).utcoffset()


def _visit(place: Property, day: date, hour: int, number: int) -> Visit:
    state = "withdrawn" if number % 5 == 4 else "done" if day < timezone.localdate() else "published"
    return Visit(
        property=place,
        slot=f"clock-{number}",
        opens_on=day,
        closes_on=day,
        minutes=45,
        state=state,
        day=day,
        arrives_at=time(hour, 10),
        leaves_at=time(hour, 55),
        moved_from=day - timedelta(1) if number % 7 == 3 else None,
        revision=number % 3,
        crew_name="North",
        announced=True,
        changed_at=timezone.now() - timedelta(days=1),
        withdrawn_reason="Rain; the garden is under water, ñandú" if state == "withdrawn" else "",
    )


def addresses(gardens: list[Property]) -> Iterator[tuple[str, str]]:
    """An address for every audience, the windows, and choices that change the file."""
    for place in gardens:
        zone = place.time_zone.rpartition("/")[2].lower()
        yield f"owner_{zone}", _issue(Audience.PROPERTY, place)
        yield f"owner_{zone}_es", _issue(Audience.PROPERTY, place, Options(alarm_minutes=60), language="es")
        yield f"windows_{zone}", _issue(Audience.PROPERTY, place, Options(shows="windows"))
        yield f"todos_{zone}", _issue(Audience.PROPERTY, place, Options(shows="todos"))
        yield f"client_{zone}", _issue(Audience.CLIENT, place.client)
    for crew in Crew.objects.all():
        yield f"crew_{crew.pk}", _issue(Audience.CREW, crew)
    for depot in Depot.objects.all():
        yield f"depot_{depot.pk}", _issue(Audience.DEPOT, depot)
    yield "company", _issue(Audience.COMPANY, None)


def _issue(
    audience: Audience,
    target: Property | Crew | Depot | object | None,
    options: Options = actions.USUAL,
    *,
    language: str = "en",
) -> str:
    return actions.issue(audience, target, name="reader", language=language, options=options, by=None)[1]  # type: ignore[arg-type]


def told(token: str) -> list[Occurrence]:
    """What the database tells at an address."""
    address = queries.live_address(token)
    if address is None:
        raise LookupError("the address was revoked")
    return expected(queries.entries(address, queries.local_day(address, timezone.now()))[0])


def fetched(address: str) -> bytes:
    """A calendar over http."""
    with urllib.request.urlopen(address, timeout=60) as answer:  # noqa: S310 - our own server
        body: bytes = answer.read()
    return body
