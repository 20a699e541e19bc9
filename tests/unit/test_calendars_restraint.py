"""How often one reader may ask."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.calendars.restraint import Buckets, reader_of


def test_a_bucket_empties_and_fills_again() -> None:
    buckets = Buckets(per_second=2, most=4)
    assert [buckets.wait_s("a", 1, 100) for _ in range(5)] == [0, 0, 0, 0, 1]
    assert buckets.wait_s("b", 1, 100) == 0
    assert [buckets.wait_s("a", 1, 101) for _ in range(3)] == [0, 0, 1]


def test_an_unknown_address_costs_more_but_never_more_than_is_left() -> None:
    buckets = Buckets(per_second=1, most=10)
    buckets.spend("a", 20, 0)
    assert buckets.wait_s("a", 1, 0) == 2
    assert buckets.wait_s("a", 1, 1) == 0


def test_only_so_many_readers_are_remembered() -> None:
    buckets = Buckets(per_second=1, most=1, remembered=2)
    for reader in "abc":
        buckets.wait_s(reader, 1, 0)
    assert [buckets.wait_s(reader, 1, 0) > 0 for reader in "cba"] == [True, True, False]


@given(st.lists(st.floats(0, 5), max_size=60))
def test_nobody_gets_more_than_the_bucket_and_what_flows_in(pauses: list[float]) -> None:
    buckets, now_s, granted = Buckets(per_second=3, most=5), 0.0, 0
    for pause in pauses:
        now_s += pause
        granted += buckets.wait_s("a", 1, now_s) == 0
    assert granted <= 5 + 3 * now_s + 1e-6


@pytest.mark.parametrize(
    ("meta", "behind_proxy", "reader"),
    [
        ({"REMOTE_ADDR": "203.0.113.7"}, False, "203.0.113.7"),
        ({"REMOTE_ADDR": "203.0.113.7", "HTTP_X_FORWARDED_FOR": "198.51.100.1"}, False, "203.0.113.7"),
        (
            {"REMOTE_ADDR": "172.18.0.2", "HTTP_X_FORWARDED_FOR": "1.2.3.4, 198.51.100.1"},
            True,
            "198.51.100.1",
        ),
        ({"REMOTE_ADDR": "172.18.0.2"}, True, ""),
        ({"REMOTE_ADDR": "127.0.0.1"}, False, ""),
        ({"REMOTE_ADDR": ""}, False, ""),
        ({"REMOTE_ADDR": "2001:db8:1:2:3::9"}, False, "2001:db8:1:2::/64"),
        ({"REMOTE_ADDR": "::ffff:203.0.113.7"}, False, "203.0.113.7"),
        ({"REMOTE_ADDR": "::1"}, False, ""),
        ({"HTTP_X_FORWARDED_FOR": "nonsense"}, True, ""),
    ],
)
def test_a_reader_is_known_by_its_network(meta: dict[str, str], behind_proxy: bool, reader: str) -> None:
    assert reader_of(meta, behind_proxy=behind_proxy) == reader
