"""The first run needs Python and pip only, and says in a sentence what it lacks."""

import ast
import os
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import pytest

from landscape_care.config import environment

ROOT = Path(__file__).parents[2]
PYTHON_WITH_PIP = str(getattr(sys, "_base_executable", sys.executable))
PACKAGE = "amqp==5.4.2 --hash=sha256:" + 64 * "0"


@pytest.fixture
def clone(tmp_path: Path) -> Path:
    """A folder with what the first lines of manage.py need, and no requirements."""
    config = tmp_path / "landscape_care" / "config"
    config.mkdir(parents=True)
    (tmp_path / "landscape_care" / "__init__.py").touch()
    (config / "__init__.py").touch()
    (config / "environment.py").write_text((ROOT / "landscape_care/config/environment.py").read_text())
    for name in ("requirements.txt", "requirements-test.txt"):
        (tmp_path / name).write_text(f"# {name}\n")
    return tmp_path


def in_clone(clone: Path, code: str, **variables: str) -> "subprocess.CompletedProcess[str]":
    """Run code of the bootstrap on a Python that has pip, with no registry within reach."""
    unreachable = {"PIP_CONFIG_FILE": os.devnull, "PIP_INDEX_URL": "http://127.0.0.1:9/", "PIP_RETRIES": "0"}
    return subprocess.run(
        [PYTHON_WITH_PIP, "-c", f"from landscape_care.config.environment import *; {code}"],
        cwd=clone,
        env={"PATH": os.environ["PATH"], **unreachable, **variables},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.mark.parametrize("file", ["manage.py", "landscape_care/config/environment.py"])
def test_an_old_python_can_read_as_far_as_the_sentence(file: str) -> None:
    ast.parse((ROOT / file).read_text(), feature_version=(3, 6))


def test_an_old_python_is_refused_in_one_sentence() -> None:
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer and this is Python 3\.10\.13"):
        environment.refuse_old_python((3, 10, 13))
    environment.refuse_old_python((3, 11, 0))


def test_the_environment_is_made_without_ensurepip_and_stamped(clone: Path) -> None:
    made = in_clone(clone, "prepare((RUNTIME, TESTS)); assert is_prepared((RUNTIME, TESTS))")
    assert made.returncode == 0, made.stderr
    assert "Python packages are ready" in made.stdout
    assert not list((clone / ".venv").glob("lib/*/site-packages/pip"))
    stamp = (clone / ".venv" / "landscape-care.stamp").read_text().strip()
    assert stamp == sha256((clone / "requirements.txt").read_bytes()).hexdigest()


def test_packages_for_tests_serve_the_site_but_not_the_other_way_round(clone: Path) -> None:
    both = "print(is_prepared((RUNTIME, TESTS)), is_prepared((TESTS,)))"
    assert in_clone(clone, f"say = lambda line: None; prepare((RUNTIME,)); {both}").stdout.endswith(
        "True False\n"
    )
    assert in_clone(clone, f"prepare((TESTS,)); {both}").stdout.endswith("True True\n")


def test_changed_requirements_are_noticed(clone: Path) -> None:
    in_clone(clone, "prepare((RUNTIME,))")
    (clone / "requirements.txt").write_text("# changed\n")
    assert in_clone(clone, "print(is_prepared((RUNTIME, TESTS)))").stdout == "False\n"


def test_an_environment_whose_python_is_gone_is_made_anew(clone: Path) -> None:
    in_clone(clone, "prepare((RUNTIME,))")
    for link in (clone / ".venv" / "bin").glob("python*"):
        link.unlink()
    made = in_clone(clone, "prepare((RUNTIME,))")
    assert made.returncode == 0, made.stderr
    assert (clone / ".venv" / "bin" / "python").exists()


def test_a_machine_that_is_offline_is_told_so_and_nothing_is_stamped(clone: Path) -> None:
    (clone / "requirements.txt").write_text(PACKAGE + "\n")
    refused = in_clone(clone, "prepare((RUNTIME,))")
    assert refused.returncode == 1
    assert "could not be installed; is this machine online?" in refused.stderr
    assert "Traceback" not in refused.stderr
    assert not (clone / ".venv" / "landscape-care.stamp").exists()


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written_is_named(clone: Path) -> None:
    clone.chmod(0o555)
    refused = in_clone(clone, "prepare((RUNTIME,))")
    assert f"cannot write to its folder {clone}" in refused.stderr


@pytest.mark.parametrize(
    ("output", "sentence"),
    [
        ("/usr/bin/python3: No module named pip", "This Python has no pip; install it first"),
        ("no such option: --python", "This pip is older than 22.3"),
        (
            "ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.",
            "nothing was installed",
        ),
    ],
)
def test_what_pip_says_becomes_a_sentence(output: str, sentence: str) -> None:
    assert sentence in environment.explain_pip(output)
