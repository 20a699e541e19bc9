"""Care windows: every piece of care over the days between which it may be done."""

from collections.abc import Iterable
from datetime import UTC, date, timedelta

from landscape_care.calendars.facts import PlaceFacts, TaskFacts, named_uid
from landscape_care.calendars.feeds import Days, FeedEvent, FeedTodo
from landscape_care.calendars.words import say, say_day

OFF_STAYS = timedelta(days=14)


def window_entries(
    tasks: Iterable[TaskFacts], place: PlaceFacts, language: str, *, today: date, many: bool
) -> list[FeedEvent]:
    """An all-day entry for each task; what is withdrawn or skipped stays two weeks and says so."""
    return [_entry(task, place, language, many=many) for task in tasks if not _gone(task, today)]


def todo_entries(
    tasks: Iterable[TaskFacts], place: PlaceFacts, language: str, *, today: date, many: bool
) -> list[FeedEvent]:
    """The same as a list to do, for programs that keep one."""
    return [_todo(task, place, language, many=many) for task in tasks if not _gone(task, today)]


def _todo(task: TaskFacts, place: PlaceFacts, language: str, *, many: bool) -> FeedTodo:
    off, done = task.state in ("withdrawn", "skipped"), task.state == "done"
    entry = _entry(task, place, language, many=many)
    return FeedTodo(
        uid=named_uid("todo", place.code, task.key),
        sequence=entry.sequence,
        changed_at=entry.changed_at,
        span=Days(task.opens_on, task.closes_on),
        summary=_title(task, place, language, many=many),
        description=entry.description,
        status="CANCELLED" if off else "COMPLETED" if done else "NEEDS-ACTION",
        done_at=task.changed_at if done else None,
        location=entry.location,
        categories=entry.categories,
    )


def _gone(task: TaskFacts, today: date) -> bool:
    off = task.state in ("withdrawn", "skipped")
    return off and task.changed_at.astimezone(UTC).date() + OFF_STAYS < today


def _entry(task: TaskFacts, place: PlaceFacts, language: str, *, many: bool) -> FeedEvent:
    off = task.state in ("withdrawn", "skipped")
    return FeedEvent(
        uid=named_uid("window", place.code, task.key),
        sequence=task.revision + task.settled(),
        changed_at=task.changed_at,
        span=_days(task),
        summary=_summary(task, place, language, many=many),
        description=_text(task, language),
        status="CANCELLED" if off else "CONFIRMED",
        location=place.address,
        categories=(task.stem, place.name) if many else (task.stem,),
    )


def _days(task: TaskFacts) -> Days:
    if task.state == "done" and task.settled_on:
        return Days(task.settled_on, task.settled_on)
    return Days(task.opens_on, task.closes_on)


def _summary(task: TaskFacts, place: PlaceFacts, language: str, *, many: bool) -> str:
    title = _title(task, place, language, many=many)
    if task.state == "done":
        return say(language, "done_mark", title=title)
    return title if task.state == "open" else say(language, "cancelled_title", title=title)


def _title(task: TaskFacts, place: PlaceFacts, language: str, *, many: bool) -> str:
    return " · ".join(filter(None, (place.name if many else "", task.titles[language], task.thing)))


def _text(task: TaskFacts, language: str) -> str:
    if task.state == "done" and task.settled_on:
        return say(language, "window_done", day=say_day(language, task.settled_on))
    if task.state != "open":
        return say(language, "note_skipped" if task.settled() else "note_off")
    first, last = say_day(language, task.opens_on), say_day(language, task.closes_on)
    window = say(language, "window", first=first, last=last)
    return "\n".join([window, *(f"- {line}" for line in task.lines.get(language, ()))])
