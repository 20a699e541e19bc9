"""A year of one property: each rule with its windows as bars over twelve months, and the list by month."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from landscape_care.care.models import CareTask, TaskState
from landscape_care.pages.season_charts import year_from

WIDTH = 480.0
NARROWEST = 3.0


@dataclass(frozen=True)
class Bar:
    """Days of a window, as a place in the drawing and in words of days."""

    x: float
    width: float
    first: date
    last: date


@dataclass(frozen=True)
class Line:
    """One rule over the year: a task to name it by, its bars, how often it comes, and the hours of it."""

    task: CareTask
    bars: tuple[Bar, ...]
    times: int
    minutes: int


@dataclass(frozen=True)
class Year:
    """The year of a property from the first of a month on."""

    months: tuple[date, ...]
    ticks: tuple[float, ...]
    families: tuple[tuple[str, tuple[Line, ...]], ...]
    by_month: tuple[tuple[date, tuple[CareTask, ...]], ...]


def year_of(tasks: Iterable[CareTask], today: date) -> Year:
    """The open care of the twelve months from this one, by rule and by month."""
    months = year_from(today)
    first, last = months[0], _month_after(months[-1]) - timedelta(1)
    shown = [t for t in tasks if t.state == TaskState.OPEN and t.closes_on >= first and t.opens_on <= last]
    return Year(
        tuple(months),
        tuple(round(_x(month, first, last), 1) for month in months),
        _families(shown, first, last),
        _by_month(shown, months),
    )


def _families(tasks: Sequence[CareTask], first: date, last: date) -> tuple[tuple[str, tuple[Line, ...]], ...]:
    of_rule: Mapping[tuple[str, str], list[CareTask]] = defaultdict(list)
    for task in tasks:
        of_rule[task.stem, task.rule].append(task)
    families: dict[str, list[Line]] = defaultdict(list)
    for (stem, _rule), mine in sorted(of_rule.items()):
        families[stem].append(_line(mine, first, last))
    return tuple((stem, tuple(lines)) for stem, lines in families.items())


def _line(tasks: Sequence[CareTask], first: date, last: date) -> Line:
    spans = _joined(sorted((max(t.opens_on, first), min(t.closes_on, last)) for t in tasks))
    bars = tuple(_bar(span, first, last) for span in spans)
    return Line(tasks[0], bars, len(tasks), sum(task.minutes * task.people for task in tasks))


def _joined(spans: Sequence[tuple[date, date]]) -> list[tuple[date, date]]:
    """Spans in order, those that meet made one."""
    joined: list[tuple[date, date]] = []
    for opens, closes in spans:
        if joined and opens <= joined[-1][1] + timedelta(1):
            joined[-1] = (joined[-1][0], max(closes, joined[-1][1]))
        else:
            joined.append((opens, closes))
    return joined


def _bar(span: tuple[date, date], first: date, last: date) -> Bar:
    x, end = _x(span[0], first, last), _x(span[1] + timedelta(1), first, last)
    width = max(end - x, NARROWEST)
    return Bar(round(min(x, WIDTH - width), 1), round(width, 1), *span)


def _x(day: date, first: date, last: date) -> float:
    return WIDTH * (day - first).days / ((last - first).days + 1)


def _by_month(
    tasks: Sequence[CareTask], months: Sequence[date]
) -> tuple[tuple[date, tuple[CareTask, ...]], ...]:
    due: dict[tuple[int, int], list[CareTask]] = defaultdict(list)
    for task in sorted(tasks, key=lambda task: (task.due_on, task.pk)):
        due[task.due_on.year, task.due_on.month].append(task)
    return tuple((month, tuple(due[month.year, month.month])) for month in months)


def _month_after(month: date) -> date:
    return (month + timedelta(31)).replace(day=1)
