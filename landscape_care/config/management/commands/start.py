"""`python3 manage.py start`: everything on one machine, with the invented company to look at."""

import os
import time
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.request import urlopen

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from landscape_care.config import supervisor
from landscape_care.config.celery import SOLVER_QUEUE
from landscape_care.config.sign_in import let_in, where_to_look, write_sheet
from landscape_care.config.supervisor import Part, python
from landscape_care.config.valkey import valkey_command
from landscape_care.people.models import Role, User

APPLICATION = "landscape_care.config.celery"
LARGEST_LOG_BYTES = 5_000_000


class Command(BaseCommand):
    """Prepare the data folder, make the demo company the first time, run and watch the processes."""

    help = "Run Landscape Care on this machine: site, background work and, the first time, a demo company."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the few choices a quick start has."""
        parser.add_argument("--port", type=int, default=8000, help="port of the site (8000)")
        parser.add_argument(
            "--host",
            default="127.0.0.1",
            help="127.0.0.1: this machine only; 0.0.0.0: phones in the same network",
        )
        parser.add_argument(
            "--without-demo", action="store_true", help="make an empty company with one office user"
        )
        parser.add_argument("--demo-only", action="store_true", help="prepare everything, then exit")

    def handle(self, *args: Any, **options: Any) -> None:
        """Prepare, then run until Ctrl-C."""
        self.refuse_second_start()
        if not options["demo_only"]:
            self.refuse_busy_port(options["host"], options["port"])
        self.prepare(demo=not options["without_demo"])
        if not options["demo_only"]:
            self.run(options["host"], options["port"])

    def refuse_second_start(self) -> None:
        """Two supervisors on one data folder would run every beat twice."""
        if not supervisor.claim(settings.RUN_FOLDER / "start.lock"):
            raise CommandError(
                f"Landscape Care already runs on the data folder {settings.DATA_FOLDER}; stop it with Ctrl-C "
                "where it runs, or set LANDSCAPE_CARE_DATA to another folder."
            )

    def refuse_busy_port(self, host: str, port: int) -> None:
        """Say which port would do instead."""
        if not supervisor.port_is_free(host, port):
            free = supervisor.next_free_port(host, max(port, 1024))
            raise CommandError(
                f"Port {port} is used by another program; try: python3 manage.py start --port {free}"
            )

    def prepare(self, *, demo: bool) -> None:
        """Bring the database up to date and, in an empty one, make the first company."""
        began = time.monotonic()
        call_command("migrate", verbosity=0, interactive=False)
        call_command("createcachetable", verbosity=0)
        self.say(f"Database ready in {time.monotonic() - began:.1f} s.")
        if demo:
            from landscape_care.config.demo_company import open_demo_company

            with nobody_listening():
                open_demo_company(self.say)
        elif not User.objects.exists():
            with transaction.atomic():
                _, entrance = let_in("office", Role.OFFICE, name="Office", path="/")
                write_sheet([entrance])

    def run(self, host: str, port: int) -> None:
        """Run the processes until somebody asks for the end."""
        shown = supervisor.own_address() if host in ("0.0.0.0", "::") else host  # noqa: S104
        address = f"http://{shown}:{port}"
        environment = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "landscape_care.config.settings",
            "SITE_URL": os.environ.get("SITE_URL") or address,
            "ALLOWED_HOSTS": ",".join([*settings.ALLOWED_HOSTS, shown]),
        }
        supervisor.keep_running(
            self.parts(host, port),
            environment=environment,
            then=lambda: self.welcome(address, host),
            say=self.say,
        )

    def parts(self, host: str, port: int) -> list[Part]:
        """List the processes in the order in which they start."""
        parts = [
            part("worker", celery("worker", "--concurrency", "2", "-Q", f"celery,{SOLVER_QUEUE}")),
            part("clock", celery("beat", "--pidfile", "")),
            part("site", gunicorn(host, port)),
        ]
        if not os.environ.get("REDIS_URL"):
            socket = Path(settings.REDIS_URL.removeprefix("unix://"))
            parts.insert(0, part("broker", valkey_command(socket, settings.DATA_FOLDER / "broker")))
        return parts

    def welcome(self, address: str, host: str) -> None:
        """Wait until the site answers, then say where to look."""
        wait_until_answered(f"{address}/healthz")
        self.say("")
        for line in where_to_look(address):
            self.say(line)
        self.say("")
        if host == "127.0.0.1":
            self.say("To look from a phone in the same network, start with --host 0.0.0.0")
        self.say(f"Running at {address} (data in {settings.DATA_FOLDER}). Ctrl-C stops everything.")

    def say(self, line: str) -> None:
        """Print a line at once."""
        self.stdout.write(line)
        self.stdout.flush()


@contextmanager
def nobody_listening() -> Iterator[None]:
    """Let background calls go nowhere while no worker runs; the clock's first round makes them good."""
    os.environ["CELERY_BROKER_URL"] = "memory://localhost"
    try:
        yield
    finally:
        del os.environ["CELERY_BROKER_URL"]


def part(name: str, command: list[str]) -> Part:
    """Give a process its log, the old one put aside when it has grown large."""
    log: Path = settings.LOG_FOLDER / f"{name}.log"
    if log.exists() and log.stat().st_size > LARGEST_LOG_BYTES:
        log.replace(log.with_suffix(".old.log"))
    return Part(name, command, log)


def celery(*arguments: str) -> list[str]:
    """Command line of a Celery process that logs what matters only."""
    return python("celery", "-A", APPLICATION, arguments[0], "--loglevel", "WARNING", *arguments[1:])


def gunicorn(host: str, port: int) -> list[str]:
    """Command line of the web server; two processes, so that one may die."""
    bind = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    choices = [
        "--bind",
        bind,
        "--workers",
        "2",
        "--threads",
        "4",
        "--timeout",
        "60",
        "--log-level",
        "warning",
    ]
    return python("gunicorn", *choices, "landscape_care.config.wsgi:application")


def wait_until_answered(address: str, *, patience_s: float = 90.0) -> None:
    """Wait until an address of ours answers."""
    deadline = time.monotonic() + patience_s
    while time.monotonic() < deadline:
        try:
            with urlopen(address, timeout=2):  # noqa: S310
                return
        except (URLError, OSError):
            time.sleep(0.1)
    raise CommandError(f"The site did not answer within {patience_s:.0f} s; its log: {settings.LOG_FOLDER}")
