"""Which care tasks should exist on a property, from its record, its climate, the rules and the history.

Nothing here is counted from today: repeating care follows the last care or the start of care, the
rest follows the seasons, the clock, readings and plantings. So a day that passes moves no task.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import lru_cache

from landscape_care.almanac.anchors import windows_in_year
from landscape_care.almanac.climate import Climate
from landscape_care.almanac.dates import Window, dst_changes
from landscape_care.care.catalog import (
    PROPERTY,
    REPORTED,
    WATERING_SEASON,
    WEATHER,
    Event,
    Rule,
    RunHours,
    tolerance_for,
)
from landscape_care.care.details import (
    BY_DAY,
    NUMBERS,
    Details,
    Scene,
    air_takes_gal_day,
    amount,
    hours_per_day,
    notes,
)
from landscape_care.care.measures import Measured
from landscape_care.care.settings_due import COMPUTED, LastSet
from landscape_care.care.weather_limits import Ahead, Avoid, around_weather
from landscape_care.trades.kinds import AsBuilt, Thing, Zone

FOLLOW_UP = ":follow-up"
Span = tuple[date, date]
_A_DAY = timedelta(days=1)
_NOTHING: Details = {}
# Events that the history tells; the others follow from the record and the clock.
TOLD = (*REPORTED, *WEATHER)
_SEASON_NAMES = ("winter", "spring", "summer", "autumn")


@dataclass(frozen=True, slots=True)
class Past:
    """What is settled of one series: the highest running number, and the day of the last care.

    `done` is the occurrence that was done last, and `done_on` its day; skipped ones do not count.
    """

    number: int
    last_on: date
    done: str = ""
    done_on: date = date.min

    def and_then(self, occurrence: str, on: date, *, done: bool) -> "Past":
        """This past and one more settled occurrence, on the same day or later."""
        number = int(occurrence) if occurrence.isdecimal() else 0
        latest = (occurrence, on) if done else (self.done, self.done_on)
        return Past(max(number, self.number), max(on, self.last_on), *latest)


NO_PAST = Past(0, date.min)


@dataclass(frozen=True, slots=True)
class Reported:
    """Something that happened on a day, on one thing or on the whole property, and what was said of it."""

    kind: str
    on: date
    name: str
    thing_uid: int | None = None
    note: str = ""

    def concerns(self, thing: Thing | None) -> bool:
        """Whether it happened to a thing; what befell the property befell all of it."""
        return thing is None or self.thing_uid in (None, thing.uid)


@dataclass(frozen=True, slots=True)
class History:
    """The settled care of a property by series, and its readings by thing and quantity, oldest first.

    `left_on` is the day on which settings were last left on a thing, `reports` what happened by kind,
    `kept_on` the due day, by key, of open tasks that stay where they are: the later ones follow them,
    `ahead` the weather that is forecast.
    """

    series: Mapping[str, Past] = field(default_factory=dict)
    readings: Mapping[tuple[int, str], Sequence[Measured]] = field(default_factory=dict)
    left_on: Mapping[int, date] = field(default_factory=dict)
    reports: Mapping[str, Sequence[Reported]] = field(default_factory=dict)
    kept_on: Mapping[str, date] = field(default_factory=dict)
    ahead: Ahead = field(default_factory=dict)


NO_HISTORY = History()


@dataclass(frozen=True, slots=True)
class Wanted:
    """A care task that should exist."""

    key: str
    series: str
    occurrence: str
    rule: str
    stem: str
    thing_uid: int | None
    window: Window
    minutes: int
    people: int
    skill: str
    title: str
    title_es: str
    cautions: tuple[str, ...]
    details: Details

    def shown(self) -> tuple[object, ...]:
        """What people see of it; a stored task that differs is moved."""
        window = self.window
        return (
            window.opens,
            window.due,
            window.closes,
            self.rule,
            self.minutes,
            self.people,
            self.skill,
            self.title,
            self.title_es,
            list(self.cautions),
            self.details,
        )


@dataclass(slots=True)
class Series:
    """One rule on one thing: the place where its occurrences are made."""

    scene: Scene
    rule: Rule
    thing: Thing | None
    past: Past | None
    start: date
    through: date
    history: History = NO_HISTORY
    name: str = ""
    minutes: int = 0
    details: Details = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.name = series_name(self.rule, self.thing.uid if self.thing else None)
        labour = self.rule.labour
        self.minutes = labour.minutes(amount(self.scene, self.thing, labour.unit))
        if self.rule.details and self.rule.details not in BY_DAY:
            self.details = self._numbers(self.start)

    def wanted(self, occurrence: str, window: Window, details: Details | None = None) -> Wanted:
        """The occurrence of this series in a window."""
        rule = self.rule
        if details is None:
            details = self._numbers(window.due) if rule.details in BY_DAY else self.details
        return Wanted(
            f"{self.name}:{occurrence}",
            self.name,
            occurrence,
            rule.key,
            rule.stem,
            self.thing.uid if self.thing else None,
            window,
            self.minutes,
            rule.people,
            rule.skill,
            rule.en.title,
            rule.es.title,
            rule.cautions,
            details,
        )

    def _numbers(self, day: date) -> Details:
        if self.rule.details is None or self.thing is None:
            return _NOTHING
        return NUMBERS[self.rule.details](self.scene, self.thing, day)


def generate(
    as_built: AsBuilt,
    climate: Climate,
    rules: Mapping[str, Rule],
    history: History,
    *,
    today: date,
    through: date,
) -> list[Wanted]:
    """The care tasks that should exist with a due day up to `through`, series by series.

    `today` only decides what stands: a thing that is gone asks for nothing.
    """
    scene = Scene(as_built, climate)
    rules_of: dict[str, list[Rule]] = {}
    for rule in rules.values():
        rules_of.setdefault(rule.kind, []).append(rule)
    found: list[Wanted] = []
    for thing in (None, *as_built.things):
        if thing is not None and thing.removed_on is not None and thing.removed_on <= today:
            continue
        for rule in rules_of.get(thing.kind if thing else PROPERTY, ()):
            if thing is None or rule.suits(thing):
                made = occurrences(_series(scene, rule, thing, history, through))
                found += _weathered(made, rule.avoid, history.ahead) if rule.avoid else made
    return found


def _weathered(made: Iterable[Wanted], avoid: Avoid, ahead: Ahead) -> Iterator[Wanted]:
    """Occurrences with the days of bad weather taken out of their windows.

    After the dates are counted, so that a storm today moves no care of next month.
    """
    for want in made:
        moved = around_weather(want.window, avoid, ahead)
        if moved is None:
            yield want
        else:
            details = {**want.details, "weather": moved.as_details()}
            yield replace(want, window=moved.window, details=details)


def _series(scene: Scene, rule: Rule, thing: Thing | None, history: History, through: date) -> Series:
    starts_on, last_day = scene.as_built.care_starts_on, through
    if thing is not None:
        starts_on = max(starts_on, thing.installed_on)
        last_day = min(through, thing.removed_on - _A_DAY) if thing.removed_on else through
    past = history.series.get(series_name(rule, thing.uid if thing else None))
    return Series(scene, rule, thing, past, starts_on, last_day, history)


def series_name(rule: Rule, thing_uid: int | None) -> str:
    """The name a series keeps for good; the first name of its rule is part of it."""
    return f"{PROPERTY if thing_uid is None else thing_uid}:{rule.root}"


def occurrences(series: Series) -> Iterable[Wanted]:
    """The occurrences of one series by the trigger of its rule."""
    rule = series.rule
    if rule.repeats:
        return _repeating(series)
    if rule.season is not None:
        return _seasonal(series)
    if rule.computed is not None:
        return _computed(series, rule.computed)
    if rule.event is not None:
        return _after_event(series)
    return _on_reading(series)


# --- Repeating care: counted from the last care, or from the start of care ---


def _repeating(series: Series) -> Iterator[Wanted]:
    every = interval_days(series)
    if every is None:
        return
    past = series.past or Past(0, series.start)
    tolerance = timedelta(days=tolerance_for(every, series.rule.tolerance_days))
    number, before, step = past.number + 1, past.last_on, timedelta(days=every)
    seasons = _seasons(series, before) if series.rule.stays_within else None
    kept, window = _kept_after(series, past.number), _brought_forward(series, before, step)
    window = window or _next_window(before, step, tolerance, seasons)
    while True:
        if (next_kept := _passed(kept, number, window)) is not None:
            number, day = next_kept
            window = Window(day - tolerance, day, day + tolerance)
        elif window is None or window.due > series.through:
            return
        yield series.wanted(str(number), window)
        before = kept.get(number, window.due)
        number, window = number + 1, _next_window(before, step, tolerance, seasons)


def _kept_after(series: Series, number: int) -> Mapping[int, date]:
    """The due days of open tasks of a series that stay where they are, by their number after a number."""
    start = f"{series.name}:"
    names = (
        (key.removeprefix(start), day) for key, day in series.history.kept_on.items() if key.startswith(start)
    )
    return {int(name): day for name, day in names if name.isdecimal() and int(name) > number}


def _passed(kept: Mapping[int, date], number: int, window: Window | None) -> tuple[int, date] | None:
    """The next kept task that the next by count would come after: care goes on from there.

    So none is done twice when the company lengthens an interval and work in between stays.
    """
    if not kept:
        return None
    passed = ((later, day) for later, day in kept.items() if later > number)
    return min((each for each in passed if window is None or each[1] <= window.due), default=None)


def interval_days(series: Series) -> int | None:
    """Days from one care to the next: by the rule or by running hours, as the agreement allows."""
    return days_between(series.rule, series.scene, series.thing)


def days_between(rule: Rule, scene: Scene, thing: Thing | None) -> int | None:
    """Days from one care to the next; None where nothing repeats or nothing runs."""
    every = rule.every_days
    if rule.run_hours is not None and thing is not None:
        every = _days_of_running(rule.run_hours, scene, thing)
    return None if every is None else max(every, rule.at_least_days)


def _days_of_running(run_hours: RunHours, scene: Scene, thing: Thing) -> int | None:
    hours = run_hours.hours or getattr(thing, run_hours.rated_field)
    daily_h = hours_per_day(scene, thing)
    return max(1, round(hours * run_hours.share / daily_h)) if daily_h > 0 else None


def _next_window(
    before: date, step: timedelta, tolerance: timedelta, seasons: "Seasons | None"
) -> Window | None:
    due = before + step
    if seasons is None:
        return Window(due - tolerance, due, due + tolerance)
    found = seasons.day_for(due, before + timedelta(days=(step.days + 1) // 2))
    if found is None:
        return None
    due, (opens, closes) = found
    # A day that went back to the end of its season may come soon after the one before it.
    after_last = before + tolerance + _A_DAY
    return Window(max(due - tolerance, opens, after_last), due, min(due + tolerance, closes))


def _brought_forward(series: Series, before: date, step: timedelta) -> Window | None:
    """The window that a reading over the threshold asks for, when it is due sooner than by days."""
    # Nothing was done yet on the day care begins, so a reading of that day counts.
    taken_on = _first_over_threshold(series, before if series.past else before - _A_DAY)
    if taken_on is None or taken_on >= before + step:
        return None
    return Window(taken_on, taken_on, taken_on + timedelta(days=series.rule.tolerance_days))


def _first_over_threshold(series: Series, after: date) -> date | None:
    threshold, thing = series.rule.reading, series.thing
    if threshold is None or thing is None:
        return None
    for read in series.history.readings.get((thing.uid, threshold.quantity), ()):
        # A reading on the day of the care was taken before it.
        if read.taken_on > after:
            air = air_takes_gal_day(series.scene, thing, read.taken_on)
            if threshold.is_met(read.value, thing, evaporation_gal_day=air):
                return read.taken_on
    return None


@dataclass(frozen=True, slots=True)
class Seasons:
    """The seasons of some years in order, inside which a repeating care stays."""

    spans: tuple[Span, ...]
    closes: tuple[date, ...]

    def day_for(self, due: date, not_before: date) -> tuple[date, Span] | None:
        """The day in season for a due day, and that season.

        A day that falls just after a season goes back to its last day, if that is half an interval
        after the care before; else it waits until the next season opens.
        """
        index = bisect_left(self.closes, due)
        if index < len(self.spans) and self.spans[index][0] <= due:
            return due, self.spans[index]
        if index and self.closes[index - 1] >= not_before:
            return self.closes[index - 1], self.spans[index - 1]
        if index < len(self.spans):
            return self.spans[index][0], self.spans[index]
        return None


def _seasons(series: Series, first: date) -> Seasons:
    within = series.rule.stays_within or ""
    return _seasons_between(within, series.scene.climate, first.year - 1, series.through.year + 1)


@lru_cache(maxsize=1024)
def _seasons_between(expression: str, climate: Climate, first_year: int, last_year: int) -> Seasons:
    years = range(first_year, last_year + 1)
    spans = _joined(span for year in years for span in _windows(expression, climate, year))
    return Seasons(spans, tuple(closes for _, closes in spans))


def _joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Spans in order, those that follow one another without a gap made one: all year has no edge."""
    joined: list[Span] = []
    for opens, closes in sorted(spans):
        if joined and opens <= joined[-1][1] + _A_DAY:
            joined[-1] = (joined[-1][0], max(closes, joined[-1][1]))
        else:
            joined.append((opens, closes))
    return tuple(joined)


@lru_cache(maxsize=4096)
def _windows(expression: str, climate: Climate, year: int) -> tuple[Span, ...]:
    if expression == WATERING_SEASON:
        return _watering_season(climate, year)
    return tuple(windows_in_year(expression, climate, year))


def _watering_season(climate: Climate, year: int) -> tuple[Span, ...]:
    wet = windows_in_year("irrigation_spring_start.start..irrigation_winterize.end", climate, year)
    return tuple(wet) or ((date(year, 1, 1), date(year, 12, 31)),)


# --- Care in a season, care that a computation asks for ---


def _seasonal(series: Series) -> Iterator[Wanted]:
    for year in range(series.start.year - 1, series.through.year + 1):
        for name, shifted in rule_windows(series.rule, series.scene.climate, year):
            if shifted.closes >= series.start and shifted.due <= series.through:
                yield series.wanted(name, _from_day(shifted, series.start))


def rule_windows(rule: Rule, climate: Climate, year: int) -> Sequence[tuple[str, Window]]:
    """The named windows of a rule with a season that open in a year, with the company's own days.

    The name is that of the season as the place has it, so that own days rename nothing.
    """
    found = season_windows(rule.season or "", climate, year)
    if rule.fixed is not None:
        return _fixed_windows(rule.fixed, climate, year, found)
    if rule.offset_days:
        return [(name, window.shifted(rule.offset_days)) for name, window in found]
    return found


def _fixed_windows(
    fixed: str, climate: Climate, year: int, found: Sequence[tuple[str, Window]]
) -> Sequence[tuple[str, Window]]:
    """The company's days nearest to each season; in a place without the season the days alone."""
    near = [each for y in (year - 1, year, year + 1) for each in season_windows(fixed, climate, y)]
    if not found:
        return season_windows(fixed, climate, year)
    return [
        (name, min((own for _, own in near), key=lambda own: abs((own.opens - window.opens).days)))
        for name, window in found
    ]


@lru_cache(maxsize=4096)
def season_windows(expression: str, climate: Climate, year: int) -> tuple[tuple[str, Window], ...]:
    """The named windows of a season that open in a year, aimed at the end of their first third."""
    southern, named, taken = climate.latitude_deg < 0, [], set()
    for opens, closes in _windows(expression, climate, year):
        name = season_name(opens, southern=southern)
        while name in taken:
            name += "-next"
        taken.add(name)
        named.append((name, Window(opens, opens + (closes - opens) // 3, closes)))
    return tuple(named)


def season_name(day: date, *, southern: bool = False) -> str:
    """The year and the season of a day, such as 2027-spring; seasons begin in March, June and so on."""
    quarter = day.month % 12 // 3 + (2 if southern else 0)
    return f"{day.year}-{_SEASON_NAMES[quarter % 4]}"


def _from_day(window: Window, start: date) -> Window:
    """The part of a window from the day on which care begins."""
    if window.opens >= start:
        return window
    return Window(start, max(window.due, start), window.closes)


def _computed(series: Series, name: str) -> Iterator[Wanted]:
    tolerance = timedelta(days=series.rule.tolerance_days)
    past = series.past or NO_PAST
    last = LastSet(past.done, past.done_on, series.history.left_on)
    compute = COMPUTED[name]
    for each in compute(series.scene, series.thing, start=series.start, through=series.through, last=last):
        opens = each.day - tolerance if each.may_be_early else each.day
        window = _from_day(Window(opens, each.day, each.day + tolerance), series.start)
        yield series.wanted(each.occurrence, window, each.details)


# --- Care after an event or a reading ---


def _after_event(series: Series) -> Iterator[Wanted]:
    event = series.rule.event
    if event is None:
        return
    if event.on in TOLD:
        yield from _after_reports(series, event)
        return
    days = clock_changes(series) if event.on == "clock_change" else planting_days(series)
    for day in days:
        yield from _following(series, event, Reported(event.on, day, day.isoformat()))


def _after_reports(series: Series, event: Event) -> Iterator[Wanted]:
    told = set()
    for report in series.history.reports.get(event.on, ()):
        wanted = report.on >= series.start and report.name not in told and report.concerns(series.thing)
        if wanted:
            told.add(report.name)
            yield from _following(series, event, report)


def _following(series: Series, event: Event, report: Reported) -> Iterator[Wanted]:
    tolerance = timedelta(days=series.rule.tolerance_days)
    details = notes({}, [report.note], [report.note]) if report.note else None
    for after in event.days_after:
        due = report.on + timedelta(days=after)
        if due <= series.through:
            name = report.name if event.days_after == (0,) else f"{report.name}+{after}"
            opens = max(due - timedelta(days=event.early_days), min(due, series.start))
            yield series.wanted(name, Window(opens, due, due + tolerance), details)


def clock_changes(series: Series) -> tuple[date, ...]:
    """The days on which clocks change, from the start of care on."""
    zone, first, last = series.scene.as_built.time_zone, series.start.year, series.through.year
    days = (day for year in range(first, last + 1) for day in _clock_changes(zone, year))
    return tuple(day for day in days if day >= series.start)


@lru_cache(maxsize=512)
def _clock_changes(time_zone: str, year: int) -> tuple[date, ...]:
    return tuple(dst_changes(time_zone, date(year, 1, 1), date(year, 12, 31)))


def planting_days(series: Series) -> list[date]:
    """The days since the start of care on which something was planted that a zone waters."""
    if not isinstance(series.thing, Zone):
        return []
    found = (series.scene.as_built.thing(uid) for uid in series.thing.planting_ids)
    return sorted({each.installed_on for each in found if each and each.installed_on >= series.start})


def _on_reading(series: Series) -> Iterator[Wanted]:
    """One task for the first reading over the threshold since the last care."""
    after = series.past.last_on if series.past else series.start - _A_DAY
    taken_on = _first_over_threshold(series, after)
    if taken_on is not None and taken_on <= series.through:
        window = Window(taken_on, taken_on, taken_on + timedelta(days=series.rule.tolerance_days))
        yield series.wanted(taken_on.isoformat(), window)
