"""Days and spans of days: the window of a care task, yearly dates, clock changes."""

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

_MONTH_DAY = re.compile(r"(\d{2})-(\d{2})")
_A_LEAP_YEAR = 2000
_HALVES = {"en": ("am", "pm"), "es": ("a. m.", "p. m.")}


@dataclass(frozen=True, order=True)
class Window:
    """The days between which care may be done, both ends included, and the day aimed for."""

    opens: date
    due: date
    closes: date

    def __post_init__(self) -> None:
        """Refuse a window whose days are out of order."""
        if not self.opens <= self.due <= self.closes:
            raise ValueError(
                f"window opens {self.opens}, due {self.due}, closes {self.closes}:"
                " the days must follow in that order"
            )

    @property
    def days(self) -> int:
        """Number of days in the window, both ends counted."""
        return (self.closes - self.opens).days + 1

    def overlaps(self, other: "Window") -> bool:
        """Tell whether the two windows share a day."""
        return self.opens <= other.closes and other.opens <= self.closes

    def contains(self, day: date) -> bool:
        """Tell whether the day lies in the window."""
        return self.opens <= day <= self.closes

    def shifted(self, days: int) -> Self:
        """Return the same window moved by so many days."""
        span = timedelta(days=days)
        return type(self)(self.opens + span, self.due + span, self.closes + span)


def parse_month_day(month_day: str) -> tuple[int, int]:
    """Read a yearly date written MM-DD as month and day."""
    found = _MONTH_DAY.fullmatch(month_day)
    if found is None:
        raise ValueError(f"month_day {month_day!r}: write two digits each as MM-DD, such as 02-07")
    month, day = int(found[1]), int(found[2])
    try:
        date(_A_LEAP_YEAR, month, day)
    except ValueError as error:
        raise ValueError(f"month_day {month_day!r}: no such day in any year") from error
    return month, day


def on(year: int, month_day: str) -> date:
    """Return the yearly date MM-DD in a year; 29 February is the 28th in a common year."""
    month, day = parse_month_day(month_day)
    if (month, day) == (2, 29) and not _is_leap(year):
        day = 28
    return date(year, month, day)


def month_starts(first: date, last: date) -> list[date]:
    """Return the firsts of month from the first day to the last, both included."""
    _check_order(first, last)
    months = range(first.year * 12 + first.month - 1, last.year * 12 + last.month)
    starts = (date(count // 12, count % 12 + 1, 1) for count in months)
    return [start for start in starts if start >= first]


def check_day(field: str, day: date) -> None:
    """Refuse what is no calendar date, a moment too: it may be another date elsewhere."""
    if not isinstance(day, date) or isinstance(day, datetime):
        raise ValueError(f"{field} is {day!r}: it must be a date without a time of day")


def check_clock(field: str, clock: time) -> None:
    """Refuse what is no time on the clock."""
    if not isinstance(clock, time):
        raise ValueError(f"{field} is {clock!r}: it must be a time on the clock, such as 04:30")


def zone(time_zone: str) -> ZoneInfo:
    """Return the time zone of an IANA name."""
    try:
        return ZoneInfo(time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError, TypeError) as error:
        raise ValueError(f"time_zone {time_zone!r}: give an IANA name such as America/Denver") from error


def dst_changes(tz_name: str, first: date, last: date) -> list[date]:
    """Return the local dates from first to last on which the clock's UTC offset changes."""
    _check_order(first, last)
    tz = zone(tz_name)
    days = [first + timedelta(days=count) for count in range((last - first).days + 1)]
    return [day for day in days if _noon_offset(day, tz) != _noon_offset(day - timedelta(1), tz)]


def _noon_offset(day: date, tz: ZoneInfo) -> timedelta | None:
    # Clocks change in the night; noon is never skipped or told twice.
    return datetime.combine(day, time(12), tz).utcoffset()


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def _check_order(first: date, last: date) -> None:
    if first > last:
        raise ValueError(f"first {first} is after last {last}: give the earlier day first")


def say_clock(language: str, clock: time) -> str:
    """Return a clock time as people of a language, en or es, write it: 2:30 pm, 2:30 p. m."""
    half = _HALVES[language][clock.hour >= 12]
    return f"{(clock.hour - 1) % 12 + 1}:{clock.minute:02} {half}"


_DAY_NAMES = {
    "en": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
    "es": ("lun", "mar", "mié", "jue", "vie", "sáb", "dom"),
}
_MONTH_NAMES = {
    "en": ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
    "es": ("ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"),
}


def say_day(language: str, day: date) -> str:
    """Return a day as people of a language, en or es, write it in a sentence: Tue Mar 3, mar 3 mar."""
    name, month = _DAY_NAMES[language][day.weekday()], _MONTH_NAMES[language][day.month - 1]
    return f"{name} {day.day} {month}" if language == "es" else f"{name} {month} {day.day}"
