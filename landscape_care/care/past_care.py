"""Care that was done before the record began, as tasks that are settled already."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from landscape_care.almanac.dates import Window
from landscape_care.care.catalog import PROPERTY, Rule
from landscape_care.care.details import Scene
from landscape_care.care.generation import History, Past, Series, Wanted, season_windows, series_name
from landscape_care.trades.kinds import Thing
from landscape_care.trades.limits import Problem, Refused

# Care this many days outside its season still counts as care of that season.
NEAR_A_SEASON = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class PastCare:
    """One row of history: which row it is, the property, the thing, the rule, the day."""

    row: int
    property: str
    tag: str
    rule: str
    done_on: date

    def problem(self, field: str, value: object, wanted: str) -> Problem:
        """A wrong value, named with its row."""
        return Problem(f"row {self.row} {field}", value, wanted)


@dataclass(frozen=True, slots=True)
class Match:
    """A row with its rule and its thing."""

    care: PastCare
    rule: Rule
    thing: Thing | None


def as_wanted(
    past: Iterable[PastCare], scene: Scene, history: History, rules: Mapping[str, Rule]
) -> list[Wanted]:
    """The settled tasks that rows of history stand for, oldest first; wrong rows are refused together."""
    matches, problems = _matched(past, scene, rules)
    found: list[Wanted] = []
    known = dict(history.series)
    for match in sorted(matches, key=lambda match: match.care.done_on):
        occurrence = _occurrence(match, scene, known)
        if occurrence is None:
            wanted = f"a day near a season of {match.rule.key} at this place"
            problems.append(match.care.problem("done_on", match.care.done_on, wanted))
            continue
        found.append(_settled(match, scene, occurrence))
    if problems:
        raise Refused(problems)
    return found


def _matched(
    past: Iterable[PastCare], scene: Scene, rules: Mapping[str, Rule]
) -> tuple[list[Match], list[Problem]]:
    by_name = {name: rule for rule in rules.values() for name in (rule.key, *rule.formerly)}
    by_tag = {thing.tag: thing for thing in scene.as_built.things}
    matches: list[Match] = []
    problems: list[Problem] = []
    for care in past:
        rule, thing = by_name.get(care.rule), by_tag.get(care.tag)
        wrong = tuple(_problems(care, rule, thing))
        problems += wrong
        if rule is not None and not wrong:
            matches.append(Match(care, rule, thing))
    return matches, problems


def _problems(care: PastCare, rule: Rule | None, thing: Thing | None) -> Iterator[Problem]:
    if rule is None:
        yield care.problem("rule", care.rule, "the key of a care rule, such as backflow-test")
    elif not (rule.repeats or rule.season):
        yield care.problem("rule", care.rule, "a rule that repeats or follows a season")
    elif care.tag and thing is None:
        yield care.problem("tag", care.tag, "the tag of a thing of this property")
    elif (thing.kind if thing else PROPERTY) != rule.kind:
        yield care.problem("tag", care.tag, f"the tag of a {rule.kind.replace('_', ' ')}")


def _occurrence(match: Match, scene: Scene, known: dict[str, Past]) -> str | None:
    if match.rule.season is not None:
        return _season_of(match.care.done_on, match.rule.season, scene)
    series = series_name(match.rule, match.thing.uid if match.thing else None)
    before = known.get(series, Past(0, date.min))
    known[series] = Past(before.number + 1, max(before.last_on, match.care.done_on))
    return str(before.number + 1)


def _season_of(day: date, expression: str, scene: Scene) -> str | None:
    windows: Sequence[tuple[str, Window]] = [
        each
        for year in (day.year - 1, day.year, day.year + 1)
        for each in season_windows(expression, scene.climate, year)
    ]
    near = [(_days_off(day, window), name) for name, window in windows]
    days_off, name = min(near, default=(NEAR_A_SEASON.days + 1, ""))
    return name if days_off <= NEAR_A_SEASON.days else None


def _days_off(day: date, window: Window) -> int:
    return max((window.opens - day).days, (day - window.closes).days, 0)


def _settled(match: Match, scene: Scene, occurrence: str) -> Wanted:
    day = match.care.done_on
    series = Series(scene, match.rule, match.thing, None, day, day)
    return series.wanted(occurrence, Window(day, day, day))
