"""Check calendar files, write them out, or give out an address."""

import urllib.error
import urllib.request
from argparse import ArgumentParser
from collections.abc import Mapping
from http.client import HTTPMessage
from pathlib import Path
from typing import IO, Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from landscape_care.calendars import actions, queries
from landscape_care.calendars.checking import Fault, check
from landscape_care.calendars.filing import current_file
from landscape_care.calendars.models import Address, Audience, Shows
from landscape_care.calendars.options import LONGEST_AHEAD_DAYS, LONGEST_PAST_DAYS, Options
from landscape_care.care.catalog import STEMS
from landscape_care.people.models import Language

PATIENCE_SECONDS = 20
_WANTED_HEADERS = ("ETag", "Last-Modified", "Content-Length")


class Command(BaseCommand):
    """`calendars --check FILE_OR_URL`, `--out FOLDER` or `--issue AUDIENCE CODE`."""

    help = "Check a calendar file or address, write all live calendars, or issue an address."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Name the three verbs."""
        verbs = parser.add_mutually_exclusive_group(required=True)
        verbs.add_argument("--check", metavar="FILE_OR_URL", help="name line and rule of every fault")
        verbs.add_argument("--out", metavar="FOLDER", type=Path, help="write the file of every live address")
        verbs.add_argument(
            "--issue", nargs="+", metavar="WORD", help="AUDIENCE CODE, such as property casa-14; or company"
        )
        parser.add_argument("--name", default="", help="who the address is for, such as 'crew 3, phone'")
        parser.add_argument("--language", choices=Language.values, default="en")
        shown = parser.add_argument_group(
            "what an issued calendar shows; left out, the usual of its audience"
        )
        shown.add_argument("--shows", choices=Shows.values, default="all")
        shown.add_argument(
            "--kinds", nargs="+", default=[], metavar="KIND", help=f"some of {', '.join(STEMS)}"
        )
        shown.add_argument("--past-days", type=int, metavar="DAYS", help=f"0 to {LONGEST_PAST_DAYS}")
        shown.add_argument("--ahead-days", type=int, metavar="DAYS", help=f"1 to {LONGEST_AHEAD_DAYS}")
        shown.add_argument("--alarm-minutes", type=int, metavar="MINUTES", help="before a visit")

    def handle(self, *args: object, **options: Any) -> None:
        """Do the one that was asked for."""
        if options["check"]:
            self._check(options["check"])
        elif options["out"]:
            self._write(options["out"])
        else:
            self._issue(options["issue"], options)

    def _check(self, where: str) -> None:
        faults = (
            _check_address(where) if where.startswith(("http://", "https://")) else check(_read(Path(where)))
        )
        for fault in faults:
            self.stdout.write(str(fault))
        if faults:
            raise CommandError(f"{len(faults)} faults in this calendar")
        self.stdout.write("No fault found.")

    def _write(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        now = timezone.now()
        files: dict[str, Address] = {}
        for address in queries.live_addresses():
            name = _file_name(address)
            files[f"{name}-{address.hint}.ics" if f"{name}.ics" in files else f"{name}.ics"] = address
        for name, address in sorted(files.items()):
            _replace(folder / name, current_file(address, now))
        self.stdout.write(f"{len(files)} calendars written to {folder}")

    def _issue(self, words: list[str], given: Mapping[str, Any]) -> None:
        audience, code = words[0], "".join(words[1:2])
        if audience not in Audience.values or len(words) > 2 or bool(code) == (audience == Audience.COMPANY):
            raise CommandError(
                f"{' '.join(words)}: {', '.join(Audience.values)}, then a code except for the company"
            )
        target = queries.target(audience, code)
        if target is None and code:
            raise CommandError(f"{code}: no {audience} has this code")
        name, language = given["name"] or code or audience, given["language"]
        try:
            shown = _shown(given)
            _, token = actions.issue(audience, target, name=name, language=language, options=shown, by=None)
        except ValueError as wrong:
            raise CommandError(str(wrong)) from wrong
        self.stdout.write("Shown only now, keep it secret:")
        self.stdout.write(f"{settings.SITE_URL}/calendars/{token}.ics")


def _shown(given: Mapping[str, Any]) -> Options:
    return Options(
        shows=given["shows"],
        stems=tuple(given["kinds"]),
        past_days=given["past_days"],
        ahead_days=given["ahead_days"],
        alarm_minutes=given["alarm_minutes"],
    )


def _replace(path: Path, body: bytes) -> None:
    """Write beside it and rename, so that a web server never sends half a file."""
    beside = path.with_name(f".{path.name}.new")
    beside.write_bytes(body)
    beside.replace(path)


def _file_name(address: Address) -> str:
    shows = "" if address.shows == Shows.ALL else address.shows
    return "-".join(filter(None, (address.audience, queries.target_code(address), address.language, shows)))


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise CommandError(f"{path} cannot be read: {error.strerror}") from error


class _Straight(urllib.request.HTTPRedirectHandler):
    def redirect_request(
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: HTTPMessage,
        newurl: str,
    ) -> None:
        """Follow nothing: a redirect would be a fault of the address."""


def _check_address(where: str) -> list[Fault]:
    opener = urllib.request.build_opener(_Straight)
    try:
        with opener.open(where, timeout=PATIENCE_SECONDS) as answer:
            body = answer.read()
            return [*_headers(answer.headers), *check(body)]
    except urllib.error.HTTPError as error:
        return [Fault(0, "answer", f"status {error.code}; 200 without a redirect is right")]
    except OSError as error:
        raise CommandError(f"{where} does not answer: {error}") from error


def _headers(headers: Mapping[str, str]) -> list[Fault]:
    faults = [Fault(0, "RFC 9110", f"no {name}") for name in _WANTED_HEADERS if not headers.get(name)]
    kind = (headers.get("Content-Type") or "").lower()
    if not kind.startswith("text/calendar") or "charset=utf-8" not in kind:
        faults.append(
            Fault(0, "RFC 5545 8.1", f"Content-Type is {kind!r}; text/calendar; charset=utf-8 is right")
        )
    if "method=" in kind:
        faults.append(Fault(0, "RFC 5545 8.1", "Content-Type has a method, the file has none"))
    if headers.get("Set-Cookie"):
        faults.append(Fault(0, "feed", "a cookie is set"))
    return faults
