"""What may be chosen for a calendar: which entries, how far back and ahead, and alarms."""

from dataclasses import dataclass

from landscape_care.care.catalog import STEMS

CHOICES = ("all", "visits", "seasons", "windows", "todos")
LONGEST_PAST_DAYS, LONGEST_AHEAD_DAYS, LONGEST_ALARM_MINUTES = 365, 396, 7 * 24 * 60


@dataclass(frozen=True, slots=True)
class Options:
    """Choices for one address; None leaves what is usual for its audience."""

    shows: str = "all"
    stems: tuple[str, ...] = ()
    past_days: int | None = None
    ahead_days: int | None = None
    alarm_minutes: int | None = None

    def __post_init__(self) -> None:
        """Refuse what no calendar can show."""
        if self.shows not in CHOICES:
            raise ValueError(f"shows {self.shows!r}: one of {', '.join(CHOICES)} is right")
        unknown = [stem for stem in self.stems if stem not in STEMS]
        if unknown:
            raise ValueError(f"stems {', '.join(unknown)}: some of {', '.join(STEMS)}, or none for all")
        _within("past_days", self.past_days, (0, LONGEST_PAST_DAYS))
        _within("ahead_days", self.ahead_days, (1, LONGEST_AHEAD_DAYS))
        _within("alarm_minutes", self.alarm_minutes, (0, LONGEST_ALARM_MINUTES))

    def has(self, stem: str) -> bool:
        """Whether a kind of care is shown."""
        return not self.stems or stem in self.stems

    def visits(self) -> bool:
        """Whether visits are shown."""
        return self.shows in ("all", "visits")

    def seasons(self) -> bool:
        """Whether care of the season is shown."""
        return self.shows in ("all", "seasons")


def _within(name: str, value: int | None, limits: tuple[int, int]) -> None:
    if value is not None and not limits[0] <= value <= limits[1]:
        raise ValueError(f"{name} {value}: {limits[0]} to {limits[1]} is right, or nothing for the usual")
