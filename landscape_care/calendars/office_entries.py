"""What the office reads: the visits of all crews, and those that still have no day."""

from landscape_care.calendars.crew_entries import span_of
from landscape_care.calendars.facts import VisitFacts
from landscape_care.calendars.feeds import Days, FeedEvent
from landscape_care.calendars.words import say, say_day


def office_entry(
    visit: VisitFacts, language: str, *, notes: tuple[str, ...] = (), reason: str = ""
) -> FeedEvent:
    """A visit for the office; one without a day stands over its window as tentative."""
    waiting = visit.state == "planned"
    return FeedEvent(
        uid=visit.uid,
        sequence=visit.revision,
        changed_at=visit.stamp(),
        span=Days(visit.opens_on, visit.closes_on) if waiting else span_of(visit),
        summary=_summary(visit, language, waiting=waiting),
        description="\n".join(_lines(visit, language, notes, reason)),
        status=_status(visit, waiting=waiting),
        location=visit.place.address,
        categories=(visit.crew_name or say(language, "category_visit"),),
    )


def _summary(visit: VisitFacts, language: str, *, waiting: bool) -> str:
    if waiting:
        return say(language, "unassigned", name=visit.place.name)
    if visit.off():
        return say(language, "cancelled_title", title=visit.place.name)
    title = f"{visit.place.name} · {visit.crew_name}" if visit.crew_name else visit.place.name
    return say(language, "done_mark", title=title) if visit.state == "done" else title


def _status(visit: VisitFacts, *, waiting: bool) -> str:
    if waiting:
        return "TENTATIVE"
    return "CANCELLED" if visit.off() else "CONFIRMED"


def _lines(visit: VisitFacts, language: str, notes: tuple[str, ...], reason: str) -> list[str]:
    if visit.state == "planned":
        return [_window(visit, language), *notes, *_work(visit, language)]
    lines = []
    if visit.moved_from:
        lines.append(say(language, "moved", day=say_day(language, visit.moved_from)))
    if visit.off() and visit.day:
        lines.append(say(language, "off", day=say_day(language, visit.day)))
    if visit.off() and reason:
        lines.append(say(language, "why", reason=reason))
    if visit.crew_name:
        lines.append(say(language, "crew", name=visit.crew_name))
    return [*lines, *notes, *_work(visit, language)]


def _work(visit: VisitFacts, language: str) -> list[str]:
    return [f"- {title}" for title in visit.titles(language, ("open", "done"))]


def _window(visit: VisitFacts, language: str) -> str:
    first, last = say_day(language, visit.opens_on), say_day(language, visit.closes_on)
    minutes = sum(task.minutes * task.people for task in visit.tasks)
    return say(language, "unassigned_text", first=first, last=last, minutes=minutes)
