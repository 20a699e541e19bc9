"""Time zone definitions for calendar files, made from the rule that a zone follows today.

A compiled zone file ends with the rule for all later years in the form of POSIX TZ
(RFC 9636, 3.3), for example MST7MDT,M3.2.0,M11.1.0. That rule becomes one STANDARD and one
DAYLIGHT part with a yearly RRULE (RFC 5545, 3.6.5). Lists of dates are avoided because several
calendar programs read only their first date.
"""

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from importlib.resources import files
from zoneinfo import ZoneInfo

_WEEKDAYS = ("SU", "MO", "TU", "WE", "TH", "FR", "SA")  # POSIX counts from Sunday
_NAME = r"<[A-Za-z0-9+-]{3,}>|[A-Za-z]{3,}"
_OFFSET = r"[+-]?\d{1,3}(?::\d{2}){0,2}"
_DAY = r"M\d{1,2}\.\d\.\d(?:/" + _OFFSET + ")?"
_FOOTER = re.compile(
    rf"(?P<std>{_NAME})(?P<std_offset>{_OFFSET})"
    rf"(?:(?P<dst>{_NAME})(?P<dst_offset>{_OFFSET})?,(?P<start>{_DAY}),(?P<end>{_DAY}))?"
)
_CHANGE = re.compile(r"M(\d+)\.(\d)\.(\d)(?:/(.+))?")
_FIRST_YEAR = 1970
_ZONE_NAME = re.compile(r"[A-Za-z0-9_+/-]+")


@dataclass(frozen=True)
class YearlyChange:
    """The nth weekday of a month and the wall clock time at which the offset changes; week 5 is the last."""

    month: int
    week: int
    weekday: int
    at: timedelta

    def __post_init__(self) -> None:
        """Refuse what no RRULE with BYDAY can say."""
        if not (1 <= self.month <= 12 and 1 <= self.week <= 5 and 0 <= self.weekday <= 6):
            raise ValueError(f"{self}: month 1 to 12, week 1 to 5 and weekday 0 to 6 are right")
        if not timedelta(0) <= self.at < timedelta(days=1):
            raise ValueError(
                f"at {self.at}: only a change within its own day can be written as a yearly rule"
            )

    def local(self, year: int) -> datetime:
        """The wall clock time of the change in a year, by the offset before it."""
        first = date(year, self.month, 1)
        days = (self.weekday - first.isoweekday() % 7) % 7 + 7 * (self.week - 1)
        day = first + timedelta(days)
        if day.month != self.month:
            day -= timedelta(7)
        return datetime(year, self.month, day.day) + self.at  # noqa: DTZ001 - wall clock of the zone

    def recurrence(self) -> str:
        """The same as a recurrence rule of RFC 5545, 3.3.10."""
        week = -1 if self.week == 5 else self.week
        return f"FREQ=YEARLY;BYMONTH={self.month};BYDAY={week}{_WEEKDAYS[self.weekday]}"


@dataclass(frozen=True)
class ZoneRule:
    """Names and offsets of a zone, and the two yearly changes where it has summer time."""

    name: str
    standard: str
    standard_offset: timedelta
    daylight: str = ""
    daylight_offset: timedelta = timedelta(0)
    starts: YearlyChange | None = None
    ends: YearlyChange | None = None

    def offset(self, local: datetime) -> timedelta | None:
        """The offset at a wall clock time, or None where that time is skipped or told twice."""
        if self.starts is None or self.ends is None:
            return self.standard_offset
        gain = self.daylight_offset - self.standard_offset
        start, end = self.starts.local(local.year), self.ends.local(local.year)
        if start <= local < start + gain or end - gain <= local < end:
            return None
        summer = start <= local < end if start < end else not end <= local < start
        return self.daylight_offset if summer else self.standard_offset

    def lines(self) -> tuple[str, ...]:
        """The VTIMEZONE of RFC 5545, 3.6.5, without line ends."""
        body = self._parts() if self.starts and self.ends else self._fixed()
        return ("BEGIN:VTIMEZONE", f"TZID:{self.name}", *body, "END:VTIMEZONE")

    def _fixed(self) -> tuple[str, ...]:
        same = self.standard_offset
        return _part("STANDARD", self.standard, (same, same), f"DTSTART:{_FIRST_YEAR}0101T000000")

    def _parts(self) -> tuple[str, ...]:
        winter, summer = self.standard_offset, self.daylight_offset
        return (
            *_part("DAYLIGHT", self.daylight, (winter, summer), *_onset(self.starts)),
            *_part("STANDARD", self.standard, (summer, winter), *_onset(self.ends)),
        )


def parse_rule(name: str, footer: str) -> ZoneRule:
    """Read the POSIX TZ text at the end of a zone file; times default to 2 o'clock (POSIX 8.3)."""
    found = _FOOTER.fullmatch(footer)
    if found is None:
        raise ValueError(
            f"zone {name!r} follows {footer!r}: only rules such as MST7MDT,M3.2.0,M11.1.0 can be written"
        )
    standard_offset = -_span(found["std_offset"])  # POSIX counts hours west of Greenwich
    standard = found["std"].strip("<>")
    if not found["dst"]:
        return ZoneRule(name, standard, standard_offset)
    given = found["dst_offset"]
    daylight_offset = -_span(given) if given else standard_offset + timedelta(hours=1)
    if daylight_offset <= standard_offset:
        raise ValueError(
            f"zone {name!r} follows {footer!r}: its summer clock would not be ahead of its winter clock"
        )
    changes = _change(found["start"]), _change(found["end"])
    return ZoneRule(name, standard, standard_offset, found["dst"].strip("<>"), daylight_offset, *changes)


@lru_cache(maxsize=64)
def zone_rule(name: str) -> ZoneRule:
    """The rule that a zone of the IANA database follows in all years to come."""
    return parse_rule(name, _footer(name))


def can_be_written(name: str, local: datetime) -> bool:
    """Tell whether readers of the zone's rule find the same moment as the zone's full history."""
    try:
        offset = zone_rule(name).offset(local)
    except ValueError:
        return False
    return offset is not None and offset == local.replace(tzinfo=ZoneInfo(name)).utcoffset()


def _footer(name: str) -> str:
    if not _ZONE_NAME.fullmatch(name):
        raise ValueError(f"time_zone {name!r}: give an IANA name such as America/Denver")
    try:
        compiled = files("tzdata").joinpath("zoneinfo", *name.split("/")).read_bytes()
    except OSError as missing:
        raise ValueError(f"time_zone {name!r}: give an IANA name such as America/Denver") from missing
    return compiled.rstrip(b"\n").rsplit(b"\n", 1)[-1].decode("ascii")


def _span(clock: str) -> timedelta:
    sign = -1 if clock.startswith("-") else 1
    hours, minutes, seconds = (*map(int, clock.lstrip("+-").split(":")), 0, 0)[:3]
    return sign * timedelta(hours=hours, minutes=minutes, seconds=seconds)


def _change(posix: str) -> YearlyChange:
    found = _CHANGE.fullmatch(posix)
    if found is None:
        raise ValueError(f"{posix!r} is no yearly change: M3.2.0/2 would be right")
    month, week, weekday = (int(found[n]) for n in (1, 2, 3))
    return YearlyChange(month, week, weekday, _span(found[4] or "2"))


def _onset(change: YearlyChange | None) -> tuple[str, ...]:
    if change is None:
        return ()
    return (f"DTSTART:{change.local(_FIRST_YEAR):%Y%m%dT%H%M%S}", f"RRULE:{change.recurrence()}")


def _part(kind: str, name: str, offsets: tuple[timedelta, timedelta], *onset: str) -> tuple[str, ...]:
    before, after = map(_signed, offsets)
    body = (*onset, f"TZOFFSETFROM:{before}", f"TZOFFSETTO:{after}", f"TZNAME:{name}")
    return (f"BEGIN:{kind}", *body, f"END:{kind}")


def _signed(offset: timedelta) -> str:
    seconds = int(offset.total_seconds())
    minutes, rest = divmod(abs(seconds), 60)
    sign = "-" if seconds < 0 else "+"
    return f"{sign}{minutes // 60:02}{minutes % 60:02}" + (f"{rest:02}" if rest else "")
