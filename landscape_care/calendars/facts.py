"""What a calendar may draw on: visits and care tasks as they are told, without anything secret."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time
from uuid import NAMESPACE_URL, UUID, uuid5

_A_SEASON = re.compile(r"\d{4}-[a-z]")
# Names entries that have no row of their own; a UUID of version 5 tells nobody what it was made from.
_NAMES = uuid5(NAMESPACE_URL, "urn:landscape-care:calendars")


def named_uid(*names: str) -> UUID:
    """The lasting UID of an entry that is named by what it tells."""
    return uuid5(_NAMES, "/".join(names))


@dataclass(frozen=True, slots=True)
class TaskFacts:
    """A care task, its texts by language, and where it stands (open, done, skipped or withdrawn)."""

    rule: str
    stem: str
    occurrence: str
    titles: dict[str, str]
    opens_on: date
    due_on: date
    closes_on: date
    state: str
    changed_at: datetime
    key: str = ""
    revision: int = 0
    minutes: int = 0
    people: int = 1
    settled_on: date | None = None
    thing: str = ""
    cautions: tuple[str, ...] = ()
    lines: dict[str, list[str]] = field(default_factory=dict)
    settings: dict[str, dict[str, object]] = field(default_factory=dict)

    def settled(self) -> bool:
        """Whether it was done or skipped."""
        return self.state in ("done", "skipped")

    def told_apart(self) -> bool:
        """Whether owners see it as an entry of its own: care of a season, or settings that change."""
        return bool(self.settings) or bool(_A_SEASON.match(self.occurrence))


@dataclass(frozen=True, slots=True)
class PlaceFacts:
    """A property as crews and owners know it; `access_note` is for crews alone."""

    code: str
    name: str
    address: str
    time_zone: str
    place: tuple[float, float]
    access_opens: time
    access_closes: time
    access_note: str = ""


@dataclass(frozen=True, slots=True)
class VisitFacts:
    """A visit as people were told of it (planned, published, done or withdrawn)."""

    uid: UUID
    revision: int
    changed_at: datetime
    state: str
    opens_on: date
    closes_on: date
    place: PlaceFacts
    tasks: tuple[TaskFacts, ...] = ()
    day: date | None = None
    arrives_at: time | None = None
    leaves_at: time | None = None
    moved_from: date | None = None
    announced: bool = True
    crew_name: str = ""

    def off(self) -> bool:
        """Whether people were told of it and it will not happen as told."""
        return self.state == "withdrawn" or (self.state == "planned" and self.announced)

    def stamp(self) -> datetime:
        """The moment of the last change of the visit or of what is done on it."""
        return max([self.changed_at, *(task.changed_at for task in self.tasks)])

    def titles(self, language: str, states: Iterable[str]) -> list[str]:
        """The titles of its tasks in the given states, each once."""
        wanted = set(states)
        return list(dict.fromkeys(task.titles[language] for task in self.tasks if task.state in wanted))
