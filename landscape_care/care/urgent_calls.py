"""Care that an urgent call asks for: a task of its own, which planning leaves alone."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.core.exceptions import PermissionDenied
from django.utils import timezone

from landscape_care.care.catalog import SKILLS
from landscape_care.care.generation import FOLLOW_UP
from landscape_care.care.models import CareTask, TaskState
from landscape_care.people.actions import record
from landscape_care.people.models import User
from landscape_care.properties.models import Property
from landscape_care.trades.limits import Problem, choice, refuse_nonsense, whole

SERIES = "urgent" + FOLLOW_UP  # named like a follow-up, which planning neither moves nor withdraws
RULE = "urgent-call"


@dataclass(frozen=True, kw_only=True)
class UrgentWork:
    """What an urgent call needs: on which days, how long, who."""

    first_day: date
    last_day: date
    minutes: int = whole(5, 960, "min", default=60)
    people: int = whole(1, 20, "people", default=1)
    skill: str = choice(*SKILLS, default="gardener")

    def __post_init__(self) -> None:
        """Refuse what cannot be true, naming every wrong field."""
        late = Problem("last_day", self.last_day, f"a day from {self.first_day} on")
        refuse_nonsense(self, [late] if self.last_day < self.first_day else [])


def ask_urgent(place: Property, words: str, *, work: UrgentWork, today: date, by: User | None) -> CareTask:
    """Make the care task of an urgent call; call it inside the transaction of its visit."""
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office takes urgent calls.")
    if not words.strip():
        raise ValueError("words are empty: say what is urgent")
    Property.objects.select_for_update().get(pk=place.pk)
    number = CareTask.objects.filter(property=place, series=SERIES).count() + 1
    task = CareTask.objects.create(
        property=place,
        rule=RULE,
        stem="property",
        series=SERIES,
        occurrence=str(number),
        key=f"{SERIES}:{number}",
        title=f"Urgent: {words.strip()}"[:160],
        title_es=f"Urgente: {words.strip()}"[:160],
        opens_on=work.first_day,
        due_on=work.first_day,
        closes_on=max(work.last_day, today + timedelta(1)),
        minutes=work.minutes,
        people=work.people,
        skill=work.skill,
        details={"numbers": {}, "lines": {"en": [words.strip()], "es": [words.strip()]}},
        changed_at=timezone.now(),
    )
    record("ask urgent", task.key, by=by, property=place.code, words=words)
    return task


def drop_urgent_tasks(place: Property, occurrence: str, *, reason: str, by: User | None) -> int:
    """Withdraw the task of an urgent call that is given up; call it inside a transaction."""
    rows = CareTask.objects.filter(property=place, series=SERIES, occurrence=occurrence, state=TaskState.OPEN)
    gone = rows.update(state=TaskState.WITHDRAWN, changed_at=timezone.now())
    record("drop urgent", f"{SERIES}:{occurrence}", by=by, property=place.code, reason=reason)
    return gone
