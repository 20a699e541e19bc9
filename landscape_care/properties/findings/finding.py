"""What a look at an as-built record finds, and the record as the looks need it."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from landscape_care.almanac.climate import Climate
from landscape_care.trades.kinds import AsBuilt, Planting, Thing
from landscape_care.trades.plants import Plant

WATCH, WRONG = "watch", "wrong"

T = TypeVar("T", bound=Thing)


@dataclass(frozen=True)
class Finding:
    """A fault of the record: on which thing, how grave, what is the matter, and what mends it."""

    tag: str
    severity: str
    message_en: str
    message_es: str
    remedy_en: str
    remedy_es: str
    look: str = ""

    def __post_init__(self) -> None:
        """Refuse a severity that nobody knows."""
        if self.severity not in (WATCH, WRONG):
            raise ValueError(f"severity is {self.severity!r}: it must be {WATCH} or {WRONG}")


@dataclass(frozen=True)
class Record:
    """An as-built record with its climate, and only the things that stand."""

    as_built: AsBuilt
    climate: Climate
    today: date | None

    def standing(self, kind: type[T]) -> list[T]:
        """All things of a kind that stand, in tag order."""
        return [thing for thing in self.as_built.of_kind(kind) if self.stands(thing)]

    def stands(self, thing: Thing) -> bool:
        """Whether a thing stands today, or is not removed when no day is given."""
        return thing.removed_on is None if self.today is None else thing.stands_on(self.today)

    def thing(self, uid: int | None) -> Any:
        """A thing by its number when it stands."""
        thing = self.as_built.thing(uid)
        return thing if thing is not None and self.stands(thing) else None

    def plant(self, planting: Planting) -> Plant | None:
        """The kind of plant of a planting, if it is known."""
        return self.as_built.plants.get(planting.plant)

    def plantings(self, uids: tuple[int, ...]) -> list[Planting]:
        """The plantings of some numbers that stand."""
        return [thing for uid in uids if (thing := self.thing(uid)) is not None]


Look = Callable[[Record], Iterator[Finding]]
