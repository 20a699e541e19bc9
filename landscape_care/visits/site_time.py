"""How long crews were really on site, from the moments at which they began and ended."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

LONGEST_MINUTES = (
    16 * 60
)  # an end later than this belongs to a start that somebody forgot to end; our practice


@dataclass(frozen=True, slots=True)
class Moment:
    """A crew began (`started`) or ended its work."""

    at: datetime
    started: bool

    def __post_init__(self) -> None:
        if self.at.tzinfo is None:
            raise ValueError(f"at is {self.at}: wanted a moment with its time zone")


@dataclass(frozen=True, slots=True)
class TimeOnSite:
    """A stretch of work; `finished_at` is None while it lasts, or where nobody noted its end."""

    started_at: datetime
    finished_at: datetime | None = None

    @property
    def minutes(self) -> float | None:
        """Minutes between start and end by the clock; a crew's labour is this times its people."""
        if self.finished_at is None:
            return None
        return (self.finished_at - self.started_at).total_seconds() / 60


def time_on_site(moments: Iterable[Moment]) -> tuple[TimeOnSite, ...]:
    """Pair starts with ends; a second start before an end, and an end without a start, change nothing."""
    spans: list[TimeOnSite] = []
    for moment in sorted(moments, key=lambda each: (each.at, not each.started)):
        under_way = bool(spans) and spans[-1].finished_at is None and _is_near(spans[-1], moment)
        if moment.started and not under_way:
            spans.append(TimeOnSite(moment.at))
        elif not moment.started and under_way:
            spans[-1] = TimeOnSite(spans[-1].started_at, moment.at)
    return tuple(spans)


def minutes_on_site(spans: Iterable[TimeOnSite]) -> float | None:
    """Minutes of all stretches together; None where no stretch has both ends."""
    known = [span.minutes for span in spans if span.minutes is not None]
    return sum(known) if known else None


def _is_near(span: TimeOnSite, moment: Moment) -> bool:
    return (moment.at - span.started_at).total_seconds() / 60 <= LONGEST_MINUTES
