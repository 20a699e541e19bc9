"""What a reader already has and how it wants the answer (RFC 9110)."""

import re
from datetime import datetime
from email.utils import parsedate_to_datetime

_TAG = re.compile(r'(?:W/)?("[\x21\x23-\x7e\x80-\xff]*")')


def has_current(tag: str, changed_s: int, *, none_match: str | None, modified_since: str | None) -> bool:
    """Whether 304 is the answer; If-None-Match outranks If-Modified-Since (RFC 9110, 13.1.3).

    `changed_s` is the moment of the last change in seconds since 1970.
    """
    if none_match is not None:
        return (
            none_match == tag or none_match.strip() == "*" or tag in _TAG.findall(none_match)
        )  # weak comparison, 8.8.3.2
    moment = _moment(modified_since or "")
    return moment is not None and changed_s <= moment.timestamp()


def wants_gzip(accept_encoding: str) -> bool:
    """Whether gzip was asked for by name, with a weight above zero (RFC 9110, 12.5.3)."""
    for choice in accept_encoding.lower().split(","):
        coding, *parameters = (part.strip() for part in choice.split(";"))
        if coding in ("gzip", "x-gzip"):
            return all(_weight(parameter) > 0 for parameter in parameters)
    return False


def _weight(parameter: str) -> float:
    name, _, value = parameter.partition("=")
    try:
        return float(value) if name.strip() == "q" else 1.0
    except ValueError:
        return 0.0


def _moment(text: str) -> datetime | None:
    try:
        moment = parsedate_to_datetime(text)
    except ValueError:
        return None
    return moment if moment.tzinfo else None
