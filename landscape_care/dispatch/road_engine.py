"""Asking a road engine for driving times: one address, the `table` form, limits on time and size.

The form is that of OSRM's HTTP API, version 5, service `table`: coordinates as longitude,latitude;
`durations` in seconds and `distances` in metres, null where no road leads; at most 100 coordinates in
one question, as its usual limit is. Nothing that comes back is believed before it was looked at.
"""

import json
from collections.abc import Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException, HTTPResponse, HTTPSConnection
from socket import SHUT_RDWR, socket
from threading import Timer
from time import monotonic
from typing import Any, NamedTuple
from urllib.parse import urlsplit

from landscape_care.dispatch.refusals import Words
from landscape_care.dispatch.travel import Place

METRES_PER_MILE = 1609.344  # international mile, by definition
MOST_PLACES = 100
HALF = MOST_PLACES // 2
LONGEST_DRIVE_S = 14 * 24 * 3600  # longer than any drive on a continent
FARTHEST_M = 20_000_000
SNAP_M = 1_000.0  # a road farther from a place than this does not lead to it
_PIECE = 65_536

Grid = tuple[tuple[float | None, ...], ...]


@dataclass(frozen=True, slots=True)
class Engine:
    """Where an engine answers, as `http://host:port/table/v1/driving`, and how long we wait."""

    address: str
    timeout_s: float = 10.0  # for each piece of an answer
    longest_s: float = 30.0  # for all of it
    largest_answer: int = 4_000_000

    def __post_init__(self) -> None:
        """Refuse an address that is none, and one that hides a password or a question in it."""
        parts = urlsplit(self.address)
        if parts.scheme not in ("http", "https") or not parts.hostname or not parts.path.strip("/"):
            raise ValueError(f"address {self.address!r}, wanted like http://127.0.0.1:5000/table/v1/driving")
        if parts.query or parts.fragment or parts.username or parts.password:
            raise ValueError(f"address of {parts.hostname}: wanted without user, question or fragment")
        for name in ("timeout_s", "longest_s", "largest_answer"):
            if not 0 < getattr(self, name) < 1e9:
                raise ValueError(f"{name} {getattr(self, name)}, wanted more than 0")


class Trouble(Exception):  # noqa: N818 - it reads as a sentence
    """An engine gave no answer that can be used; `words` say why in both languages."""

    def __init__(self, en: str, es: str) -> None:
        self.words = Words(en, es)
        super().__init__(en)


class Legs(NamedTuple):
    """Minutes and miles from each start to each end; None where no road leads.

    `off_start` and `off_end` number the places that lie off the engine's map; what it says of them
    is not known.
    """

    minutes: Grid
    miles: Grid
    off_start: frozenset[int]
    off_end: frozenset[int]


def table(engine: Engine, starts: Sequence[Place], ends: Sequence[Place]) -> Legs:
    """Ask for the drives from some places to others, at most 100 together; `Trouble` when it fails."""
    if not starts or not ends or len(starts) + len(ends) > MOST_PLACES:
        raise ValueError(f"{len(starts)} starts and {len(ends)} ends, wanted 1 or more and 100 together")
    return _legs(_parsed(_fetched(engine, _question(engine, starts, ends))), len(starts), len(ends))


def blocks(count: int) -> Iterator[tuple[range, range]]:
    """Numbers of places as blocks of starts and ends that one question holds."""
    pieces = [range(first, min(first + HALF, count)) for first in range(0, count, HALF)]
    return ((starts, ends) for starts in pieces for ends in pieces)


def _question(engine: Engine, starts: Sequence[Place], ends: Sequence[Place]) -> str:
    written = ";".join(f"{p.longitude_deg:.5f},{p.latitude_deg:.5f}" for p in (*starts, *ends))
    sources = ";".join(str(number) for number in range(len(starts)))
    targets = ";".join(str(len(starts) + number) for number in range(len(ends)))
    path = urlsplit(engine.address).path.rstrip("/")
    return f"{path}/{written}?sources={sources}&destinations={targets}&annotations=duration,distance"


# --- Over the wire --------------------------------------------------------------------------------------


def _fetched(engine: Engine, question: str) -> bytes:
    parts = urlsplit(engine.address)
    kind = HTTPSConnection if parts.scheme == "https" else HTTPConnection
    began = monotonic()
    with closing(kind(parts.hostname or "", parts.port, timeout=engine.timeout_s)) as connection:
        try:
            return _within(engine, connection, question)
        except (OSError, HTTPException, Trouble) as broken:
            seconds = monotonic() - began
            # Whoever was hung up on looks as if the answer broke off.
            if isinstance(broken, Trouble) and seconds < engine.longest_s:
                raise
            raise _no_answer(broken, seconds, engine) from broken


def _within(engine: Engine, connection: HTTPConnection, question: str) -> bytes:
    """The answer; an engine that drips byte by byte never meets the timeout of a piece."""
    connection.connect()
    ends = Timer(engine.longest_s, _hang_up, [connection.sock])
    ends.daemon = True
    ends.start()
    try:
        connection.request("GET", question, headers={"User-Agent": "landscape-care"})
        return _body(engine, connection.getresponse())
    finally:
        ends.cancel()


def _hang_up(line: socket) -> None:
    with suppress(OSError):
        line.shutdown(SHUT_RDWR)


def _no_answer(broken: Exception, seconds: float, engine: Engine) -> Trouble:
    if isinstance(broken, TimeoutError) or seconds >= min(engine.timeout_s, engine.longest_s):
        return Trouble(
            f"the road engine gave no answer within {seconds:.0f} seconds",
            f"el motor de rutas no contestó en {seconds:.0f} segundos",
        )
    said = str(broken) or type(broken).__name__
    return Trouble(f"the road engine cannot be reached ({said})", f"no se llega al motor de rutas ({said})")


def _body(engine: Engine, answer: HTTPResponse) -> bytes:
    if 300 <= answer.status < 400:
        raise Trouble(
            "the road engine points to another address, and that is not followed",
            "el motor de rutas remite a otra dirección, y no se sigue",
        )
    pieces, size = [], 0
    while piece := answer.read1(_PIECE):
        pieces.append(piece)
        size += len(piece)
        if size > engine.largest_answer:
            raise _nonsense(
                f"over {engine.largest_answer:,} bytes", f"más de {engine.largest_answer:,} bytes"
            )
    body = b"".join(pieces)
    if answer.length:
        raise _nonsense("an answer that breaks off", "una respuesta que se corta")
    if answer.status != 200:
        raise _refused(answer.status, body)
    return body


def _refused(status: int, body: bytes) -> Trouble:
    """What the engine itself says of a question that it does not answer."""
    try:
        said = json.loads(body)
        words = f"{status} {said.get('code', '')} {said.get('message', '')}".strip()[:120]
    except (ValueError, AttributeError, RecursionError):
        words = str(status)
    return Trouble(f"the road engine refused ({words})", f"el motor de rutas se negó ({words})")


def _nonsense(en: str, es: str) -> Trouble:
    return Trouble(
        f"the road engine answered nonsense: {en}", f"el motor de rutas contestó un disparate: {es}"
    )


# --- Is it true? ----------------------------------------------------------------------------------------


def _parsed(body: bytes) -> dict[str, Any]:
    try:
        answer = json.loads(body, parse_constant=_no_number)
    except (ValueError, RecursionError) as broken:
        raise _nonsense("no JSON", "no es JSON") from broken
    if not isinstance(answer, dict) or answer.get("code") != "Ok":
        code = str(answer.get("code"))[:40] if isinstance(answer, dict) else type(answer).__name__
        raise _nonsense(f"code {code} where Ok is due", f"código {code} en vez de Ok")
    return answer


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no number")


def _legs(answer: dict[str, Any], starts: int, ends: int) -> Legs:
    seconds = _grid(answer, "durations", (starts, ends), LONGEST_DRIVE_S)
    metres = _grid(answer, "distances", (starts, ends), FARTHEST_M)
    if any(
        (s is None) != (m is None)
        for a, b in zip(seconds, metres, strict=True)
        for s, m in zip(a, b, strict=True)
    ):
        raise _nonsense("a time without a distance", "un tiempo sin distancia")
    return Legs(
        _scaled(seconds, 1 / 60),
        _scaled(metres, 1 / METRES_PER_MILE),
        _off_map(answer.get("sources"), starts),
        _off_map(answer.get("destinations"), ends),
    )


def _grid(answer: dict[str, Any], name: str, shape: tuple[int, int], most: float) -> Grid:
    rows = answer.get(name)
    if not isinstance(rows, list) or len(rows) != shape[0]:
        raise _nonsense(f"{name} of the wrong size", f"{name} de otro tamaño")
    for row in rows:
        if not isinstance(row, list) or len(row) != shape[1]:
            raise _nonsense(f"{name} of the wrong size", f"{name} de otro tamaño")
        for value in row:
            if value is not None and not _is_within(value, most):
                told = repr(value)[:40]
                raise _nonsense(f"{name} with {told}", f"{name} con {told}")
    return tuple(tuple(row) for row in rows)


def _is_within(value: object, most: float) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value <= most


def _scaled(grid: Grid, factor: float) -> Grid:
    return tuple(tuple(None if value is None else value * factor for value in row) for row in grid)


def _off_map(waypoints: object, count: int) -> frozenset[int]:
    """Places that the engine moved too far to find a road; an engine need not say it."""
    if not isinstance(waypoints, list) or len(waypoints) != count:
        return frozenset()
    moved = (point.get("distance") if isinstance(point, dict) else None for point in waypoints)
    return frozenset(n for n, by in enumerate(moved) if isinstance(by, int | float) and by > SNAP_M)
