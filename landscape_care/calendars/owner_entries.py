"""What owners read: visits as a kind note, seasonal care, and programs that change.

Only what is listed here reaches an owner. Access notes, codes, crews, reasons and readings do not.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import groupby
from uuid import UUID

from landscape_care.almanac.dates import say_clock
from landscape_care.calendars.arrival import arrival_window
from landscape_care.calendars.facts import PlaceFacts, TaskFacts, VisitFacts, named_uid
from landscape_care.calendars.feeds import Days, FeedEvent, Hours, hours_or_day
from landscape_care.calendars.words import say, say_count, say_day

OFF_STAYS = timedelta(days=14)
_BY_STEM = (
    ("irrigation", "expect_water"),
    ("water_feature", "expect_feature"),
    ("lighting", "expect_lights"),
)
_PROGRAMS = ("irrigation", "lighting")
_BY_CAUTION = (
    ("SHARP", "expect_plants"),
    ("CHEM", "expect_product"),
    ("PEST", "expect_product"),
    ("SILICA", "expect_dust"),
    ("BACKFLOW", "expect_test"),
)
_OPEN_BY_STEM = (
    ("irrigation", "water_on"),
    ("water_feature", "water_on"),
    ("water_feature", "power_on"),
    ("lighting", "power_on"),
)


def visit_entry(visit: VisitFacts, language: str, *, many: bool = False, page: str = "") -> FeedEvent | None:
    """A visit for its owner; `many` names the property where a calendar holds several.

    `page` is where another day can be asked for while the visit is still to come.
    """
    span = _span(visit)
    if span is None:
        return None
    return FeedEvent(
        uid=visit.uid,
        sequence=visit.revision,
        changed_at=visit.stamp(),
        span=span,
        summary=_summary(visit, language, many=many),
        description=_description(visit, language),
        status="CANCELLED" if visit.off() else "CONFIRMED",
        location=visit.place.address,
        url=page if visit.state == "published" else "",
        categories=_categories("visit", visit.place, language, many=many),
    )


def with_link(entry: FeedEvent, language: str) -> FeedEvent:
    """The entry with its link in words as well, because several programs do not show URL."""
    if not entry.url:
        return entry
    line = say(language, "another_day", url=entry.url)
    return replace(entry, description="\n\n".join(filter(None, (entry.description, line))))


def _span(visit: VisitFacts) -> Days | Hours | None:
    if visit.day is None:
        return None
    if visit.arrives_at is None or visit.leaves_at is None:
        return Days(visit.day, visit.day)
    first, last = arrival_window(visit.day, visit.arrives_at, visit.leaves_at)
    return hours_or_day(first, last, visit.place.time_zone)


def _summary(visit: VisitFacts, language: str, *, many: bool) -> str:
    title = say(language, "visit")
    if many:
        title = f"{visit.place.name}: {title}"
    if visit.off():
        return say(language, "cancelled_title", title=title)
    if visit.state == "done":
        return say(language, "done_mark", title=title)
    count = len(visit.titles(language, ("open", "done")))
    return f"{title} – {say_count(language, count)}" if count else title


def _description(visit: VisitFacts, language: str) -> str:
    if visit.off():
        return _off(visit, language)
    if visit.state == "done":
        return _account(visit, language)
    paragraphs = [
        _moved(visit, language),
        _arrival(visit, language),
        _bullets(say(language, "will_do"), visit.titles(language, ("open", "done"))),
        _bullets(say(language, "expect"), _expected(visit, language)),
        _bullets(say(language, "leave_open"), _left_open(visit, language)),
    ]
    return "\n\n".join(filter(None, paragraphs))


def _off(visit: VisitFacts, language: str) -> str:
    day = say_day(language, visit.day) if visit.day else ""
    return say(language, "off", day=day) + "\n" + say(language, "off_returns")


def _account(visit: VisitFacts, language: str) -> str:
    done = _bullets(say(language, "was_done"), visit.titles(language, ("done",)))
    missed = _bullets(say(language, "not_done"), visit.titles(language, ("skipped",)))
    return "\n\n".join(filter(None, (done, missed)))


def _moved(visit: VisitFacts, language: str) -> str:
    return say(language, "moved", day=say_day(language, visit.moved_from)) if visit.moved_from else ""


def _arrival(visit: VisitFacts, language: str) -> str:
    if visit.day is None or visit.arrives_at is None or visit.leaves_at is None:
        return ""
    first, last = arrival_window(visit.day, visit.arrives_at, visit.leaves_at)
    stays = datetime.combine(visit.day, visit.leaves_at) - datetime.combine(visit.day, visit.arrives_at)
    clocks = {"first": say_clock(language, first.time()), "last": say_clock(language, last.time())}
    return say(language, "arrival", minutes=stays // timedelta(minutes=1), **clocks)


def _expected(visit: VisitFacts, language: str) -> list[str]:
    stems = {task.stem for task in visit.tasks}
    codes = {code for task in visit.tasks for code in task.cautions}
    keys = [key for stem, key in _BY_STEM if stem in stems] + [
        key for code, key in _BY_CAUTION if code in codes
    ]
    return [say(language, key) for key in dict.fromkeys(keys)]


def _left_open(visit: VisitFacts, language: str) -> list[str]:
    stems = {task.stem for task in visit.tasks}
    keys = ["way_in", *(key for stem, key in _OPEN_BY_STEM if stem in stems)]
    return [say(language, key) for key in dict.fromkeys(keys)]


def _bullets(title: str, lines: Sequence[str]) -> str:
    return "\n".join([title, *(f"- {line}" for line in lines)]) if lines else ""


def _categories(name: str, place: PlaceFacts, language: str, *, many: bool) -> tuple[str, ...]:
    category = say(language, f"category_{name}")
    return (category, place.name) if many else (category,)


def season_entries(
    tasks: Iterable[TaskFacts], place: PlaceFacts, language: str, *, today: date, many: bool = False
) -> list[FeedEvent]:
    """Seasonal care and program changes of one property, an entry for each rule and occurrence."""
    told = sorted((task for task in tasks if task.told_apart()), key=_group)
    groups = (tuple(group) for _, group in groupby(told, key=_group))
    return [_season(group, place, language, many=many) for group in groups if not _gone(group, today)]


def _group(task: TaskFacts) -> tuple[str, str]:
    return task.rule, task.occurrence


def _gone(group: Sequence[TaskFacts], today: date) -> bool:
    if any(task.state in ("open", "done") for task in group):
        return False
    return max(task.changed_at for task in group).astimezone(UTC).date() + OFF_STAYS < today


def _season(group: Sequence[TaskFacts], place: PlaceFacts, language: str, *, many: bool) -> FeedEvent:
    live = [task for task in group if task.state in ("open", "done")]
    rule, occurrence = _group(group[0])
    return FeedEvent(
        uid=named_uid("season", place.code, rule, occurrence),
        # Grows with every change, settling and every task that joins; rows are never deleted.
        sequence=sum(task.revision + task.settled() + 1 for task in group) - 1,
        changed_at=max(task.changed_at for task in group),
        span=_season_days(live or group),
        summary=_season_summary(live, group, place, language, many=many),
        description=_season_text(live, group, language),
        status="CONFIRMED" if live else "CANCELLED",
        categories=_categories(_category(group[0]), place, language, many=many),
    )


def _season_days(group: Sequence[TaskFacts]) -> Days:
    open_ones = [task for task in group if task.state == "open"]
    settled = [task.settled_on for task in group if task.settled_on]
    if settled and not open_ones:
        return Days(max(settled), max(settled))
    chosen = open_ones or group
    if any(task.settings for task in chosen):
        return Days(min(task.due_on for task in chosen), min(task.due_on for task in chosen))
    return Days(min(task.opens_on for task in chosen), max(task.closes_on for task in chosen))


def _season_summary(
    live: Sequence[TaskFacts], group: Sequence[TaskFacts], place: PlaceFacts, language: str, *, many: bool
) -> str:
    title = _title(group[0], language)
    if many:
        title = f"{place.name}: {title}"
    if not live:
        return say(language, "cancelled_title", title=title)
    return say(language, "done_mark", title=title) if all(task.state == "done" for task in live) else title


def _title(task: TaskFacts, language: str) -> str:
    if task.settings and task.stem in _PROGRAMS:
        return say(language, f"program_{task.stem}")
    return task.titles[language]


def _season_text(live: Sequence[TaskFacts], group: Sequence[TaskFacts], language: str) -> str:
    if not live:
        return say(language, "note_skipped" if any(task.settled() for task in group) else "note_off")
    if live[0].settings:
        return "\n".join(f"- {line}" for task in live for line in _program(task, language))
    first, last = min(task.opens_on for task in live), max(task.closes_on for task in live)
    window = say(language, "window", first=say_day(language, first), last=say_day(language, last))
    return "\n".join([window, *(f"- {_on_thing(task, language)}" for task in live)])


def _program(task: TaskFacts, language: str) -> list[str]:
    # Other lines are for the crew, such as what the record leaves open.
    return [line for line in task.lines.get(language, ()) if line.startswith(tuple(task.settings))]


def _on_thing(task: TaskFacts, language: str) -> str:
    lines = "; ".join(task.lines.get(language, ()))
    return ": ".join(filter(None, (task.thing, lines))) or task.titles[language]


def _category(task: TaskFacts) -> str:
    return (
        task.stem if task.settings and task.stem in ("irrigation", "lighting", "water_feature") else "season"
    )


def nothing_yet(address_uid: UUID, issued_at: datetime, language: str, *, crew: bool = False) -> FeedEvent:
    """The one honest entry of a calendar that has nothing to tell yet."""
    key = "no_stop" if crew else "no_visit"
    day = issued_at.astimezone(UTC).date()
    return FeedEvent(
        uid=address_uid,
        sequence=0,
        changed_at=issued_at,
        span=Days(day, day),
        summary=say(language, key),
        description=say(language, f"{key}_text"),
    )
