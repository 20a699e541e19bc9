"""The checker finds each fault it knows: a good file is spoilt in one place at a time."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

import pytest

from landscape_care.calendars.checking import check
from landscape_care.calendars.feeds import Days, FeedEvent, FeedTodo, Heading, Hours, render

HEADING = Heading(
    "Casa 14", "Visits", "en", timedelta(hours=1), "seagreen", "https://care.example.com/sign-in/"
)
CHANGED = datetime(2026, 10, 1, 15, 30, tzinfo=UTC)
SPAN = Hours(datetime(2026, 11, 3, 8), datetime(2026, 11, 3, 10), "America/Denver")
GOOD = render(
    [
        FeedEvent(
            UUID(int=1),
            0,
            CHANGED,
            SPAN,
            "Garden visit",
            "Two, lines",
            place=(35.1, -106.6),
            url="https://x.example/a",
        ),
        FeedEvent(UUID(int=2), 3, CHANGED, Days(date(2026, 11, 4), date(2026, 11, 6)), "Care season"),
    ],
    HEADING,
)
UID_1, UID_2 = (b"UID:" + str(UUID(int=n)).encode() for n in (1, 2))


def swap(old: bytes, new: bytes, times: int = 1) -> Callable[[bytes], bytes]:
    """A spoiler that replaces the first places where `old` stands."""
    return lambda body: body.replace(old, new, times)


def without(line: bytes) -> Callable[[bytes], bytes]:
    """A spoiler that drops a line."""
    return swap(line + b"\r\n", b"")


def after(line: bytes, extra: bytes) -> Callable[[bytes], bytes]:
    """A spoiler that adds a line after another."""
    return swap(line + b"\r\n", line + b"\r\n" + extra + b"\r\n")


SPOILT: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "cut off in the middle": (lambda body: body[:700], "RFC 5545 3.1"),
    "a byte order mark": (lambda body: b"\xef\xbb\xbf" + body, "RFC 5545 3.1"),
    "line feeds alone": (lambda body: body.replace(b"\r\n", b"\n"), "RFC 5545 3.1"),
    "a long line": (swap(b"Garden visit", b"Garden visit " * 9), "RFC 5545 3.1"),
    "an empty line": (after(b"VERSION:2.0", b""), "RFC 5545 3.1"),
    "a control character": (swap(b"Garden", b"Gar\x07den"), "RFC 5545 3.1"),
    "half a character": (swap(b"Garden", b"Gar\xc3\r\n \xb1den"), "RFC 5545 3.1.4"),
    "no content line": (after(b"VERSION:2.0", b"NONSENSE"), "RFC 5545 3.1"),
    "a login page": (lambda _: b"<html><body>Sign in</body></html>\r\n", "RFC 5545 3.4"),
    "two calendars": (lambda body: body + body, "RFC 5545 3.4"),
    "an END too many": (after(b"VERSION:2.0", b"END:VEVENT"), "RFC 5545 3.6"),
    "an END missing": (without(b"END:VTIMEZONE"), "RFC 5545 3.6"),
    "no PRODID": (without(b"PRODID:-//Landscape Care//Care calendar//EN"), "RFC 5545 3.6"),
    "another version": (swap(b"VERSION:2.0", b"VERSION:1.0"), "RFC 5545 3.7.4"),
    "a METHOD": (after(b"VERSION:2.0", b"METHOD:PUBLISH"), "feed"),
    "a SOURCE": (after(b"VERSION:2.0", b"SOURCE;VALUE=URI:https://care.example.com/calendars/x.ics"), "feed"),
    "a UID of the calendar": (after(b"VERSION:2.0", b"UID:abc"), "feed"),
    "a refresh without VALUE": (
        swap(b"REFRESH-INTERVAL;VALUE=DURATION", b"REFRESH-INTERVAL"),
        "RFC 7986 5.7",
    ),
    "a refresh in clock form": (swap(b"VALUE=DURATION:PT1H", b"VALUE=DURATION:1:00:00"), "RFC 7986 5.7"),
    "a colour by number": (swap(b"seagreen", b"#2e8b57"), "RFC 7986 5.9"),
    "no event": (lambda body: body[: body.index(b"BEGIN:VEVENT")] + b"END:VCALENDAR\r\n", "feed"),
    "a journal": (swap(b"END:VCALENDAR", b"BEGIN:VJOURNAL\r\nEND:VTODO\r\nEND:VCALENDAR"), "feed"),
    "one UID twice": (swap(UID_2, UID_1), "RFC 5545 3.8.4.7"),
    "no UID": (without(UID_1), "RFC 5545 3.6.1"),
    "no stamp": (without(b"DTSTAMP:20261001T153000Z"), "RFC 5545 3.6.1"),
    "no end": (without(b"DTEND;VALUE=DATE:20261107"), "RFC 5545 3.6.1"),
    "two summaries": (after(b"SUMMARY:Care season", b"SUMMARY:Again"), "RFC 5545 3.6.1"),
    "a host in the UID": (swap(UID_1, b"UID:1@care.example.com"), "RFC 7986 5.3"),
    "a UID too long": (swap(UID_1, b"UID:" + b"\r\n ".join([b"a" * 60] * 5)), "RFC 7986 5.3"),
    "a stamp of its own": (swap(b"DTSTAMP:20261001", b"DTSTAMP:20261002"), "RFC 5545 3.8.7.2"),
    "a stamp in local time": (
        swap(b"DTSTAMP:20261001T153000Z", b"DTSTAMP:20261001T153000"),
        "RFC 5545 3.8.7.2",
    ),
    "a change in local time": (
        swap(b"LAST-MODIFIED:20261001T153000Z", b"LAST-MODIFIED:20261001"),
        "RFC 5545 3.8.7.3",
    ),
    "a sequence below zero": (swap(b"SEQUENCE:0", b"SEQUENCE:-1"), "RFC 5545 3.8.7.4"),
    "an unknown status": (swap(b"STATUS:CONFIRMED", b"STATUS:DONE"), "RFC 5545 3.8.1.11"),
    "an unknown transparency": (swap(b"TRANSP:TRANSPARENT", b"TRANSP:FREE"), "RFC 5545 3.8.2.7"),
    "a place off the earth": (swap(b"GEO:35.1;-106.6", b"GEO:135.1;-106.6"), "RFC 5545 3.8.1.6"),
    "a place with a comma": (swap(b"GEO:35.1;-106.6", b"GEO:35.1,-106.6"), "RFC 5545 3.8.1.6"),
    "an address with a space": (swap(b"https://x.example/a", b"https://x.example/a b"), "RFC 5545 3.8.4.6"),
    "an unescaped comma": (swap(b"Two\\, lines", b"Two, lines"), "RFC 5545 3.3.11"),
    "a needless escape": (swap(b"Two\\, lines", b"Two\\: lines"), "RFC 5545 3.3.11"),
    "a needless escape in a category": (
        after(b"SUMMARY:Care season", b"CATEGORIES:Visit,A\\b"),
        "RFC 5545 3.3.11",
    ),
    "a floating time": (swap(b"DTSTART;TZID=America/Denver:", b"DTSTART:"), "RFC 5545 3.3"),
    "a day that does not exist": (
        swap(b"DTSTART;VALUE=DATE:20261104", b"DTSTART;VALUE=DATE:20260231"),
        "RFC 5545 3.3",
    ),
    "an end in another zone": (
        swap(b"DTEND;TZID=America/Denver", b"DTEND;TZID=America/Phoenix"),
        "RFC 5545 3.8.2.2",
    ),
    "an end before the start": (swap(b"20261103T100000", b"20261103T070000"), "RFC 5545 3.8.2.2"),
    "an end on the first day": (swap(b"DATE:20261107", b"DATE:20261104"), "RFC 5545 3.8.2.2"),
    "a recurrence": (after(b"SEQUENCE:0", b"RRULE:FREQ=WEEKLY"), "feed"),
    "a guest": (after(b"SEQUENCE:0", b"ATTENDEE:mailto:a@example.com"), "feed"),
    "a zone undefined": (swap(b"TZID:America/Denver", b"TZID:America/Boise"), "RFC 5545 3.2.19"),
    "a zone unused": (lambda body: body.replace(b";TZID=America/Denver:", b";TZID=America/Boise:"), "feed"),
    "an offset of a minute": (swap(b"TZOFFSETFROM:-0700", b"TZOFFSETFROM:-7"), "RFC 5545 3.3.14"),
    "an offset too far": (swap(b"TZOFFSETTO:-0600", b"TZOFFSETTO:-2500"), "RFC 5545 3.3.14"),
    "a zone without STANDARD": (
        lambda body: body.replace(b"BEGIN:STANDARD", b"BEGIN:DAYLIGHT").replace(
            b"END:STANDARD", b"END:DAYLIGHT"
        ),
        "RFC 5545 3.6.5",
    ),
    "an onset in UTC": (swap(b"DTSTART:19700308T020000", b"DTSTART:19700308T090000Z"), "RFC 5545 3.6.5"),
    "a part without offset": (without(b"TZOFFSETFROM:-0700"), "RFC 5545 3.6.5"),
    "a zone by dates": (swap(b"RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=2SU", b"RDATE:20260308T020000"), "feed"),
    "an onset off its rule": (
        swap(b"DTSTART:19700308T020000", b"DTSTART:19700301T020000"),
        "RFC 5545 3.8.5.3",
    ),
    "a yearly rule without weekday": (swap(b";BYDAY=2SU", b""), "feed"),
    "too many bytes": (lambda body: body + b"X" * 1_000_001, "size"),
}


DONE_AT = datetime(2026, 11, 5, 18, 0, tzinfo=UTC)
GOOD_LIST = render(
    [
        FeedTodo(UUID(int=1), 0, CHANGED, Days(date(2026, 11, 3), date(2026, 11, 6)), "Rake"),
        FeedTodo(
            UUID(int=2),
            1,
            CHANGED,
            Days(date(2026, 11, 4), date(2026, 11, 4)),
            "Prune",
            status="COMPLETED",
            done_at=DONE_AT,
        ),
    ],
    HEADING,
)
SPOILT_LISTS: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "nothing due": (without(b"DUE;VALUE=DATE:20261106"), "RFC 5545 3.6.2"),
    "due before it begins": (
        swap(b"DUE;VALUE=DATE:20261106", b"DUE;VALUE=DATE:20261103"),
        "RFC 5545 3.8.2.3",
    ),
    "an end": (after(b"STATUS:NEEDS-ACTION", b"DTEND;VALUE=DATE:20261107"), "RFC 5545 3.6.2"),
    "a status of events": (swap(b"STATUS:NEEDS-ACTION", b"STATUS:CONFIRMED"), "RFC 5545 3.8.1.11"),
    "done and not done": (swap(b"STATUS:COMPLETED", b"STATUS:NEEDS-ACTION"), "RFC 5545 3.8.2.1"),
    "done at no moment": (swap(b"COMPLETED:20261105T180000Z", b"COMPLETED:20261105"), "RFC 5545 3.8.2.1"),
    "more than all of it": (swap(b"PERCENT-COMPLETE:100", b"PERCENT-COMPLETE:101"), "RFC 5545 3.8.1.8"),
    "a UID twice": (swap(UID_2, UID_1), "RFC 5545 3.8.4.7"),
    "an event's due day": (lambda body: body.replace(b"VTODO", b"VEVENT"), "RFC 5545 3.6.1"),
}


def test_a_good_file_has_no_fault() -> None:
    assert check(GOOD) == []
    assert check(GOOD_LIST) == []


@pytest.mark.parametrize("name", SPOILT_LISTS)
def test_a_spoilt_list_is_named_with_its_rule(name: str) -> None:
    spoil, rule = SPOILT_LISTS[name]
    body = spoil(GOOD_LIST)
    assert body != GOOD_LIST
    assert rule in {fault.rule for fault in check(body)}


@pytest.mark.parametrize("name", SPOILT)
def test_a_spoilt_file_is_named_with_its_rule(name: str) -> None:
    spoil, rule = SPOILT[name]
    body = spoil(GOOD)
    assert body != GOOD
    assert rule in {fault.rule for fault in check(body)}


def test_a_fault_names_the_line_of_the_file() -> None:
    body = swap(b"SEQUENCE:3", b"SEQUENCE:x")(GOOD)
    number = body.split(b"\r\n").index(b"SEQUENCE:x") + 1
    (fault,) = check(body)
    assert str(fault) == f"line {number}: RFC 5545 3.8.7.4: SEQUENCE is 'x'; a whole number from 0 is right"


def test_too_many_events_are_named() -> None:
    day = Days(date(2026, 11, 4), date(2026, 11, 4))
    body = render([FeedEvent(UUID(int=n), 0, CHANGED, day, "x") for n in range(1001)], HEADING)
    assert [fault.rule for fault in check(body)] == ["size"]
