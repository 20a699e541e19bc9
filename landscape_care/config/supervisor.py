"""Keep the processes of a quick start running, and end them together."""

import errno
import fcntl
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

from landscape_care.config.parentage import ends_with_parent

LOOK_EVERY_S = 0.2
HASTY_S = 5.0
REST_S = 3.0
PATIENCE_S = 15.0


@dataclass(frozen=True)
class Part:
    """A process to keep running, with the log it writes to."""

    name: str
    command: Sequence[str]
    log: Path

    def __post_init__(self) -> None:
        """Refuse a part that cannot be started or told apart."""
        if not self.name or not self.command:
            raise ValueError(f"part {self.name!r} has command {self.command!r}: give a name and a command")


@dataclass
class Running:
    """A started part."""

    part: Part
    process: "subprocess.Popen[bytes]"
    began: float = field(default_factory=time.monotonic)


class StopAskedError(Exception):
    """Somebody asked for the end."""


def keep_running(
    parts: Sequence[Part],
    *,
    environment: Mapping[str, str],
    then: Callable[[], None],
    say: Callable[[str], None],
) -> None:
    """Start the parts in order, call `then`, restart whichever dies, end all when asked to."""
    for asked in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(asked, raise_stopped)
    running: list[Running] = []
    try:
        for part in parts:
            running.append(begin(part, environment))  # noqa: PERF401 - a half-started list must be ended too
        then()
        while True:
            watch(running, environment, say)
            time.sleep(LOOK_EVERY_S)
    except StopAskedError:
        say("Stopping ...")
    finally:
        for asked in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(asked, signal.SIG_IGN)
        end(running)


def raise_stopped(signum: int, _frame: FrameType | None) -> None:
    """Leave the loop, whatever it is doing."""
    raise StopAskedError(signum)


def begin(part: Part, environment: Mapping[str, str]) -> Running:
    """Start a part in a session of its own: Ctrl-C reaches it through us, in order."""
    with part.log.open("ab") as log:
        process = subprocess.Popen(  # noqa: S603
            list(part.command),
            env=dict(environment),
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            preexec_fn=ends_with_parent(signal.SIGTERM),  # noqa: PLW1509
        )
    return Running(part, process)


def watch(running: list[Running], environment: Mapping[str, str], say: Callable[[str], None]) -> None:
    """Start again what has died; what dies at once gets a rest first."""
    for place, one in enumerate(running):
        code = one.process.poll()
        if code is None:
            continue
        how = f"was ended by {signal.Signals(-code).name}" if code < 0 else f"ended with code {code}"
        say(f"The {one.part.name} {how}; starting it again (its log: {one.part.log}).")
        if time.monotonic() - one.began < HASTY_S:
            time.sleep(REST_S)
        end_group(one, signal.SIGKILL)
        running[place] = begin(one.part, environment)


def end(running: Sequence[Running]) -> None:
    """Ask the parts to end, last one first, and end by force those that do not."""
    for one in reversed(running):
        if one.process.poll() is None:
            one.process.send_signal(signal.SIGTERM)
            try:
                one.process.wait(PATIENCE_S)
            except subprocess.TimeoutExpired:
                end_group(one, signal.SIGKILL)
                one.process.wait()
        end_group(one, signal.SIGKILL)


def end_group(one: Running, with_signal: signal.Signals) -> None:
    """Signal whatever the part left behind in its session."""
    try:
        os.killpg(one.process.pid, with_signal)
    except (ProcessLookupError, PermissionError):
        return


def port_is_free(host: str, port: int) -> bool:
    """Say whether a server can listen there."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with closing(socket.socket(family, socket.SOCK_STREAM)) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as refused:
            if refused.errno in (errno.EADDRINUSE, errno.EACCES):
                return False
            raise
    return True


def next_free_port(host: str, port: int) -> int:
    """Find the next port above that is free."""
    return next(candidate for candidate in range(port + 1, 65536) if port_is_free(host, candidate))


def own_address() -> str:
    """Find the address of this machine in its network; no packet leaves, the system only picks a way."""
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # reserved for documentation, RFC 5737
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])


def claim(file: Path) -> bool:
    """Claim a data folder for this process; the claim ends with the process, however it ends."""
    descriptor = os.open(file, os.O_RDWR | os.O_CREAT, 0o640)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(descriptor)
        return False
    return True


def python(*arguments: str) -> list[str]:
    """Command line for a module of this very environment."""
    return [sys.executable, "-m", *arguments]
