"""Reads of the calendars room: live addresses, and the entries that each may show."""

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Q, QuerySet

from landscape_care.calendars import stored_facts
from landscape_care.calendars.crew_entries import day_entry, stop_entry
from landscape_care.calendars.facts import VisitFacts, named_uid
from landscape_care.calendars.feeds import FeedEvent, Heading, render
from landscape_care.calendars.models import Address, Audience
from landscape_care.calendars.office_entries import office_entry
from landscape_care.calendars.owner_entries import nothing_yet, season_entries, visit_entry
from landscape_care.calendars.words import say
from landscape_care.care.models import CareTask
from landscape_care.dispatch.models import Crew, PlanState, Stop
from landscape_care.properties.models import Client, Depot, Property
from landscape_care.visits.models import Visit, VisitState

OWNER_PAST = timedelta(days=90)
DONE_PAST = timedelta(days=365)
OWNER_AHEAD = timedelta(days=396)
CREW_PAST, CREW_AHEAD = timedelta(days=14), timedelta(days=60)
OFFICE_PAST, OFFICE_AHEAD = timedelta(days=30), timedelta(days=120)
WAITING_AHEAD = timedelta(days=30)
OFF_STAYS = timedelta(days=14)
REFRESH = timedelta(hours=1)
REFRESH_CREW = timedelta(minutes=15)
MOST_ENTRIES = {Audience.DEPOT: 1000, Audience.COMPANY: 1000}
MOST_ENTRIES_FOR_PEOPLE = 500
TARGETS: dict[Audience, type[Property | Client | Crew | Depot]] = {
    Audience.PROPERTY: Property,
    Audience.CLIENT: Client,
    Audience.CREW: Crew,
    Audience.DEPOT: Depot,
}
_TOLD = Q(announced=True, day__isnull=False)
_OFF = Q(state__in=(VisitState.PLANNED, VisitState.WITHDRAWN))


def digest_of(token: str) -> str:
    """The SHA-256 under which a token is kept."""
    return hashlib.sha256(token.encode()).hexdigest()


def live_address(token: str) -> Address | None:
    """The address of a token that was issued and not revoked."""
    return _addresses().filter(digest=digest_of(token)).first()


def live_addresses() -> QuerySet[Address]:
    """All addresses that still answer."""
    return _addresses()


def addresses_of(target: Property | Crew) -> QuerySet[Address]:
    """The live addresses of a property or a crew."""
    return _addresses().filter(**{"property" if isinstance(target, Property) else "crew": target})


def target(audience: str, code: str) -> Property | Client | Crew | Depot | None:
    """What an audience and a code name; raises ObjectDoesNotExist when nothing does."""
    table = TARGETS.get(Audience(audience))
    return table._default_manager.get(code=code) if table else None


def _addresses() -> QuerySet[Address]:
    related = Address.objects.select_related("property", "client", "crew__depot", "depot")
    return related.filter(revoked_at=None).defer(
        "property__gate_code", "property__access_note", "client__note"
    )


def events(address: Address, today: date) -> list[FeedEvent]:
    """Everything an address shows on a day, never nothing."""
    return list(_shown(address, today)[0])


def calendar_file(address: Address, today: date) -> bytes:
    """The calendar file of an address on a day."""
    shown, left = _shown(address, today)
    return render(shown, heading(address, count=len(shown), left=left))


def heading(address: Address, *, count: int = 0, left: int = 0) -> Heading:
    """What the calendar of an address says about itself."""
    kind = _KINDS[Audience(address.audience)]
    text = say(address.language, f"{kind}_calendar_text")
    if left:
        text += "\n" + say(address.language, "cut", count=count, left=left)
    return Heading(
        name=say(address.language, f"{kind}_calendar", name=target_name(address)),
        description=text,
        language=address.language,
        refresh=REFRESH_CREW if address.audience == Audience.CREW else REFRESH,
        colour={"owner": "seagreen", "crew": "steelblue", "office": "darkgoldenrod"}[kind],
        url=f"{settings.SITE_URL}{settings.LOGIN_URL}",
    )


def target_name(address: Address) -> str:
    """The name of what an address is about."""
    target = address.property or address.client or address.crew or address.depot
    return str(target) if target else address.name


def target_code(address: Address) -> str:
    """The code of what an address is about; the company has none."""
    target = address.property or address.client or address.crew or address.depot
    return target.code if target else ""


def local_day(address: Address, now: datetime) -> date:
    """The day it is where the calendar is about."""
    return now.astimezone(ZoneInfo(_time_zone(address))).date()


def _time_zone(address: Address) -> str:
    if address.property:
        return address.property.time_zone
    depot = address.crew.depot if address.crew else address.depot
    if depot:
        return depot.time_zone
    places = Property.objects.filter(client=address.client) if address.client else Property.objects.all()
    return places.values_list("time_zone", flat=True).first() or "UTC"


def _shown(address: Address, today: date) -> tuple[list[FeedEvent], int]:
    found = _READERS[Audience(address.audience)](address, today)
    if not found:
        uid = named_uid("nothing", address.audience, target_code(address))
        return [nothing_yet(uid, address.issued_at, address.language, crew=bool(address.crew))], 0
    most = MOST_ENTRIES.get(Audience(address.audience), MOST_ENTRIES_FOR_PEOPLE)
    nearest = sorted(found, key=lambda event: (abs(event.first_day() - today), str(event.uid)))[:most]
    nearest.sort(key=lambda event: (event.first_day(), str(event.uid)))
    return nearest, len(found) - len(nearest)


# --- Owners -----------------------------------------------------------------------------------


def _owner_events(address: Address, today: date) -> list[FeedEvent]:
    of_client = address.client is not None
    owned = {"client": address.client} if of_client else {"pk": address.property_id}
    where = stored_facts.places(Property.objects.filter(**owned))
    visits = stored_facts.visits(_owner_window(today).filter(property__in=where), where)
    entries = [visit_entry(visit, address.language, many=of_client) for visit in visits.values()]
    found = [entry for entry in entries if entry is not None]
    for key, tasks in stored_facts.tasks_of_places(_seasonal_tasks(where, today)).items():
        found += season_entries(tasks, where[key], address.language, today=today, many=of_client)
    return found


def _owner_window(today: date) -> QuerySet[Visit]:
    done = Q(state=VisitState.DONE, day__gte=today - DONE_PAST)
    coming = Q(state=VisitState.PUBLISHED, day__gte=today - OWNER_PAST)
    off = _OFF & _TOLD & Q(day__gte=today - OFF_STAYS)
    return Visit.objects.filter(done | coming | off, day__lte=today + OWNER_AHEAD)


def _seasonal_tasks(where: Iterable[int], today: date) -> QuerySet[CareTask]:
    # Occurrences with a dash name a season, a month or a day; running numbers are routine care.
    return CareTask.objects.filter(
        property__in=where,
        occurrence__contains="-",
        closes_on__gte=today - OWNER_PAST,
        opens_on__lte=today + OWNER_AHEAD,
    )


# --- Crews ------------------------------------------------------------------------------------


def _crew_events(address: Address, today: date) -> list[FeedEvent]:
    crew = address.crew
    if crew is None:
        raise ValueError(f"address {address}: the audience crew needs a crew")
    window = Visit.objects.filter(_TOLD, day__range=(today - CREW_PAST, today + CREW_AHEAD))
    rows = window.filter(_of_crew(crew))
    where = stored_facts.places_with_access(Property.objects.filter(pk__in=rows.values("property")))
    visits = list(stored_facts.visits(rows, where, lines=True).values())
    days = {day: _Day.of(day, visits) for day in {visit.day for visit in visits if visit.day}}
    stops = [days[visit.day].entry(visit, crew, address.language) for visit in visits if visit.day]
    return stops + [_crew_day(address, crew, day) for day, stops_of in days.items() if stops_of.order]


def _crew_day(address: Address, crew: Crew, day: date) -> FeedEvent:
    names, page = (crew.code, crew.name), _page(crew, day)
    return day_entry(names, day, address.language, page=page, issued_at=address.issued_at)


def _page(crew: Crew, day: date | None) -> str:
    return f"{settings.SITE_URL}/crew/{crew.code}/{day}/"


def _of_crew(crew: Crew) -> Q:
    # The published route decides; what people were told is left for visits of earlier plans.
    routed = Stop.objects.filter(plan__state=PlanState.PUBLISHED)
    mine = Q(pk__in=routed.filter(crew=crew).values("visit"))
    told = Q(crew_name=crew.name, property__depot=crew.depot) & ~Q(pk__in=routed.values("visit"))
    return mine | told


@dataclass(frozen=True, slots=True)
class _Day:
    """The stops of one crew on one day, in order, and the last change that touched it."""

    order: tuple[UUID, ...]
    changed_at: datetime

    @classmethod
    def of(cls, day: date | None, visits: Sequence[VisitFacts]) -> "_Day":
        present = [visit for visit in visits if visit.day == day and not visit.off() and visit.arrives_at]
        present.sort(key=lambda visit: (visit.arrives_at, visit.place.code))
        touched = [visit.stamp() for visit in visits if day in (visit.day, visit.moved_from)]
        return cls(tuple(visit.uid for visit in present), max(touched))

    def entry(self, visit: VisitFacts, crew: Crew, language: str) -> FeedEvent:
        number = self.order.index(visit.uid) + 1 if visit.uid in self.order else None
        page = _page(crew, visit.day)
        return stop_entry(visit, language, number=number, page=page, day_changed_at=self.changed_at)


# --- The office -------------------------------------------------------------------------------


def _office_events(address: Address, today: date) -> list[FeedEvent]:
    told = Q(state__in=(VisitState.PUBLISHED, VisitState.DONE), day__gte=today - OFFICE_PAST)
    off = Q(state=VisitState.WITHDRAWN, day__gte=today - OFF_STAYS) & _TOLD
    waiting = Q(state=VisitState.PLANNED, closes_on__gte=today, opens_on__lte=today + WAITING_AHEAD)
    rows = Visit.objects.filter((told | off) & Q(day__lte=today + OFFICE_AHEAD) | waiting)
    if address.depot is not None:
        rows = rows.filter(property__depot=address.depot)
    where = stored_facts.places(Property.objects.filter(pk__in=rows.values("property")))
    found, language = list(rows), address.language
    facts = stored_facts.visits(found, where)
    return [
        office_entry(facts[row.pk], language, notes=_notes(row, language), reason=row.withdrawn_reason)
        for row in found
    ]


def _notes(row: Visit, language: str) -> tuple[str, ...]:
    return tuple(str(pair[language == "es"]) for pair in row.notes)


_READERS: dict[Audience, Callable[[Address, date], list[FeedEvent]]] = {
    Audience.PROPERTY: _owner_events,
    Audience.CLIENT: _owner_events,
    Audience.CREW: _crew_events,
    Audience.DEPOT: _office_events,
    Audience.COMPANY: _office_events,
}
_KINDS = {
    Audience.PROPERTY: "owner",
    Audience.CLIENT: "owner",
    Audience.CREW: "crew",
    Audience.DEPOT: "office",
    Audience.COMPANY: "office",
}
