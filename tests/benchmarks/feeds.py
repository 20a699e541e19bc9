"""What a poll of a calendar costs, beside a bare Django view on the same machine and the same server.

Run with `python -m tests.benchmarks.feeds`; each line is JSON. Processor time is that of one
process that answers through the real WSGI application. Then a server with one worker is loaded
over loopback by a program of our own, and last ten thousand gardens are polled 100 times a second,
while a few of them change.
nginx is measured beside it where it is installed; where it is not, a line says so.
"""

import argparse
import asyncio
import gzip
import io
import os
import random
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock
from pathlib import Path
from typing import Any

import psutil

from tests.benchmarks.company import begin, say

TODAY = datetime.now(UTC).date()
EVENTS = 500
BARE = "/bare"
SHARE_CHANGED = 0.03
TURNS = 5


def main(argv: list[str] | None = None) -> None:
    """Measure in one process, behind a server, and with many gardens."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--rounds", type=int, default=1500, help="answers for each figure")
    options.add_argument("--seconds", type=float, default=4, help="load on the server for each figure")
    options.add_argument("--gardens", type=int, default=10_000)
    options.add_argument("--poll-seconds", type=float, default=15)
    given = options.parse_args(argv)
    begin()
    token = add_garden_with(EVENTS)
    in_process(token, given.rounds) if given.rounds else None
    behind_a_server(token, given.seconds)
    many_gardens(given.gardens, given.poll_seconds)


# --- What is measured -------------------------------------------------------------------------


def add_place() -> Any:
    """A depot and a client to hang gardens on."""
    from landscape_care.properties.models import Client, Depot

    depot, _ = Depot.objects.get_or_create(
        code="yard",
        defaults={
            "name": "Yard",
            "latitude_deg": 35.1,
            "longitude_deg": -106.6,
            "time_zone": "America/Denver",
        },
    )
    client, _ = Client.objects.get_or_create(code="owners", defaults={"name": "Owners"})
    return depot, client


def garden(code: str) -> Any:
    """A property that is not saved yet."""
    from landscape_care.properties.models import Property

    depot, client = add_place()
    return Property(
        code=code,
        name=f"Casa {code}",
        client=client,
        depot=depot,
        street="14 Acequia Lane",
        town="Albuquerque",
        latitude_deg=35.1,
        longitude_deg=-106.6,
        time_zone="America/Denver",
        climate="albuquerque",
        access_opens=clock(7),
        access_closes=clock(16),
        watering_opens=clock(20),
        watering_closes=clock(6),
        care_starts_on=TODAY - timedelta(365),
    )


def visit_on(place: Any, day: date, number: int) -> Any:
    """A published visit that is not saved yet."""
    from landscape_care.visits.models import Visit

    return Visit(
        property=place,
        slot=f"slot-{number}",
        opens_on=day,
        closes_on=day,
        minutes=60,
        state="published",
        day=day,
        arrives_at=clock(8 + number % 6),
        leaves_at=clock(9 + number % 6, 30),
        crew_name="North",
        announced=True,
        changed_at=datetime.now(UTC),
    )


def task_for(place: Any, day: date, number: int) -> Any:
    """An open care task that is not saved yet."""
    from landscape_care.care.models import CareTask

    return CareTask(
        property=place,
        rule="skim-basket-clean",
        stem="water_feature",
        series=f"series-{number}",
        occurrence=str(number),
        key=f"series-{number}:{number}",
        title=f"Clean the skimmer basket and check the level, round {number}",
        title_es="Limpiar la canasta y revisar el nivel",
        opens_on=day,
        due_on=day,
        closes_on=day,
        minutes=20,
        skill="water",
        cautions=["SHARP"],
        changed_at=datetime.now(UTC),
    )


def add_garden_with(count: int) -> str:
    """A garden with so many visits of three tasks each; the token of its calendar."""
    from landscape_care.calendars import actions
    from landscape_care.care.models import CareTask
    from landscape_care.visits.models import Visit, VisitTask

    place = garden("full")
    place.save()
    days = [TODAY - timedelta(80) + timedelta(number * 400 / count) for number in range(count)]
    visits = Visit.objects.bulk_create(visit_on(place, day, n) for n, day in enumerate(days))
    tasks = CareTask.objects.bulk_create(task_for(place, days[n // 3], n) for n in range(3 * count))
    VisitTask.objects.bulk_create(VisitTask(visit=visits[n // 3], task=task) for n, task in enumerate(tasks))
    return actions.issue("property", place, name="benchmark", by=None)[1]


# --- In one process ---------------------------------------------------------------------------


def beside() -> Callable[..., Any]:
    """A Django that has this one view and no middleware at all."""
    from django.conf import settings
    from django.core.handlers.wsgi import WSGIHandler

    settings.ROOT_URLCONF = "tests.benchmarks.bare"
    chain = settings.MIDDLEWARE
    settings.MIDDLEWARE = []
    try:
        return WSGIHandler()
    finally:
        settings.MIDDLEWARE = chain


def served() -> Callable[..., Any]:
    """Both in one process: the bare view with nothing around it, and the house."""
    from django.core.wsgi import get_wsgi_application

    house, nothing_around = get_wsgi_application(), beside()
    return lambda environ, start: (nothing_around if environ["PATH_INFO"] == "/bare" else house)(
        environ, start
    )


def ask(application: Callable[..., Any], path: str, **headers: str) -> tuple[str, dict[str, str], bytes]:
    """Answer one GET and return status, headers and body."""
    environ: dict[str, Any] = {
        "REQUEST_METHOD": "GET",
        "PATH_INFO": path,
        "SERVER_NAME": "localhost",
        "SERVER_PORT": "80",
        "SERVER_PROTOCOL": "HTTP/1.1",
        "wsgi.input": io.BytesIO(),
        "wsgi.errors": sys.stderr,
        "wsgi.url_scheme": "http",
        "wsgi.version": (1, 0),
        **{f"HTTP_{name.upper()}": value for name, value in headers.items()},
    }
    told: dict[str, Any] = {}

    def start(status: str, fields: Sequence[tuple[str, str]], *_: object) -> None:
        told.update(status=status, fields=dict(fields))

    answer = application(environ, start)
    body = b"".join(answer)
    answer.close()
    return told["status"], told["fields"], body


def cpu_us(work: Callable[[], object], rounds: int) -> float:
    """Processor time of one call in microseconds: the median of several runs."""
    found = []
    for _ in range(7):
        begun = time.process_time()
        for _ in range(max(1, rounds // 7)):
            work()
        found.append((time.process_time() - begun) / max(1, rounds // 7) * 1e6)
    return round(statistics.median(found), 1)


def in_process(token: str, rounds: int) -> None:
    """Processor time of each kind of answer, and its ratio to a bare view's and to the 304's."""
    from django.core.signals import request_finished, request_started
    from django.core.wsgi import get_wsgi_application
    from django.db import close_old_connections

    from landscape_care.visits.models import Visit

    # A server keeps its connection; SQLite would be opened anew for each request.
    request_started.disconnect(close_old_connections)
    request_finished.disconnect(close_old_connections)
    bare, application = beside(), get_wsgi_application()
    path = f"/calendars/{token}.ics"
    _, fields, zipped = ask(application, path, accept_encoding="gzip")
    held = {"accept_encoding": "gzip", "if_none_match": fields["ETag"]}
    count = gzip.decompress(zipped).count(b"BEGIN:VEVENT")
    assert (ask(application, path, **held)[0], count) == ("304 Not Modified", EVENTS)
    null, chain = cpu_us(lambda: ask(bare, BARE), rounds), cpu_us(lambda: ask(application, BARE), rounds)
    unchanged = cpu_us(lambda: ask(application, path, **held), rounds)
    full = cpu_us(lambda: ask(application, path, accept_encoding="gzip"), rounds)
    plain = cpu_us(lambda: ask(application, path), rounds // 5)
    say("bare view, no middleware", cpu_us=null)
    say("bare view, middleware of the house", cpu_us=chain)
    say("unchanged, 304", cpu_us=unchanged, to_bare=round(unchanged / null, 2))
    say("unchanged, gzip", cpu_us=full, events=count, bytes=len(zipped), to_304=round(full / unchanged, 2))
    say("unchanged, identity", cpu_us=plain, to_304=round(plain / unchanged, 2))
    numbers = list(Visit.objects.values_list("pk", flat=True))
    changed = cpu_us(lambda: change_and_ask(application, path, random.choice(numbers)), 35)
    alone = cpu_us(lambda: change(random.choice(numbers)), 35)
    say("one of 500 changed, gzip", cpu_ms=round((changed - alone) / 1000, 2))
    say("all of 500 made anew, gzip", cpu_ms=round(cpu_us(lambda: make_anew(application, path), 7) / 1000, 2))


def change(number: int) -> None:
    """Move a visit, as an announcement does."""
    from landscape_care.visits.models import Visit

    row = Visit.objects.get(pk=number)
    row.leaves_at = clock(random.randint(15, 20), random.randint(0, 59))
    row.revision, row.changed_at = row.revision + 1, datetime.now(UTC)
    row.save()


def change_and_ask(application: Callable[..., Any], path: str, number: int) -> None:
    """Move a visit and read the calendar."""
    change(number)
    assert ask(application, path, accept_encoding="gzip")[0] == "200 OK"


def make_anew(application: Callable[..., Any], path: str) -> None:
    """Read a calendar of which nothing is stored."""
    from landscape_care.calendars.models import CalendarFile

    CalendarFile.objects.all().delete()
    assert ask(application, path, accept_encoding="gzip")[0] == "200 OK"


# --- Behind a server --------------------------------------------------------------------------


@contextmanager
def server(workers: int) -> Iterator[int]:
    """The house behind gunicorn on a free port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    choices = ["--workers", str(workers), "--bind", f"127.0.0.1:{port}", "--log-level", "error"]
    command = [sys.executable, "-m", "gunicorn", *choices, "tests.benchmarks.feeds:served()"]
    process = subprocess.Popen(command, env=os.environ)
    try:
        wait_for(port)
        yield port
    finally:
        process.terminate()
        process.wait()


def wait_for(port: int) -> None:
    """Wait until something listens."""
    for _ in range(200):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise RuntimeError(f"nothing answers on port {port}")


async def fetch(port: int, path: str, headers: str = "") -> bytes:
    """One GET over a connection of its own."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(f"GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n{headers}\r\n".encode())
    answer = await reader.read()
    writer.close()
    return answer


async def answers_in(port: int, path: str, headers: str, seconds: float) -> float:
    """Answers a second to eight readers at once."""
    ends, count = time.perf_counter() + seconds, 0

    async def reader() -> None:
        nonlocal count
        while time.perf_counter() < ends:
            await fetch(port, path, headers)
            count += 1

    await asyncio.gather(*(reader() for _ in range(8)))
    return count / seconds


def worker_seconds() -> float:
    """Processor time of the server's processes so far."""
    return sum(sum(each.cpu_times()[:2]) for each in psutil.Process().children(recursive=True))


def load(port: int, asked: dict[str, tuple[str, str]], seconds: float) -> dict[str, dict[str, float]]:
    """Answers a second and processor time of each kind, taken in turns; the median turn counts."""
    turns: dict[str, list[tuple[float, float]]] = {name: [] for name in asked}
    for _ in range(TURNS):
        for name, (path, headers) in asked.items():
            before = worker_seconds()
            rate = asyncio.run(answers_in(port, path, headers, seconds / TURNS))
            turns[name].append((rate, (worker_seconds() - before) / (rate * seconds / TURNS) * 1e6))
    return {
        name: {
            "per_second": round(statistics.median(rate for rate, _ in found), 1),
            "cpu_us": round(statistics.median(spent for _, spent in found)),
        }
        for name, found in turns.items()
    }


def tag_of(answer: bytes) -> str:
    """The ETag in an answer."""
    lines = answer.partition(b"\r\n\r\n")[0].decode("latin-1").split("\r\n")
    return next(line.partition(": ")[2] for line in lines if line.lower().startswith("etag"))


def behind_a_server(token: str, seconds: float) -> None:
    """Answers a second of one worker, for a bare view, the 304 and the zipped file."""
    path, zipped = f"/calendars/{token}.ics", "Accept-Encoding: gzip\r\n"
    with server(1) as port:
        full = asyncio.run(fetch(port, path, zipped))
        held = f"{zipped}If-None-Match: {tag_of(full)}\r\n"
        assert b" 304 " in asyncio.run(fetch(port, path, held))[:20]
        asked = {"bare view": (BARE, ""), "304": (path, held), "gzip": (path, zipped)}
        found = load(port, asked, seconds)
    bare = found["bare view"]
    for name, figures in found.items():
        ratios = {f"{what}_to_bare": round(figures[what] / bare[what], 2) for what in figures}
        say(f"served, {name}", **figures, **ratios)
    static_by_nginx(full.partition(b"\r\n\r\n")[2], seconds, found["304"]["per_second"])


def static_by_nginx(zipped: bytes, seconds: float, unchanged: float) -> None:
    """The same file as a static one, where nginx is installed."""
    program = shutil.which("nginx")
    if not program:
        say("nginx static: not measured, nginx is not installed")
        return
    with tempfile.TemporaryDirectory() as folder, socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
        free.close()
        (Path(folder) / "feed.ics").write_bytes(gzip.decompress(zipped))
        (Path(folder) / "nginx.conf").write_text(
            f"daemon off; master_process off; pid {folder}/pid; error_log {folder}/log; "
            f"events {{}} http {{ access_log off; server {{ listen 127.0.0.1:{port}; root {folder}; }} }}"
        )
        process = subprocess.Popen([program, "-c", f"{folder}/nginx.conf"])
        try:
            wait_for(port)
            held = f"If-None-Match: {tag_of(asyncio.run(fetch(port, '/feed.ics')))}\r\n"
            found = asyncio.run(answers_in(port, "/feed.ics", held, seconds))
        finally:
            process.terminate()
            process.wait()
    say("nginx static 304", per_second=found, ours_to_it=round(unchanged / found, 3))


# --- Many gardens -----------------------------------------------------------------------------


def add_gardens(count: int) -> list[str]:
    """So many gardens with four visits each; the tokens of their calendars."""
    from landscape_care.calendars.models import Address
    from landscape_care.calendars.queries import digest_of
    from landscape_care.properties.models import Property
    from landscape_care.visits.models import Visit

    places = Property.objects.bulk_create([garden(f"g{n}") for n in range(count)], batch_size=500)
    days = [TODAY + timedelta(7 * n) for n in range(4)]
    visits = (visit_on(place, day, n) for place in places for n, day in enumerate(days))
    Visit.objects.bulk_create(visits, batch_size=500)
    tokens = [f"benchmark-{n:028d}" for n in range(count)]
    Address.objects.bulk_create(
        (
            Address(digest=digest_of(token), audience="property", property=place, name="reader")
            for token, place in zip(tokens, places, strict=True)
        ),
        batch_size=500,
    )
    return tokens


async def polled(port: int, requests: Sequence[tuple[str, str]], rate: float) -> list[tuple[float, bytes]]:
    """Send requests at moments with jitter, whether or not the ones before were answered."""

    async def one(at: float, path: str, headers: str) -> tuple[float, bytes]:
        await asyncio.sleep(at)
        begun = time.perf_counter()
        answer = await fetch(port, path, headers)
        return time.perf_counter() - begun, answer

    span = len(requests) / rate
    moments = sorted(random.uniform(0, span) for _ in requests)
    return await asyncio.gather(*(one(at, *each) for at, each in zip(moments, requests, strict=True)))


def many_gardens(count: int, seconds: float) -> None:
    """Poll gardens 100 times a second, of which some changed since they were read last."""
    from landscape_care.visits.models import Visit

    tokens, rate = add_gardens(count), 100.0
    chosen = random.sample(range(count), min(count, int(seconds * rate)))
    with server(2) as port:
        held = asyncio.run(read_all(port, [tokens[n] for n in chosen]))
        moved = {n for n in chosen if random.random() < SHARE_CHANGED}
        for n in moved:
            change(Visit.objects.filter(property__code=f"g{n}").values_list("pk", flat=True)[1])
        answers = asyncio.run(polled(port, held, rate))
    waits = sorted(wait for wait, _ in answers)
    say(
        f"{count} gardens at {rate:g} a second",
        answers=len(answers),
        unchanged=sum(b" 304 " in answer[:20] for _, answer in answers),
        changed=sum(b" 200 " in answer[:20] for _, answer in answers),
        changed_indeed=len(moved),
        p50_ms=round(waits[len(waits) // 2] * 1000, 1),
        p99_ms=round(waits[int(len(waits) * 0.99)] * 1000, 1),
    )


async def read_all(port: int, tokens: Sequence[str]) -> list[tuple[str, str]]:
    """Read each calendar once, one after the other; what a reader asks the next time."""
    paths = [f"/calendars/{token}.ics" for token in tokens]
    return [(path, f"If-None-Match: {tag_of(await fetch(port, path))}\r\n") for path in paths]


if __name__ == "__main__":
    main()
