"""Compute one figure of the almanac or the trades from numbers on the command line."""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from landscape_care.trades import reckoning
from landscape_care.trades.limits import Refused
from landscape_care.trades.reckoning import Answer, Input, Reckoning, Table, Told


class Command(BaseCommand):
    """`python3 manage.py reckon spray_minutes net_in=0.276 precipitation_in_h=2`."""

    help = "Compute a figure: reckon NAME input=value ...; --list names them all with inputs and source."
    # Nothing is asked of the database.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The name, the inputs, and how to answer."""
        parser.add_argument("name", nargs="?", help="what to compute")
        parser.add_argument("inputs", nargs="*", metavar="input=value", help="days as 2027-06-21")
        parser.add_argument("--list", action="store_true", help="name every computation")
        parser.add_argument("--json", action="store_true", help="answer as JSON")
        parser.add_argument("--language", choices=("en", "es"), default="en")

    def handle(self, *args: Any, **options: Any) -> None:
        """List the computations, or compute one."""
        if options["list"]:
            self._list(as_json=options["json"])
        elif not options["name"]:
            raise CommandError("Name a computation, or ask for --list.")
        else:
            self._write(_answered(options["name"], options["inputs"]), options)

    def _list(self, *, as_json: bool) -> None:
        found = reckoning.reckonings().values()
        if as_json:
            self.stdout.write(json.dumps([reckoning.shown(each) for each in found], ensure_ascii=False))
            return
        for craft, several in reckoning.by_craft():
            self.stdout.write(f"{reckoning.CRAFTS[craft][0]}\n")
            for each in several:
                self.stdout.write("\n".join(_described(each)))

    def _write(self, answer: Answer, options: dict[str, Any]) -> None:
        if options["json"]:
            written = {
                "name": answer.reckoning.name,
                "inputs": reckoning.plain(answer.given),
                "value": reckoning.plain(answer.value),
                "unit": answer.reckoning.unit,
                "formula": answer.reckoning.formula_en,
                "source": answer.reckoning.source_en,
            }
            self.stdout.write(json.dumps(written, ensure_ascii=False))
            return
        language = options["language"]
        self.stdout.write("\n".join(_lines(reckoning.in_words(answer, language))))
        asked = answer.reckoning
        spanish = (asked.formula_es, asked.source_es)
        self.stdout.write(
            "  {}\n  {}".format(*spanish if language == "es" else (asked.formula_en, asked.source_en))
        )


def _answered(name: str, inputs: list[str]) -> Answer:
    parted = [each.partition("=") for each in inputs]
    odd = [given for given, sign, _ in parted if not sign]
    if odd:
        raise CommandError(f"{odd[0]!r} is no input: write it as name=value.")
    given = {key.strip().replace("-", "_"): value for key, _, value in parted}
    if len(given) < len(parted):
        raise CommandError("An input is given twice.")
    try:
        return reckoning.answer(reckoning.reckoning(name), given)
    except Refused as refused:
        raise CommandError(str(refused), returncode=2) from None
    except ValueError as unknown:
        raise CommandError(str(unknown), returncode=2) from None


def _lines(told: Told) -> list[str]:
    tables = [row for table in told.tables for row in _columns(table)]
    return [*(f"{label}: {found}" for label, found in told.figures), *told.sentences, *tables]


def _columns(table: Table) -> list[str]:
    rows = [table.head, *table.rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.head))]
    padded = ("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)
    return [row.rstrip() for row in padded]


def _described(each: Reckoning) -> list[str]:
    return [
        f"  {each.name}{f' [{each.unit}]' if each.unit else ''}: {each.title_en}",
        *(f"      {_input(one)}" for one in each.inputs),
        f"      = {each.formula_en}",
        f"      {each.source_en}\n",
    ]


def _input(each: Input) -> str:
    unit = f" [{each.unit}]" if each.unit else ""
    bounds = "" if each.low is None else f", {_bounds(each)}"
    choices = f", one of {' '.join(each.choices)}" if each.choices else ""
    usual = "" if each.is_required else f", may be left out ({reckoning.plain(each.default)})"
    return f"{each.name}{unit}: {each.label_en}, {each.kind}{bounds}{choices}{usual}"


def _bounds(each: Input) -> str:
    if each.high is None:
        return f"above {each.low:g}" if each.is_open else f"{each.low:g} or more"
    return f"{each.low:g} to {each.high:g}"
