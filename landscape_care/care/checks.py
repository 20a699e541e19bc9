"""Checks at start: the rules can be read, and every computation they name exists."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.core.checks import CheckMessage, Error

from landscape_care.care.catalog import Rule, catalog
from landscape_care.care.details import NUMBERS
from landscape_care.care.measures import QUANTITIES
from landscape_care.care.settings_due import COMPUTED


def check_rules(**_: Any) -> list[CheckMessage]:
    """Say which rule cannot be used, and why."""
    try:
        rules = catalog()
    except ValueError as error:
        return [Error(str(error), id="care.E001")]
    return [Error(words, id="care.E002") for words in unknown_names(rules)]


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
