"""A small map of streets and an engine over it that answers the `table` form; and engines that fail.

The map is invented: a grid of streets with one-way avenues, a slow lane and an island no road reaches.
Shortest times are Dijkstra's (E. W. Dijkstra, Numerische Mathematik 1, 1959), worked out here.
"""

import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from heapq import heappop, heappush
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from math import cos, hypot, radians
from typing import Any
from urllib.parse import parse_qs, urlsplit

Node = tuple[float, float]  # latitude, longitude
Edge = tuple[Node, float, float]  # to, seconds, metres
METRES_PER_DEGREE = 111_195.0
STEP = 0.01


def metres(a: Node, b: Node) -> float:
    """Along a flat earth, good enough for a town."""
    return hypot(a[0] - b[0], (a[1] - b[1]) * cos(radians(a[0]))) * METRES_PER_DEGREE


class Map:
    """Streets between crossings; each street has a length and a speed for each way that is open."""

    def __init__(self) -> None:
        self.streets: dict[Node, list[Edge]] = {}

    def street(self, a: Node, b: Node, *, speed_m_s: float = 12.0, one_way: bool = False) -> None:
        """Lay a street."""
        length = metres(a, b)
        self.streets.setdefault(a, []).append((b, length / speed_m_s, length))
        self.streets.setdefault(b, [])
        if not one_way:
            self.streets[b].append((a, length / speed_m_s, length))

    def nearest(self, place: Node) -> Node:
        """The crossing nearest to a place."""
        return min(self.streets, key=lambda node: metres(node, place))

    def drives(self, start: Node) -> dict[Node, tuple[float, float]]:
        """Seconds and metres of the fastest way to each crossing that can be reached."""
        done: dict[Node, tuple[float, float]] = {}
        queue = [(0.0, 0.0, start)]
        while queue:
            seconds, length, node = heappop(queue)
            if node in done:
                continue
            done[node] = (seconds, length)
            for other, more_s, more_m in self.streets[node]:
                if other not in done:
                    heappush(queue, (seconds + more_s, length + more_m, other))
        return done


def town(latitude: float = 35.10, longitude: float = -106.64, size: int = 7) -> Map:
    """A grid of streets a hundredth of a degree apart whose avenues run one way in turn."""
    made = Map()

    def node(row: int, column: int) -> Node:
        return round(latitude + row * STEP, 4), round(longitude + column * STEP, 4)

    for row in range(size):
        for column in range(size):
            if column + 1 < size:
                made.street(node(row, column), node(row, column + 1))
            if row + 1 < size:
                up, down = node(row, column), node(row + 1, column)
                start, end = (up, down) if column % 2 else (down, up)
                made.street(start, end, one_way=0 < column < size - 1)
    return made


def answer(streets: Map, question: str) -> dict[str, Any]:
    """What an engine over a map says to a question of the `table` form."""
    path = urlsplit(question)
    asked = parse_qs(path.query)
    written = path.path.rsplit("/", 1)[1].split(";")
    if len(written) > 100:
        return {"code": "TooBig", "message": f"Number of coordinates {len(written)} is higher than 100"}
    places = [(float(lat), float(lon)) for lon, lat in (pair.split(",") for pair in written)]
    nodes = [streets.nearest(place) for place in places]
    starts, ends = ([int(n) for n in asked[name][0].split(";")] for name in ("sources", "destinations"))
    found = [streets.drives(nodes[n]) for n in starts]
    return {
        "code": "Ok",
        "durations": [[_cell(drives, nodes[n], 0) for n in ends] for drives in found],
        "distances": [[_cell(drives, nodes[n], 1) for n in ends] for drives in found],
        "sources": [_waypoint(places[n], nodes[n]) for n in starts],
        "destinations": [_waypoint(places[n], nodes[n]) for n in ends],
    }


def _cell(drives: dict[Node, tuple[float, float]], node: Node, which: int) -> float | None:
    return round(drives[node][which], 1) if node in drives else None


def _waypoint(place: Node, node: Node) -> dict[str, Any]:
    return {"location": [node[1], node[0]], "distance": metres(node, place)}


Reply = Callable[[BaseHTTPRequestHandler], None]


@contextmanager
def serving(reply: Reply) -> Iterator[str]:
    """A server on this machine that replies so to every question; its address."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            with suppress(BrokenPipeError, ConnectionResetError):
                reply(self)

        def log_message(self, format: str, *args: Any) -> None:
            return

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/table/v1/driving"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def say(body: bytes, status: int = 200, **headers: str) -> Reply:
    """Reply with these bytes."""

    def reply(asked: BaseHTTPRequestHandler) -> None:
        asked.send_response(status)
        for name, value in {"Content-Length": str(len(body)), **headers}.items():
            asked.send_header(name, value)
        asked.end_headers()
        asked.wfile.write(body)

    return reply


class Roads:
    """An engine over a map; counts what it was asked."""

    def __init__(self, streets: Map) -> None:
        self.streets, self.questions = streets, 0

    def __call__(self, asked: BaseHTTPRequestHandler) -> None:
        """Answer from the map."""
        self.questions += 1
        found = answer(self.streets, asked.path)
        say(json.dumps(found).encode(), 200 if found["code"] == "Ok" else 400)(asked)


def drip(asked: BaseHTTPRequestHandler) -> None:
    """Answer so slowly that no single wait is long."""
    asked.send_response(200)
    asked.send_header("Content-Length", "100000")
    asked.end_headers()
    for _ in range(100):
        asked.wfile.write(b" ")
        asked.wfile.flush()
        time.sleep(0.05)


def hang(asked: BaseHTTPRequestHandler) -> None:
    """Say nothing for a while."""
    time.sleep(1.5)
