"""Let other calendar programs read the calendars of the demo company, and compare with the database.

    python -m tests.consumers                 # all readers; those that are not here are named
    python -m tests.consumers --demand        # a missing reader is a failure
    TOOLS=~/tools/bin python -m tests.consumers   # where pip put khal, vdirsyncer and radicale

Each reader must find the same entries: UID, start, end and status. Node.js with npm, gcc with
libical-dev, and an environment with khal, vdirsyncer and radicale are wanted beside the tests'
own libraries; ical.js is fetched into a temporary folder.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from tests.benchmarks.company import begin
from tests.consumers.in_python import READERS as IN_PYTHON
from tests.consumers.occurrences import Occurrence
from tests.consumers.programs import READERS as PROGRAMS
from tests.consumers.programs import Feed, Found, Missing

Expected = dict[str, list[Occurrence]]


def main(argv: list[str] | None = None) -> int:
    """Compare all readers; the number of those that found something else."""
    options = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    options.add_argument("--demand", action="store_true", help="a reader that is missing is a failure")
    options.add_argument("--only", nargs="+", default=[*IN_PYTHON, *PROGRAMS], metavar="READER")
    given = options.parse_args(argv)
    begin()
    from tests.benchmarks.feeds import server
    from tests.consumers.company import open_company

    addresses = open_company()
    with server(2) as port:
        feeds, expected = read(port, addresses)
        print(f"{len(feeds)} calendars with {sum(map(len, expected.values()))} entries", flush=True)
        return sum(outcome(name, feeds, expected, demand=given.demand) for name in given.only)


def read(port: int, addresses: dict[str, str]) -> tuple[list[Feed], Expected]:
    """The calendars as they are served, and what the database tells of each."""
    from tests.consumers.company import fetched, told

    feeds = [
        Feed(name, address, fetched(address))
        for name, token in addresses.items()
        for address in [f"http://127.0.0.1:{port}/calendars/{token}.ics"]
    ]
    return feeds, {name: told(token) for name, token in addresses.items()}


def outcome(name: str, feeds: Sequence[Feed], expected: Expected, *, demand: bool) -> int:
    """Say what a reader found; 1 where that is a failure."""
    try:
        with tempfile.TemporaryDirectory(prefix="care-reader-") as folder:
            found = reader(name)(feeds, Path(folder))
    except Missing as missing:
        print(f"{name}: MISSING, {missing}", flush=True)
        return int(demand)
    except Exception as wrong:  # noqa: BLE001 - whatever a reader does, the others are still asked
        print(f"{name}: FAILED, {type(wrong).__name__}: {wrong}", flush=True)
        return 1
    differences = list(differences_of(found, expected))
    same = sum(len(set(found[feed]) & set(each)) for feed, each in expected.items())
    print(f"{name}: {same} of {sum(map(len, expected.values()))} entries the same", flush=True)
    for line in differences[:6]:
        print(f"    {line}", flush=True)
    return int(bool(differences))


def reader(name: str) -> Callable[[Sequence[Feed], Path], Found]:
    """A reader by its name; one that is a library is given the files one by one."""
    if name in PROGRAMS:
        return PROGRAMS[name]
    library = IN_PYTHON[name]
    return lambda feeds, _: {feed.name: library(feed.body) for feed in feeds}


def differences_of(found: Found, expected: Expected) -> Iterator[str]:
    """What a reader has that the database has not, and the other way round."""
    for feed, wanted in expected.items():
        if found[feed] != wanted:
            yield from (f"{feed}: not found {each}" for each in sorted(set(wanted) - set(found[feed])))
            yield from (f"{feed}: found instead {each}" for each in sorted(set(found[feed]) - set(wanted)))
            if len(found[feed]) != len(wanted):
                yield f"{feed}: {len(found[feed])} entries, {len(wanted)} in the database"


if __name__ == "__main__":
    sys.exit(main())
