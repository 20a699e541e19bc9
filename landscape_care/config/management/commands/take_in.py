"""Take gardens, their care so far and crews in from spreadsheets."""

from argparse import ArgumentParser
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from landscape_care.dispatch import intake
from landscape_care.dispatch.intake import IntakeRefused, RowProblem, Source

LONGEST_VALUE = 40


class Command(BaseCommand):
    """`python3 manage.py take_in gardens.xlsx`."""

    help = (
        "Take in XLSX workbooks, CSV files named after their sheet, or a zip of them: all of it or nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The files, and what to do with them."""
        parser.add_argument("files", nargs="*", type=Path, help="workbooks, CSV files, zip files")
        parser.add_argument("--check", action="store_true", help="look at every row and write nothing")
        parser.add_argument("--template", type=Path, metavar="FILE", help="write the empty workbook here")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the template, or check, or check and take in."""
        if options["template"]:
            options["template"].write_bytes(intake.template())
            self.stdout.write(f"Wrote {options['template']}.")
        elif not options["files"]:
            raise CommandError("Name at least one file, or --template FILE.")
        else:
            self._take_in(_sources(options["files"]), check_only=options["check"])

    def _take_in(self, sources: list[Source], *, check_only: bool) -> None:
        found = intake.check(sources, today=timezone.localdate())
        self._refuse(found.problems)
        if check_only:
            self.stdout.write("Everything is right; nothing was written.")
        else:
            self._apply(found)
        self._count(found)

    def _apply(self, found: intake.Found) -> None:
        try:
            intake.take_in(found, by=None)
        except IntakeRefused as refused:
            self._refuse(refused.problems)

    def _refuse(self, problems: Sequence[RowProblem]) -> None:
        if not problems:
            return
        for line in _table(problems):
            self.stderr.write(line)
        many = f"{len(problems)} problem{'s' if len(problems) > 1 else ''}"
        raise CommandError(f"{many}: nothing was written.", returncode=1)

    def _count(self, found: intake.Found) -> None:
        kinds = {f"  {kind}": amount for kind, amount in found.gardens.counts().by_kind}
        for name, amount in (found.counts() | kinds).items():
            self.stdout.write(f"{name.replace('last_care', 'care done before'):<18} {amount:>6}")


def _sources(paths: list[Path]) -> list[Source]:
    missing = [str(path) for path in paths if not path.is_file()]
    if missing:
        raise CommandError(f"No such file: {', '.join(missing)}")
    return [Source.of(path) for path in paths]


def _table(problems: Sequence[RowProblem]) -> list[str]:
    head = ("file", "sheet", "row", "column", "value", "wanted")
    cells = [(p.file, p.sheet, str(p.row or ""), p.column, _short(p.value), p.wanted) for p in problems]
    widths = [max(len(row[column]) for row in (head, *cells)) for column in range(len(head) - 1)]
    return [
        "  ".join([*(cell.ljust(width) for cell, width in zip(row, widths, strict=False)), row[-1]])
        for row in (head, *cells)
    ]


def _short(value: object) -> str:
    text = "" if value is None else str(value)
    return text if len(text) <= LONGEST_VALUE else text[: LONGEST_VALUE - 1] + "…"
