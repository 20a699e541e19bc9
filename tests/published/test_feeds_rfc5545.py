"""Calendar files against the standards and against independent readers.

Sources: RFC 5545 (iCalendar), RFC 7986 (new properties), RFC 9636 (zone files), the IANA time
zone database as Python's zoneinfo reads it, and the libraries icalendar, recurring-ical-events,
vobject and dateutil as readers that share no code with the checker.
"""

import io
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import cache
from uuid import UUID
from zoneinfo import ZoneInfo, available_timezones

import pytest
import recurring_ical_events
import vobject
from dateutil.tz import tzical
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from landscape_care.calendars.checking import check
from landscape_care.calendars.feeds import Days, FeedEvent, Heading, Hours, hours_or_day, render
from landscape_care.calendars.time_zones import can_be_written, parse_rule, zone_rule

ZONES = ("America/Denver", "America/Phoenix")
HEADING = Heading(
    "Casa 14", "Visits", "en", timedelta(hours=1), "seagreen", "https://care.example.com/sign-in/"
)
CHANGED = datetime(2026, 10, 1, 15, 30, tzinfo=UTC)


def event(number: int, span: Days | Hours, **values: object) -> FeedEvent:
    chosen: dict[str, object] = {"summary": f"Visit {number}"} | values
    return FeedEvent(UUID(int=number), number, CHANGED, span, **chosen)  # type: ignore[arg-type]


def hours(day: date, zone: str, starts: int = 8, ends: int = 10) -> Hours:
    midnight = datetime.combine(day, datetime.min.time())
    return Hours(midnight + timedelta(hours=starts), midnight + timedelta(hours=ends), zone)


# --- Time zones ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "zone", [*ZONES, "America/New_York", "Australia/Sydney", "Europe/London", "Asia/Kolkata"]
)
def test_dateutil_reads_the_zone_as_the_iana_database_has_it(zone: str) -> None:
    """dateutil reads VTIMEZONE with code of its own; zoneinfo is the reference, hour by hour."""
    definition = "\r\n".join(zone_rule(zone).lines()) + "\r\n"
    read = tzical(io.StringIO(definition)).get()
    first = datetime(2026, 1, 1)
    for hour in range(3 * 366 * 24):
        local = first + timedelta(hours=hour, minutes=30)
        if can_be_written(zone, local):
            assert (
                local.replace(tzinfo=read).utcoffset() == local.replace(tzinfo=ZoneInfo(zone)).utcoffset()
            ), local


SPAN = [date(2025, 11, 1) + timedelta(days) for days in range(2 * 365)]
# Their rules cannot be said by a yearly weekday within its day (or, in Ireland, have a winter clock
# that is behind), so their visits are written in UTC.
IN_UTC = {
    *("Africa/Cairo", "Egypt", "America/Godthab", "America/Nuuk", "America/Scoresbysund"),
    *("America/Santiago", "Chile/Continental", "Asia/Gaza", "Asia/Hebron", "Asia/Jerusalem", "Asia/Tel_Aviv"),
    *("Israel", "Europe/Dublin", "Eire"),
}


def test_every_zone_is_read_from_its_definition_as_the_iana_database_has_it() -> None:
    """All zones of the IANA database over two years: at every change of the clock, and each month between.

    Clocks that are changed by decree, as in Morocco, are covered because times at which rule and
    database differ are never written in local time.
    """
    names = {name for name in available_timezones() if name != "localtime"}
    written = {name for name in names if _has_rule(name)}
    assert names - written <= IN_UTC
    probes = changes = 0
    for name in sorted(written):
        zone = ZoneInfo(name)
        for local in _moments_of_interest(zone):
            if can_be_written(name, local):
                expected = local.replace(tzinfo=zone).utcoffset()
                assert local.replace(tzinfo=_read_by_dateutil(name)).utcoffset() == expected, (name, local)
                probes += 1
        changes += len(_changes(zone))
    assert probes > 25_000
    assert changes > 600


def _has_rule(name: str) -> bool:
    try:
        return bool(zone_rule(name))
    except ValueError:
        return False


@cache
def _read_by_dateutil(name: str) -> tzinfo | None:
    definition = "\r\n".join(zone_rule(name).lines()) + "\r\n"
    return tzical(io.StringIO(definition)).get()


def _changes(zone: ZoneInfo) -> list[date]:
    offsets = [datetime.combine(day, time(), zone).utcoffset() for day in SPAN]
    return [day for day, before, now in zip(SPAN[1:], offsets, offsets[1:], strict=False) if before != now]


def _moments_of_interest(zone: ZoneInfo) -> list[datetime]:
    """Noon of the first of each month, and each hour of the day on which the clock is changed."""
    monthly = [datetime.combine(day, time(12)) for day in SPAN if day.day == 1]
    eve = [datetime.combine(day - timedelta(1), time()) for day in _changes(zone)]
    return monthly + [start + timedelta(hours=hour, minutes=30) for start in eve for hour in range(24)]


@pytest.mark.parametrize("zone", ZONES)
def test_only_the_hours_around_a_clock_change_cannot_be_written_as_local_time(zone: str) -> None:
    """2026 and 2027: changes on 8 Mar, 1 Nov, 14 Mar, 7 Nov at 2 o'clock (tzdata); Phoenix has none."""
    halves = [datetime(2026, 1, 1) + timedelta(minutes=30 * n) for n in range(2 * 365 * 48)]
    odd = {half for half in halves if not can_be_written(zone, half)}
    changes = [(3, 8, 2, 2026), (11, 1, 1, 2026), (3, 14, 2, 2027), (11, 7, 1, 2027)]
    expected = {
        datetime(year, month, day, hour, minute) for month, day, hour, year in changes for minute in (0, 30)
    }
    assert odd == (expected if zone == "America/Denver" else set())


def test_the_onset_is_written_in_the_offset_before_it() -> None:
    """RFC 5545, 3.6.5, gives this zone's shape for New York: onset 2 o'clock, FROM the old offset."""
    lines = zone_rule("America/New_York").lines()
    assert lines == (
        "BEGIN:VTIMEZONE",
        "TZID:America/New_York",
        "BEGIN:DAYLIGHT",
        "DTSTART:19700308T020000",
        "RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=2SU",
        "TZOFFSETFROM:-0500",
        "TZOFFSETTO:-0400",
        "TZNAME:EDT",
        "END:DAYLIGHT",
        "BEGIN:STANDARD",
        "DTSTART:19701101T020000",
        "RRULE:FREQ=YEARLY;BYMONTH=11;BYDAY=1SU",
        "TZOFFSETFROM:-0400",
        "TZOFFSETTO:-0500",
        "TZNAME:EST",
        "END:STANDARD",
        "END:VTIMEZONE",
    )


def test_a_zone_without_summer_time_has_one_part() -> None:
    lines = zone_rule("America/Phoenix").lines()
    assert [line for line in lines if line.startswith("BEGIN")] == ["BEGIN:VTIMEZONE", "BEGIN:STANDARD"]
    assert "RRULE" not in "".join(lines)


@pytest.mark.parametrize(
    "footer", ["", "MST7MDT,J60,J300", "<-02>2<-01>,M3.5.0/-1,M10.5.0/0", "IST-1GMT0,M10.5.0,M3.5.0/1"]
)
def test_a_rule_that_readers_would_get_wrong_is_refused(footer: str) -> None:
    """Julian days, changes outside their day and negative summer time; forms from RFC 9636, 3.3."""
    with pytest.raises(ValueError, match=r"zone|at"):
        parse_rule("Somewhere/Odd", footer)


# --- Files --------------------------------------------------------------------------------------


def test_a_visit_in_the_hour_told_twice_keeps_its_moment_in_every_reader() -> None:
    """RFC 5545, 3.3.5: a time told twice is the first; written in UTC, because readers differ on it."""
    span = Hours(datetime(2026, 11, 1, 1, 15), datetime(2026, 11, 1, 1, 45), "America/Denver")
    body = render([event(1, span)], HEADING)
    assert b"DTSTART:20261101T071500Z\r\n" in body
    assert b"VTIMEZONE" not in body
    assert check(body) == []


def test_hours_that_the_clock_skips_become_their_day() -> None:
    """14 Mar 2027, Denver: by the offset before the gap, 2:30 lies after 3:00 (RFC 5545, 3.3.5)."""
    starts, ends = datetime(2027, 3, 14, 2, 30), datetime(2027, 3, 14, 3, 0)
    assert hours_or_day(starts, ends, "America/Denver") == Days(date(2027, 3, 14), date(2027, 3, 14))
    assert hours_or_day(starts, ends, "America/Phoenix") == Hours(starts, ends, "America/Phoenix")


@pytest.mark.parametrize("zone", ZONES)
def test_two_independent_readers_find_the_same_hours_across_both_clock_changes(zone: str) -> None:
    """icalendar with recurring-ical-events, and vobject; the expected moments come from zoneinfo."""
    days = [date(2026, 10, 25) + timedelta(n) for n in range(14)] + [
        date(2027, 3, 7) + timedelta(n) for n in range(14)
    ]
    events = [event(n, hours(day, zone)) for n, day in enumerate(days, start=1)]
    body = render(events, HEADING)
    wanted = {
        str(each.uid): (each.span.starts_at().astimezone(UTC), each.span.ends_at().astimezone(UTC))
        for each in events
        if isinstance(each.span, Hours)
    }
    assert expanded(body) == wanted
    assert by_vobject(body) == wanted


def expanded(body: bytes) -> dict[str, tuple[datetime, datetime]]:
    """Moments by UID as icalendar and recurring-ical-events read them."""
    found = recurring_ical_events.of(Calendar.from_ical(body)).between(date(2026, 1, 1), date(2028, 1, 1))
    return {str(each["UID"]): (each.start.astimezone(UTC), each.end.astimezone(UTC)) for each in found}


def by_vobject(body: bytes) -> dict[str, tuple[datetime, datetime]]:
    """Moments by UID as vobject reads them, with the zones of the file."""
    found = vobject.readOne(body.decode()).vevent_list
    return {
        each.uid.value: (each.dtstart.value.astimezone(UTC), each.dtend.value.astimezone(UTC))
        for each in found
    }


def test_whole_days_end_on_the_day_after_the_last() -> None:
    """RFC 5545, 3.6.1: DTEND is exclusive."""
    body = render([event(1, Days(date(2026, 12, 30), date(2027, 1, 2)))], HEADING)
    assert b"DTSTART;VALUE=DATE:20261230\r\n" in body
    assert b"DTEND;VALUE=DATE:20270103\r\n" in body


def test_the_heading_follows_rfc_7986() -> None:
    """5.1 NAME, 5.7 REFRESH-INTERVAL with VALUE=DURATION, 5.9 COLOR; no METHOD, UID or SOURCE."""
    lines = render([event(1, hours(date(2026, 11, 3), "America/Denver"))], HEADING).decode().split("\r\n")
    above = lines[: lines.index("BEGIN:VTIMEZONE")]
    assert above == [
        "BEGIN:VCALENDAR",
        "PRODID:-//Landscape Care//Care calendar//EN",
        "VERSION:2.0",
        "CALSCALE:GREGORIAN",
        "NAME:Casa 14",
        "X-WR-CALNAME:Casa 14",
        "DESCRIPTION:Visits",
        "X-WR-CALDESC:Visits",
        "REFRESH-INTERVAL;VALUE=DURATION:PT1H",
        "X-PUBLISHED-TTL:PT1H",
        "COLOR:seagreen",
        "URL:https://care.example.com/sign-in/",
    ]


def test_an_empty_calendar_is_refused() -> None:
    with pytest.raises(ValueError, match="empty"):
        render([], HEADING)


def test_the_same_events_give_the_same_bytes() -> None:
    events = [
        event(n, hours(date(2026, 11, n), "America/Denver"), description="ñ" * 200) for n in range(1, 9)
    ]
    again = [event(n, hours(date(2026, 11, n), "America/Denver"), description="ñ" * 200) for n in range(1, 9)]
    assert render(events, HEADING) == render(again, HEADING)


ANY_TEXT = st.text(max_size=120) | st.text(
    alphabet='\\;,:"\r\n\t \u2028\x0b\x85\ufeffBEGIN:VEVENTñ👩🏽‍🌾', max_size=120
)


@given(summary=ANY_TEXT, description=ANY_TEXT, category=ANY_TEXT, location=ANY_TEXT)
def test_any_text_gives_one_event_that_readers_give_back(
    summary: str, description: str, category: str, location: str
) -> None:
    """RFC 5545, 3.1 and 3.3.11: folding and escaping are undone by icalendar and by vobject alike."""
    span = hours(date(2026, 11, 3), "America/Denver")
    texts = {"summary": summary, "description": description, "categories": (category,), "location": location}
    body = render([event(1, span, **texts)], HEADING)
    assert check(body) == []
    (read,) = Calendar.from_ical(body).walk("VEVENT")
    one = vobject.readOne(body.decode()).vevent
    assert str(read["SUMMARY"]) == one.summary.value == " ".join(seen(summary).split())
    assert str(read.get("DESCRIPTION", "")) == seen(description)


def seen(text: str) -> str:
    """What a calendar can show of a text, said in another way than the code under test says it."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2028", "\n").replace("\u2029", "\n")
    kept = [c for c in plain if c in "\t\n" or not (ord(c) < 32 or 127 <= ord(c) < 160)]
    return "".join(c for c in kept if c not in "\ufeff\ufffe\uffff")
