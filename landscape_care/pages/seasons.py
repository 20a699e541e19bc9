"""Season expressions of the care rules, said in words a gardener would use."""

import re

from django.utils import dates
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

NAMES = {
    "annual_swap_to_cool": _("the change to cool-season colour"),
    "annual_swap_to_warm": _("the change to warm-season colour"),
    "perennial_cutback": _("the cutback of perennials"),
    "frost_tender_prune": _("the pruning of frost-tender plants"),
    "rose_hard_prune": _("the hard pruning of roses"),
    "frost_protection_ready": _("the weeks before frost"),
    "algae_season": _("the season of algae"),
    "irrigation_winterize": _("the winterizing of irrigation"),
    "irrigation_spring_start": _("the spring start of irrigation"),
    "annual_season": _("the season of annuals"),
    "growing_season": _("the growing season"),
    "watering_season": _("the watering season"),
    "last_frost_50": _("the usual last frost"),
    "first_frost_50": _("the usual first frost"),
}
_POINT = re.compile(
    r"(?:(?P<month>\d\d)-(?P<day>\d\d)|mean_(?P<way>rises|falls)_(?P<degrees>\d+)F|(?P<name>\w+?))"
    r"(?:\.(?P<edge>start|end))?(?P<shift>[+-]\d+)?"
)


def in_words(expression: str) -> str:
    """Say when a season is; each window of it, with `or` between them."""
    return gettext(" or ").join(_window(part.strip()) for part in expression.split(";"))


def _window(part: str) -> str:
    first, _dots, last = part.partition("..")
    if not last:
        return _point(first)
    return gettext("from %(first)s to %(last)s") % {"first": _point(first), "last": _point(last)}


def _point(written: str) -> str:
    found = _POINT.fullmatch(written.strip())
    if found is None:
        return written
    days, edge = int(found["shift"] or 0), found["edge"]
    base = _base(found)
    if edge:
        said = gettext("the start of %(season)s") if edge == "start" else gettext("the end of %(season)s")
        base = said % {"season": base}
    if not days:
        return base
    said = gettext("%(days)d days after %(point)s") if days > 0 else gettext("%(days)d days before %(point)s")
    return said % {"days": abs(days), "point": base}


def _base(found: re.Match[str]) -> str:
    if found["month"]:
        return gettext("%(month)s %(day)d") % {
            "month": dates.MONTHS[int(found["month"])],
            "day": int(found["day"]),
        }
    if found["way"]:
        warms = gettext("the time when days warm to a mean of %(degrees)s °F")
        cools = gettext("the time when days cool to a mean of %(degrees)s °F")
        return (warms if found["way"] == "rises" else cools) % {"degrees": found["degrees"]}
    return str(NAMES.get(found["name"], found["name"]))
