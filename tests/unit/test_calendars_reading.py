"""What readers ask for, what is kept for them, and how days and clocks are said."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from landscape_care.almanac.dates import say_clock
from landscape_care.calendars.actions import reader_family
from landscape_care.calendars.arrival import arrival_window
from landscape_care.calendars.checking import check
from landscape_care.calendars.conditions import has_current, wants_gzip
from landscape_care.calendars.crew_entries import without_codes
from landscape_care.calendars.feeds import Days, FeedEvent, Heading, Hours, entries_of, render
from landscape_care.calendars.keeping import Kept, LastGood
from landscape_care.calendars.options import Options
from landscape_care.calendars.polling import StoredFile
from landscape_care.calendars.telling import Memory, Told, as_told, line_of
from landscape_care.calendars.words import WORDS, say_caution, say_day

NOW = datetime(2026, 10, 20, 15, tzinfo=UTC)


@pytest.mark.parametrize(
    ("header", "wanted"),
    [
        ("", False),
        ("gzip", True),
        ("GZip", True),
        ("deflate, gzip;q=1.0", True),
        ("gzip;q=0.001", True),
        ("gzip;q=0", False),
        ("gzip; q=0.0", False),
        ("gzip;q=high", False),
        ("br, zstd", False),
        ("*", False),
        ("identity", False),
    ],
)
def test_gzip_is_given_only_to_who_names_it(header: str, wanted: bool) -> None:
    assert wants_gzip(header) is wanted


@pytest.mark.parametrize(
    ("none_match", "modified_since", "current"),
    [
        (None, None, False),
        ('"tag"', None, True),
        ('W/"tag"', None, True),
        ('"other","tag"', None, True),
        ("*", None, True),
        ("tag", None, False),
        ('"tag-gzip"', None, False),
        ('"other"', "Tue, 20 Oct 2026 15:00:00 GMT", False),
        (None, "Tue, 20 Oct 2026 15:00:00 GMT", True),
        (None, "Tue, 20 Oct 2026 16:00:00 GMT", True),
        (None, "Tue, 20 Oct 2026 14:59:59 GMT", False),
        (None, "yesterday", False),
        (None, "Tue, 20 Oct 2026 15:00:00 -0000", False),
        (None, "Tue, 99 Oct 2026 15:00:00 GMT", False),
    ],
)
def test_a_reader_has_the_current_file_by_tag_or_else_by_date(
    none_match: str | None, modified_since: str | None, current: bool
) -> None:
    """RFC 9110, 13.1.2 and 13.1.3."""
    assert (
        has_current('"tag"', int(NOW.timestamp()), none_match=none_match, modified_since=modified_since)
        is current
    )


@pytest.mark.parametrize(
    ("arrives", "leaves", "first", "last"),
    [
        (time(8, 40), time(9, 25), (8, 30), (10, 30)),
        (time(8, 30), time(9, 0), (8, 30), (10, 30)),
        (time(9, 50), time(12, 10), (9, 30), (12, 30)),
        (time(7, 0), time(11, 0), (7, 0), (11, 0)),
    ],
)
def test_the_arrival_window_is_half_hours_around_the_stop(
    arrives: time, leaves: time, first: tuple[int, int], last: tuple[int, int]
) -> None:
    day = date(2026, 11, 3)
    wanted = tuple(datetime.combine(day, time(*clock)) for clock in (first, last))
    assert arrival_window(day, arrives, leaves) == wanted


def test_an_arrival_window_may_end_at_midnight() -> None:
    _, last = arrival_window(date(2026, 11, 3), time(22, 40), time(23, 45))
    assert last == datetime(2026, 11, 4, 0, 30)


@pytest.mark.parametrize(
    ("note", "code", "kept"),
    [
        ("Side gate, code 4471#.", "4471#", "Side gate, code •••."),
        ("Side gate 4471 then left", "gate 4471#", "Side gate ••• then left"),
        ("Ring first", "4471#", "Ring first"),
        ("Lockbox Blue-Heron by the tap", "blue-heron", "Lockbox ••• by the tap"),
        ("Gate 12 on the left", "12", "Gate 12 on the left"),
        ("Anything", "", "Anything"),
    ],
)
def test_a_code_in_a_note_is_blanked(note: str, code: str, kept: str) -> None:
    assert without_codes(note, code) == kept


@pytest.mark.parametrize(
    ("agent", "family"),
    [
        ("", ""),
        ("Mozilla/5.0 (X11; Linux) Gecko/20100101 Thunderbird/153.0", "Thunderbird"),
        ("iOS/18.1 (22B83) dataaccessd/1.0", "iOS"),
        ("curl", ""),
        ("x" * 500 + "/1", "x" * 61),
    ],
)
def test_only_the_family_of_a_reader_is_noted(agent: str, family: str) -> None:
    assert reader_family(agent) == family


def test_both_languages_have_the_same_texts_with_the_same_values() -> None:
    import string

    def values(text: str) -> set[str | None]:
        return {name for _, name, _, _ in string.Formatter().parse(text)} - {None}

    english, spanish = WORDS["en"], WORDS["es"]
    assert english.keys() == spanish.keys()
    assert [key for key in english if values(english[key]) != values(spanish[key])] == []
    assert [
        key for key in english if english[key] == spanish[key] and key not in ("done_mark", "done_box")
    ] == ["open_box"]


def test_days_and_clocks_are_said_as_people_say_them() -> None:
    assert [say_day("en", date(2026, 3, 3)), say_day("es", date(2026, 3, 4))] == ["Tue 3 Mar", "mié 4 mar"]
    clocks = [time(0, 5), time(9, 0), time(12, 0), time(14, 30)]
    assert [say_clock("en", clock) for clock in clocks] == ["12:05 am", "9:00 am", "12:00 pm", "2:30 pm"]
    assert say_clock("es", time(14, 30)) == "2:30 p. m."


def test_a_caution_defers_to_local_code_in_both_languages() -> None:
    assert "licensed" in say_caution("en", "ELEC")
    assert "licencia" in say_caution("es", "ELEC")
    assert say_caution("en", "UNKNOWN") == "UNKNOWN"


def test_the_memory_of_files_is_bounded_in_number_and_time() -> None:
    memory = LastGood(most=2, longest=timedelta(hours=6))
    kept = Kept(StoredFile(1, "tag", 10, 5), b"file", "en", NOW)
    for digest in ("a", "b", "c"):
        memory.keep(digest, kept)
    assert memory.get("a", NOW) is None
    assert memory.get("b", NOW + timedelta(hours=6)) == kept
    assert memory.get("b", NOW + timedelta(hours=6, seconds=1)) is None
    later = NOW + timedelta(hours=6)
    memory.still_good("b", "tag", later)
    assert memory.get("b", later + timedelta(hours=6)) is not None
    memory.still_good("b", "another", later)  # Somebody else made a newer one.
    assert memory.get("b", later) is None
    memory.forget("c")
    assert memory.get("c", NOW) is None


def event(**values: object) -> FeedEvent:
    day = Days(date(2026, 11, 3), date(2026, 11, 3))
    chosen: dict[str, object] = {"sequence": 0, "changed_at": NOW, "span": day, "summary": "x"} | values
    return FeedEvent(UUID(int=1), **chosen)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "value"), [("sequence", -1), ("changed_at", datetime(2026, 10, 20)), ("status", "DONE")]
)
def test_an_entry_that_no_calendar_may_carry_is_refused(name: str, value: object) -> None:
    with pytest.raises(ValueError, match=rf"{name} .* is right"):
        event(**{name: value})


@pytest.mark.parametrize(
    ("starts", "ends"),
    [
        (datetime(2026, 11, 3, 9), datetime(2026, 11, 3, 9)),
        (datetime(2026, 11, 3, 9), datetime(2026, 11, 3, 8)),
        (datetime(2026, 11, 3, 9, tzinfo=UTC), datetime(2026, 11, 3, 10, tzinfo=UTC)),
    ],
)
def test_hours_without_length_or_with_an_offset_are_refused(starts: datetime, ends: datetime) -> None:
    with pytest.raises(ValueError, match="starts"):
        Hours(starts, ends, "America/Denver")


def test_days_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="earlier day first"):
        Days(date(2026, 11, 4), date(2026, 11, 3))


# --- What was told before ---------------------------------------------------------------------------

LATER = NOW + timedelta(days=3, microseconds=5)


def told_again(before: FeedEvent, after: FeedEvent) -> FeedEvent:
    _, told = as_told([before], lambda _: None, now=NOW)
    kept = Memory(
        {uid: line_of(each) for uid, each in told.items()}, [["head", 1, 2, "f0", 3]], ["2026-11"], True
    )
    assert Memory.unpacked(kept.packed()) == kept
    (event,), _ = as_told([after], Memory.unpacked(kept.packed()).of, now=LATER)
    return event


def test_an_entry_that_says_the_same_keeps_its_stamps_though_its_row_was_touched() -> None:
    touched = event(sequence=4, changed_at=LATER)
    assert told_again(event(), touched) == event()


def test_a_change_beside_the_row_moves_sequence_and_moment_together() -> None:
    again = told_again(event(), event(location="Another street"))
    assert (again.sequence, again.changed_at) == (1, LATER.replace(microsecond=0))


def test_a_change_of_the_row_is_told_with_the_stamps_of_the_row() -> None:
    day_after = NOW + timedelta(days=1)
    again = told_again(event(sequence=2), event(sequence=7, summary="y", changed_at=day_after))
    assert (again.sequence, again.changed_at) == (7, day_after)


@given(st.lists(st.sampled_from(["a", "b", "c"]), min_size=2, max_size=8), st.integers(-5, 5))
def test_the_stamps_of_an_entry_move_exactly_with_its_content(texts: list[str], drift: int) -> None:
    """RFC 5545, 3.8.7: SEQUENCE, LAST-MODIFIED and, without METHOD, DTSTAMP are of the last change."""
    told: dict[str, Told] = {}
    last: FeedEvent | None = None
    for number, text in enumerate(texts):
        at = NOW + timedelta(seconds=drift * number)
        (now,), told = as_told([event(summary=text, changed_at=at)], told.get, now=NOW)
        if last is not None:
            moved = now.sequence > last.sequence, now.changed_at > last.changed_at
            assert moved == ((True, True) if now.summary != last.summary else (False, False))
        last = now


def test_the_entries_of_a_file_are_found_again_byte_for_byte() -> None:
    head = Heading("n", "d", "en", timedelta(hours=1), "seagreen")
    events = [replace(event(summary=f"BEGIN:VEVENT {n}"), uid=UUID(int=n)) for n in range(1, 5)]
    body = render(events, head)
    drawn = entries_of(body)
    assert list(drawn) == [str(each.uid) for each in events]
    assert render(events, head, drawn=drawn) == body
    assert b"".join(drawn.values()) in body


# --- Choices ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("shows", "nothing"),
        ("stems", ("pets",)),
        ("past_days", -1),
        ("past_days", 366),
        ("ahead_days", 0),
        ("ahead_days", 397),
        ("alarm_minutes", -5),
        ("alarm_minutes", 10_081),
    ],
)
def test_a_choice_that_no_calendar_can_show_is_refused(name: str, value: object) -> None:
    with pytest.raises(ValueError, match=name):
        Options(**{name: value})  # type: ignore[arg-type]


def test_an_alarm_is_words_on_a_screen_before_the_start() -> None:
    """RFC 5545, 3.6.6: DISPLAY wants ACTION, DESCRIPTION and TRIGGER; 3.8.6.3: before is negative."""
    hours = Hours(datetime(2026, 11, 3, 9), datetime(2026, 11, 3, 11), "America/Denver")
    head = Heading("n", "d", "en", timedelta(hours=1), "seagreen")
    body = render([event(span=hours, alarm_minutes=90)], head)
    alarm = b"BEGIN:VALARM\r\nACTION:DISPLAY\r\nTRIGGER:-PT1H30M\r\nDESCRIPTION:x\r\nEND:VALARM\r\n"
    assert alarm in body
    assert check(body) == []
    read = Calendar.from_ical(body)
    assert [each.decoded("TRIGGER") for each in read.walk("VALARM")] == [timedelta(minutes=-90)]


@pytest.mark.parametrize(
    ("cut", "rule"),
    [
        (b"ACTION:DISPLAY\r\n", "ACTION"),
        (b"TRIGGER:-PT1H30M\r\n", "TRIGGER"),
        (b"DESCRIPTION:x\r\nEND:VALARM", "D"),
    ],
)
def test_an_alarm_without_its_parts_is_a_fault(cut: bytes, rule: str) -> None:
    hours = Hours(datetime(2026, 11, 3, 9), datetime(2026, 11, 3, 11), "America/Denver")
    head = Heading("n", "d", "en", timedelta(hours=1), "seagreen")
    body = render([event(span=hours, alarm_minutes=90)], head)
    kept = b"END:VALARM" if cut.endswith(b"END:VALARM") else b""
    assert any(
        fault.rule == "RFC 5545 3.6.6" and rule in fault.what for fault in check(body.replace(cut, kept))
    )


def test_an_alarm_that_mails_or_sounds_is_a_fault() -> None:
    hours = Hours(datetime(2026, 11, 3, 9), datetime(2026, 11, 3, 11), "America/Denver")
    head = Heading("n", "d", "en", timedelta(hours=1), "seagreen")
    body = render([event(span=hours, alarm_minutes=90)], head)
    assert [str(fault.rule) for fault in check(body.replace(b"ACTION:DISPLAY", b"ACTION:EMAIL"))] == ["feed"]
