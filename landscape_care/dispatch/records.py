"""A crew as a plain checked value, for actions, spreadsheets and forms alike."""

import re
from collections.abc import Iterator
from dataclasses import MISSING, dataclass
from datetime import time

from landscape_care.care.catalog import SKILLS
from landscape_care.dispatch.routing import OVERTIME_MINUTES
from landscape_care.trades.limits import Problem, clock, number, refuse_nonsense, text, whole

_CODE = re.compile(r"[a-z0-9]+(?:[-_][a-z0-9]+)*")


@dataclass(frozen=True, kw_only=True)
class CrewRecord:
    """A crew with its shift and skills; the depot is given by its code."""

    code: str = text(40, default=MISSING, help="Short code, small letters, digits and hyphens")
    name: str = text(80, default=MISSING)
    depot: str = text(40, default=MISSING, help="Code of the depot where the crew starts")
    people: int = whole(1, 20, "people", default=2)
    skills: str = text(400, default=MISSING, help="Skills with commas: " + ", ".join(SKILLS))
    shift_opens: time = clock(default=MISSING, help="The crew leaves the depot from")  # noqa: RUF009 - a dataclass field
    shift_closes: time = clock(default=MISSING, help="The crew is back by")  # noqa: RUF009 - a dataclass field
    break_minutes: int = whole(0, 240, "min", default=30)
    weekdays: str = text(7, default="12345", help="1 Monday to 7 Sunday")
    payload_lb: float | None = number(1, 80_000, "lb", default=None, help="What the vehicle carries")
    bed_yd3: float | None = number(0.1, 100, "yd³", default=None, help="What its bed holds")
    heat_opens: time | None = clock(default=None, help="On hot days the shift may begin from")  # noqa: RUF009 - a dataclass field

    def __post_init__(self) -> None:
        """Refuse what cannot be true, naming every wrong field."""
        refuse_nonsense(self, self.further_problems())

    def further_problems(self) -> Iterator[Problem]:
        """Problems that a single limit does not see."""
        if not _CODE.fullmatch(self.code):
            yield Problem("code", self.code, "small letters and digits, with hyphens between")
        if not self.name.strip():
            yield Problem("name", self.name, "a name")
        unknown = [skill for skill in self.skill_list() if skill not in SKILLS]
        if unknown or not self.skill_list():
            yield Problem("skills", ", ".join(unknown), "some of " + ", ".join(SKILLS))
        if not self.weekdays or self.weekdays.strip("1234567"):
            yield Problem("weekdays", self.weekdays, "digits 1 (Monday) to 7 (Sunday)")
        yield from self._shift_problems()

    def _shift_problems(self) -> Iterator[Problem]:
        opens, closes = (at.hour * 60 + at.minute for at in (self.shift_opens, self.shift_closes))
        if closes <= opens:
            yield Problem("shift_closes", self.shift_closes, f"a time after {self.shift_opens:%H:%M}")
        elif closes + OVERTIME_MINUTES >= 24 * 60:
            yield Problem("shift_closes", self.shift_closes, "a time before 23:30")
        elif self.heat_opens is not None and self.heat_opens > self.shift_opens:
            yield Problem("heat_opens", self.heat_opens, f"{self.shift_opens:%H:%M} or earlier")
        elif self.break_minutes >= closes - opens:
            yield Problem("break_minutes", self.break_minutes, f"less than the shift of {closes - opens} min")

    def skill_list(self) -> list[str]:
        """The skills one by one, in the order given."""
        words = (word.strip().casefold().replace(" ", "_") for word in self.skills.split(","))
        return [word for word in dict.fromkeys(words) if word]
