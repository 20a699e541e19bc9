"""Clients, depots, properties and agreements as plain checked values.

The actions, the spreadsheets and the forms take their fields, limits and defaults from here,
as they take those of installed things from `trades.kinds`.
"""

import re
from collections.abc import Iterator
from dataclasses import MISSING, dataclass
from datetime import date, time
from zoneinfo import available_timezones

from landscape_care.almanac.climate import Climate
from landscape_care.almanac.public_holidays import names_in
from landscape_care.almanac.refusals import OWN_PREFIX
from landscape_care.almanac.usual_years import DRY_YEAR_IN, estimated_eto_in
from landscape_care.trades.kinds import STEMS
from landscape_care.trades.limits import (
    Problem,
    Refused,
    choice,
    clock,
    day,
    months,
    number,
    refuse_nonsense,
    text,
    whole,
)

CADENCES = ("weekly", "fortnightly", "monthly", "seasonal")
LANGUAGES = ("en", "es")

_CODE = re.compile(r"[a-z0-9]+(?:[-_][a-z0-9]+)*")
_MAIL = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s]+")
# The deepest valley and the highest town.
_LOWEST_M, _HIGHEST_M = -430, 5500
_HOLIDAY_YEARS = range(2024, 2031)  # some years, as not every holiday falls in each


@dataclass(frozen=True, kw_only=True)
class Record:
    """Anything that is known by a code."""

    def __post_init__(self) -> None:
        """Refuse what cannot be true, naming every wrong field."""
        refuse_nonsense(self, self.further_problems())

    def further_problems(self) -> Iterator[Problem]:
        """Problems that a single limit does not see."""
        yield from ()


@dataclass(frozen=True, kw_only=True)
class ClientRecord(Record):
    """An owner or manager."""

    code: str = text(40, default=MISSING, help="Short code, small letters, digits and hyphens")
    name: str = text(120, default=MISSING, help="Name as written on letters")
    language: str = choice(*LANGUAGES, default="en", help="Language of pages and calendars")
    email: str = text(254)
    phone: str = text(40)
    note: str = text(2000)

    def further_problems(self) -> Iterator[Problem]:
        """A code, a name and an address that mail can reach."""
        yield from _code("code", self.code)
        yield from _given("name", self.name)
        if self.email and not _MAIL.fullmatch(self.email):
            yield Problem("email", self.email, "an address such as garden@example.org")


@dataclass(frozen=True, kw_only=True)
class DepotRecord(Record):
    """A yard where crews start."""

    code: str = text(40, default=MISSING, help="Short code, small letters, digits and hyphens")
    name: str = text(120, default=MISSING)
    latitude_deg: float = number(-90, 90, "degrees, north is positive")
    longitude_deg: float = number(-180, 180, "degrees, west is negative")
    time_zone: str = text(60, default=MISSING, help="Such as America/Denver")
    holiday_region: str = text(10, help="Whose public holidays are kept, such as US-NM; empty: none")
    holidays_worked: str = text(400, help="Names of those on which crews work all the same, with commas")

    def further_problems(self) -> Iterator[Problem]:
        """A code, a name, a time zone and holidays that exist."""
        yield from _code("code", self.code)
        yield from _given("name", self.name)
        yield from _time_zone(self.time_zone)
        yield from _holidays(self.holiday_region, self.holidays_worked)


def _holidays(region: str, worked: str) -> Iterator[Problem]:
    """A region the almanac knows, and names of its holidays."""
    wanted = [name.strip() for name in worked.split(",") if name.strip()]
    if not region:
        if wanted:
            yield Problem("holidays_worked", worked, "empty, as no region is named")
        return
    try:
        known = {name for year in _HOLIDAY_YEARS for name in names_in(region, year)}
    except ValueError:
        yield Problem("holiday_region", region, "a country or state such as US-NM (ISO 3166-2)")
        return
    plain = {name.casefold() for name in known}
    for name in wanted:
        if name.casefold() not in plain:
            yield Problem("holidays_worked", name, "some of " + ", ".join(sorted(known)))


@dataclass(frozen=True, kw_only=True)
class PropertyRecord(Record):
    """A garden: place, hours and water supply. Client and depot are given by their codes."""

    code: str = text(40, default=MISSING, help="Short code, small letters, digits and hyphens")
    name: str = text(120, default=MISSING)
    client: str = text(40, default=MISSING, help="Code of the client")
    depot: str = text(40, default=MISSING, help="Code of the depot")
    street: str = text(160, default=MISSING)
    town: str = text(80, default=MISSING)
    latitude_deg: float = number(-90, 90, "degrees, north is positive")
    longitude_deg: float = number(-180, 180, "degrees, west is negative")
    elevation_m: float | None = number(
        _LOWEST_M, _HIGHEST_M, "m", default=None, help="Empty: that of the climate"
    )
    time_zone: str = text(60, help="Empty: that of the depot")
    climate: str = text(40, help="Empty: the nearest known climate")
    access_opens: time = clock(default=time(7), help="Crews may enter from")
    access_closes: time = clock(default=time(17), help="Crews must have left by")
    access_note: str = text(2000)
    gate_code: str = text(200, help="Kept encrypted")
    watering_weekdays: str = text(7, default="1234567", help="Days watering is allowed, 1 Monday to 7 Sunday")
    watering_opens: time = clock(default=time(4))
    watering_closes: time = clock(default=time(9), help="May be past midnight")
    static_pressure_psi: float | None = number(5, 200, "psi", default=None)
    supply_gpm: float | None = number(0.5, 2000, "gal/min", default=None)
    care_starts_on: date | None = day(help="Empty: the day of intake")
    care_ends_on: date | None = day(help="Empty while care goes on")

    def further_problems(self) -> Iterator[Problem]:
        """What must hold between fields."""
        yield from _code("code", self.code)
        for field in ("name", "client", "depot", "street", "town"):
            yield from _given(field, getattr(self, field))
        if self.time_zone:
            yield from _time_zone(self.time_zone)
        yield from weekday_problems("watering_weekdays", self.watering_weekdays)
        yield from self._hours_and_days()

    def _hours_and_days(self) -> Iterator[Problem]:
        if _both(time, self.access_opens, self.access_closes) and self.access_closes <= self.access_opens:
            yield Problem("access_closes", self.access_closes, f"later than {self.access_opens:%H:%M}")
        if self.watering_opens == self.watering_closes:
            yield Problem("watering_closes", self.watering_closes, "another time than watering_opens")
        if self.care_starts_on and self.care_ends_on and self.care_ends_on < self.care_starts_on:
            yield Problem("care_ends_on", self.care_ends_on, f"{self.care_starts_on} or later")


@dataclass(frozen=True, kw_only=True)
class AgreementRecord(Record):
    """What the owner pays for; the property is given by its code."""

    property: str = text(40, default=MISSING, help="Code of the property")
    cadence: str = choice(*CADENCES, help="How often somebody comes")
    weekdays: str = text(7, default="12345", help="Allowed days, 1 Monday to 7 Sunday")
    stems: str = text(200, help="Kinds of care included, with commas; empty means all")
    least_days: int | None = whole(
        1, 366, "days", default=None, help="At least so many days between two visits; empty: as it falls"
    )
    most_days: int | None = whole(
        1, 366, "days", default=None, help="At most so many days between two visits; empty: as it falls"
    )

    def further_problems(self) -> Iterator[Problem]:
        """Weekdays and kinds of care that exist, and days between visits in order."""
        if self.least_days and self.most_days and self.most_days < self.least_days:
            yield Problem("most_days", self.most_days, f"{self.least_days} or more")
        yield from _given("property", self.property)
        yield from weekday_problems("weekdays", self.weekdays)
        unknown = [stem for stem in self.stem_list() if stem not in KNOWN_STEMS]
        if unknown:
            yield Problem("stems", ", ".join(unknown), "empty, or some of " + ", ".join(KNOWN_STEMS))

    def stem_list(self) -> list[str]:
        """The kinds of care, one by one."""
        return [stem.strip().casefold() for stem in self.stems.replace(";", ",").split(",") if stem.strip()]


@dataclass(frozen=True, kw_only=True)
class CareDone(Record):
    """Care that was done before this record began: the next one is counted from that day."""

    property: str = text(40, default=MISSING, help="Code of the property")
    tag: str = text(20, help="Tag of the thing; empty for care of the whole property")
    rule: str = text(60, default=MISSING, help="Key of the care rule")
    done_on: date = day(default=MISSING, help="The day it was last done")

    def further_problems(self) -> Iterator[Problem]:
        """Property and rule are named."""
        yield from _given("property", self.property)
        yield from _given("rule", self.rule)


ESTIMATED = (
    "estimated from the usual highs and lows (FAO-56 equation 6, humidity, sun and wind as in chapter 3)"
)


@dataclass(frozen=True, kw_only=True)
class ClimateRecord(Record):
    """A usual year of a place that no climate at hand fits; `climate` is what is computed with.

    Without measured evapotranspiration it is estimated from highs and lows.
    """

    key: str = text(40, default=MISSING, help="Begins with own-, such as own-corrales; it stays for good")
    name: str = text(80, default=MISSING, help="What people call the place")
    latitude_deg: float = number(-90, 90, "degrees, north is positive")
    longitude_deg: float = number(-180, 180, "degrees, west is negative")
    elevation_m: float = number(_LOWEST_M, _HIGHEST_M, "m")
    time_zone: str = text(60, default=MISSING, help="Such as America/Denver")
    tmax_f: tuple[float, ...] = months("°F", help="Usual high of each month")
    tmin_f: tuple[float, ...] = months("°F", help="Usual low of each month")
    rain_in: tuple[float, ...] = months("in", help="Usual rain of each month")
    eto_in: tuple[float, ...] | None = months(
        "in", default=None, help="Measured reference evapotranspiration; empty: estimated"
    )
    last_frost: str = text(5, help="MM-DD, in half of all years; empty where it never freezes")
    first_frost: str = text(5, help="MM-DD, in half of all years; empty where it never freezes")
    irrigation_share: float = number(
        0.5, 1.2, "of ETo", default=1.0, help="0.9 where ETo was measured at an airport"
    )
    temperature_provenance: str = text(200, default=MISSING, help="Where highs, lows and rain are from")
    eto_provenance: str = text(200, help="Where evapotranspiration is from, if it was measured")
    frost_provenance: str = text(200, default=MISSING, help="Where the frost dates are from")

    @property
    def climate(self) -> Climate:
        """The usual year as the almanac computes with it; `Refused` where it cannot be."""
        measured = self.eto_in is not None
        return Climate(
            key=self.key,
            name=self.name,
            latitude_deg=self.latitude_deg,
            longitude_deg=self.longitude_deg,
            elevation_m=self.elevation_m,
            time_zone=self.time_zone,
            tmax_f=self.tmax_f,
            tmin_f=self.tmin_f,
            rain_in=self.rain_in,
            eto_in=self.eto_in if self.eto_in is not None else self._estimated_eto_in(),
            last_frost=self.last_frost or None,
            first_frost=self.first_frost or None,
            temperature_provenance=self.temperature_provenance,
            eto_provenance=self.eto_provenance if measured else ESTIMATED,
            frost_provenance=self.frost_provenance,
            irrigation_share=self.irrigation_share,
        )

    def further_problems(self) -> Iterator[Problem]:
        """A key of our own, and a usual year that can be."""
        yield from own_key_problems(self.key)
        try:
            _ = self.climate
        except Refused as refused:
            yield from refused.problems

    def _estimated_eto_in(self) -> tuple[float, ...]:
        try:
            return estimated_eto_in(
                self.tmax_f,
                self.tmin_f,
                dry=sum(self.rain_in) < DRY_YEAR_IN,
                latitude_deg=self.latitude_deg,
                elevation_m=self.elevation_m,
            )
        except (ValueError, IndexError):
            # Highs and lows that nothing follows from are told by the climate itself.
            return (0.0,) * 12


def own_key_problems(key: str) -> Iterator[Problem]:
    """A key that no later catalog takes."""
    if not (key.startswith(OWN_PREFIX) and _CODE.fullmatch(key)):
        yield Problem("key", key, f"small letters, digits and hyphens that begin with {OWN_PREFIX}")


# Care of the property as a whole, such as a walk with the owner, belongs to no kind of thing.
KNOWN_STEMS = (*STEMS, "property")


def weekday_problems(field: str, weekdays: object) -> Iterator[Problem]:
    """Weekdays are written as digits, each at most once: 135 is Monday, Wednesday, Friday."""
    if not (isinstance(weekdays, str) and re.fullmatch("[1-7]{1,7}", weekdays)):
        yield Problem(field, weekdays, "digits 1 (Monday) to 7 (Sunday), such as 135")
    elif len(set(weekdays)) < len(weekdays):
        yield Problem(field, weekdays, "each weekday once")


def _code(field: str, code: object) -> Iterator[Problem]:
    if not (isinstance(code, str) and _CODE.fullmatch(code)):
        yield Problem(field, code, "small letters, digits and hyphens, such as casa-14")


def _given(field: str, value: object) -> Iterator[Problem]:
    if not (isinstance(value, str) and value.strip()):
        yield Problem(field, value, "something: it must not be empty")


def _time_zone(name: object) -> Iterator[Problem]:
    if name not in available_timezones():
        yield Problem("time_zone", name, "a time zone such as America/Denver")


def _both(kind: type, *values: object) -> bool:
    return all(isinstance(value, kind) for value in values)
