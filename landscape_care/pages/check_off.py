"""What a crew fills in for one care task, read from the form and handed on as one completion."""

import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.utils.translation import get_language, gettext, gettext_noop
from django.utils.translation import gettext_lazy as _

from landscape_care.care.catalog import catalog, rule_named
from landscape_care.care.measures import QUANTITIES, Quantity
from landscape_care.care.models import CareTask
from landscape_care.care.queries import asked_readings
from landscape_care.people.models import User
from landscape_care.trades.limits import Problem, Refused
from landscape_care.visits import actions, queries
from landscape_care.visits.models import Completion, Visit

OUTCOMES = (
    ("done", _("Done")),
    ("skipped", _("Could not do it")),
    ("follow_up", _("Done, but something must follow")),
)
# What a form with something wrong is told to hold, in the reader's language.
WANTED = (
    gettext_noop("why it could not be done"),
    gettext_noop("what is to follow"),
    gettext_noop("a number"),
    gettext_noop("whole minutes"),
    gettext_noop("a clock time"),
    gettext_noop("a JPEG, PNG or WebP picture"),
    gettext_noop("a picture that opens"),
)
SETTING_NAMES = {
    "set_minutes": _("Minutes"),
    "set_weekdays": _("Weekdays (1 Monday to 7 Sunday)"),
    "set_start": _("Start"),
    "set_on": _("On"),
    "set_off": _("Off"),
}


@dataclass(frozen=True)
class Setting:
    """One value to leave on a controller or timer."""

    tag: str
    name: str
    value: str

    @property
    def field(self) -> str:
        """The name of its field."""
        return f"set:{self.tag}:{self.name}"

    @property
    def label(self) -> str:
        """What it is called."""
        return str(SETTING_NAMES.get(self.name, self.name))

    @property
    def input_type(self) -> str:
        """The picker that suits it."""
        return {"set_minutes": "number", "set_weekdays": "text"}.get(self.name, "time")


@dataclass(frozen=True)
class Asked:
    """One reading that the rule asks for."""

    name: str
    quantity: Quantity
    value: str

    @property
    def field(self) -> str:
        """The name of its field."""
        return f"reading:{self.name}"

    @property
    def limits(self) -> str:
        """Between what its value lies on any gauge."""
        return f"{self.quantity.low:g}–{self.quantity.high:g} {self.quantity.unit}"


@dataclass(frozen=True)
class Sheet:
    """The form of one care task; what was typed stays when it is refused."""

    task: CareTask
    number: uuid.UUID = field(default_factory=uuid.uuid4)
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: tuple[str, ...] = ()
    told: frozenset[str] = frozenset()
    """Cautions that the same day has already told in full."""

    @property
    def is_short(self) -> bool:
        """Whether one press can say it all: nothing to set and nothing to read."""
        return not (self.settings() or self.asked())

    @property
    def outcome(self) -> str:
        """What is chosen; nothing before somebody chose."""
        return self.typed.get("outcome", "")

    @property
    def how(self) -> str:
        """How it is done, in the reader's language."""
        if self.task.rule not in catalog():
            return ""
        return rule_named(self.task.rule).text((get_language() or "en")[:2]).how

    def settings(self) -> list[tuple[str, list[Setting]]]:
        """What to leave set, by tag."""
        wanted = self.task.details.get("settings") or {}
        return [
            (tag, [self._setting(tag, *pair) for pair in values.items()]) for tag, values in wanted.items()
        ]

    def _setting(self, tag: str, name: str, value: Any) -> Setting:
        plain = Setting(tag, name, "" if value is None else str(value))
        return Setting(tag, name, self.typed.get(plain.field, plain.value))

    def asked(self) -> list[Asked]:
        """Readings to take."""
        if self.task.rule not in catalog():
            return []
        names = asked_readings(self.task)
        return [Asked(name, QUANTITIES[name], self.typed.get(f"reading:{name}", "")) for name in names]


def hand_on(sheet: Sheet, visit: Visit, *, on: date, by: User) -> Completion:
    """Note what was done; `Refused` names what is wrong in the form."""
    skipped = sheet.outcome == "skipped"
    said: dict[str, Any] = {
        "visit": visit,
        "task": sheet.task,
        "outcome": sheet.outcome,
        "reason": sheet.typed.get("reason", "").strip() if skipped else "",
        "note": _note(sheet),
        "readings": list(_readings(sheet)),
        "settings_left": {} if skipped else dict(_settings_left(sheet)),
        "done_on": on,
        "by": by,
    }
    if seen := _seen(sheet):
        return actions.complete_over(sheet.number, seen=seen, **said)
    return actions.complete(sheet.number, **said)


def noted_on(number: uuid.UUID) -> date | None:
    """The day of a completion that came before under this number, so that it may come again later."""
    return queries.completed_on(number)


def _seen(sheet: Sheet) -> datetime | None:
    """What somebody else noted first, when a crew has seen it and stands by its own words."""
    try:
        seen = datetime.fromisoformat(sheet.typed.get("seen", ""))
    except ValueError:
        return None
    return seen if seen.tzinfo else None


def problems_in_words(refused: Refused) -> tuple[str, ...]:
    """What a crew has to put right."""
    return tuple(
        gettext("%(field)s: wanted %(wanted)s.")
        % {"field": _named(problem.field), "wanted": gettext(problem.wanted)}
        for problem in refused.problems
    )


def _note(sheet: Sheet) -> str:
    follow_up = sheet.typed.get("follow_up", "").strip() if sheet.outcome == "follow_up" else ""
    return "\n".join(filter(None, (follow_up, sheet.typed.get("note", "").strip())))


def _readings(sheet: Sheet) -> Iterator[dict[str, Any]]:
    for asked in sheet.asked():
        if asked.value.strip():
            yield {"quantity": asked.name, "value": _number(asked), "unit": asked.quantity.unit}


def _number(asked: Asked) -> float:
    try:
        return float(asked.value.replace(",", "."))
    except ValueError:
        raise Refused([Problem(asked.name, asked.value, "a number")]) from None


def _settings_left(sheet: Sheet) -> Iterator[tuple[str, dict[str, Any]]]:
    for tag, settings in sheet.settings():
        given = {setting.name: _setting(setting) for setting in settings if setting.value.strip()}
        if given:
            yield tag, given


def _setting(setting: Setting) -> Any:
    if setting.name != "set_minutes":
        return setting.value
    if not setting.value.isdecimal():
        raise Refused([Problem(setting.name, setting.value, "whole minutes")])
    return int(setting.value)


def _named(field: str) -> str:
    """What a field is called on the form, a reading by what it measures."""
    known = {
        "outcome": gettext("Outcome"),
        "reason": gettext("Reason"),
        "note": gettext("Note"),
        "picture": gettext("Photo"),
    }
    measured = QUANTITIES.get(field.removeprefix("readings."))
    if measured is not None:
        return measured.es if (get_language() or "").startswith("es") else measured.en
    return known.get(field) or str(SETTING_NAMES.get(field, field))
