"""How often one reader may ask: a bucket of tokens for each, kept in the memory of this process.

It needs neither database nor broker, so it holds while they are away and costs a poll no query.
Its limits: each process counts for itself and forgets when it ends, so several together allow so
many times as much. Who is on this machine is not counted, because a proxy that does not say for
whom it asks would make one reader of all.
"""

from collections import OrderedDict
from collections.abc import Mapping
from functools import lru_cache
from ipaddress import ip_address, ip_network
from threading import Lock

PER_SECOND = 20.0
MOST = 1200.0  # a service that reads for many people comes in bursts
REMEMBERED = 10_000
A_POLL, AN_UNKNOWN = 1.0, 20.0  # who guesses addresses gets one answer a second


class Buckets:
    """What is left to each reader; the one that asked longest ago is forgotten when there are too many."""

    def __init__(
        self, per_second: float = PER_SECOND, most: float = MOST, remembered: int = REMEMBERED
    ) -> None:
        self._per_second, self._most, self._remembered = per_second, most, remembered
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = Lock()

    def wait_s(self, reader: str, cost: float, now_s: float) -> int:
        """Take so much from a reader's bucket; 0, or whole seconds until there is that much."""
        if not reader:
            return 0
        with self._lock:
            left, at = self._left.get(reader, (self._most, now_s))
            left = min(self._most, left + max(0.0, now_s - at) * self._per_second)
            missing = cost - left
            self._left[reader] = (left if missing > 0 else left - cost, now_s)
            self._left.move_to_end(reader)
            if len(self._left) > self._remembered:
                self._left.popitem(last=False)
        return int(missing / self._per_second) + 1 if missing > 0 else 0

    def spend(self, reader: str, cost: float, now_s: float) -> None:
        """Take so much, or all that is left."""
        if self.wait_s(reader, cost, now_s):
            with self._lock:
                self._left[reader] = (0.0, now_s)


def reader_of(request: Mapping[str, str], *, behind_proxy: bool) -> str:
    """The network address a request came from; empty for one that is not counted.

    Behind a proxy the last address in X-Forwarded-For is the one it saw; those before it were
    written by anybody.
    """
    if behind_proxy:
        return _counted(request.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2].strip())
    return _counted(request.get("REMOTE_ADDR", ""))


@lru_cache(maxsize=4096)
def _counted(text: str) -> str:
    try:
        address = ip_address(text)
    except ValueError:
        return ""
    if address.version == 6 and address.ipv4_mapped:
        address = address.ipv4_mapped
    if address.is_loopback:
        return ""
    # A household or a server has a network of 64 bits for itself (RFC 6177).
    return str(address if address.version == 4 else ip_network((int(address), 64), strict=False))
