"""Every row of an intake looked at against the limits, against the other rows, and against the record."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from django.utils import timezone

from landscape_care.properties import books, rows
from landscape_care.properties.intake import forms
from landscape_care.properties.intake.drafts import Draft, Drafted, drafted, record_from
from landscape_care.properties.intake.found import Entry, Intake, RowProblem, ThingEntry
from landscape_care.properties.intake.reading import Read, read
from landscape_care.properties.models import Agreement, Client, Depot, InstalledThing, Property
from landscape_care.trades.kinds import KINDS
from landscape_care.trades.limits import Problem, Refused

_HERE = "a new one: it is on the record already, and an intake adds but never overwrites"


def check(files: Iterable[Any], *, today: date | None = None) -> Intake:
    """Read files and look at every row; nothing is written. Care done after today is a problem."""
    found = read(files)
    return _Checking(found, drafted(found.sheets), today or timezone.localdate()).intake()


@dataclass
class _Known:
    """Codes and tags on the record, and those of this intake beside them."""

    clients: set[str]
    depots: set[str]
    properties: set[str]
    agreed: set[str]
    # By property code and tag: kind and number, which is negative for things on the record.
    tags: dict[str, dict[str, tuple[str, int]]] = field(default_factory=lambda: defaultdict(dict))


def _known(codes: set[str]) -> _Known:
    known = _Known(
        clients=set(Client.objects.values_list("code", flat=True)),
        depots=set(Depot.objects.values_list("code", flat=True)),
        properties=set(Property.objects.values_list("code", flat=True)),
        agreed=set(Agreement.objects.values_list("property__code", flat=True)),
    )
    things = InstalledThing.objects.filter(property__code__in=codes & known.properties)
    for code, tag, kind, pk in things.values_list("property__code", "tag", "kind", "pk"):
        known.tags[code][tag] = (kind, -pk)
    return known


def _nothing_further(_record: object) -> Iterable[Problem]:
    return ()


class _Checking:
    """One look through all rows, in the order in which rows depend on each other."""

    def __init__(self, found: Read, drafted: Drafted, today: date) -> None:
        self.drafted, self.today = drafted, today
        self.plants, self.climates = books.plant_book(), books.climate_book()
        self.problems = [RowProblem(u.sheet, 0, "", u.value, u.wanted, u.file) for u in found.unreadable]
        self.problems += drafted.problems
        self.files = tuple(dict.fromkeys(sheet.file for sheet in found.sheets))
        self.known = _known({draft.property for draft in drafted.of_things()} | self._codes_of_last_care())
        self._refuse_nothing(found)

    def intake(self) -> Intake:
        """The records that are right, and the problems of the others in the order of the rows."""
        clients = self._named(forms.CLIENTS, self.known.clients)
        depots = self._named(forms.DEPOTS, self.known.depots)
        properties = self._named(forms.PROPERTIES, self.known.properties, self._property_problems)
        agreements = self._records(forms.AGREEMENTS, self._agreement_problems)
        self._every_property_agreed(properties)
        things = self._things()
        last_care = self._records(forms.LAST_CARE, self._last_care_problems)
        return Intake(
            tuple(clients),
            tuple(depots),
            tuple(properties),
            tuple(agreements),
            tuple(things),
            tuple(last_care),
            self._in_order(),
            self.files,
        )

    def _codes_of_last_care(self) -> set[str]:
        return {str(draft.values.get("property", "")) for draft in self.drafted.of(forms.LAST_CARE)}

    def _refuse_nothing(self, found: Read) -> None:
        left = set(forms.LEFT_TO_OTHERS) - {forms.READ_ME}
        others = any(sheet.rows for sheet in found.sheets if sheet.name in left)
        if not (self.drafted.drafts or self.problems or others):
            wanted = "at least one row on a sheet named " + ", ".join(forms.FORMS)
            self.problems.append(RowProblem("", 0, "", "no rows", wanted, ", ".join(self.files)))

    def _in_order(self) -> tuple[RowProblem, ...]:
        order = {name: place for place, name in enumerate(forms.FORMS)}
        return tuple(sorted(self.problems, key=lambda p: (order.get(p.sheet, -1), p.file, p.row)))

    def _tell(self, draft: Draft, *problems: Problem) -> None:
        self.problems += [draft.problem(problem) for problem in problems]

    # --- Clients, depots, properties, agreements ---

    def _named(
        self,
        form: forms.SheetForm,
        on_record: set[str],
        further: Callable[[Any], Iterable[Problem]] = _nothing_further,
    ) -> list[Entry[Any]]:
        """Records known by a code, which must be new."""
        taken = dict.fromkeys(on_record, _HERE)

        def problems(record: Any) -> Iterable[Problem]:
            if record.code in taken:
                yield Problem("code", record.code, taken[record.code])
            taken.setdefault(record.code, "each code once: it stands further up as well")
            yield from further(record)

        # Rows may point at a row that has a problem of its own; that is told once.
        on_record |= {str(draft.values["code"]) for draft in self.drafted.of(form) if "code" in draft.values}
        return self._records(form, problems)

    def _records(
        self, form: forms.SheetForm, further: Callable[[Any], Iterable[Problem]]
    ) -> list[Entry[Any]]:
        entries = []
        for draft in self.drafted.of(form):
            try:
                record = record_from(draft)
            except Refused as refused:
                self._tell(draft, *refused.problems)
                continue
            problems = [*further(record)]
            self._tell(draft, *problems)
            if not problems:
                entries.append(Entry(record, draft.place))
        return entries

    def _property_problems(self, record: Any) -> Iterable[Problem]:
        if record.client not in self.known.clients:
            yield Problem("client", record.client, "the code of a client of this intake or on the record")
        if record.depot not in self.known.depots:
            yield Problem("depot", record.depot, "the code of a depot of this intake or on the record")
        try:
            rows.climate_of(record, self.climates)
        except Refused as refused:
            yield from refused.problems

    def _agreement_problems(self, record: Any) -> Iterable[Problem]:
        if record.property in self.known.agreed:
            yield Problem("property", record.property, "a property without an agreement: this one has one")
        elif record.property not in self.known.properties:
            yield Problem("property", record.property, _property_wanted())
        self.known.agreed.add(record.property)

    def _every_property_agreed(self, properties: list[Entry[Any]]) -> None:
        told = {str(draft.values.get("property")) for draft in self.drafted.of(forms.AGREEMENTS)}
        for entry in properties:
            code, place = entry.record.code, entry.place
            if code not in told:
                wanted = "a row for this property on the sheet agreements"
                self.problems.append(RowProblem(place.sheet, place.row, "code", code, wanted, place.file))

    # --- Installed things ---

    def _things(self) -> list[ThingEntry]:
        drafts = self.drafted.of_things()
        for draft in drafts:
            self._note_tag(draft)
        return [entry for draft in drafts if (entry := self._thing(draft))]

    def _note_tag(self, draft: Draft) -> None:
        tag, tags = draft.values.get("tag"), self.known.tags[draft.property]
        if not tag:
            return
        if tag in tags:
            standing = "on the record" if tags[tag][1] < 0 else "further up"
            self._tell(draft, Problem("tag", tag, f"another tag: this one is in use {standing}"))
        tags.setdefault(tag, (draft.form.kind, draft.uid))

    def _thing(self, draft: Draft) -> ThingEntry | None:
        before = len(self.problems)
        if draft.property and draft.property not in self.known.properties:
            self._tell(draft, Problem("property", draft.property, _property_wanted()))
        self._resolve_tags(draft)
        try:
            draft.values = rows.with_plant_keys(KINDS[draft.form.kind], draft.values, self.plants)
        except Refused as refused:
            draft.unclear |= {problem.field for problem in refused.problems}
            self._tell(draft, *refused.problems)
        try:
            record = record_from(draft)
        except Refused as refused:
            self._tell(draft, *refused.problems)
            return None
        if len(self.problems) > before:
            return None
        return ThingEntry(draft.property, replace(record, uid=draft.uid), draft.place)

    def _resolve_tags(self, draft: Draft) -> None:
        tags = self.known.tags[draft.property]
        for column, limit in draft.form.columns.items():
            name = draft.form.field(column)
            if limit.kind not in ("reference", "many") or name not in draft.values:
                continue
            given = draft.values.pop(name)
            wanted = given if limit.kind == "many" else (given,)
            strangers = [tag for tag in wanted if tags.get(tag, ("",))[0] != limit.refers_to]
            if strangers:
                draft.unclear.add(name)
                self._tell(draft, Problem(name, ", ".join(strangers), limit.wanted()))
                continue
            numbers = tuple(tags[tag][1] for tag in wanted)
            draft.values[name] = numbers if limit.kind == "many" else numbers[0]

    # --- History ---

    def _last_care_problems(self, record: Any) -> Iterable[Problem]:
        if record.property not in self.known.properties:
            yield Problem("property", record.property, _property_wanted())
        elif record.tag and record.tag not in self.known.tags[record.property]:
            yield Problem("tag", record.tag, "the tag of a thing of this property, or nothing")
        if record.done_on > self.today:
            yield Problem("done_on", record.done_on, f"{self.today} or earlier")


def _property_wanted() -> str:
    return "the code of a property of this intake or on the record"
