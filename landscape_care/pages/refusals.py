"""Refusals of dispatch in the reader's language."""

from django.utils.translation import get_language, gettext

from landscape_care.dispatch.refusals import Told, Words
from landscape_care.trades.limits import Problem, Refused


def in_language(words: Words) -> str:
    """One of two languages: the reader's."""
    return words.es if (get_language() or "en").startswith("es") else words.en


def in_words(refused: Exception) -> str:
    """Why something was refused, for people."""
    if isinstance(refused, Refused):
        return " ".join(gettext("Wanted: %(wanted)s.") % {"wanted": wanted(p)} for p in refused.problems)
    return in_language(refused.words) if isinstance(refused, Told) else str(refused)


def wanted(problem: Problem) -> str:
    """What would be right; where a problem has no Spanish of its own, that of the catalog."""
    spanish = getattr(problem, "wanted_es", "")
    return in_language(Words(problem.wanted, spanish)) if spanish else gettext(problem.wanted)
