"""One command runs every process, brings back what dies and leaves nothing behind."""

import json
import os
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import urlopen

import psutil
import pytest

ROOT = Path(__file__).parents[2]


def a_free_port() -> int:
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def until(answer: Callable[[], Any], *, seconds: float = 40) -> Any:
    """Ask until the answer is true."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if found := answer():
            return found
        time.sleep(0.1)
    raise AssertionError(f"waited {seconds} s in vain")


class House:
    """A quick start of an empty company in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = a_free_port()
        self.output = folder / "output.txt"
        self.process = self.start()

    def surroundings(self) -> dict[str, str]:
        kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
        return {**kept, "LANDSCAPE_CARE_DATA": str(self.folder), "LANDSCAPE_CARE_ENVIRONMENT": "given"}

    def command(self, *more: str) -> list[str]:
        return [sys.executable, "manage.py", "start", "--without-demo", "--port", str(self.port), *more]

    def start(self) -> "subprocess.Popen[bytes]":
        with self.output.open("ab") as output:
            return subprocess.Popen(
                self.command(), cwd=ROOT, env=self.surroundings(), stdout=output, stderr=subprocess.STDOUT
            )

    def start_beside(self, *more: str, folder: Path | None = None) -> "subprocess.CompletedProcess[str]":
        surroundings = {**self.surroundings(), "LANDSCAPE_CARE_DATA": str(folder or self.folder)}
        return subprocess.run(
            self.command(*more),
            cwd=ROOT,
            env=surroundings,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )

    def answer(self, path: str) -> Any:
        try:
            with urlopen(f"http://127.0.0.1:{self.port}{path}", timeout=5) as answer:
                return json.load(answer)
        except HTTPError as refused:
            return json.load(refused)
        except OSError:
            return {}

    def works(self) -> bool:
        return bool(self.answer("/readyz/background").get("background"))

    def last_beat(self) -> str:
        return str(self.answer("/readyz/background").get("last_beat"))

    def part(self, word: str) -> psutil.Process:
        children = psutil.Process(self.process.pid).children()
        return next(child for child in children if word in child.cmdline())

    def everybody(self) -> list[psutil.Process]:
        return psutil.Process(self.process.pid).children(recursive=True)

    def end(self, with_signal: signal.Signals) -> None:
        family = self.everybody()
        assert len(family) >= 8  # broker, worker and its two hands, clock, site and its two
        self.process.send_signal(with_signal)
        self.process.wait(30)
        _, left = psutil.wait_procs(family, timeout=20)
        assert not left


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    built = House(tmp_path_factory.mktemp("house"))
    try:
        until(built.works)
        yield built
    finally:
        built.process.kill()


def test_it_says_where_to_look_and_how_to_sign_in(house: House) -> None:
    said = until(lambda: "Ctrl-C stops everything" in house.output.read_text() and house.output.read_text())
    file = house.folder / "sign-in.txt"
    user, password = file.read_text().split("\t")[2:4]
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert user == "office"
    assert password.strip() in said
    assert f"http://127.0.0.1:{house.port}/" in said


def test_a_second_start_on_the_same_folder_is_refused(house: House) -> None:
    refused = house.start_beside("--port", str(a_free_port()))
    assert refused.returncode == 1
    assert "already runs on the data folder" in refused.stderr


def test_a_busy_port_is_named_with_one_that_is_free(house: House, tmp_path: Path) -> None:
    refused = house.start_beside(folder=tmp_path)
    assert refused.returncode == 1
    assert (
        f"Port {house.port} is used by another program; try: python3 manage.py start --port" in refused.stderr
    )
    assert not (tmp_path / "db.sqlite3").exists()


def test_a_killed_worker_comes_back_and_works(house: House) -> None:
    before = house.last_beat()
    house.part("worker").kill()
    until(lambda: house.last_beat() > before)
    assert "The worker was ended by SIGKILL; starting it again" in house.output.read_text()


def test_a_killed_site_comes_back(house: House) -> None:
    house.part("gunicorn").kill()
    until(lambda: "The site was ended by SIGKILL" in house.output.read_text())
    until(lambda: house.answer("/healthz") == {"alive": True})


def test_ctrl_c_ends_everything_and_the_next_start_keeps_the_data(house: House) -> None:
    sheet = (house.folder / "sign-in.txt").read_text()
    house.end(signal.SIGINT)
    house.process = house.start()
    until(house.works)
    assert (house.folder / "sign-in.txt").read_text() == sheet


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux ends children with a killed parent")
def test_a_killed_supervisor_leaves_no_process(house: House) -> None:
    until(lambda: len(house.everybody()) >= 8)
    house.end(signal.SIGKILL)
