"""Put each fault of `faults.toml` into a copy of the project and see that the tests find it.

`python -m tests.mutation [NAME ...]` prints a line for each fault: found and by which test, or missed;
it ends with 1 when one was missed. A fault whose text is not found once in its file is an error, so
that none goes stale. First the tests named have to pass without any fault.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
PROJECT = HERE.parent.parent
COPIED = ("landscape_care", "templates", "tests", "manage.py", "pyproject.toml")
LEFT_OUT = shutil.ignore_patterns("__pycache__", "*.pyc")


@dataclass(frozen=True)
class Fault:
    """A change of one line that makes planning wrong, and the tests that have to find it."""

    name: str
    says: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]


def faults() -> list[Fault]:
    """All faults in the order of the file."""
    tables = tomllib.loads((HERE / "faults.toml").read_text())
    return [Fault(name, **{**table, "tests": tuple(table["tests"])}) for name, table in tables.items()]


def text_with(fault: Fault, project: Path) -> str:
    """The text of the file with the fault in it."""
    text = (project / fault.file).read_text()
    if text.count(fault.old) != 1:
        raise SystemExit(f"{fault.name}: {fault.old!r} stands {text.count(fault.old)} times in {fault.file}")
    return text.replace(fault.old, fault.new)


def first_failure(project: Path, tests: tuple[str, ...]) -> str:
    """The first test that fails in a copy; empty when all pass."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    # A case need not be made small to be found.
    environment = {**os.environ, "CARE_YEARS": "40x30", "CARE_YEARS_STORED": "5x20"}
    ran = subprocess.run(command, cwd=project, capture_output=True, text=True, env=environment, check=False)
    if ran.returncode not in (0, 1):
        raise SystemExit(ran.stdout + ran.stderr)
    failed = [line for line in ran.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return failed[0].partition("::")[2].partition(" - ")[0] if failed else ""


def main(names: list[str]) -> int:
    """Try the faults named, or all."""
    tried = [fault for fault in faults() if not names or fault.name in names]
    missed = 0
    with tempfile.TemporaryDirectory() as folder:
        project = Path(folder)
        for name in COPIED:
            source = PROJECT / name
            if source.is_dir():
                shutil.copytree(source, project / name, ignore=LEFT_OUT)
            else:
                shutil.copy(source, project / name)
        every = tuple(dict.fromkeys(test for fault in tried for test in fault.tests))
        if broken := first_failure(project, every):
            raise SystemExit(f"without a fault {broken} fails: mend it first")
        for fault in tried:
            right = (project / fault.file).read_text()
            (project / fault.file).write_text(text_with(fault, project))
            found = first_failure(project, fault.tests)
            (project / fault.file).write_text(right)
            missed += not found
            print(f"{'found' if found else 'MISSED'}: {fault.name}: {fault.says}: {found}", flush=True)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
