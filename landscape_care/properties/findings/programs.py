"""Zones for which no program can be had in the thirstiest month: the days, the hours or the supply."""

from collections.abc import Iterator

from landscape_care.properties.findings.finding import WATCH, WRONG, Finding, Record
from landscape_care.trades.kinds import Controller
from landscape_care.trades.zone_needs import needs_of, peak_eto_in_per_day, program_on_supply


def program_conflicts(record: Record) -> Iterator[Finding]:
    """What the program of the thirstiest month cannot give a zone on the allowed days and hours.

    Controllers of a property share its supply: a zone may find no hour because of another's valve.
    """
    day = record.today or record.as_built.care_starts_on
    eto_in = peak_eto_in_per_day(record.climate)
    for controller in record.standing(Controller):
        needs = needs_of(record.as_built, controller, day)
        made = program_on_supply(record.as_built, controller, needs, day=day, eto_in_per_day=eto_in)
        tag_of = dict(zip((need.station for need in needs.zones), needs.tags, strict=True))
        programmed = {zone.station for zone in made.zones}
        said = zip(made.conflict_stations, made.conflicts, made.conflicts_es, strict=True)
        yield from (
            _finding(tag_of[station], words, is_without=station not in programmed) for station, *words in said
        )


def _finding(tag: str, said: list[str], *, is_without: bool) -> Finding:
    # The tag says which zone; the station is the controller's name for it.
    english, spanish = (text.partition(": ")[2] for text in said)
    return Finding(
        tag,
        WRONG if is_without else WATCH,
        f"In the thirstiest month {english}",
        f"En el mes de más sed {spanish}",
        "Ask for more watering days or hours, split the zone, or fit outlets of another flow.",
        "Pida más días u horas de riego, divida la zona o ponga emisores de otro gasto.",
        "program",
    )


LOOKS = (program_conflicts,)
