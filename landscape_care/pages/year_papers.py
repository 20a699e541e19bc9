"""The year of a property on paper: the season chart, then the list by month."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from django.utils import dates
from django.utils.translation import get_language, gettext

from landscape_care.pages.paper import Box, Column, Drawing, Paper, Row, Stroke, Title, Words
from landscape_care.pages.templatetags.wording import hours, month_name, said, short_day, stem_name, year_day
from landscape_care.pages.years import WIDTH, Line, Year
from landscape_care.properties.models import Property

ROW_HEIGHT, BAR_TOP, BAR_HEIGHT = 14.0, 2.0, 10.0


def year_paper(place: Property, year: Year, *, today: date, made_at: datetime) -> bytes:
    """The chart and the list as PDF, in the language of the reader."""
    where = f"{place.name} · {place.street}, {place.town}"
    title = Title(place.depot.name, gettext("A year of care"), where, year_day(today))
    paper = Paper(title, language=get_language() or "en", made_at=made_at, page="wide")
    paper.heading(gettext("Season chart"))
    if not year.families:
        paper.paragraph(gettext("Nothing is planned."))
    else:
        paper.table(_chart_columns(), list(_chart_rows(year)))
    paper.page_break()
    paper.heading(gettext("Month by month"))
    paper.table(_list_columns(), list(_list_rows(year)))
    return paper.to_bytes()


def _chart_columns() -> Sequence[Column]:
    return (
        Column(gettext("Care"), 3.4),
        Column("", 7),
        Column(gettext("Times"), 0.9, "right"),
        Column(gettext("Hours"), 1, "right"),
    )


def _chart_rows(year: Year) -> Iterator[Row]:
    yield ("", _months(year), "", "")
    for stem, lines in year.families:
        yield (stem_name(stem),)
        for line in lines:
            yield (said(line.task, "title"), _bars(line, year), str(line.times), hours(line.minutes))


def _months(year: Year) -> Drawing:
    names = (
        Words(tick + 3, 11, str(dates.MONTHS_3[month.month]).capitalize(), size=11)
        for tick, month in zip(year.ticks, year.months, strict=True)
    )
    return Drawing(WIDTH, ROW_HEIGHT, (*_rules(year), *names))


def _bars(line: Line, year: Year) -> Drawing:
    bars = (Box(bar.x, BAR_TOP, bar.width, BAR_HEIGHT) for bar in line.bars)
    return Drawing(WIDTH, ROW_HEIGHT, (*_rules(year), *bars))


def _rules(year: Year) -> Iterator[Stroke]:
    return (Stroke(((tick, 0.0), (tick, ROW_HEIGHT)), "hair", 0.4) for tick in year.ticks)


def _list_columns() -> Sequence[Column]:
    return (
        Column(gettext("Due"), 1.2),
        Column(gettext("Care"), 4),
        Column(gettext("Thing"), 1.2),
        Column(gettext("Opens"), 1.2),
        Column(gettext("Closes"), 1.2),
        Column(gettext("Hours"), 1, "right"),
    )


def _list_rows(year: Year) -> Iterator[Row]:
    for month, tasks in year.by_month:
        yield (month_name(month) if tasks else f"{month_name(month)}: {gettext('Nothing is planned.')}",)
        for task in tasks:
            work = hours(task.minutes) + (f" × {task.people}" if task.people > 1 else "")
            thing = task.thing.tag if task.thing else ""
            span = short_day(task.opens_on), short_day(task.closes_on)
            yield (short_day(task.due_on), said(task, "title"), thing, *span, work)
