"""The owner's private page: when somebody comes, what was done, what the garden does this season."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.conf import settings
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone, translation
from django.views.decorators.http import require_safe

from landscape_care.calendars import queries
from landscape_care.calendars.feeds import Days, FeedEvent, Hours
from landscape_care.calendars.models import Address
from landscape_care.calendars.words import say
from landscape_care.pages.season_words import season_words
from landscape_care.pages.views.addresses import ways_in
from landscape_care.pages.views.entrance import speak
from landscape_care.people.models import Language
from landscape_care.properties import queries as properties
from landscape_care.properties.books import climate_at
from landscape_care.properties.models import Property
from landscape_care.trades.kinds import AsBuilt, Transformer, Zone
from landscape_care.visits import queries as visits

SEASON_AHEAD = timedelta(days=75)
PAST = timedelta(days=120)
COMING_SHOWN, PAST_SHOWN, SEASON_SHOWN, PHOTOS_SHOWN = 8, 12, 12, 6


@dataclass(frozen=True)
class Notes:
    """The entries of the owner's calendar, sorted for reading."""

    coming: Sequence[FeedEvent]
    past: Sequence[FeedEvent]
    season: Sequence[FeedEvent]


@require_safe
def garden(request: HttpRequest, token: str) -> HttpResponse:
    """Show what the owner's calendar shows, on one page, to whoever holds the address."""
    address = queries.live_address(token)
    if address is None or not (address.property or address.client):
        raise Http404("There is no garden at this address.")
    address.language = _chosen_language(request, address)
    translation.activate(address.language)
    today = queries.local_day(address, timezone.now())
    places = _places(address)
    page = {
        "address": address,
        "name": queries.target_name(address),
        "today": today,
        "notes": sorted_notes(queries.events(address, today), address.language, today),
        "places": [(place, _settings(place, today), _season(place, today)) for place in places],
        "photos": visits.photos_of_care(places, today - PAST)[:PHOTOS_SHOWN],
        **ways_in(request, token),
        "token": token,
    }
    answer = render(request, "client/garden.html", page)
    # The page sends no referrer, so a form could not prove where it comes from; a link chooses the language.
    if "language" in request.GET:
        speak(answer, address.language)
    answer.headers["Referrer-Policy"] = "no-referrer"
    answer.headers["X-Robots-Tag"] = "noindex, nofollow"
    answer.headers["Cache-Control"] = "private, no-store"
    return answer


@require_safe
def garden_photo(_request: HttpRequest, token: str, number: int) -> HttpResponse:
    """Send one picture of care done in a garden to whoever holds its address."""
    address = queries.live_address(token)
    if address is None:
        raise Http404("There is no garden at this address.")
    today = queries.local_day(address, timezone.now())
    kept = get_object_or_404(visits.photos_of_care(_places(address), today - PAST), pk=number)
    answer = FileResponse(kept.picture.open("rb"), content_type="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=3600"
    answer.headers["X-Robots-Tag"] = "noindex, nofollow"
    return answer  # type: ignore[return-value]


def _chosen_language(request: HttpRequest, address: Address) -> str:
    given = request.GET.get("language") or request.COOKIES.get(settings.LANGUAGE_COOKIE_NAME)
    return given if given in Language.values else address.language


def sorted_notes(events: Iterable[FeedEvent], language: str, today: date) -> Notes:
    """Visits to come and past ones, and seasonal entries of the next weeks."""
    found = list(events)
    told = [event for event in found if _is_visit(event, language)]
    coming = [event for event in told if event.first_day() >= today and not _is_done(event, language)]
    past = [event for event in told if event not in coming and event.status != "CANCELLED"]
    season = [
        event
        for event in found
        if event not in told
        and event.status != "CANCELLED"
        and event.first_day() <= today + SEASON_AHEAD
        and _last_day(event) >= today
    ]
    recent = [event for event in past if event.first_day() >= today - PAST]
    return Notes(coming[:COMING_SHOWN], recent[::-1][:PAST_SHOWN], season[:SEASON_SHOWN])


def _is_visit(event: FeedEvent, language: str) -> bool:
    return isinstance(event.span, Hours) or say(language, "category_visit") in event.categories


def _is_done(event: FeedEvent, language: str) -> bool:
    return event.summary.startswith(say(language, "done_mark", title="").strip())


def _last_day(event: FeedEvent) -> date:
    return event.span.last if isinstance(event.span, Days) else event.span.ends.date()


def _places(address: Address) -> list[Property]:
    if address.property:
        return [address.property]
    return list(address.client.properties.all()) if address.client else []


def _settings(place: Property, today: date) -> tuple[list[Zone], list[Transformer]]:
    record: AsBuilt = properties.as_built(place)
    zones = [zone for zone in record.of_kind(Zone) if zone.stands_on(today) and zone.set_minutes is not None]
    lights = [light for light in record.of_kind(Transformer) if light.stands_on(today)]
    return zones, lights


def _season(place: Property, today: date) -> list[str]:
    return season_words(climate_at(place.climate), today)
