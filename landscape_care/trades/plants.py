"""Kinds of plants: the catalog that comes along, and a company's own beside it."""

import csv
import difflib
import re
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import MISSING, dataclass
from functools import cached_property, lru_cache
from importlib import resources
from types import MappingProxyType

from landscape_care.trades.limits import Problem, choice, flag, number, problems_of, refuse_nonsense, text

GROUPS = (
    "annual_cool",
    "annual_warm",
    "fern",
    "ornamental_grass",
    "palm",
    "perennial",
    "rose",
    "shrub",
    "succulent",
    "tree",
    "vine",
)
WATER_CLASSES = ("VL", "L", "M", "H")
EXPOSURES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "sun": ("full_sun",),
        "sun-part": ("full_sun", "filtered_shade"),
        "part": ("filtered_shade",),
        "part-shade": ("filtered_shade", "shade"),
        "shade-part": ("filtered_shade", "shade"),
        "shade": ("shade",),
    }
)


# Share of reference evapotranspiration by class of water need (WUCOLS IV); annual flowers drink more.
FACTORS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"VL": (0.01, 0.15), "L": (0.1, 0.35), "M": (0.35, 0.65), "H": (0.65, 1.0)}
)
# What the end of winter asks of grasses and of vines; the rest follows the role of the planting.
WINTER_CUTS = ("none", "low", "comb", "hard")
ANNUALS = ("annual_cool", "annual_warm")
# Farther apart nobody plants: bare ground between plants that never meet (common practice).
WIDEST_SPACING = 3.0
FREEZING_F = 32.0
NAME_FIELDS = ("key", "botanical", "common", "common_es")
_LEAST_LIKENESS = 0.7
_KEY = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


@dataclass(frozen=True, kw_only=True)
class Plant:
    """A kind of plant and what it asks for; `note` says what else a gardener should know."""

    key: str = text(60, default=MISSING)
    botanical: str = text(80, default=MISSING)
    common: str = text(80, default=MISSING)
    common_es: str = text(80, default=MISSING)
    group: str = choice(*GROUPS)
    exposure: str = choice(*EXPOSURES)
    water_class: str = choice(*WATER_CLASSES, help="Very low, low, medium or high, as in WUCOLS")
    plant_factor: float = number(0.01, 1.2, "of ETo")
    root_depth_in: float = number(2, 72, "in")
    hardiness_f: float = number(-60, 60, "°F", help="The cold it bears")
    width_ft: float = number(0.1, 120, "ft", help="Across when grown")
    spacing_in: float = number(2, 1200, "in", help="Between plants, on centre")
    cutback: str = text(120, default=MISSING, help="How it is cut, such as cut back to 4 in")
    winter_cut: str = choice(
        *WINTER_CUTS, default="none", help="At winter's end: cut low, combed out, or pruned hard"
    )
    frost_tender: bool = flag(help="A frost harms it")
    reseeds: bool = flag(help="Comes up again from its own seed")
    source: str = text(200, default=MISSING, help="Where these figures are from")
    note: str = text(400)

    def __post_init__(self) -> None:
        """Refuse a plant that no nursery sells, naming every wrong field."""
        refuse_nonsense(self, self._further_problems())

    @property
    def exposures(self) -> tuple[str, ...]:
        """The light exposures of a bed in which the plant does well."""
        return EXPOSURES[self.exposure]

    @property
    def comes_back(self) -> bool:
        """Whether it lives on after its season, so that it is cut back and not pulled."""
        return self.group not in ANNUALS

    def names(self) -> Iterator[str]:
        """Yield the names it goes by, with and without what stands in brackets."""
        for field in NAME_FIELDS:
            yield from _spellings(getattr(self, field))

    def _further_problems(self) -> Iterator[Problem]:
        if not _KEY.fullmatch(self.key):
            yield Problem("key", self.key, "small letters, digits and hyphens, such as salvia-greggii")
        for name in ("botanical", "common", "common_es", "source"):
            if not getattr(self, name).strip():
                yield Problem(name, getattr(self, name), "something: it must not be empty")
        yield from self._figures_that_disagree()

    def _figures_that_disagree(self) -> Iterator[Problem]:
        if any(problems_of(self)):
            return
        low, high = FACTORS[self.water_class]
        if not low <= self.plant_factor <= high and self.group not in ANNUALS:
            wanted = f"{low:g} to {high:g} for water class {self.water_class} (WUCOLS IV)"
            yield Problem("plant_factor", self.plant_factor, wanted)
        if self.hardiness_f > FREEZING_F and not self.frost_tender:
            yield Problem("frost_tender", False, f"yes: it bears no colder than {self.hardiness_f:g} °F")
        if self.spacing_in > self.width_ft * 12 * WIDEST_SPACING:
            wanted = f"at most {WIDEST_SPACING:g} times its width, {self.width_ft * 12 * WIDEST_SPACING:g} in"
            yield Problem("spacing_in", self.spacing_in, wanted)


@dataclass(frozen=True)
class PlantBook:
    """The plants that come along and a company's own beside them, found by any of their names."""

    own: tuple[Plant, ...] = ()

    def __iter__(self) -> Iterator[Plant]:
        yield from plants().values()
        yield from self.own

    def only(self, keys: Container[str]) -> "PlantBook":
        """Return the book with those of the company's plants that have one of some keys."""
        return PlantBook(tuple(each for each in self.own if each.key in keys)) if self.own else self

    def get(self, key: str) -> Plant | None:
        """Return the plant of a key, if there is one."""
        return plants().get(key) or self._own_by_key.get(key)

    def named(self, name: str) -> Plant:
        """Return the plant of a key, a botanical name or a common name, in any case of letters.

        A name that a company's plant shares with one that came along is refused: the key decides.
        """
        folded = _folded(name)
        known, own = _by_name().get(folded), self._own_by_name.get(folded)
        if known and own:
            raise ValueError(f"plant {name!r} may be two: say {known.key} or {own.key}")
        if found := known or own:
            return found
        near = " or ".join(self.nearest_names(name))
        hint = f"did you mean {near}?" if near else "nothing in the catalog is like it"
        raise ValueError(f"plant {name!r} is unknown: {hint}")

    def nearest_names(self, name: str) -> list[str]:
        """Return up to three common names that are spelt most like a name."""
        likeness = {each.common: _likeness(name, each) for each in self}
        near = sorted(likeness, key=lambda common: -likeness[common])[:3]
        return [common for common in near if likeness[common] >= _LEAST_LIKENESS]

    def taken_names(self, plant: Plant) -> Mapping[str, Plant]:
        """Return the fields of a plant that hold a name of another plant, with that other plant."""
        return {
            field: found
            for field in NAME_FIELDS
            for folded in map(_folded, _spellings(getattr(plant, field)))
            for found in (_by_name().get(folded), self._own_by_name.get(folded))
            if found is not None and found.key != plant.key
        }

    @cached_property
    def _own_by_key(self) -> Mapping[str, Plant]:
        return {each.key: each for each in self.own}

    @cached_property
    def _own_by_name(self) -> Mapping[str, Plant]:
        return _names_of(self.own)


@lru_cache(maxsize=1)
def plants() -> Mapping[str, Plant]:
    """Return the catalog of plants that comes along, by key."""
    path = resources.files("landscape_care.trades").joinpath("data", "plants.csv")
    with path.open(encoding="utf-8") as lines:
        return MappingProxyType({row["key"]: _read(row) for row in csv.DictReader(lines)})


def plant(name: str) -> Plant:
    """Return the plant that came along under a key, a botanical name or a common name."""
    return PlantBook().named(name)


@lru_cache(maxsize=1)
def _by_name() -> Mapping[str, Plant]:
    return _names_of(plants().values())


def _names_of(kinds: Iterable[Plant]) -> Mapping[str, Plant]:
    known: dict[str, Plant] = {}
    for each in kinds:
        for name in each.names():
            known.setdefault(_folded(name), each)
    return known


def _winter_cut(group: str, cutback: str) -> str:
    if group == "ornamental_grass":
        return "comb" if cutback.startswith("comb") else "low"
    return "hard" if group == "vine" and cutback.startswith("hard prune in late winter") else "none"


def _spellings(name: str) -> Iterator[str]:
    yield name
    yield re.sub(r"\s*\(.*?\)", "", name)
    if bracketed := re.search(r"\((.*?)\)", name):
        yield bracketed[1]


def _likeness(name: str, each: Plant) -> float:
    spellings = {_folded(known) for known in (each.common, each.botanical)}
    spellings |= {word for spelling in spellings for word in spelling.split()}
    wanted = _folded(name)
    return max(difflib.SequenceMatcher(a=wanted, b=known).ratio() for known in spellings)


def _folded(name: str) -> str:
    return re.sub(r"[^\w]+", " ", name.casefold().replace("'", "")).strip()


def _read(row: Mapping[str, str]) -> Plant:
    return Plant(
        key=row["key"],
        botanical=row["botanical"],
        common=row["common"],
        common_es=row["common_es"],
        group=row["group"],
        exposure=row["exposure"],
        water_class=row["water_class"],
        plant_factor=float(row["plant_factor"]),
        root_depth_in=float(row["root_depth_in"]),
        hardiness_f=float(row["hardiness_f"]),
        width_ft=float(row["width_ft"]),
        spacing_in=float(row["spacing_in"]),
        cutback=row["cutback"],
        winter_cut=_winter_cut(row["group"], row["cutback"]),
        frost_tender=row["frost_tender"] == "yes",
        reseeds=row["reseeds"] == "yes",
        source=f"{row['water_region']}; {row['source']}",
        note=row["note"],
    )
