"""What crews read: stops in order with address, access, cautions, checklist and settings to leave.

Codes stay behind the crew page, because calendars are copied to watches and cloud accounts.
"""

import re
from datetime import date, datetime

from landscape_care.almanac.dates import say_clock
from landscape_care.calendars.facts import TaskFacts, VisitFacts, named_uid
from landscape_care.calendars.feeds import Days, FeedEvent, Hours, hours_or_day
from landscape_care.calendars.words import say, say_caution, say_day

_PARTS_OF_A_CODE = (re.compile(r"[A-Za-z#*]*\d[\w#*]{2,}"), re.compile(r"\d{3,}"))


def stop_entry(
    visit: VisitFacts, language: str, *, number: int | None, page: str, day_changed_at: datetime
) -> FeedEvent:
    """A stop for its crew: its number in the day, the page to check off, the last change of that day."""
    return FeedEvent(
        uid=visit.uid,
        sequence=visit.revision,
        # A stop's number may change with the stops before it, so the whole day counts.
        changed_at=max(visit.stamp(), day_changed_at),
        span=span_of(visit),
        summary=_summary(visit, language, number),
        description=_description(visit, language, page),
        status="CANCELLED" if visit.off() else "CONFIRMED",
        location=visit.place.address,
        place=visit.place.place,
        url=page,
        categories=(say(language, "category_visit"),),
        transparent=visit.off(),
    )


def day_entry(
    crew: tuple[str, str], day: date, language: str, *, page: str, issued_at: datetime
) -> FeedEvent:
    """The heading of a day of a crew (code and name); it tells nothing that can change."""
    code, name = crew
    return FeedEvent(
        uid=named_uid("crew day", code, day.isoformat()),
        sequence=0,
        changed_at=issued_at,
        span=Days(day, day),
        summary=say(language, "crew_day", name=name),
        description=say(language, "crew_day_text", url=page),
        url=page,
    )


def span_of(visit: VisitFacts) -> Days | Hours:
    """The exact times of a visit, or its day, or the days between which it must be done."""
    if visit.day is None:
        return Days(visit.opens_on, visit.closes_on)
    if visit.arrives_at is None or visit.leaves_at is None:
        return Days(visit.day, visit.day)
    arrives, leaves = (
        datetime.combine(visit.day, visit.arrives_at),
        datetime.combine(visit.day, visit.leaves_at),
    )
    return hours_or_day(arrives, leaves, visit.place.time_zone)


def without_codes(note: str, gate_code: str) -> str:
    """Blank out a gate code, or a part of it with a digit, that somebody wrote into a note."""
    parts = {gate_code.strip(), *(part for form in _PARTS_OF_A_CODE for part in form.findall(gate_code))}
    for part in sorted((part for part in parts if len(part) >= 3), key=len, reverse=True):
        note = re.sub(re.escape(part), "•••", note, flags=re.IGNORECASE)
    return note


def _summary(visit: VisitFacts, language: str, number: int | None) -> str:
    title = visit.place.name if number is None else f"{number} · {visit.place.name}"
    if visit.off():
        return say(language, "cancelled_title", title=title)
    return say(language, "done_mark", title=title) if visit.state == "done" else title


def _description(visit: VisitFacts, language: str, page: str) -> str:
    paragraphs = [
        say(language, "moved", day=say_day(language, visit.moved_from)) if visit.moved_from else "",
        say(language, "off", day=say_day(language, visit.day)) if visit.off() and visit.day else "",
        "" if visit.off() else _work(visit, language),
        say(language, "check_off", url=page),
    ]
    return "\n\n".join(filter(None, paragraphs))


def _work(visit: VisitFacts, language: str) -> str:
    parts = [_access(visit, language), _cautions(visit, language), *_checklist(visit, language)]
    return "\n\n".join(filter(None, parts))


def _access(visit: VisitFacts, language: str) -> str:
    place = visit.place
    first, last = say_clock(language, place.access_opens), say_clock(language, place.access_closes)
    note = " ".join(filter(None, (place.access_note, say(language, "code_hidden"))))
    return f"{place.address}\n{say(language, 'access', first=first, last=last, note=note)}"


def _cautions(visit: VisitFacts, language: str) -> str:
    codes = dict.fromkeys(code for task in visit.tasks if task.state == "open" for code in task.cautions)
    lines = [f"! {say_caution(language, code)}" for code in codes]
    return "\n".join([say(language, "cautions"), *lines]) if lines else ""


def _checklist(visit: VisitFacts, language: str) -> list[str]:
    return [_box(task, language) for task in visit.tasks if task.state != "withdrawn"]


def _box(task: TaskFacts, language: str) -> str:
    box = {"done": "done_box", "skipped": "skipped_box"}.get(task.state, "open_box")
    title = " · ".join(filter(None, (task.titles[language], task.thing)))
    head = say(language, box, title=title, minutes=task.minutes)
    if task.state != "open":
        return head
    if task.people > 1:
        head += ", " + say(language, "with_people", count=task.people)
    lines = list(task.lines.get(language, ())) or [
        f"{thing}: {_values(values)}" for thing, values in sorted(task.settings.items())
    ]
    title_of_lines = [say(language, "leave_set")] if task.settings else []
    return "\n    ".join([head, *title_of_lines, *lines])


def _values(values: dict[str, object]) -> str:
    return ", ".join(f"{name.removeprefix('set_')} {value}" for name, value in sorted(values.items()))
