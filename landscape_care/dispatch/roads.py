"""What is known of the roads: legs that a road engine told, the estimate for the rest, and asking for more.

Plans read from the table alone, so a page never waits for an engine. Before a month is worked out in
the background, the legs that are missing or old are asked for; whatever cannot be had is estimated.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from time import monotonic

import numpy as np
from django.conf import settings
from django.db import transaction
from numpy.typing import NDArray

from landscape_care.dispatch.models import RoadLeg, RoadTrouble
from landscape_care.dispatch.refusals import Words
from landscape_care.dispatch.road_engine import Engine, Legs, Trouble, blocks, table
from landscape_care.dispatch.travel import Place, Travel, estimate
from landscape_care.properties.models import Depot, Property

DECIMALS = 4
OLD_AFTER = timedelta(days=90)  # roads change slowly; company practice
TRY_AGAIN = timedelta(minutes=5)
LONGEST_ASKING_S = 60.0  # for all questions before one plan

Pair = tuple[str, str]
Block = tuple[range, range]


def engine() -> Engine | None:
    """The road engine of the company, if it has one."""
    return Engine(settings.ROAD_ENGINE) if settings.ROAD_ENGINE else None


def name_of(place: Place) -> str:
    """A place as the table writes it."""
    # Adding nothing turns minus zero into zero.
    latitude, longitude = (round(d, DECIMALS) + 0.0 for d in (place.latitude_deg, place.longitude_deg))
    return f"{latitude:.{DECIMALS}f},{longitude:.{DECIMALS}f}"


# --- Reading --------------------------------------------------------------------------------------------


def travel(places: Sequence[Place]) -> Travel:
    """Driving between places: as the engine told it where it did, estimated everywhere else."""
    guessed, source = estimate(places), engine()
    if source is None or not places:
        return guessed
    names = sorted({name_of(place) for place in places})
    number = {name: n for n, name in enumerate(names)}
    told = _told(source, names)
    minutes, miles = (np.full((len(names), len(names)), np.nan) for _ in range(2))
    for (start, end), leg in told.items():
        minutes[number[start], number[end]] = np.inf if leg[0] is None else leg[0]
        miles[number[start], number[end]] = np.nan if leg[1] is None else leg[1]
    at = np.array([number[name_of(place)] for place in places])
    pairs = len(names) * (len(names) - 1)
    return Travel(
        _over(guessed.minutes, minutes[np.ix_(at, at)]),
        _over(guessed.miles, miles[np.ix_(at, at)]),
        asked_pairs=len(told),
        estimated_pairs=pairs - len(told),
    )


def _over(guessed: NDArray[np.float64], told: NDArray[np.float64]) -> NDArray[np.float64]:
    """The told values, the guessed ones where nothing was told, and nothing from a place to itself."""
    table = np.where(np.isnan(told), guessed, told)
    return np.where(guessed == 0, 0.0, table)


def _told(source: Engine, names: Sequence[str]) -> dict[Pair, tuple[float | None, float | None]]:
    rows = RoadLeg.objects.filter(source=source.address, start__in=names, end__in=names)
    return {
        (start, end): (minutes, miles)
        for start, end, minutes, miles in rows.values_list("start", "end", "minutes", "miles").iterator(5000)
    }


@dataclass(frozen=True, slots=True)
class RoadWord:
    """What a page says of the roads of a plan: pairs told and estimated, and the engine's last trouble."""

    asked_pairs: int
    estimated_pairs: int
    trouble: Words | None


def word_on(figures: dict[str, object]) -> RoadWord:
    """What to say of a plan, from its figures."""
    asked, estimated = (int(str(figures.get(name, 0))) for name in ("asked_pairs", "estimated_pairs"))
    return RoadWord(asked, estimated, trouble() if estimated else None)


def trouble() -> Words | None:
    """Why the engine did not answer when it was last asked."""
    source = engine()
    row = RoadTrouble.objects.filter(source=source.address).exclude(words="").first() if source else None
    return Words(row.words, row.words_es) if row else None


# --- Asking ---------------------------------------------------------------------------------------------


def places_at(depot: Depot) -> list[Place]:
    """The depot and the places of its gardens, each once."""
    rows = Property.objects.filter(depot=depot).values_list("latitude_deg", "longitude_deg")
    every = [Place(depot.latitude_deg, depot.longitude_deg), *(Place(*row) for row in rows)]
    return list({name_of(place): place for place in every}.values())


def learn(depot: Depot, *, now: datetime) -> int:
    """Ask for the drives of a depot that are missing or old; how many came.

    Trouble is kept for the pages and not raised: what cannot be had is estimated.
    """
    source = engine()
    if source is None or _failed_lately(source, now):
        return 0
    places = places_at(depot)
    wanted = _wanted(source, places, now)
    came = _Learned()
    try:
        _ask(source, places, wanted, now=now, came=came)
    except Trouble as met:
        _note(source, met.words, now)
    else:
        if wanted:
            _note(source, Words("", ""), now)
    return came.legs


@dataclass
class _Learned:
    legs: int = 0


def _ask(
    source: Engine, places: Sequence[Place], wanted: Iterable[Block], *, now: datetime, came: _Learned
) -> None:
    ends = monotonic() + LONGEST_ASKING_S
    for starts, targets in wanted:
        if monotonic() > ends:
            raise Trouble(
                "the road engine is slow; the rest is asked for next time",
                "el motor de rutas es lento; lo demás se pregunta la próxima vez",
            )
        legs = table(source, [places[n] for n in starts], [places[n] for n in targets])
        came.legs += _keep(source, (starts, targets), legs, places=places, now=now)


def _failed_lately(source: Engine, now: datetime) -> bool:
    rows = RoadTrouble.objects.filter(source=source.address, asked_at__gt=now - TRY_AGAIN)
    return rows.exclude(words="").exists()


def _wanted(source: Engine, places: Sequence[Place], now: datetime) -> list[Block]:
    """Blocks of which some pair is missing or old."""
    names = [name_of(place) for place in places]
    rows = RoadLeg.objects.filter(source=source.address, asked_at__gt=now - OLD_AFTER, start__in=names)
    fresh = set(rows.values_list("start", "end"))
    return [
        (starts, ends)
        for starts, ends in blocks(len(places))
        if any((names[a], names[b]) not in fresh for a in starts for b in ends if a != b)
    ]


def _keep(source: Engine, block: Block, legs: Legs, *, places: Sequence[Place], now: datetime) -> int:
    """Keep what an engine told of a block; of places off its map it told nothing."""
    rows = list(_rows(source, block, legs, places=places, now=now))
    with transaction.atomic():
        RoadLeg.objects.bulk_create(
            rows,
            update_conflicts=True,
            update_fields=["minutes", "miles", "asked_at"],
            unique_fields=["source", "start", "end"],
            batch_size=500,
        )
    return len(rows)


def _rows(
    source: Engine, block: Block, legs: Legs, *, places: Sequence[Place], now: datetime
) -> Iterable[RoadLeg]:
    starts, ends = block
    for row, a in enumerate(starts):
        for column, b in enumerate(ends):
            if a == b or row in legs.off_start or column in legs.off_end:
                continue
            yield RoadLeg(
                source=source.address,
                start=name_of(places[a]),
                end=name_of(places[b]),
                minutes=legs.minutes[row][column],
                miles=legs.miles[row][column],
                asked_at=now,
            )


def _note(source: Engine, words: Words, now: datetime) -> None:
    values = {"asked_at": now, "words": words.en[:300], "words_es": words.es[:300]}
    RoadTrouble.objects.update_or_create(source=source.address, defaults=values)
