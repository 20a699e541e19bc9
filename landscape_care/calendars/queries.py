"""Reads of the calendars room: live addresses, and the entries that each may show."""

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Q, QuerySet

from landscape_care.calendars import stored_facts
from landscape_care.calendars.crew_entries import day_entry, stop_entry
from landscape_care.calendars.facts import PlaceFacts, VisitFacts, named_uid
from landscape_care.calendars.feeds import FeedEvent, Heading, Hours, render
from landscape_care.calendars.links import visit_link
from landscape_care.calendars.models import Address, Audience, Shows
from landscape_care.calendars.office_entries import office_entry
from landscape_care.calendars.owner_entries import nothing_yet, season_entries, visit_entry, with_link
from landscape_care.calendars.window_entries import todo_entries, window_entries
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
WINDOW_PAST, WINDOW_AHEAD = timedelta(days=30), timedelta(days=90)
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
_TOLD_OF_PROPERTY = tuple(
    f"property__{name}"
    for name in (
        *("code", "name", "street", "town", "time_zone", "latitude_deg", "longitude_deg"),
        *("access_opens", "access_closes"),
    )
)
_TOLD = Q(announced=True, day__isnull=False)
_OFF = Q(state__in=(VisitState.PLANNED, VisitState.WITHDRAWN))


def digest_of(token: str) -> str:
    """The SHA-256 under which a token is kept."""
    return hashlib.sha256(token.encode()).hexdigest()


def live_address(token: str) -> Address | None:
    """The address of a token that was issued and not revoked."""
    return _addresses().filter(digest=digest_of(token)).first()


def live_address_numbered(number: int) -> Address | None:
    """The live address with a number."""
    # Gardens are asked for most of all: only what is told of one is read with its address.
    columns = (*(each.attname for each in Address._meta.concrete_fields), *_TOLD_OF_PROPERTY)
    rows = Address.objects.select_related("property").only(*columns).filter(pk=number, revoked_at=None)
    return next(iter(rows.order_by()), None)


def live_addresses() -> QuerySet[Address]:
    """All addresses that still answer."""
    return _addresses()


def target(audience: str, code: str) -> Property | Client | Crew | Depot | None:
    """What an audience and a code name, if anything does."""
    table = TARGETS.get(Audience(audience))
    return table._default_manager.filter(code=code).first() if table else None


def _addresses() -> QuerySet[Address]:
    related = Address.objects.select_related("property", "client", "crew__depot", "depot")
    return related.filter(revoked_at=None).defer(
        "property__gate_code", "property__access_note", "client__note"
    )


# --- What an address shows ------------------------------------------------------------------------


def events(address: Address, today: date) -> list[FeedEvent]:
    """Everything an address shows on a day, never nothing."""
    return list(_shown(address, today)[0])


def entries(address: Address, today: date) -> tuple[list[FeedEvent], Heading]:
    """What the file of an address tells on a day, and what it says about itself."""
    shown, left = _shown(address, today)
    told = [with_link(event, address.language) for event in shown] if _for_owners(address) else shown
    return told, heading(address, count=len(shown), left=left)


def most_entries(address: Address) -> int:
    """How many entries the file of an address holds; some readers drop what is beyond 1,000."""
    return MOST_ENTRIES.get(Audience(address.audience), MOST_ENTRIES_FOR_PEOPLE)


def entries_of_visits(
    address: Address, numbers: Iterable[int], today: date
) -> tuple[set[str], list[FeedEvent]]:
    """The UIDs of some visits of a property, and what its file tells of them."""
    if address.property is None:
        raise ValueError(f"address {address}: only the calendar of a property is read visit by visit")
    where = {address.property.pk: stored_facts.place_of(address.property)}
    told = _owner_window(address, today) & Q(property=address.property)
    rows = list(Visit.objects.filter(pk__in=numbers).annotate(told=told).order_by())
    shown = [row for row in rows if row.told] if address.options().visits() else []
    events = [with_link(event, address.language) for event in _told_visits(address, shown, where)]
    return {str(row.uid) for row in rows}, events


def calendar_file(address: Address, today: date) -> bytes:
    """The calendar file of an address on a day, as to somebody who was told nothing before."""
    return render(*entries(address, today))


def _for_owners(address: Address) -> bool:
    return _KINDS[Audience(address.audience)] == "owner"


def heading(address: Address, *, count: int = 0, left: int = 0) -> Heading:
    """What the calendar of an address says about itself."""
    kind = _KINDS[Audience(address.audience)]
    colour = {"owner": "seagreen", "crew": "steelblue", "office": "darkgoldenrod"}[kind]
    if address.shows in (Shows.WINDOWS, Shows.TODOS):
        kind, colour = ("window" if address.shows == Shows.WINDOWS else "todo"), "olivedrab"
    text = say(address.language, f"{kind}_calendar_text")
    if left:
        text += "\n" + say(address.language, "cut", count=count, left=left)
    return Heading(
        name=say(address.language, f"{kind}_calendar", name=target_name(address)),
        description=text,
        language=address.language,
        refresh=REFRESH_CREW if address.audience == Audience.CREW else REFRESH,
        colour=colour,
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


def day_ends_at(address: Address, today: date) -> datetime:
    """The moment at which a day ends where the calendar is about."""
    return datetime.combine(today + timedelta(days=1), time(), ZoneInfo(_time_zone(address)))


def _time_zone(address: Address) -> str:
    if address.property:
        return address.property.time_zone
    depot = address.crew.depot if address.crew else address.depot
    if depot:
        return depot.time_zone
    places = Property.objects.filter(client=address.client) if address.client else Property.objects.all()
    return places.values_list("time_zone", flat=True).first() or "UTC"


def _shown(address: Address, today: date) -> tuple[list[FeedEvent], int]:
    listed = address.shows in (Shows.WINDOWS, Shows.TODOS)
    read = _window_events if listed else _READERS[Audience(address.audience)]
    found = read(address, today)
    if not found:
        uid = named_uid("nothing", address.audience, target_code(address))
        return [nothing_yet(uid, address.issued_at, address.language, crew=bool(address.crew))], 0
    most = most_entries(address)
    nearest = sorted(found, key=lambda event: (abs(event.first_day() - today), str(event.uid)))[:most]
    nearest.sort(key=lambda event: (event.first_day(), str(event.uid)))
    return nearest, len(found) - len(nearest)


def _span_of(address: Address, past: timedelta, ahead: timedelta, today: date) -> tuple[date, date]:
    """The first and last day of an address: as usual for its audience, or as chosen for it."""
    chosen = address.options()
    back = past if chosen.past_days is None else timedelta(days=chosen.past_days)
    on = ahead if chosen.ahead_days is None else timedelta(days=chosen.ahead_days)
    return today - back, today + on


def _with_kinds(visits: Iterable[VisitFacts], address: Address) -> list[VisitFacts]:
    """The visits with the kinds of care that were chosen; one that is off has none left and stays."""
    chosen = address.options()
    if not chosen.stems:
        return list(visits)
    narrowed = (
        replace(visit, tasks=tuple(task for task in visit.tasks if chosen.has(task.stem))) for visit in visits
    )
    return [visit for visit in narrowed if visit.tasks or visit.off()]


def _with_alarm(entry: FeedEvent, visit: VisitFacts, address: Address) -> FeedEvent:
    """The entry with the alarm that was chosen, where something is still to come at an hour."""
    if address.alarm_minutes is None or visit.state != "published" or not isinstance(entry.span, Hours):
        return entry
    return replace(entry, alarm_minutes=address.alarm_minutes)


# --- Owners -----------------------------------------------------------------------------------


def _owner_events(address: Address, today: date) -> list[FeedEvent]:
    chosen, where = address.options(), stored_facts.places(_places(address))
    found = _owner_visits(address, where, today) if chosen.visits() else []
    if not chosen.seasons():
        return found
    many = address.client is not None
    for key, tasks in stored_facts.tasks_of_places(_seasonal_tasks(address, where, today)).items():
        found += season_entries(tasks, where[key], address.language, today=today, many=many)
    return found


def _owner_visits(address: Address, where: Mapping[int, PlaceFacts], today: date) -> list[FeedEvent]:
    rows = Visit.objects.filter(_owner_window(address, today), property__in=where)
    return _told_visits(address, rows, where)


def _told_visits(address: Address, rows: Iterable[Visit], where: Mapping[int, PlaceFacts]) -> list[FeedEvent]:
    many, found = address.client is not None, []
    for visit in _with_kinds(stored_facts.visits(rows, where).values(), address):
        page = visit_link(address.pk, visit.uid) if visit.state == "published" else ""
        entry = visit_entry(visit, address.language, many=many, page=page)
        if entry is not None:
            found.append(_with_alarm(entry, visit, address))
    return found


def _owner_window(address: Address, today: date) -> Q:
    first, last = _span_of(address, OWNER_PAST, OWNER_AHEAD, today)
    first_done = _span_of(address, DONE_PAST, OWNER_AHEAD, today)[0]
    done = Q(state=VisitState.DONE, day__gte=first_done)
    coming = Q(state=VisitState.PUBLISHED, day__gte=first)
    off = _OFF & _TOLD & Q(day__gte=max(first, today - OFF_STAYS))
    return (done | coming | off) & Q(day__lte=last)


def owner_visit(address: Address, uid: UUID) -> Visit | None:
    """A visit that the calendar of an owner may tell of."""
    rows = (
        Visit.objects.filter(_TOLD, uid=uid, property__in=_places(address)) if _for_owners(address) else None
    )
    return rows.select_related("property").first() if rows is not None else None


def _places(address: Address) -> QuerySet[Property]:
    """The properties that an address is about; for a crew none are its own."""
    if address.property_id:
        return Property.objects.filter(pk=address.property_id)
    if address.client_id:
        return Property.objects.filter(client=address.client_id)
    if address.crew_id:
        return Property.objects.none()
    return Property.objects.filter(depot=address.depot_id) if address.depot_id else Property.objects.all()


def _seasonal_tasks(address: Address, where: Iterable[int], today: date) -> QuerySet[CareTask]:
    # Occurrences with a dash name a season, a month or a day; running numbers are routine care.
    first, last = _span_of(address, OWNER_PAST, OWNER_AHEAD, today)
    rows = CareTask.objects.filter(
        property__in=where, occurrence__contains="-", closes_on__gte=first, opens_on__lte=last
    )
    return rows.filter(stem__in=address.stems) if address.stems else rows


# --- Care windows -----------------------------------------------------------------------------


def _window_events(address: Address, today: date) -> list[FeedEvent]:
    first, last = _span_of(address, WINDOW_PAST, WINDOW_AHEAD, today)
    where = stored_facts.places(_places(address))
    rows = CareTask.objects.filter(property__in=_places(address), closes_on__gte=first, opens_on__lte=last)
    if address.stems:
        rows = rows.filter(stem__in=address.stems)
    many = address.property_id is None
    draw = todo_entries if address.shows == Shows.TODOS else window_entries
    return [
        entry
        for key, tasks in stored_facts.tasks_of_places(rows).items()
        for entry in draw(tasks, where[key], address.language, today=today, many=many)
    ]


# --- Crews ------------------------------------------------------------------------------------


def _crew_events(address: Address, today: date) -> list[FeedEvent]:
    crew = address.crew
    if crew is None:
        raise ValueError(f"address {address}: the audience crew needs a crew")
    window = Visit.objects.filter(_TOLD, day__range=_span_of(address, CREW_PAST, CREW_AHEAD, today))
    rows = window.filter(_of_crew(crew))
    where = stored_facts.places_with_access(Property.objects.filter(pk__in=rows.values("property")))
    visits = list(stored_facts.visits(rows, where, lines=True).values())
    days = {day: _Day.of(day, visits) for day in {visit.day for visit in visits if visit.day}}
    stops = [
        _with_alarm(days[visit.day].entry(visit, crew, address.language), visit, address)
        for visit in visits
        if visit.day
    ]
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
    first, last = _span_of(address, OFFICE_PAST, OFFICE_AHEAD, today)
    told = Q(state__in=(VisitState.PUBLISHED, VisitState.DONE), day__gte=first)
    off = Q(state=VisitState.WITHDRAWN, day__gte=max(first, today - OFF_STAYS)) & _TOLD
    waiting = Q(
        state=VisitState.PLANNED, closes_on__gte=today, opens_on__lte=min(last, today + WAITING_AHEAD)
    )
    rows = Visit.objects.filter((told | off) & Q(day__lte=last) | waiting)
    if address.depot is not None:
        rows = rows.filter(property__depot=address.depot)
    where = stored_facts.places(Property.objects.filter(pk__in=rows.values("property")))
    found, language = list(rows), address.language
    kept = {visit.uid: visit for visit in _with_kinds(stored_facts.visits(found, where).values(), address)}
    entries = {
        row.uid: office_entry(
            kept[row.uid], language, notes=_notes(row, language), reason=row.withdrawn_reason
        )
        for row in found
        if row.uid in kept
    }
    return [_with_alarm(entry, kept[uid], address) for uid, entry in entries.items()]


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
