"""How days, times, measures and states are written on a page, in the reader's language."""

from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any

from django import template
from django.utils import dates, formats
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import get_language, gettext

from landscape_care.almanac.dates import say_clock
from landscape_care.care.catalog import Rule
from landscape_care.care.cautions import cautions
from landscape_care.care.measures import QUANTITIES, Quantity
from landscape_care.pages import seasons, words
from landscape_care.properties.books import plants_named
from landscape_care.visits.materials import LoadLine

register = template.Library()

EMPTY = "–"


def spanish() -> bool:
    """Whether the reader has chosen Spanish."""
    return (get_language() or "en").startswith("es")


# --- Days and times ---------------------------------------------------------------------------


@register.filter
def short_day(day: date | None) -> str:
    """Write a day with its weekday, without the year."""
    if day is None:
        return EMPTY
    return formats.date_format(day, "D j M").lower() if spanish() else formats.date_format(day, "D M j")


@register.filter
def long_day(day: date | None) -> str:
    """Write a day in full."""
    if day is None:
        return EMPTY
    return formats.date_format(day, "l j \\d\\e F \\d\\e Y" if spanish() else "l, F j, Y")


@register.filter
def year_day(day: date | None) -> str:
    """Write a day with its year, short."""
    if day is None:
        return EMPTY
    return formats.date_format(day, "j M Y").lower() if spanish() else formats.date_format(day, "M j, Y")


@register.filter
def month_name(day: date) -> str:
    """Name a month and its year."""
    return formats.date_format(day, "F Y").capitalize()


@register.filter
def clock(moment: time | None) -> str:
    """Write a local clock time, as calendars write it."""
    return EMPTY if moment is None else say_clock("es" if spanish() else "en", moment)


@register.filter
def site_clock(moment: datetime) -> str:
    """Write the clock time of a moment in the time zone it is given in."""
    return clock(moment.time())


@register.simple_tag
def span(first: time, last: time) -> str:
    """Write from when to when; the half of the day once where both are in the same."""
    one, other = clock(first), clock(last)
    digits, _, half = one.partition(" ")
    return f"{digits}–{other}" if half and other.endswith(half) else f"{one}–{other}"


@register.filter
def hours(minutes: float | None) -> str:
    """Write a span of minutes as hours and minutes, such as 3:45 h."""
    whole = round(minutes or 0)
    return f"{whole // 60}:{whole % 60:02d} h"


@register.filter
def weekdays(digits: str) -> str:
    """Name the weekdays of digits 1 (Monday) to 7 (Sunday)."""
    if digits == "1234567":
        return gettext("every day")
    return ", ".join(str(dates.WEEKDAYS_ABBR[int(digit) - 1]) for digit in digits) or EMPTY


# --- Words ------------------------------------------------------------------------------------


@register.filter
def said(thing: Any, name: str) -> str:
    """Read a text that is kept in both languages, in the reader's."""
    own = "es" if spanish() else "en"
    other = getattr(thing, f"{name}_{own}", None)
    if other is None and spanish():
        other = getattr(thing, f"{name}_es", None)
    return str(other or getattr(thing, name, ""))


@register.filter
def lines_in(details: dict[str, Any]) -> list[str]:
    """The lines that a computed care task carries, in the reader's language."""
    lines = details.get("lines") or {}
    return list(lines.get("es" if spanish() else "en") or [])


@register.filter
def rule_title(rule: Rule) -> str:
    """Name a care rule."""
    return rule.text("es" if spanish() else "en").title


@register.filter
def rule_how(rule: Rule) -> str:
    """How the care of a rule is done."""
    return rule.text("es" if spanish() else "en").how


@register.filter
def season(expression: str) -> str:
    """Say when a season of a care rule is."""
    return seasons.in_words(expression)


@register.filter
def reading_name(quantity: Quantity) -> str:
    """Name a quantity that is measured on site."""
    return quantity.es if spanish() else quantity.en


@register.filter
def quantity_name(name: str) -> str:
    """Name the quantity of a reading that was kept under this name."""
    return reading_name(QUANTITIES[name]) if name in QUANTITIES else name


@register.filter
def load_line(line: LoadLine) -> str:
    """Write one line of what a crew loads."""
    name, unit = (line.es, line.unit_es) if spanish() else (line.en, line.unit)
    return name if line.amount is None else f"{name}: {measure(line.amount, unit)}"


@register.filter
def place_number(degrees: float) -> str:
    """Write a coordinate for an address: a dot for the fraction in every language."""
    return f"{degrees:.6f}"


@register.filter
def caution(code: str) -> tuple[str, str]:
    """Title and text of a caution."""
    known = cautions().get(code)
    return known.in_language("es" if spanish() else "en") if known else (code, "")


@register.filter
def kind_name(kind: str) -> str:
    """Name a kind of installed thing."""
    return words.word(words.KIND_NAMES, kind)


@register.filter
def stem_name(stem: str) -> str:
    """Name a family of kinds."""
    return words.word(words.STEM_NAMES, stem)


@register.filter
def choice_name(choice: str) -> str:
    """Name one choice of a field."""
    return words.word(words.CHOICE_NAMES, choice) if choice else EMPTY


@register.filter
def ground_name(name: str) -> str:
    """Name a kind of ground, or a bed by its light exposure."""
    return (
        kind_name(name)
        if name in words.KIND_NAMES
        else gettext("bed, %(light)s") % {"light": choice_name(name)}
    )


@register.filter
def field_name(field: str) -> str:
    """Name a field of an installed thing."""
    return words.word(words.FIELD_NAMES, field)


@register.filter
def skill_name(skill: str) -> str:
    """Name a skill."""
    return words.word(words.SKILL_NAMES, skill)


@register.filter
def role_name(role: str) -> str:
    """Name what somebody does here."""
    return words.word(words.ROLE_NAMES, role)


@register.filter
def cell(value: object) -> str:
    """Write a cell of a list: days as on every list and never broken, nothing as a dash."""
    if isinstance(value, date):
        return format_html('<span class="nowrap">{}</span>', f"{value:%Y-%m-%d}")
    return EMPTY if value in (None, "") else str(formats.localize(value))


@register.filter
def cadence_name(cadence: str) -> str:
    """Name how often somebody comes."""
    return words.word(words.CADENCE_NAMES, cadence)


@register.filter
def amount_name(unit: str) -> str:
    """Name what the minutes of a rule are counted by."""
    return words.word(words.AMOUNT_NAMES, unit)


@register.filter
def plan_state(state: str) -> str:
    """Name where a month plan stands."""
    return words.word(words.PLAN_STATES, state)


@register.filter
def what_if_state(state: str) -> str:
    """Name where a what-if stands."""
    return words.word(words.WHAT_IF_STATES, state)


@register.filter
def disruption_name(kind: str) -> str:
    """Name what goes against a month."""
    return words.word(words.DISRUPTION_NAMES, kind)


@register.filter
def change_sort(sort: str) -> str:
    """Name how a visit changes."""
    return words.word(words.CHANGE_SORTS, sort)


@register.filter
def letter_state(state: str) -> str:
    """Name where a letter stands."""
    return words.word(words.LETTER_STATES, state)


@register.filter
def share(value: float | None) -> str:
    """Write a share from 0 to 1 in per cent."""
    return EMPTY if value is None else f"{round(100 * value)} %"


@register.filter
def figure(figures: Any, name: str) -> float | None:
    """One figure of a month."""
    value: float | None = getattr(figures, name)
    return value


@register.filter
def figure_written(value: float | None, kind: str) -> str:
    """Write a figure of a month as hours, a share, a count or a number."""
    if value is None:
        return EMPTY
    if kind in ("hours", "share"):
        return hours(value) if kind == "hours" else share(value)
    return measure(round(value) if kind == "count" else value)


@register.filter
def signed_minutes(minutes: float) -> str:
    """Write minutes more or less, with their sign."""
    whole = round(minutes)
    return f"{'+' if whole > 0 else '−' if whole < 0 else '±'}{abs(whole)} min"


@register.filter
def measure(value: float | None, unit: str = "") -> str:
    """Write a measured value with its unit; whole numbers without a fraction."""
    if value is None:
        return EMPTY
    places = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    digits = f"{value:.{places}f}".rstrip("0").rstrip(".") if places else f"{value:.0f}"
    decimals = len(digits.partition(".")[2])
    number = formats.number_format(digits, decimal_pos=decimals, use_l10n=True, force_grouping=True)
    return f"{number} {gettext(unit)}" if unit else number


@register.filter
def coordinate(value: float) -> str:
    """Write a place in a drawing: a dot for the fraction in every language."""
    return f"{value:.1f}"


@register.filter
def written(value: float | None, written_as: str) -> str:
    """Write a value of a chart as a clock time, as hours or as a plain number."""
    if value is None:
        return EMPTY
    if written_as == "clock":
        whole = round(value)
        return f"{whole // 60 % 24}:{whole % 60:02d}"
    return measure(round(value, 1 if written_as == "hours" else 0))


@register.filter
def yes_no(value: bool) -> str:
    """Write a yes or a no."""
    return gettext("yes") if value else gettext("no")


@register.filter
def shown(value: Any) -> str:
    """Write a stored value of any sort, for the history of a thing."""
    if value is None or value in ("", []):
        return EMPTY
    if isinstance(value, bool):
        return yes_no(value)
    if isinstance(value, list):
        return ", ".join(str(part) for part in value)
    return (
        words.word(words.CHOICE_NAMES, value)
        if isinstance(value, str) and value in words.CHOICE_NAMES
        else str(value)
    )


@register.filter
def plant_name(key: str) -> str:
    """Name a plant as people call it, with its botanical name."""
    plant = plants_named([key]).get(key)
    if plant is None:
        return key or EMPTY
    common = plant.common_es if spanish() else plant.common
    return f"{common} ({plant.botanical})" if common else plant.botanical


@register.filter
def look_up(table: Mapping[Any, Any], key: Any) -> Any:
    """Read one value of a table; nothing when it has none."""
    return table.get(key, "") if key is not None else ""


# --- Marks and tags ---------------------------------------------------------------------------


@register.simple_tag
def mark(state: str, word: str = "") -> SafeString:
    """Show a state by a shape and a word."""
    return format_html(
        '<span class="mark mark-{0}"><svg aria-hidden="true"><use href="#mark-{0}"/></svg>{1}</span>',
        state,
        word or words.word(words.MARK_WORDS, state),
    )


@register.simple_tag
def tag_of(thing: Any, href: str = "") -> SafeString:
    """Show the tag of an installed thing as on the plan; with an address it is a link."""
    shape = "tag tag-round" if thing.kind in words.ROUND_TAGS else "tag"
    if href:
        return format_html('<a class="{}" href="{}">{}</a>', shape, href, thing.tag)
    return format_html('<span class="{}">{}</span>', shape, thing.tag)


@register.filter
def days_late(closes_on: date, today: date) -> str:
    """Say how many days ago a window closed."""
    days = (today - closes_on).days
    return gettext("1 day late") if days == 1 else gettext("%(days)d days late") % {"days": days}
