"""A road engine of the open OSRM project over our own map says what the map says.

It needs the project's programs. OSRM_PROGRAMS names the folder that holds `bin/osrm-extract`,
`bin/osrm-routed` and `share/profiles/car.lua`, as its wheel for Python 3.12 brings them; without it
these tests are skipped.
"""

import os
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from landscape_care.dispatch.road_engine import METRES_PER_MILE, Engine, Trouble, table
from landscape_care.dispatch.travel import Place
from tests.integration.road_maps import Map, town

PROGRAMS = os.environ.get("OSRM_PROGRAMS", "")
pytestmark = pytest.mark.skipif(not PROGRAMS, reason="OSRM_PROGRAMS names no folder with OSRM's programs")


def as_osm(streets: Map) -> str:
    """The map in the XML of OpenStreetMap; a street that is open one way only says so."""
    number = {node: n for n, node in enumerate(streets.streets, start=1)}
    lines = [f'<node id="{n}" version="1" lat="{lat}" lon="{lon}"/>' for (lat, lon), n in number.items()]
    laid: set[frozenset[int]] = set()
    for start, edges in streets.streets.items():
        for end, _, _ in edges:
            pair = frozenset((number[start], number[end]))
            if pair in laid:
                continue
            laid.add(pair)
            both_ways = any(back == start for back, _, _ in streets.streets[end])
            one_way = "" if both_ways else '<tag k="oneway" v="yes"/>'
            lines.append(
                f'<way id="{len(laid)}" version="1"><nd ref="{number[start]}"/><nd ref="{number[end]}"/>'
                f'<tag k="highway" v="residential"/><tag k="maxspeed" v="43"/>{one_way}</way>'
            )
    return '<?xml version="1.0"?><osm version="0.6">' + "".join(lines) + "</osm>"


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """An engine of the project's own over our map."""
    folder, programs = tmp_path_factory.mktemp("osrm"), Path(PROGRAMS)
    (folder / "town.osm").write_text(as_osm(town()))
    steps = (
        ["osrm-extract", "-t", "1", "-p", str(programs / "share/profiles/car.lua"), "town.osm"],
        ["osrm-partition", "-t", "1", "town.osrm"],
        ["osrm-customize", "-t", "1", "town.osrm"],
    )
    for program, *arguments in steps:
        subprocess.run([programs / "bin" / program, *arguments], cwd=folder, check=True, capture_output=True)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command: list[str | Path] = [
        programs / "bin/osrm-routed",
        "--algorithm",
        "mld",
        "-t",
        "1",
        "-i",
        "127.0.0.1",
        "-p",
        str(port),
    ]
    with subprocess.Popen([*command, "town.osrm"], cwd=folder, stdout=subprocess.DEVNULL) as engine:
        try:
            _wait_for(port)
            yield f"http://127.0.0.1:{port}/table/v1/driving"
        finally:
            engine.terminate()


def _wait_for(port: int) -> None:
    until = time.monotonic() + 20
    while time.monotonic() < until:
        with socket.socket() as line:
            if line.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise TimeoutError("osrm-routed did not come up")


def test_its_miles_are_those_of_the_map_both_ways(address: str) -> None:
    streets = town()
    nodes = [(35.10, -106.64), (35.12, -106.63), (35.14, -106.63), (35.16, -106.58)]
    legs = table(Engine(address), [Place(*node) for node in nodes], [Place(*node) for node in nodes])
    for row, start in enumerate(nodes):
        for column, end in enumerate(nodes):
            length = streets.drives(start)[end][1]
            # A sphere instead of a plane, and whole metres.
            assert legs.miles[row][column] == pytest.approx(length / METRES_PER_MILE, rel=0.005, abs=0.01)


def test_a_place_off_its_map_and_a_wrong_address_are_noticed(address: str) -> None:
    legs = table(Engine(address), [Place(35.10, -106.64), Place(36.5, -106.6)], [Place(35.12, -106.63)])
    assert legs.off_start == {1}
    with pytest.raises(Trouble, match="refused"):
        table(
            Engine(address.replace("/table/", "/tables/")), [Place(35.10, -106.64)], [Place(35.12, -106.63)]
        )


def test_its_limit_of_a_hundred_places_is_kept(address: str) -> None:
    many = [Place(35.10 + number / 1000, -106.62) for number in range(50)]
    assert len(table(Engine(address), many, many).minutes) == 50
