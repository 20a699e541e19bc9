"""A road between browser and server that can be closed, or that loses an answer on its way back."""

import http.client
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any

NOT_PASSED_ON = {"connection", "keep-alive", "transfer-encoding"}


class Road(ThreadingHTTPServer):
    """Hands every request on while it is open.

    While it is `bumpy` the first answer to what is sent to an address is lost after the server gave it.
    """

    daemon_threads = True

    def __init__(self, server: str) -> None:
        self.server = server.removeprefix("http://")
        self.is_open = True
        self.bumpy = False
        self.lost: dict[str, int] = {}
        super().__init__(("localhost", 0), _Car)

    @property
    def address(self) -> str:
        """Where the browser goes."""
        return f"http://localhost:{self.server_address[1]}"

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A browser that hangs up is no news."""


class _Car(BaseHTTPRequestHandler):
    server: Road

    def log_message(self, *args: Any) -> None:
        """Say nothing."""

    def _drive(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        if not self.server.is_open:
            self.close_connection = True
            return
        there = http.client.HTTPConnection(self.server.server, timeout=30)
        headers = {name: value for name, value in self.headers.items() if name.lower() not in NOT_PASSED_ON}
        there.request(self.command, self.path, body, headers)
        answer = there.getresponse()
        said = answer.read()
        if self.command == "POST" and self.server.bumpy and self.path not in self.server.lost:
            self.server.lost[self.path] = answer.status
            self.close_connection = True
            return
        self.send_response_only(answer.status)
        for name, value in answer.getheaders():
            if name.lower() not in NOT_PASSED_ON:
                self.send_header(name, value)
        self.end_headers()
        self.wfile.write(said)

    do_GET = do_POST = _drive  # noqa: N815 - names of the base class


@contextmanager
def road_to(server: str) -> Iterator[Road]:
    """A road that is closed for good at the end."""
    road = Road(server)
    Thread(target=road.serve_forever, daemon=True).start()
    yield road
    road.shutdown()
    road.server_close()
