"""A record that cannot be true, told with every wrong field."""

from collections.abc import Iterable
from dataclasses import dataclass

# Keys of what a company adds begin so; no later catalog ever takes its name.
OWN_PREFIX = "own-"


@dataclass(frozen=True)
class Problem:
    """One wrong value: the field, the value as given, and what would be right."""

    field: str
    value: object
    wanted: str

    def __str__(self) -> str:
        return f"{self.field} is {self.value!r}, wanted {self.wanted}"


class Refused(ValueError):  # noqa: N818 - it says what became of the record
    """A record that cannot be true, with one `Problem` for each wrong field."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(str(problem) for problem in self.problems))
