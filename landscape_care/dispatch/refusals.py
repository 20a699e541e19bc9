"""What dispatch refuses, in words of both languages."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from landscape_care.almanac.dates import say_clock, say_day
from landscape_care.trades.limits import Problem


class Words(NamedTuple):
    """One sentence or part of one, in both languages."""

    en: str
    es: str


@dataclass(frozen=True)
class Misfit(Problem):
    """One value that does not fit, with what would be right in English and Spanish."""

    wanted_es: str = ""


def misfit(field: str, value: object, wanted: Words) -> Misfit:
    """A value and what would be right."""
    return Misfit(field, value, wanted.en, wanted.es)


class Told(Exception):  # noqa: N818 - it reads as a sentence
    """A refusal that says in both languages why."""

    def __init__(self, words: Words) -> None:
        self.words = words
        super().__init__(words.en)


class StopChanged(Told):
    """Somebody else changed a stop in the meantime: who, when, and where it is now."""


class PlanNotReady(Told):
    """The plan cannot be published or changed as it stands."""


class SeenOtherwise(Told):
    """What somebody is about to confirm is not any more what they looked at."""


SKILL_WORDS_ES = {
    "gardener": "jardinería",
    "horticulturist": "horticultura",
    "irrigation_tech": "riego",
    "water_feature_tech": "fuentes",
    "lighting_tech": "iluminación",
    "arborist": "arboricultura",
    "mason": "albañilería",
    "supervisor": "supervisión",
    "licensed_applicator": "aplicación con licencia",
    "licensed_electrician": "electricidad con licencia",
    "certified_backflow_tester": "prueba certificada de antirretorno",
}

STATE_WORDS = {
    "waiting": Words("waiting to be solved", "en espera de calcularse"),
    "solving": Words("being solved", "en cálculo"),
    "proposed": Words("proposed", "propuesto"),
    "published": Words("published", "publicado"),
    "superseded": Words("superseded by a later one", "reemplazado por uno posterior"),
    "failed": Words("failed", "fallido"),
    "withdrawn": Words("withdrawn", "retirado"),
}


def both(english: str, spanish: str, **values: object) -> Words:
    """A sentence with the same values put into both languages; a pair of words goes in by language."""
    return Words(english.format(**_said(values, 0)), spanish.format(**_said(values, 1)))


def _said(values: dict[str, object], language: int) -> dict[str, object]:
    return {name: value[language] if isinstance(value, Words) else value for name, value in values.items()}


def day_words(day: date) -> Words:
    """A day in both languages."""
    return Words(say_day("en", day), say_day("es", day))


def moment_words(moment: datetime) -> Words:
    """A local moment in both languages."""
    day, clock = moment.date(), moment.time()
    return Words(
        f"{say_clock('en', clock)} on {say_day('en', day)}",
        f"{say_clock('es', clock)} del {say_day('es', day)}",
    )


def skill_words(skills: Iterable[str]) -> Words:
    """Skills in both languages."""
    known = sorted(skills)
    english = ", ".join(skill.replace("_", " ") for skill in known)
    return Words(english, ", ".join(SKILL_WORDS_ES.get(skill, skill) for skill in known))
