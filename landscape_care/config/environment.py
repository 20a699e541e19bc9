"""Prepare the Python environment of this folder, with nothing but Python and pip.

Read by whatever Python a machine has, so it keeps to the syntax of Python 3.6: an old one must
get as far as the sentence that says it is too old.
"""

import fcntl
import hashlib
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
FOLDER = ROOT / ".venv"
PYTHON = FOLDER / "bin" / "python"
STAMP = FOLDER / "landscape-care.stamp"
RUNTIME = ROOT / "requirements.txt"
TESTS = ROOT / "requirements-test.txt"
OLDEST = (3, 11)
LONG_HALF = "tests/integration"


def enter_environment(command: str) -> None:
    """Continue in the prepared environment, preparing it first where needed."""
    refuse_old_python(tuple(sys.version_info[:3]))
    if os.environ.get("LANDSCAPE_CARE_ENVIRONMENT") == "given":
        return
    fitting = (TESTS,) if command == "pytest" else (RUNTIME, TESTS)
    if not is_prepared(fitting):
        prepare(fitting)
    if Path(sys.prefix) != FOLDER:
        os.execv(str(PYTHON), [str(PYTHON), str(ROOT / "manage.py"), *sys.argv[1:]])


def refuse_old_python(version: "tuple[int, ...]") -> None:
    """Stop with one sentence on a Python older than the oldest we support."""
    if version[:2] < OLDEST:
        stop(
            "Landscape Care needs Python {}.{} or newer and this is Python {}; "
            "run it with a newer one, for example: python3.11 manage.py start".format(
                OLDEST[0], OLDEST[1], ".".join(str(part) for part in version)
            )
        )


def is_prepared(fitting: "tuple[Path, ...]") -> bool:
    """Say whether the environment runs and holds the packages of one of these requirement files."""
    if not (PYTHON.exists() and STAMP.exists()):
        return False
    return STAMP.read_text().strip() in {digest(requirements) for requirements in fitting}


def prepare(fitting: "tuple[Path, ...]") -> None:
    """Make the environment and install the first of these requirement files into it."""
    if not os.access(str(ROOT), os.W_OK):
        stop("Landscape Care cannot write to its folder {}; copy it to a folder of your own.".format(ROOT))
    lock = os.open(str(ROOT), os.O_RDONLY)
    fcntl.flock(lock, fcntl.LOCK_EX)
    try:
        if not is_prepared(fitting):
            make_folder()
            install(fitting[0])
    finally:
        os.close(lock)


def make_folder() -> None:
    """Make an environment without its own pip, which also works where ensurepip is missing."""
    if PYTHON.exists():
        return
    made = run([base_python(), "-m", "venv", "--without-pip", "--clear", str(FOLDER)])
    if made.returncode:
        stop("Python could not make the folder {}: {}".format(FOLDER, last_line(made.stdout)))


def install(requirements: Path) -> None:
    """Install exactly the pinned packages, each checked against its hash."""
    say("Installing Python packages into .venv (once; usually under a minute) ...")
    began = time.monotonic()
    # Modules are compiled when they are first imported; compiling all of them here takes as long as the rest.
    arguments = ["--python", str(PYTHON), "install", "--quiet", "--no-compile", "--no-input"]
    arguments += ["--disable-pip-version-check", "--require-hashes", "-r", str(requirements)]
    installed = run([base_python(), "-m", "pip", *arguments])
    if installed.returncode:
        stop(explain_pip(installed.stdout))
    STAMP.write_text(digest(requirements) + "\n")
    say("Python packages are ready after {:.0f} s.".format(time.monotonic() - began))


def explain_pip(output: str) -> str:
    """Say in a sentence why pip failed, with its own last words."""
    if "No module named pip" in output:
        return "This Python has no pip; install it first (on Debian and Ubuntu: apt install python3-pip)."
    if "no such option: --python" in output:
        return "This pip is older than 22.3; renew it first: python3 -m pip install --upgrade pip"
    if "HASHES" in output or "hashes" in output:
        return (
            "A package differs from the one that was pinned, so nothing was installed. pip said: "
            + last_line(output)
        )
    return (
        "The Python packages could not be installed; is this machine online? "
        "Run the same command again when it is. pip said: " + last_line(output)
    )


def run_tests(arguments: "list[str]") -> int:
    """Run pytest as asked; without arguments, all tests and then those that need PostgreSQL.

    The long half runs while the other one does, each in a process with a database of its own.
    """
    if arguments:
        return run_pytest(*arguments)
    with tempfile.TemporaryFile() as output:
        began = time.monotonic()
        beside = subprocess.Popen(
            pytest_command("--ignore", LONG_HALF), cwd=str(ROOT), stdout=output, stderr=subprocess.STDOUT
        )
        say("Tests on SQLite, {}:".format(LONG_HALF))
        long_half = run_pytest(LONG_HALF)
        say("Tests on SQLite, all other folders, run at the same time:")
        other_half = beside.wait()
        output.seek(0)
        sys.stdout.write(output.read().decode(errors="replace"))
    say("Tests that need PostgreSQL, and those that matter on both:")
    on_postgres = run_pytest("--database", "postgres", "-m", "postgres or both")
    say("All tests took {:.0f} s.".format(time.monotonic() - began))
    return long_half or other_half or on_postgres


def run_pytest(*arguments: str) -> int:
    """Run pytest in a process of its own, so that each run has one database from start to end."""
    return subprocess.call(pytest_command(*arguments), cwd=str(ROOT))


def pytest_command(*arguments: str) -> "list[str]":
    """Name the command that runs pytest in this environment."""
    return [sys.executable, "-m", "pytest", *arguments]


def run(command: "list[str]") -> "subprocess.CompletedProcess[str]":
    """Run a command with the caller's pip settings, except those that would install elsewhere."""
    surroundings = {**os.environ, "PIP_USER": "0", "PIP_REQUIRE_VIRTUALENV": "0"}
    for name in ("PIP_TARGET", "PIP_PREFIX", "PYTHONHOME", "PYTHONPATH"):
        surroundings.pop(name, None)
    return subprocess.run(
        command,
        env=surroundings,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        universal_newlines=True,
        check=False,
    )


def base_python() -> str:
    """Name the Python that was called, or the one behind `.venv`, which itself has no pip."""
    if Path(sys.prefix) == FOLDER:
        return str(getattr(sys, "_base_executable", sys.executable))
    return sys.executable


def digest(requirements: Path) -> str:
    """SHA-256 of a requirement file."""
    return hashlib.sha256(requirements.read_bytes()).hexdigest()


def last_line(output: str) -> str:
    """Return the last line that says something."""
    lines = [line.strip() for line in output.splitlines() if line.strip()]
    return lines[-1] if lines else "nothing"


def say(sentence: str) -> None:
    """Print a line at once, also into a pipe."""
    print(sentence, flush=True)


def stop(sentence: str) -> None:
    """End with one plain sentence and no traceback."""
    sys.exit(sentence)
