"""What a road engine is asked and what is believed of its answer.

The form is that of the `table` service in the published HTTP API of OSRM, version 5 (from its
documentation: longitude before latitude, seconds, metres, null where no route exists).
"""

import json
from dataclasses import replace
from time import monotonic
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured

from landscape_care.config.variables import road_engine
from landscape_care.dispatch.road_engine import METRES_PER_MILE, Engine, Trouble, blocks, table
from landscape_care.dispatch.travel import Place
from tests.integration.road_maps import Map, Roads, answer, drip, hang, say, serving, town

HERE, THERE = Place(35.10, -106.64), Place(35.12, -106.62)


def quick(address: str) -> Engine:
    return Engine(address, timeout_s=0.4, longest_s=0.8)


def told(body: object, *, status: int = 200, **headers: str) -> str:
    """The trouble with an answer."""
    content = body if isinstance(body, bytes) else json.dumps(body).encode()
    with serving(say(content, status, **headers)) as address, pytest.raises(Trouble) as met:
        table(quick(address), [HERE], [THERE])
    assert met.value.words.es
    assert met.value.words.es != met.value.words.en
    return met.value.words.en


def grids(durations: object, distances: object) -> dict[str, object]:
    return {"code": "Ok", "durations": durations, "distances": distances}


def test_drives_come_as_the_map_has_them_both_ways_apart() -> None:
    streets = town()
    nodes = [(35.10, -106.64), (35.12, -106.63), (35.14, -106.63), (35.16, -106.58)]
    places = [Place(*node) for node in nodes]
    with serving(Roads(streets)) as address:
        legs = table(Engine(address), places, places)
    for row, start in enumerate(nodes):
        drives = streets.drives(start)
        for column, end in enumerate(nodes):
            seconds, length = drives[end]
            assert legs.minutes[row][column] == pytest.approx(seconds / 60, abs=0.01)
            assert legs.miles[row][column] == pytest.approx(length / METRES_PER_MILE, abs=0.001)
    there, back = legs.minutes[1][2], legs.minutes[2][1]
    assert there is not None
    assert back is not None
    assert abs(there - back) > 0.5  # one-way avenues


def test_where_no_road_leads_nothing_is_told() -> None:
    streets = Map()
    streets.street((35.10, -106.64), (35.11, -106.64))
    streets.street((35.12, -106.62), (35.13, -106.62))
    with serving(Roads(streets)) as address:
        legs = table(Engine(address), [HERE], [THERE])
    assert (legs.minutes, legs.miles) == (((None,),), ((None,),))


def test_a_place_off_the_map_is_named_as_such() -> None:
    with serving(Roads(town())) as address:
        legs = table(Engine(address), [HERE, Place(36.5, -106.64)], [THERE])
    assert legs.off_start == {1}
    assert legs.off_end == frozenset()


def test_a_question_holds_at_most_a_hundred_places() -> None:
    covered = {(a, b) for starts, ends in blocks(120) for a in starts for b in ends}
    assert covered == {(a, b) for a in range(120) for b in range(120)}
    assert all(len(starts) + len(ends) <= 100 for starts, ends in blocks(120))
    many = [Place(35 + n / 1000, -106) for n in range(51)]
    with pytest.raises(ValueError, match="100 together"):
        table(Engine("http://127.0.0.1:1/table/v1/driving"), many, many)
    assert answer(town(), "/table/v1/driving/" + ";".join(["-106,35"] * 101))["code"] == "TooBig"


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"<html>busy</html>", "no JSON"),
        (b'{"code": "Ok", "durations": [[NaN]], "distances": [[1]]}', "no JSON"),
        (b'{"code": "Ok", "durations": [[1e999]], "distances": [[1]]}', "durations with inf"),
        (b"[" * 100_000, "no JSON"),
        (b"\xff\xfe\x00", "no JSON"),
        ([], "code list where Ok is due"),
        ({"code": "NoTable"}, "code NoTable"),
        (grids([[60]], None), "distances of the wrong size"),
        (grids([[60, 60]], [[1, 1]]), "durations of the wrong size"),
        (grids([], []), "durations of the wrong size"),
        (grids({"0": [1]}, [[1]]), "durations of the wrong size"),
        (grids([[-60]], [[100]]), "durations with -60"),
        (grids([["60"]], [[100]]), "durations with '60'"),
        (grids([[True]], [[100]]), "durations with True"),
        (grids([[10**400]], [[100]]), "durations with 1000"),
        (grids([[60]], [[3e7]]), "distances with 30000000.0"),
        (grids([[None]], [[100]]), "a time without a distance"),
    ],
)
def test_nonsense_is_refused_in_words(body: object, words: str) -> None:
    assert words in told(body)


def test_what_the_engine_refuses_is_told_with_its_own_words() -> None:
    assert told({"code": "InvalidQuery", "message": "Query string malformed"}, status=400) == (
        "the road engine refused (400 InvalidQuery Query string malformed)"
    )
    assert told(b"gone", status=502) == "the road engine refused (502)"


def test_no_other_address_is_followed() -> None:
    assert "points to another address" in told(b"", status=302, Location="http://127.0.0.1:1/")


def test_an_engine_that_hangs_or_drips_is_left_in_time() -> None:
    for reply in (hang, drip):
        began = monotonic()
        with serving(reply) as address, pytest.raises(Trouble, match="gave no answer within"):
            table(quick(address), [HERE], [THERE])
        assert monotonic() - began < 3


def test_an_answer_that_is_too_large_or_breaks_off_is_let_go() -> None:
    with serving(say(b" " * 5000)) as address, pytest.raises(Trouble, match="over 4,000 bytes"):
        table(replace(Engine(address), largest_answer=4000), [HERE], [THERE])
    length: dict[str, Any] = {"Content-Length": "5000", "Connection": "close"}
    broken = say(b'{"code": "Ok"', **length)
    with serving(broken) as address, pytest.raises(Trouble, match=r"breaks off|cannot be reached|no answer"):
        table(quick(address), [HERE], [THERE])


def test_an_engine_that_is_not_there_is_told() -> None:
    with pytest.raises(Trouble, match="cannot be reached"):
        table(Engine("http://127.0.0.1:9/table/v1/driving"), [HERE], [THERE])


@pytest.mark.parametrize(
    "address",
    [
        "",
        "ftp://127.0.0.1/table",
        "http:///table",
        "http://127.0.0.1:5000",
        "http://a:b@127.0.0.1/table",
        "http://127.0.0.1/t?x=1",
    ],
)
def test_an_address_that_is_none_is_refused(address: str) -> None:
    with pytest.raises(ValueError, match="wanted"):
        Engine(address)


def test_the_setting_allows_this_machine_and_hosts_that_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: dict[str, list[str]] = {
        "": [],
        "http://127.0.0.1:5000/table/v1/driving": [],
        "https://roads.here/table/v1/car/": ["roads.here"],
    }
    for address, hosts in asked.items():
        monkeypatch.setenv("ROAD_ENGINE", address)
        assert road_engine("ROAD_ENGINE", hosts) == address.rstrip("/")


@pytest.mark.parametrize(
    "address",
    [
        "http://roads.here/table/v1/driving",
        "http://127.0.0.1.roads.here/table/v1/driving",
        "http://127.0.0.1@roads.here/table/v1/driving",
        "file:///etc/table",
        "http://127.0.0.1:5000",
        "http://localhost/table/v1/driving?secret=1",
    ],
)
def test_the_setting_allows_no_other_address(monkeypatch: pytest.MonkeyPatch, address: str) -> None:
    monkeypatch.setenv("ROAD_ENGINE", address)
    with pytest.raises(ImproperlyConfigured, match="ROAD_ENGINE"):
        road_engine("ROAD_ENGINE", [])
