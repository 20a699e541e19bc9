"""Cautions by code, in English and Spanish; each defers to local code and the licensed trade."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt somebody, and what to do about it."""

    code: str
    title: str
    text: str
    title_es: str
    text_es: str

    def in_language(self, language: str) -> tuple[str, str]:
        """Title and text in English, or in Spanish for `es`."""
        return (self.title_es, self.text_es) if language == "es" else (self.title, self.text)


@lru_cache(maxsize=1)
def cautions() -> Mapping[str, Caution]:
    """All cautions by code."""
    path = resources.files("landscape_care.care").joinpath("cautions.toml")
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    deference = tables.pop("deference")
    return MappingProxyType({code: _read(code, table, deference) for code, table in tables.items()})


def _read(code: str, table: Mapping[str, str], deference: Mapping[str, str]) -> Caution:
    return Caution(
        code,
        table["title"],
        f"{table['text']} {deference['en']}",
        table["title_es"],
        f"{table['text_es']} {deference['es']}",
    )
