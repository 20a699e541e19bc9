"""A strict check of calendar files, byte by byte, with line and rule of each fault.

It reads with code of its own, so that it does not share mistakes with the library that writes.
Beyond RFC 5545 and RFC 7986 it holds the house rules for feeds: no METHOD, no recurrence, no
local time without a zone, nothing that prints the secret address.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

LONGEST_LINE = 75
LONGEST_UID = 255
MOST_ENTRIES = 1000
MOST_BYTES = 1_000_000
_LINE = re.compile(
    r'(?P<name>[A-Za-z0-9-]+)(?P<parameters>(?:;[A-Za-z0-9-]+=(?:"[^"]*"|[^";:,]*))*):(?P<value>.*)', re.S
)
_PARAMETER = re.compile(r';([A-Za-z0-9-]+)=("[^"]*"|[^";:,]*)')
_DAY, _LOCAL, _UTC = re.compile(r"\d{8}"), re.compile(r"\d{8}T\d{6}"), re.compile(r"\d{8}T\d{6}Z")
_DURATION = re.compile(
    r"[+-]?P(?:\d+W|\d+D(?:T(?:\d+H)?(?:\d+M)?(?:\d+S)?)?|T(?=\d)(?:\d+H)?(?:\d+M)?(?:\d+S)?)"
)
_OFFSET = re.compile(r"[+-](?:0\d|1\d|2[0-3])[0-5]\d(?:[0-5]\d)?")
_YEARLY = re.compile(r"FREQ=YEARLY;BYMONTH=(\d+);BYDAY=(-?[1-5])(SU|MO|TU|WE|TH|FR|SA)")
_WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
_ESCAPE = re.compile(r"\\[\\;,nN]")
_CONTROL = re.compile("[\x00-\x08\x0a-\x1f\x7f-\x9f]")
_TEXTS = (
    "SUMMARY",
    "DESCRIPTION",
    "LOCATION",
    "UID",
    "NAME",
    "X-WR-CALNAME",
    "X-WR-CALDESC",
    "COMMENT",
    "TZID",
    "PRODID",
)
_ONCE = ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "STATUS", "SEQUENCE", "URL")
_OF_TODO = ("DUE", "COMPLETED", "PERCENT-COMPLETE")
_ALSO_ONCE = ("TRANSP", "LOCATION", "LAST-MODIFIED", "GEO", "CLASS", "CREATED", "PRIORITY")
_UNWANTED_ABOVE = ("METHOD", "SOURCE", "UID")
_UNWANTED_IN_EVENT = ("RRULE", "RDATE", "EXDATE", "RECURRENCE-ID", "ATTENDEE", "ORGANIZER", "DURATION")


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong, where, and which rule says so."""

    line: int
    rule: str
    what: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.rule}: {self.what}"


@dataclass(frozen=True, slots=True)
class Property:
    """One unfolded content line, with the number of its first line in the file."""

    line: int
    name: str
    parameters: dict[str, str]
    value: str


@dataclass(slots=True)
class Component:
    """A BEGIN and END with what stands between."""

    line: int
    name: str
    properties: list[Property] = field(default_factory=list)
    parts: list["Component"] = field(default_factory=list)

    def all(self, name: str) -> list[Property]:
        """Every property of a name."""
        return [each for each in self.properties if each.name == name]

    def first(self, name: str) -> Property | None:
        """The first property of a name."""
        return next(iter(self.all(name)), None)


def check(body: bytes) -> list[Fault]:
    """Return the faults of a calendar file in the order of its lines; none means it holds."""
    faults = list(_bytes(body))
    content, broken = _content_lines(body)
    root, nesting = _components(content)
    faults += [*broken, *nesting]
    faults += [fault for each in content for fault in _property(each)]
    if len(root.parts) != 1 or root.parts[0].name != "VCALENDAR" or root.properties:
        faults.append(Fault(1, "RFC 5545 3.4", "the file is not one VCALENDAR"))
    else:
        faults += _calendar(root.parts[0])
    return sorted(set(faults), key=lambda fault: (fault.line, fault.rule, fault.what))


# --- Bytes and lines --------------------------------------------------------------------------


def _bytes(body: bytes) -> Iterator[Fault]:
    if len(body) > MOST_BYTES:
        yield Fault(1, "size", f"{len(body)} bytes; readers cut off at about {MOST_BYTES}")
    if body.startswith(b"\xef\xbb\xbf"):
        yield Fault(1, "RFC 5545 3.1", "a byte order mark comes before BEGIN")
    if not body.endswith(b"\r\n"):
        yield Fault(body.count(b"\n") + 1, "RFC 5545 3.1", "the last line does not end with CR LF; cut off?")
    for number, line in enumerate(body.removesuffix(b"\r\n").split(b"\r\n"), start=1):
        yield from _physical(number, line)


def _physical(number: int, line: bytes) -> Iterator[Fault]:
    if b"\n" in line or b"\r" in line:
        yield Fault(number, "RFC 5545 3.1", "a line ends with a lone CR or LF")
    if len(line) > LONGEST_LINE:
        yield Fault(number, "RFC 5545 3.1", f"{len(line)} octets; fold after {LONGEST_LINE}")
    if not line.strip():
        yield Fault(number, "RFC 5545 3.1", "the line is empty")
    try:
        text = line.decode()
    except UnicodeDecodeError:
        yield Fault(number, "RFC 5545 3.1.4", "not UTF-8, or folded inside a character")
        return
    if _CONTROL.search(text):
        yield Fault(number, "RFC 5545 3.1", "a control character")


def _content_lines(body: bytes) -> tuple[list[Property], list[Fault]]:
    unfolded: list[tuple[int, str]] = []
    text = body.decode(errors="replace").removesuffix("\r\n")
    for number, line in enumerate(text.split("\r\n"), start=1):
        if line[:1] in (" ", "\t") and unfolded:
            first, before = unfolded[-1]
            unfolded[-1] = (first, before + line[1:])
        else:
            unfolded.append((number, line))
    parsed = [_parse(number, line) for number, line in unfolded]
    read = [each for each in parsed if isinstance(each, Property)]
    return read, [each for each in parsed if isinstance(each, Fault)]


def _parse(number: int, line: str) -> Property | Fault:
    found = _LINE.fullmatch(line)
    if found is None:
        return Fault(number, "RFC 5545 3.1", "no content line of the form NAME;PARAMETER=value:value")
    parameters = {name.upper(): value.strip('"') for name, value in _PARAMETER.findall(found["parameters"])}
    return Property(number, found["name"].upper(), parameters, found["value"])


def _components(content: Iterable[Property]) -> tuple[Component, list[Fault]]:
    root, faults = Component(0, ""), []
    open_ones = [root]
    for each in content:
        if each.name == "BEGIN":
            part = Component(each.line, each.value.upper())
            open_ones[-1].parts.append(part)
            open_ones.append(part)
        elif each.name == "END" and len(open_ones) > 1 and open_ones[-1].name == each.value.upper():
            open_ones.pop()
        elif each.name == "END":
            faults.append(Fault(each.line, "RFC 5545 3.6", f"END:{each.value} closes nothing that is open"))
        else:
            open_ones[-1].properties.append(each)
    faults += [Fault(part.line, "RFC 5545 3.6", f"{part.name} has no END") for part in open_ones[1:]]
    return root, faults


# --- Values -----------------------------------------------------------------------------------


def _property(each: Property) -> Iterator[Fault]:
    if each.name in (*_TEXTS, "CATEGORIES"):
        yield from _text(each)
    form = _FORMS.get(each.name)
    if form and not form[0](each.value):
        yield Fault(each.line, form[1], f"{each.name} is {each.value!r}; {form[2]}")


def _text(each: Property) -> Iterator[Fault]:
    rest = _ESCAPE.sub("", each.value)
    if "\\" in rest:
        yield Fault(each.line, "RFC 5545 3.3.11", f"{each.name}: a backslash before what needs no escape")
    separators = ";" if each.name == "CATEGORIES" else ";,"
    if any(separator in rest for separator in separators):
        yield Fault(each.line, "RFC 5545 3.3.11", f"{each.name}: a comma or semicolon without backslash")


def _position(value: str) -> bool:
    try:
        latitude, longitude = map(float, value.split(";"))
    except ValueError:
        return False
    return abs(latitude) <= 90 and abs(longitude) <= 180


def _one_of(*words: str) -> Callable[[str], bool]:
    return lambda value: value in words


def _fits(pattern: re.Pattern[str]) -> Callable[[str], bool]:
    return lambda value: pattern.fullmatch(value) is not None


def _real(value: str, form: str) -> bool:
    try:
        datetime.strptime(value, form)  # noqa: DTZ007 - only whether such a day exists
    except ValueError:
        return False
    return True


def _utc(value: str) -> bool:
    return _UTC.fullmatch(value) is not None and _real(value, "%Y%m%dT%H%M%SZ")


_FORMS: dict[str, tuple[Callable[[str], bool], str, str]] = {
    "DTSTAMP": (_utc, "RFC 5545 3.8.7.2", "a UTC time such as 20261102T030405Z is right"),
    "COMPLETED": (_utc, "RFC 5545 3.8.2.1", "a UTC time such as 20261102T030405Z is right"),
    "PERCENT-COMPLETE": (_fits(re.compile(r"100|\d\d?")), "RFC 5545 3.8.1.8", "0 to 100 is right"),
    "LAST-MODIFIED": (_utc, "RFC 5545 3.8.7.3", "a UTC time such as 20261102T030405Z is right"),
    "SEQUENCE": (_fits(re.compile(r"\d{1,9}")), "RFC 5545 3.8.7.4", "a whole number from 0 is right"),
    "TRANSP": (_one_of("OPAQUE", "TRANSPARENT"), "RFC 5545 3.8.2.7", "OPAQUE or TRANSPARENT is right"),
    "GEO": (_position, "RFC 5545 3.8.1.6", "latitude;longitude in degrees is right"),
    "URL": (_fits(re.compile(r"https?://[^\s\"<>]+")), "RFC 5545 3.8.4.6", "an http address is right"),
    "TZOFFSETFROM": (_fits(_OFFSET), "RFC 5545 3.3.14", "an offset such as -0700 is right"),
    "TZOFFSETTO": (_fits(_OFFSET), "RFC 5545 3.3.14", "an offset such as -0700 is right"),
    "REFRESH-INTERVAL": (_fits(_DURATION), "RFC 7986 5.7", "a duration such as PT1H is right"),
    "X-PUBLISHED-TTL": (_fits(_DURATION), "RFC 7986 5.7", "a duration such as PT1H is right"),
    "COLOR": (_fits(re.compile(r"[a-z]+")), "RFC 7986 5.9", "a CSS colour name is right"),
}


# --- Calendar ---------------------------------------------------------------------------------


def _calendar(calendar: Component) -> Iterator[Fault]:
    for name in ("PRODID", "VERSION"):
        if len(calendar.all(name)) != 1:
            yield Fault(calendar.line, "RFC 5545 3.6", f"{len(calendar.all(name))} {name}, one is right")
    for each in calendar.all("VERSION"):
        if each.value != "2.0":
            yield Fault(each.line, "RFC 5545 3.7.4", f"VERSION is {each.value!r}; 2.0 is right")
    for each in calendar.properties:
        if each.name in _UNWANTED_ABOVE:
            yield Fault(
                each.line, "feed", f"{each.name} does not belong into a calendar that is subscribed to"
            )
        if each.name == "REFRESH-INTERVAL" and each.parameters.get("VALUE") != "DURATION":
            yield Fault(each.line, "RFC 7986 5.7", "REFRESH-INTERVAL without VALUE=DURATION")
    yield from _parts(calendar)


def _parts(calendar: Component) -> Iterator[Fault]:
    events = [part for part in calendar.parts if part.name == "VEVENT"]
    zones = [part for part in calendar.parts if part.name == "VTIMEZONE"]
    todos = [part for part in calendar.parts if part.name == "VTODO"]
    if not events and not todos:
        yield Fault(calendar.line, "feed", "no VEVENT or VTODO: subscribers would lose what they have")
    count = len(events) + len(todos)
    if count > MOST_ENTRIES:
        yield Fault(calendar.line, "size", f"{count} entries; readers cut off at about {MOST_ENTRIES}")
    for part in calendar.parts:
        if part.name not in ("VEVENT", "VTODO", "VTIMEZONE"):
            yield Fault(part.line, "feed", f"{part.name} is not shown by most calendar programs")
    for event in events:
        yield from _event(event)
    for todo in todos:
        yield from _todo(todo)
    for zone in zones:
        yield from _zone(zone)
    yield from _unique([*events, *todos])
    yield from _zones_used([*events, *todos], zones)


def _unique(events: Sequence[Component]) -> Iterator[Fault]:
    uids = [uid for event in events if (uid := event.first("UID"))]
    counts = Counter(uid.value for uid in uids)
    for uid in uids:
        if counts[uid.value] > 1:
            yield Fault(uid.line, "RFC 5545 3.8.4.7", f"UID {uid.value} stands {counts[uid.value]} times")


def _zones_used(events: Sequence[Component], zones: Sequence[Component]) -> Iterator[Fault]:
    defined = {each.value: each.line for zone in zones for each in zone.all("TZID")}
    used = [each for event in events for each in event.properties if "TZID" in each.parameters]
    for each in used:
        if each.parameters["TZID"] not in defined:
            yield Fault(each.line, "RFC 5545 3.2.19", f"no VTIMEZONE for {each.parameters['TZID']}")
    for name in defined.keys() - {each.parameters["TZID"] for each in used}:
        yield Fault(defined[name], "feed", f"VTIMEZONE {name} is used by no event")


# --- Events and what is to be done ------------------------------------------------------------


def _event(event: Component) -> Iterator[Fault]:
    yield from _entry(event, "RFC 5545 3.6.1", ("UID", "DTSTAMP", "DTSTART", "DTEND"))
    yield from _statuses(event, ("TENTATIVE", "CONFIRMED", "CANCELLED"))
    for each in (each for name in _OF_TODO for each in event.all(name)):
        yield Fault(each.line, "RFC 5545 3.6.1", f"{each.name} belongs into a VTODO")
    yield from _span(event, "DTEND", "RFC 5545 3.8.2.2")


def _todo(todo: Component) -> Iterator[Fault]:
    yield from _entry(todo, "RFC 5545 3.6.2", ("UID", "DTSTAMP", "DUE"))
    yield from _statuses(todo, ("NEEDS-ACTION", "IN-PROCESS", "COMPLETED", "CANCELLED"))
    for each in (*todo.all("DTEND"), *todo.all("TRANSP")):
        yield Fault(each.line, "RFC 5545 3.6.2", f"{each.name} belongs into a VEVENT")
    yield from _span(todo, "DUE", "RFC 5545 3.8.2.3")
    status, done = todo.first("STATUS"), todo.first("COMPLETED")
    if done and (status is None or status.value != "COMPLETED"):
        yield Fault(done.line, "RFC 5545 3.8.2.1", "COMPLETED has a moment, but STATUS says otherwise")


def _entry(entry: Component, rule: str, needed: Sequence[str]) -> Iterator[Fault]:
    for name in needed:
        if not entry.all(name):
            yield Fault(entry.line, rule, f"{entry.name} without {name}")
    for name in _ONCE + _ALSO_ONCE + _OF_TODO:
        if len(entry.all(name)) > 1:
            yield Fault(entry.all(name)[1].line, rule, f"{name} stands more than once")
    for each in entry.properties:
        if each.name in _UNWANTED_IN_EVENT:
            yield Fault(each.line, "feed", f"{each.name}: readers disagree on it, or it names people")
    for part in entry.parts:
        yield from _alarm(part)
    yield from _uid(entry)
    yield from _stamps(entry)


def _statuses(entry: Component, right: Sequence[str]) -> Iterator[Fault]:
    for each in entry.all("STATUS"):
        if each.value not in right:
            what = f"STATUS is {each.value!r}; {', '.join(right[:-1])} or {right[-1]} is right"
            yield Fault(each.line, "RFC 5545 3.8.1.11", what)


def _alarm(part: Component) -> Iterator[Fault]:
    if part.name != "VALARM":
        yield Fault(part.line, "RFC 5545 3.6.1", f"{part.name} inside an entry; only VALARM may stand there")
        return
    for name in ("ACTION", "TRIGGER", "DESCRIPTION"):
        if len(part.all(name)) != 1:
            yield Fault(
                part.line, "RFC 5545 3.6.6", f"{len(part.all(name))} {name} in an alarm, one is right"
            )
    for each in part.all("ACTION"):
        if each.value != "DISPLAY":
            yield Fault(each.line, "feed", f"{each.value}: an alarm from elsewhere may only show words")
    for each in part.all("TRIGGER"):
        if not _DURATION.fullmatch(each.value):
            yield Fault(each.line, "RFC 5545 3.8.6.3", f"TRIGGER is {each.value!r}; a duration is right")


def _uid(event: Component) -> Iterator[Fault]:
    uid = event.first("UID")
    if uid is None:
        return
    if not uid.value or len(uid.value.encode()) >= LONGEST_UID:
        yield Fault(
            uid.line,
            "RFC 7986 5.3",
            f"UID has {len(uid.value.encode())} octets; 1 to {LONGEST_UID - 1} is right",
        )
    if "@" in uid.value or "/" in uid.value:
        yield Fault(uid.line, "RFC 7986 5.3", "UID names a host, a person or an address")


def _stamps(event: Component) -> Iterator[Fault]:
    stamp, changed = event.first("DTSTAMP"), event.first("LAST-MODIFIED")
    if stamp and changed and stamp.value != changed.value:
        yield Fault(stamp.line, "RFC 5545 3.8.7.2", "without METHOD, DTSTAMP is the same as LAST-MODIFIED")


def _span(entry: Component, last: str, rule: str) -> Iterator[Fault]:
    start, end = entry.first("DTSTART"), entry.first(last)
    moments = [_moment(each) for each in (start, end) if each]
    yield from (moment for moment in moments if isinstance(moment, Fault))
    if start is None or end is None or any(isinstance(moment, Fault) for moment in moments):
        return
    if _kind(start) != _kind(end):
        yield Fault(end.line, rule, f"{last} is of another kind than DTSTART")
    elif end.value <= start.value:
        yield Fault(end.line, rule, f"{last} {end.value} is not later than DTSTART {start.value}")


def _kind(each: Property) -> tuple[str, str]:
    return each.parameters.get("VALUE", "DATE-TIME"), each.parameters.get("TZID", each.value[15:])


def _moment(each: Property) -> datetime | Fault:
    if each.parameters.get("VALUE") == "DATE":
        pattern, form, right = _DAY, "%Y%m%d", "a day such as 20261102"
    elif "TZID" in each.parameters:
        pattern, form, right = _LOCAL, "%Y%m%dT%H%M%S", "a local time such as 20261102T083000"
    else:
        # Without a zone the time would float from reader to reader.
        pattern, form, right = _UTC, "%Y%m%dT%H%M%SZ", "a time with TZID or Z"
    if not pattern.fullmatch(each.value) or not _real(each.value, form):
        return Fault(each.line, "RFC 5545 3.3", f"{each.name} is {each.value!r}; {right} is right")
    return datetime.strptime(each.value, form)  # noqa: DTZ007 - compared with its like


# --- Time zones -------------------------------------------------------------------------------


def _zone(zone: Component) -> Iterator[Fault]:
    if len(zone.all("TZID")) != 1:
        yield Fault(zone.line, "RFC 5545 3.6.5", f"{len(zone.all('TZID'))} TZID, one is right")
    if not any(part.name == "STANDARD" for part in zone.parts):
        yield Fault(zone.line, "RFC 5545 3.6.5", "no STANDARD part; some readers need it")
    for part in zone.parts:
        yield from _observance(part)


def _observance(part: Component) -> Iterator[Fault]:
    if part.name not in ("STANDARD", "DAYLIGHT"):
        yield Fault(part.line, "RFC 5545 3.6.5", f"{part.name} in a VTIMEZONE; STANDARD or DAYLIGHT is right")
    for name in ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO"):
        if len(part.all(name)) != 1:
            yield Fault(part.line, "RFC 5545 3.6.5", f"{len(part.all(name))} {name}, one is right")
    for each in part.all("RDATE"):
        yield Fault(each.line, "feed", "RDATE in a VTIMEZONE; some readers use only the first date")
    onset = part.first("DTSTART")
    if onset is None:
        return
    if onset.parameters or not _LOCAL.fullmatch(onset.value) or not _real(onset.value, "%Y%m%dT%H%M%S"):
        yield Fault(onset.line, "RFC 5545 3.6.5", f"onset {onset.value!r}; a local time without Z is right")
        return
    for rule in part.all("RRULE"):
        yield from _yearly(rule, datetime.strptime(onset.value, "%Y%m%dT%H%M%S"))  # noqa: DTZ007


def _yearly(rule: Property, onset: datetime) -> Iterator[Fault]:
    found = _YEARLY.fullmatch(rule.value)
    if found is None:
        yield Fault(
            rule.line, "feed", f"{rule.value!r}; FREQ=YEARLY;BYMONTH=3;BYDAY=2SU is of the form read by all"
        )
        return
    month, week, weekday = int(found[1]), int(found[2]), found[3]
    week_of_onset = (onset.day - 1) // 7 + 1
    last = (onset + timedelta(days=7)).month != onset.month
    in_week = last if week < 0 else week_of_onset == week
    if onset.month != month or _WEEKDAYS[onset.weekday()] != weekday or not in_week:
        yield Fault(rule.line, "RFC 5545 3.8.5.3", "DTSTART is not a day of its own rule")
