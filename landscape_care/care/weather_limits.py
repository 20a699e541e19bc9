"""Days on which a care is better not done, and the part of a window that the weather leaves.

A rule names its bounds in `avoid`; what is forecast is held against them. A window is only ever made
shorter, so it stays in its season and apart from its neighbours, and its name does not change.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from typing import Any

from landscape_care.almanac.dates import Window

_A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class DayAhead:
    """What is forecast for a day: °F, miles an hour, inches, percent; None where nothing is said."""

    day: date
    tmax_f: float | None = None
    tmin_f: float | None = None
    gust_mph: float | None = None
    rain_in: float | None = None
    rain_percent: float | None = None


Ahead = Mapping[date, DayAhead]


@dataclass(frozen=True, slots=True)
class Avoid:
    """Weather in which a rule's care is not done; at least one bound."""

    gust_mph_over: float | None = None
    high_f_over: float | None = None
    low_f_under: float | None = None
    rain_in_over: float | None = None
    rain_percent_over: float | None = None

    def __post_init__(self) -> None:
        given = [(f.name, getattr(self, f.name)) for f in fields(self)]
        if all(value is None for _, value in given):
            raise ValueError(f"avoid is empty: wanted one of {', '.join(_BOUNDS)}")
        for name, value in given:
            low, high = _BOUNDS[name]
            if value is None:
                continue
            if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
                raise ValueError(f"avoid {name} is {value!r}: wanted {low} to {high}")

    def met_by(self, ahead: DayAhead) -> "Met | None":
        """The first bound that a day goes beyond."""
        for name, (measured, over) in _MEASURED.items():
            bound, value = getattr(self, name), getattr(ahead, measured)
            if bound is not None and value is not None and (value > bound if over else value < bound):
                return Met(ahead.day, measured, float(value), float(bound))
        return None


_BOUNDS = {
    "gust_mph_over": (5, 100),
    "high_f_over": (50, 130),
    "low_f_under": (-40, 70),
    "rain_in_over": (0, 10),
    "rain_percent_over": (0, 99),
}
_MEASURED = {
    "gust_mph_over": ("gust_mph", True),
    "high_f_over": ("tmax_f", True),
    "low_f_under": ("tmin_f", False),
    "rain_in_over": ("rain_in", True),
    "rain_percent_over": ("rain_percent", True),
}


@dataclass(frozen=True, slots=True)
class Met:
    """A bound that a day goes beyond: the day, what is measured, its value and the bound."""

    day: date
    measured: str
    value: float
    bound: float


@dataclass(frozen=True, slots=True)
class Shifted:
    """A window as the weather leaves it, what met its usual due day or edge, and that due day."""

    window: Window
    met: Met
    usual_due: date
    nowhere: bool = False

    def as_details(self) -> dict[str, Any]:
        """The reason as it is stored with the task."""
        return {
            "day": self.met.day.isoformat(),
            "measured": self.met.measured,
            "value": round(self.met.value, 2),
            "bound": self.met.bound,
            "usual_due": self.usual_due.isoformat(),
            "nowhere": self.nowhere,
        }


def around_weather(window: Window, avoid: Avoid, ahead: Ahead) -> Shifted | None:
    """The longest run of good days of a window; None where no day of it is bad.

    Days before the first of the forecast are gone. A window of bad days alone stays as it is, and
    `nowhere` says so: the office decides.
    """
    # A forecast is a week or so and a window may be months, so the days ahead are walked.
    met = {day: bad for day, each in ahead.items() if window.contains(day) and (bad := avoid.met_by(each))}
    if not met:
        return None
    runs = list(_runs(window, sorted(met), max(window.opens, min(ahead))))
    if not runs:
        return Shifted(window, met.get(window.due) or met[min(met)], window.due, nowhere=True)
    opens, closes = max(runs, key=lambda run: (run[1] - run[0], -_distance(window.due, run), run[1]))
    due = min(max(window.due, opens), closes)
    # Of the bad days the one that took the due day counts, else the nearest to it.
    reason = met.get(window.due) or met[min(met, key=lambda day: (abs(day - due), day))]
    if not any(day < opens for day in met):
        opens = window.opens
    return Shifted(Window(opens, due, closes), reason, window.due)


def _runs(window: Window, bad: Sequence[date], first: date) -> Iterator[tuple[date, date]]:
    """The runs of days without a bad one, from a first day to the end of a window."""
    for day in (*bad, window.closes + _A_DAY):
        if first < day:
            yield first, day - _A_DAY
        first = max(first, day + _A_DAY)


def _distance(day: date, run: tuple[date, date]) -> int:
    return max((run[0] - day).days, (day - run[1]).days, 0)
