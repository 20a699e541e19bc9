"""Checks at start: the rules can be read, and every computation they name exists."""

from typing import Any

from django.core.checks import CheckMessage, Error

from landscape_care.care.catalog import catalog
from landscape_care.care.rule_names import unknown_names


def check_rules(**_: Any) -> list[CheckMessage]:
    """Say which rule cannot be used, and why."""
    try:
        rules = catalog()
    except ValueError as error:
        return [Error(str(error), id="care.E001")]
    return [Error(words, id="care.E002") for words in unknown_names(rules)]
