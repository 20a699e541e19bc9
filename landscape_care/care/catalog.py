"""The care rules, read from the TOML files beside this module and checked before use.

A rule says which kind of installed thing it cares for, when, how long it takes, who does it and how,
in English and Spanish. A rule that makes no sense is refused with its file, its key and the field.
"""

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import lru_cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from landscape_care.almanac import refusals
from landscape_care.almanac.anchors import check_expression, windows_in_year
from landscape_care.almanac.climate import ClimateBook
from landscape_care.care.cautions import cautions
from landscape_care.care.measures import Threshold
from landscape_care.care.weather_limits import Avoid
from landscape_care.trades.kinds import KINDS, Thing
from landscape_care.trades.limits import limits_of

PROPERTY = "property"
# While the irrigation has water: from spring start to winterising, all year where nothing is winterised.
WATERING_SEASON = "watering_season"
STEMS = (*dict.fromkeys(cls.stem for cls in KINDS.values()), PROPERTY)
SKILLS = (
    "gardener",
    "horticulturist",
    "irrigation_tech",
    "water_feature_tech",
    "lighting_tech",
    "arborist",
    "mason",
    "supervisor",
    "licensed_applicator",
    "licensed_electrician",
    "certified_backflow_tester",
)
# What somebody reports, and what is known without a report.
REPORTED = ("storm", "owner_request", "failed_plants", "failed_lamps", "large_refill")
# What the weather of the nearest station brings, see `weather_events`.
WEATHER = ("freeze", "hard_freeze", "heat", "storm_ahead")
EVENTS = ("clock_change", "planting_installed", *WEATHER, *REPORTED)
COMMON_PRACTICE = "common practice"
OWN_PREFIX = refusals.OWN_PREFIX
_ANY_YEAR = 2027
# Room in the tables for the title and the key of a care task.
LONGEST_KEY, LONGEST_TITLE = 60, 160
_KEY = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
_FIXED = re.compile(r"\d\d-\d\d\.\.\d\d-\d\d")
_TRIGGERS = ("every_days", "season", "computed", "run_hours", "event")


@dataclass(frozen=True, slots=True)
class Text:
    """What a rule says in one language: a title, how it is done, what to bring."""

    title: str
    how: str
    materials: str = ""

    def __post_init__(self) -> None:
        if not 3 <= len(self.title) <= LONGEST_TITLE:
            raise ValueError(f"title is {self.title!r}: wanted 3 to {LONGEST_TITLE} characters")
        if not self.how.strip():
            raise ValueError(f"how is {self.how!r}: wanted a line or two on how it is done")


@dataclass(frozen=True, slots=True)
class Labour:
    """Clock minutes at work: setting up, and for each so many of a unit (100 of ft2, 1 of plant)."""

    set_up_minutes: float
    minutes_per_unit: float = 0.0
    unit: str = "each"
    unit_size: float = 1.0

    def __post_init__(self) -> None:
        for name in ("set_up_minutes", "minutes_per_unit"):
            if not 0 <= getattr(self, name) <= 1440:
                raise ValueError(f"{name} is {getattr(self, name)!r}: wanted 0 to 1440 minutes")
        if not self.unit_size > 0:
            raise ValueError(f"unit_size is {self.unit_size!r}: wanted a number above 0")
        if self.set_up_minutes + self.minutes_per_unit <= 0:
            raise ValueError("set_up_minutes and minutes_per_unit are both 0: work takes time")

    def minutes(self, amount: float) -> int:
        """Whole minutes for an amount of the unit, at least one."""
        return max(1, round(self.set_up_minutes + self.minutes_per_unit * amount / self.unit_size))


@dataclass(frozen=True, slots=True)
class RunHours:
    """Care due after hours of running: a number, or a share of the hours a maker rates the thing for."""

    hours: float | None = None
    rated_field: str = ""
    share: float = 1.0

    def __post_init__(self) -> None:
        if (self.hours is None) == (not self.rated_field):
            raise ValueError("run_hours wants either hours, or rated_field with a share")
        if self.hours is not None and not 1 <= self.hours <= 200_000:
            raise ValueError(f"run_hours is {self.hours!r}: wanted 1 to 200000 hours")
        if not 0 < self.share <= 1:
            raise ValueError(f"share of run_hours is {self.share!r}: wanted above 0, at most 1")


@dataclass(frozen=True, slots=True)
class Event:
    """Care that follows something that happens, each so many days after it, or some days before that."""

    on: str
    days_after: tuple[int, ...] = (0,)
    early_days: int = 0

    def __post_init__(self) -> None:
        if self.on not in EVENTS:
            raise ValueError(f"event is {self.on!r}: wanted one of {', '.join(EVENTS)}")
        if not self.days_after or min(self.days_after) < 0 or max(self.days_after) > 366:
            raise ValueError(f"days_after is {self.days_after!r}: wanted days from 0 to 366")
        if not 0 <= self.early_days <= 14:
            raise ValueError(f"early_days is {self.early_days!r}: wanted 0 to 14 days")


@dataclass(frozen=True, slots=True)
class Rule:
    """One care rule: what for, when, how long, by whom, and the words for it.

    `offset_days`, `fixed` and `at_least_days` come from the company and the agreement, not from the
    files. `fixed` are yearly days such as 03-01..03-21 that count instead of the season.
    """

    key: str
    stem: str
    kind: str
    labour: Labour
    skill: str
    en: Text
    es: Text
    source: str
    tolerance_days: int = 0
    where: tuple[tuple[str, tuple[object, ...]], ...] = ()
    every_days: int | None = None
    within: str | None = None
    season: str | None = None
    computed: str | None = None
    reading: Threshold | None = None
    run_hours: RunHours | None = None
    event: Event | None = None
    avoid: Avoid | None = None
    details: str | None = None
    asks: tuple[str, ...] = ()
    people: int = 1
    cautions: tuple[str, ...] = ()
    formerly: tuple[str, ...] = ()
    offset_days: int = 0
    at_least_days: int = 0
    fixed: str | None = None

    def __post_init__(self) -> None:
        self._check_names()
        self._check_trigger()
        self._check_where()
        self._check_numbers()
        for expression in filter(None, (self.season, self.within)):
            if expression != WATERING_SEASON:
                check_expression(expression)

    @property
    def root(self) -> str:
        """The first name the rule ever had; keys of care tasks hold it, so that a new name moves none."""
        return self.formerly[0] if self.formerly else self.key

    @property
    def repeats(self) -> bool:
        """Whether occurrences are counted from the last care."""
        return self.every_days is not None or self.run_hours is not None

    @property
    def stays_within(self) -> str | None:
        """The season a repeating rule keeps to, the company's own days first."""
        return self.fixed or self.within if self.within else None

    def text(self, language: str) -> Text:
        """The words in English, or in Spanish for `es`."""
        return self.es if language == "es" else self.en

    def suits(self, thing: Thing) -> bool:
        """Whether the traits of a thing of the right kind pass the filters."""
        if not self.where:
            return True
        traits = thing.traits()
        return all(traits[name] in values for name, values in self.where)

    def _check_names(self) -> None:
        for name in (self.key, *self.formerly):
            if not _KEY.fullmatch(name) or len(name) > LONGEST_KEY:
                raise ValueError(
                    f"key {name!r}: wanted small words with hyphens, at most {LONGEST_KEY} characters"
                )
        _check_word("kind", self.kind, (*KINDS, PROPERTY))
        _check_word("skill", self.skill, SKILLS)
        stem = PROPERTY if self.kind == PROPERTY else KINDS[self.kind].stem
        if stem != self.stem:
            raise ValueError(
                f"kind is {self.kind!r}: its rules belong in {stem}.toml, not in {self.stem}.toml"
            )
        for code in self.cautions:
            _check_word("cautions", code, tuple(cautions()))
        if not self.source.strip():
            raise ValueError(f"source is {self.source!r}: wanted where it is written, or '{COMMON_PRACTICE}'")

    def _check_trigger(self) -> None:
        given = [name for name in _TRIGGERS if getattr(self, name) is not None]
        if self.reading is not None and given != ["every_days"]:
            given.append("reading")
        if len(given) != 1:
            raise ValueError(
                f"trigger is {given or 'missing'}: wanted exactly one of {', '.join((*_TRIGGERS, 'reading'))}"
            )
        if self.within is not None and self.every_days is None:
            raise ValueError(f"within is {self.within!r}: only a rule with `every` stays within a season")
        if self.season is not None and self.tolerance_days:
            raise ValueError(
                f"tolerance_days is {self.tolerance_days!r}: a season has its own first and last day"
            )
        if self.kind == PROPERTY and (self.reading or self.run_hours):
            raise ValueError("kind is 'property': readings and run hours belong to an installed thing")

    def _check_where(self) -> None:
        known = {} if self.kind == PROPERTY else dict(specimen(self.kind).traits())
        for name, values in self.where:
            _check_word("where", name, tuple(known))
            limit = limits_of(KINDS[self.kind]).get(name)
            for value in values:
                if limit is not None and limit.choices:
                    _check_word(f"where {name}", value, limit.choices)
                elif not isinstance(value, type(known[name])):
                    raise ValueError(f"where {name} is {value!r}: wanted a {type(known[name]).__name__}")

    def _check_numbers(self) -> None:
        if self.every_days is not None and not 1 <= self.every_days <= 7305:
            raise ValueError(f"every is {self.every_days!r}: wanted 1 to 7305 days")
        if not 0 <= self.tolerance_days <= 183:
            raise ValueError(f"tolerance_days is {self.tolerance_days!r}: wanted 0 to 183 days")
        if self.every_days is not None and self.tolerance_days * 2 >= max(self.every_days, 2):
            raise ValueError(
                f"tolerance_days is {self.tolerance_days}: wanted under half of every ({self.every_days}),"
                " or neighbouring windows meet"
            )
        if not 1 <= self.people <= 12:
            raise ValueError(f"people is {self.people!r}: wanted 1 to 12")
        _check_word("unit", self.labour.unit, ("each", *_amount_names(self.kind)))


@dataclass(frozen=True, slots=True)
class Adjustment:
    """The company's own values for a rule; None leaves the value as it is."""

    enabled: bool | None = None
    every_days: int | None = None
    offset_days: int | None = None
    minutes: int | None = None
    fixed: str | None = None

    def over(self, other: "Adjustment | None") -> "Adjustment":
        """These values, and where one is not given the other's."""
        if other is None:
            return self
        mine = {f.name: getattr(self, f.name) for f in fields(self)}
        if self.offset_days is not None or self.fixed is not None:
            # Days of the year and days of shift are two answers to one question.
            other = replace(other, offset_days=None, fixed=None)
        return replace(other, **{name: value for name, value in mine.items() if value is not None})


def adjusted(
    rules: Mapping[str, Rule],
    company_adjustments: Mapping[str, Adjustment],
    property_adjustments: Mapping[str, Adjustment],
) -> Mapping[str, Rule]:
    """The rules as they hold on a property: its own values over the company's over the catalog's."""
    renamed = {old: rule.key for rule in rules.values() for old in rule.formerly}
    company = {renamed.get(key, key): values for key, values in company_adjustments.items()}
    merged = dict(company)
    for key, values in property_adjustments.items():
        now = renamed.get(key, key)
        merged[now] = values.over(company.get(now))
    changed = {key: _as_far_as_possible(rule, merged[key]) for key, rule in rules.items() if key in merged}
    disabled = {key for key, values in merged.items() if values.enabled is False}
    return {key: changed.get(key, rule) for key, rule in rules.items() if key not in disabled}


def _as_far_as_possible(rule: Rule, values: Adjustment) -> Rule:
    """A rule with the company's values, or as it is where a newer catalog cannot have them any more."""
    return rule if trouble_with(rule, values) else with_adjustment(rule, values)


def trouble_with(rule: Rule | None, values: Adjustment) -> str:
    """Why values that were given once cannot hold now; empty where they can."""
    if rule is None:
        return "the rule is no longer in the catalog"
    try:
        with_adjustment(rule, values)
    except ValueError as refused:
        return str(refused)
    return ""


def with_adjustment(rule: Rule, values: Adjustment) -> Rule:
    """A rule with the company's values in it; a value that the rule cannot have is refused."""
    new: dict[str, Any] = {}
    if values.every_days is not None:
        if rule.every_days is None:
            raise ValueError(f"every_days is {values.every_days}: {rule.key} does not repeat by days")
        new["every_days"] = values.every_days
        new["tolerance_days"] = tolerance_for(values.every_days, rule.tolerance_days)
    if values.offset_days is not None:
        if rule.season is None:
            raise ValueError(f"offset_days is {values.offset_days}: {rule.key} follows no season")
        if abs(values.offset_days) > 90:
            raise ValueError(f"offset_days is {values.offset_days}: wanted -90 to 90 days")
        new["offset_days"] = values.offset_days
    if values.fixed is not None:
        _check_fixed(rule, values)
        new["fixed"] = values.fixed
    if values.minutes is not None:
        new["labour"] = Labour(set_up_minutes=values.minutes)
    return replace(rule, **new) if new else rule


def _check_fixed(rule: Rule, values: Adjustment) -> None:
    if rule.season is None and rule.within is None:
        raise ValueError(f"fixed is {values.fixed!r}: {rule.key} follows no season")
    if values.offset_days:
        raise ValueError(f"fixed is {values.fixed!r}: give either days of the year or an offset")
    if ";" in (rule.season or ""):
        raise ValueError(f"fixed is {values.fixed!r}: {rule.key} has more than one season a year")
    if not _FIXED.fullmatch(values.fixed or ""):
        raise ValueError(f"fixed is {values.fixed!r}: wanted first and last day, such as 03-01..03-21")
    check_expression(values.fixed or "")


def tolerance_for(every_days: int, tolerance_days: int) -> int:
    """The most days early or late at which neighbouring windows of an interval stay apart."""
    return min(tolerance_days, (every_days - 1) // 2)


def agreed(rules: Mapping[str, Rule], stems: Iterable[str], cadence_days: int) -> Mapping[str, Rule]:
    """The rules an agreement pays for, repeated no more often than somebody comes; no stems means all."""
    wanted = set(stems)
    return {
        key: _at_least(rule, cadence_days) if rule.repeats else rule
        for key, rule in rules.items()
        if not wanted or rule.stem in wanted
    }


@lru_cache(maxsize=4096)
def _at_least(rule: Rule, days: int) -> Rule:
    return replace(rule, at_least_days=days)


@lru_cache(maxsize=1)
def catalog() -> Mapping[str, Rule]:
    """All rules by key."""
    rules: dict[str, Rule] = {}
    for stem in STEMS:
        rules |= read_rules(stem, _file_text(f"{stem}.toml"))
    refuse_shared_names(rules.values())
    return MappingProxyType(rules)


def refuse_shared_names(rules: Iterable[Rule]) -> None:
    """Refuse two rules that go, or went, by the same name."""
    owners: dict[str, Rule] = {}
    for rule in rules:
        for name in (rule.key, *rule.formerly):
            if owners.setdefault(name, rule) is not rule:
                raise ValueError(
                    f"rules/{rule.stem}.toml, rule {rule.key}: {name!r} is a name of {owners[name].key}"
                )


def rule_named(name: str) -> Rule:
    """The rule of a key, or of a key it had before."""
    found = by_any_name().get(name)
    if found is None:
        raise ValueError(f"rule {name!r} is unknown: use one of {', '.join(sorted(catalog()))}")
    return found


def read_rules(stem: str, text: str) -> dict[str, Rule]:
    """The rules of one TOML text; an error names the file, the rule and the field."""
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"rules/{stem}.toml: {error}") from error
    return {key: _read_rule(stem, key, table) for key, table in tables.items()}


def own_rule(key: str, table: Mapping[str, Any]) -> Rule:
    """A company's own rule from a table like those of the files; its key begins with own-.

    So no rule of a later catalog ever takes its name.
    """
    kind = str(table.get("kind", ""))
    stem = PROPERTY if kind == PROPERTY else KINDS[kind].stem if kind in KINDS else ""
    if not stem:
        raise ValueError(f"kind is {kind!r}: wanted one of {', '.join((*KINDS, PROPERTY))}")
    if not key.startswith(OWN_PREFIX):
        raise ValueError(f"key is {key!r}: wanted small words with hyphens that begin with {OWN_PREFIX}")
    return _rule(stem, key, _Table(dict(table)))


def refuse_never_open(rule: Rule, climates: ClimateBook) -> None:
    """Refuse a rule whose season opens in none of the climates."""
    for name in ("season", "within"):
        _refuse_never(name, getattr(rule, name), climates)


def _refuse_never(name: str, expression: str | None, climates: ClimateBook) -> None:
    if expression is None or expression == WATERING_SEASON:
        return
    if not any(windows_in_year(expression, place, _ANY_YEAR) for place in climates):
        raise ValueError(f"{name} is {expression!r}: it opens in no climate of the almanac")


def _amount_names(kind: str) -> tuple[str, ...]:
    return ("ft2",) if kind == PROPERTY else tuple(specimen(kind).amounts())


def specimen(kind: str) -> Thing:
    """A thing of a kind with any allowed values, unchecked, to learn names of traits and amounts from."""
    cls = KINDS[kind]
    thing = object.__new__(cls)
    for name, value in _any_values(cls).items():
        object.__setattr__(thing, name, value)
    return thing


def _any_values(cls: type[Thing]) -> dict[str, Any]:
    values = {f.name: f.default for f in fields(cls)}
    for name, limit in limits_of(cls).items():
        if isinstance(values[name], str | int | float | tuple):
            continue
        values[name] = limit.choices[0] if limit.choices else limit.low or 1.0
    return values


@dataclass(slots=True)
class _Table:
    """A TOML table that is emptied as it is read, so that a field nobody knows is found."""

    left: dict[str, Any] = field(default_factory=dict)

    def take(self, name: str, wanted: type | tuple[type, ...], default: Any = None) -> Any:
        value = self.left.pop(name, default)
        if value is not default and (not isinstance(value, wanted) or isinstance(value, bool)):
            raise ValueError(f"{name} is {value!r}: wanted {_type_name(wanted)}")
        return value

    def words(self, name: str) -> tuple[str, ...]:
        values = self.take(name, list, [])
        if not all(isinstance(value, str) for value in values):
            raise ValueError(f"{name} is {values!r}: wanted a list of words")
        return tuple(values)

    def refuse_rest(self) -> None:
        if self.left:
            raise ValueError(f"{min(self.left)} is not a field of a rule")


def _read_rule(stem: str, key: str, table: Mapping[str, Any]) -> Rule:
    try:
        if not isinstance(table, Mapping):
            raise ValueError(f"{key} is {table!r}: wanted a table of fields")
        return _rule(stem, key, _Table(dict(table)))
    except (ValueError, TypeError) as error:
        raise ValueError(f"rules/{stem}.toml, rule {key}: {error}") from error


def _rule(stem: str, key: str, table: _Table) -> Rule:
    rule = Rule(
        key=key,
        stem=stem,
        kind=table.take("kind", str, ""),
        labour=_labour(table),
        skill=table.take("skill", str, ""),
        en=_text(table, "en"),
        es=_text(table, "es"),
        source=table.take("source", str, ""),
        tolerance_days=table.take("tolerance_days", int, 0),
        where=_where(table.take("where", dict, {})),
        details=table.take("details", str),
        asks=table.words("asks"),
        people=table.take("people", int, 1),
        cautions=table.words("cautions"),
        formerly=table.words("formerly"),
        **_triggers(table),
    )
    table.refuse_rest()
    return rule


def _triggers(table: _Table) -> dict[str, Any]:
    threshold = table.take("reading", dict)
    return {
        "every_days": table.take("every", int),
        "within": table.take("within", str),
        "season": table.take("season", str),
        "computed": table.take("computed", str),
        "reading": None if threshold is None else Threshold(**threshold),
        "run_hours": _run_hours(table.take("run_hours", (int, float, dict))),
        "event": _event(table),
        "avoid": _avoid(table.take("avoid", dict)),
    }


def _labour(table: _Table) -> Labour:
    size, _, unit = table.take("unit", str, "each").rpartition(" ")
    set_up, per_unit = table.take("set_up", (int, float), 0), table.take("minutes", (int, float), 0)
    return Labour(set_up, per_unit, unit, float(size or 1))


def _text(table: _Table, language: str) -> Text:
    words = table.take(language, dict)
    if words is None:
        raise ValueError(f"{language} is missing: wanted a table with title and how")
    try:
        return Text(**words)
    except (TypeError, ValueError) as error:
        raise ValueError(f"{language}: {error}") from error


def _where(filters: Mapping[str, object]) -> tuple[tuple[str, tuple[object, ...]], ...]:
    return tuple(
        (name, tuple(value) if isinstance(value, list) else (value,)) for name, value in filters.items()
    )


def _run_hours(given: Any) -> RunHours | None:
    if given is None:
        return None
    return RunHours(**given) if isinstance(given, dict) else RunHours(hours=given)


def _avoid(given: dict[str, Any] | None) -> Avoid | None:
    if given is None:
        return None
    known = [f.name for f in fields(Avoid)]
    for name in given:
        _check_word("avoid", name, tuple(known))
    return Avoid(**given)


def _event(table: _Table) -> Event | None:
    on, days = table.take("event", str), table.take("days_after", list, [0])
    early_days = table.take("early_days", int, 0)
    return None if on is None else Event(on, tuple(days), early_days)


@lru_cache(maxsize=1)
def by_any_name() -> Mapping[str, Rule]:
    """The rules of the catalog by every key they have or had."""
    return {name: rule for rule in catalog().values() for name in (rule.key, *rule.formerly)}


def _file_text(name: str) -> str:
    return resources.files("landscape_care.care").joinpath("rules", name).read_text(encoding="utf-8")


def _check_word(name: str, word: object, known: tuple[str, ...]) -> None:
    if word not in known:
        raise ValueError(f"{name} is {word!r}: wanted one of {', '.join(known) or 'nothing'}")


def _type_name(wanted: type | tuple[type, ...]) -> str:
    names = {str: "text", int: "a whole number", float: "a number", list: "a list", dict: "a table"}
    return " or ".join(names[each] for each in (wanted if isinstance(wanted, tuple) else (wanted,)))
