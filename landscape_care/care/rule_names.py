"""Names that rules use for computations and readings, checked against those that exist."""

from collections.abc import Iterable, Mapping

from landscape_care.care.catalog import Rule
from landscape_care.care.details import NUMBERS
from landscape_care.care.measures import QUANTITIES
from landscape_care.care.settings_due import COMPUTED


def unknown_names(rules: Mapping[str, Rule]) -> Iterable[str]:
    """Computations and quantities that rules name and nobody has written."""
    for rule in rules.values():
        where = f"rules/{rule.stem}.toml, rule {rule.key}"
        if rule.computed is not None and rule.computed not in COMPUTED:
            yield f"{where}: computed is {rule.computed!r}, wanted one of {', '.join(COMPUTED)}"
        if rule.details is not None and rule.details not in NUMBERS:
            yield f"{where}: details is {rule.details!r}, wanted one of {', '.join(NUMBERS)}"
        for quantity in rule.asks:
            if quantity not in QUANTITIES:
                yield f"{where}: asks is {quantity!r}, wanted one of {', '.join(QUANTITIES)}"
