"""A crew's day for paper: the stops in order with their drives, what to do, what to load, heat, cautions.

Gate codes never go onto paper, because paper is left in vehicles: it says where to look them up.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import get_language, gettext

from landscape_care.calendars.crew_entries import without_codes
from landscape_care.care.models import CareTask, TaskState
from landscape_care.dispatch.models import CrewRoute
from landscape_care.dispatch.queries import CrewDay, StopSheet
from landscape_care.dispatch.travel import Place
from landscape_care.pages.paper import Column, Paper, Title
from landscape_care.pages.route_sketch import Sketch, drawing, sketch
from landscape_care.pages.templatetags import wording
from landscape_care.properties.models import Property


@dataclass(frozen=True)
class StopOnPaper:
    """One stop with what paper may say of it."""

    sheet: StopSheet
    access_note: str
    tasks: tuple[CareTask, ...]

    @property
    def place(self) -> Property:
        """Where it is."""
        return self.sheet.stop.visit.property

    @property
    def has_code(self) -> bool:
        """Whether there is a gate code to look up."""
        return bool(self.place.gate_code)


@dataclass(frozen=True)
class DayOnPaper:
    """A crew's day with its sketch; `frame` holds the start and the way back."""

    planned: CrewDay
    frame: CrewRoute | None
    stops: tuple[StopOnPaper, ...]
    cautions: tuple[str, ...]
    sketch: Sketch | None

    @property
    def heat(self) -> list[str]:
        """The shift in the heat, in the reader's language."""
        lines = self.planned.heat.lines if self.planned.heat else ()
        return [pair[wording.spanish()] for pair in lines]

    @property
    def heat_basis(self) -> str:
        """What the heat plan follows from."""
        return self.planned.heat_basis[wording.spanish()]

    @property
    def drive_minutes(self) -> float:
        """Driving with the way back."""
        return self.planned.drive_minutes + (self.frame.return_minutes if self.frame else 0.0)

    @property
    def drive_miles(self) -> float:
        """Miles with the way back."""
        there = sum(sheet.stop.drive_miles for sheet in self.planned.stops)
        return there + (self.frame.return_miles if self.frame else 0.0)


def on_paper(planned: CrewDay, frame: CrewRoute | None) -> DayOnPaper:
    """A crew's day as paper may show it."""
    stops = tuple(_stop(sheet) for sheet in planned.stops)
    codes = dict.fromkeys(code for stop in stops for task in stop.tasks for code in task.cautions)
    depot = planned.crew.depot
    places = [Place(stop.place.latitude_deg, stop.place.longitude_deg) for stop in stops]
    drawn = sketch(Place(depot.latitude_deg, depot.longitude_deg), places)
    return DayOnPaper(planned, frame, stops, tuple(codes), drawn)


def _stop(sheet: StopSheet) -> StopOnPaper:
    place = sheet.stop.visit.property
    open_ones = tuple(task for task in sheet.tasks if task.state == TaskState.OPEN)
    return StopOnPaper(sheet, without_codes(place.access_note, place.gate_code), open_ones)


# --- PDF ------------------------------------------------------------------------------------------------


def day_paper(day: DayOnPaper, *, made_at: datetime) -> bytes:
    """The day as PDF, in the language that is set."""
    crew = day.planned.crew
    title = Title(crew.depot.name, crew.name, _totals(day), wording.long_day(day.planned.day))
    paper = Paper(title, language=get_language() or "en", made_at=made_at)
    for line in day.heat:
        paper.paragraph(line)
    if day.heat:
        paper.remark(day.heat_basis)
    if day.sketch:
        miles = wording.measure(day.sketch.bar_miles, "mi")
        paper.drawing(drawing(day.sketch, depot_name=crew.depot.name, miles=miles))
        paper.remark(gettext("A sketch: north is up, legs are straight lines and no roads."))
        paper.table(_way_columns(), list(_way_rows(day)))
    else:
        paper.paragraph(gettext("Nothing is published for this crew on this day."))
    _loads(paper, day)
    _cautions(paper, day)
    for stop in day.stops:
        _write_stop(paper, stop)
    return paper.to_bytes()


def _totals(day: DayOnPaper) -> str:
    driving = f"{wording.hours(day.drive_minutes)}, {wording.measure(day.drive_miles, 'mi')}"
    told = (
        (gettext("Stops"), str(len(day.stops))),
        (gettext("At work"), wording.hours(day.planned.service_minutes)),
        (gettext("Driving"), driving),
    )
    return " · ".join(f"{name}: {figure}" for name, figure in told)


def _way_columns() -> tuple[Column, ...]:
    return (
        Column(gettext("No."), 0.6, "right"),
        Column(gettext("Property"), 4),
        Column(gettext("Driving"), 1.3, "right"),
        Column(gettext("Arrive"), 1.2, "right"),
        Column(gettext("Leave"), 1.2, "right"),
    )


def _way_rows(day: DayOnPaper) -> Iterator[tuple[str, ...]]:
    depot, frame = day.planned.crew.depot.name, day.frame
    if frame:
        yield ("", depot, "", "", wording.clock(frame.starts_at))
    for number, one in enumerate(day.stops, start=1):
        stop = one.sheet.stop
        drive = f"{stop.drive_minutes:.0f} min"
        yield (
            str(number),
            f"{one.place.name} · {one.place.street}, {one.place.town}",
            drive,
            wording.clock(stop.arrives_at),
            wording.clock(stop.leaves_at),
        )
    if frame:
        yield ("", depot, f"{frame.return_minutes:.0f} min", wording.clock(frame.ends_at), "")


def _loads(paper: Paper, day: DayOnPaper) -> None:
    if not day.planned.load:
        return
    paper.heading(gettext("To load"))
    for line in day.planned.load:
        paper.paragraph(f"[  ] {wording.load_line(line)}")


def _cautions(paper: Paper, day: DayOnPaper) -> None:
    if not day.cautions:
        return
    paper.heading(gettext("Cautions of the day"))
    for code in day.cautions:
        title, text = wording.caution(code)
        paper.paragraph(f"{title}. {text}")


def _write_stop(paper: Paper, one: StopOnPaper) -> None:
    stop, place = one.sheet.stop, one.place
    paper.heading(f"{stop.position}. {place.name}, {wording.span(stop.arrives_at, stop.leaves_at)}")
    paper.paragraph(f"{place.street}, {place.town}")
    access = gettext("Access from %(opens)s to %(closes)s.") % {
        "opens": wording.clock(place.access_opens),
        "closes": wording.clock(place.access_closes),
    }
    code = gettext("Gate code: see the phone.") if one.has_code else ""
    paper.paragraph(" ".join(filter(None, (access, one.access_note, code))))
    for task in one.tasks:
        _write_task(paper, task)


def _write_task(paper: Paper, task: CareTask) -> None:
    tag = f"{task.thing.tag} · " if task.thing else ""
    people = f" × {task.people}" if task.people > 1 else ""
    head = f"[  ] {tag}{wording.said(task, 'title')}, {task.minutes} min{people}"
    warned = [f"! {wording.caution(code)[0]}" for code in task.cautions]
    paper.paragraph("\n".join((head, *warned, *wording.lines_in(task.details))))
