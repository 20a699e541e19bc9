"""A year of one property as charts: the work, the water and the lights, month by month."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, time

from django.utils import dates
from django.utils.translation import gettext

from landscape_care.almanac.climate import Climate
from landscape_care.almanac.sun import sunset
from landscape_care.care.models import CareTask
from landscape_care.pages import charts
from landscape_care.trades.kinds import AsBuilt, Controller, Transformer, Zone
from landscape_care.trades.zone_needs import Needs, eto_in_per_day, needs_of, program_on_supply

LABOUR_GROUPS = (
    ("planting", "property"),
    ("irrigation", "drainage"),
    ("water_feature",),
    ("lighting", "turf", "paving", "structure"),
)


@dataclass(frozen=True)
class Figure:
    """A chart with the same values as a table."""

    title: str
    chart: charts.Chart
    series: tuple[tuple[str, tuple[float | None, ...]], ...]
    labels: tuple[str, ...]

    @property
    def rows(self) -> list[tuple[str, list[float | None]]]:
        """The table, a row for each label."""
        return [(label, [values[i] for _, values in self.series]) for i, label in enumerate(self.labels)]


def labour(tasks: Iterable[CareTask], today: date) -> Figure:
    """Hours of people at work by month, for the twelve months from this one."""
    months = year_from(today)
    spent: dict[tuple[int, tuple[int, int]], float] = defaultdict(float)
    for task in tasks:
        group = next((i for i, stems in enumerate(LABOUR_GROUPS) if task.stem in stems), 0)
        spent[group, (task.due_on.year, task.due_on.month)] += task.minutes * task.people / 60
    names = (
        gettext("Planting"),
        gettext("Irrigation, drains"),
        gettext("Water features"),
        gettext("Lights, turf, stone"),
    )
    series = tuple(
        (name, tuple(round(spent[i, (m.year, m.month)], 1) for m in months)) for i, name in enumerate(names)
    )
    labels = _labels(months)
    chart = charts.stacked(labels, [values for _, values in series])
    return Figure(gettext("Care hours by month"), chart, series, labels)


def timers(record: AsBuilt, today: date) -> list[Figure]:
    """For each plain timer, the time it is set to beside sunset in the middle of each month."""
    standing = [t for t in record.of_kind(Transformer) if t.stands_on(today) and t.timer == "plain"]
    return [_timer(record, transformer, year_from(today)) for transformer in standing]


def _timer(record: AsBuilt, transformer: Transformer, months: Sequence[date]) -> Figure:
    setting = _minutes(transformer.set_on) if transformer.set_on else None
    suns = tuple(_sunset_minutes(record, month.replace(day=15)) for month in months)
    series = ((gettext("Timer on"), (setting,) * len(months)), (gettext("Sunset"), suns))
    title = gettext("%(tag)s: timer against sunset") % {"tag": transformer.tag}
    labels = _labels(months)
    chart = charts.lines(labels, series, from_zero=False, steps=charts.CLOCK_STEPS)
    return Figure(title, chart, series, labels)


def _sunset_minutes(record: AsBuilt, day: date) -> float | None:
    moment = sunset(day, record.latitude_deg, record.longitude_deg, record.time_zone)
    return _minutes(moment.time()) if moment else None


def run_times(record: AsBuilt, weather: Climate, today: date) -> list[Figure]:
    """For each controller, the minutes a week set on it beside what its zones need each month."""
    standing = [c for c in record.of_kind(Controller) if c.stands_on(today)]
    return [figure for controller in standing if (figure := _run_times(record, controller, weather, today))]


def _run_times(record: AsBuilt, controller: Controller, weather: Climate, today: date) -> Figure | None:
    needs = needs_of(record, controller, today)
    if not needs.zones:
        return None
    months = year_from(today)
    wanted = tuple(
        _needed_minutes(record, controller, needs, day=today, eto_in=eto_in_per_day(weather, month))
        for month in months
    )
    now_set = _set_minutes(record, needs.tags)
    series = ((gettext("Set now"), (now_set,) * len(months)), (gettext("Needed"), wanted))
    title = gettext("%(tag)s: set run time against need") % {"tag": controller.tag}
    return Figure(title, charts.lines(_labels(months), series), series, _labels(months))


def _needed_minutes(
    record: AsBuilt, controller: Controller, needs: Needs, *, day: date, eto_in: float
) -> float:
    """Minutes a week of all zones together on days of so much evapotranspiration, inches."""
    made = program_on_supply(record, controller, needs, day=day, eto_in_per_day=eto_in)
    return sum(
        7 / z.interval_days * z.run_minutes if z.interval_days > 7 else z.run_minutes * len(z.weekdays)
        for z in made.zones
    )


def _set_minutes(record: AsBuilt, tags: Sequence[str]) -> float | None:
    """Minutes a week that are set; None while no setting has been noted."""
    noted = [z for z in record.of_kind(Zone) if z.tag in tags and z.set_minutes is not None]
    return sum((zone.set_minutes or 0) * len(zone.set_weekdays) for zone in noted) if noted else None


def year_from(today: date) -> list[date]:
    """The first days of twelve months, beginning with this one."""
    return [
        date(today.year + (today.month - 1 + i) // 12, (today.month - 1 + i) % 12 + 1, 1) for i in range(12)
    ]


def _labels(months: Sequence[date]) -> tuple[str, ...]:
    return tuple(str(dates.MONTHS_3[month.month]).capitalize() for month in months)


def _minutes(clock: time) -> float:
    return clock.hour * 60 + clock.minute
