"""Settings refuse nonsense with a sentence, before anything runs on them."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from cryptography.fernet import Fernet

ROOT = Path(__file__).parents[2]
PRODUCTION = {
    "LANDSCAPE_CARE_MODE": "production",
    "SECRET_KEY": "k" * 25 + "0123456789abcdefghijklmnopqrstuvwxyz",
    "FIELD_KEY": Fernet.generate_key().decode(),
    "ALLOWED_HOSTS": "care.example.com",
    "SITE_URL": "https://care.example.com",
}


def manage(folder: Path, *arguments: str, **variables: str) -> "subprocess.CompletedProcess[str]":
    """Run manage.py in a process of its own with nothing in its environment but these variables."""
    surroundings = {"PATH": os.environ["PATH"], "LANDSCAPE_CARE_DATA": str(folder), **variables}
    surroundings["LANDSCAPE_CARE_ENVIRONMENT"] = "given"
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=surroundings,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.mark.parametrize(
    ("variables", "sentence"),
    [
        (
            {"LANDSCAPE_CARE_MODE": "live"},
            "LANDSCAPE_CARE_MODE is 'live': give one of local, production, test",
        ),
        ({"DEBUG": "yes"}, "DEBUG is 'yes': give 1 for yes or 0 for no"),
        ({"DATABASE_URL": "mysql://there/care"}, "DATABASE_URL is not of the form postgres://"),
        ({"REDIS_URL": "http://there"}, "REDIS_URL begins with 'http'"),
        ({"SITE_URL": "care.example.com"}, "SITE_URL is 'care.example.com': give scheme and host"),
        ({"FIELD_KEY": "short"}, "FIELD_KEY is not 32 bytes in URL-safe base64"),
        ({**PRODUCTION, "SECRET_KEY": ""}, "SECRET_KEY is not set"),
        ({**PRODUCTION, "FIELD_KEY": ""}, "FIELD_KEY is not set"),
        ({**PRODUCTION, "ALLOWED_HOSTS": " , "}, "ALLOWED_HOSTS is not set"),
        ({**PRODUCTION, "SITE_URL": ""}, "SITE_URL is not set"),
        ({**PRODUCTION, "DEBUG": "1"}, "DEBUG is 1 in production"),
        ({"ROAD_ENGINE": "http://roads.example.com/table/v1/driving"}, "leads to roads.example.com"),
        ({"LANDSCAPE_CARE_DATA": "/proc/nowhere"}, "/proc/nowhere cannot be written"),
    ],
)
def test_a_wrong_setting_is_named_in_one_sentence(
    tmp_path: Path, variables: dict[str, str], sentence: str
) -> None:
    answer = manage(tmp_path, "check", **variables)
    assert answer.returncode == 1
    assert sentence in answer.stderr
    assert "Traceback" not in answer.stderr


def test_production_settings_pass_the_deployment_check(tmp_path: Path) -> None:
    answer = manage(tmp_path, "check", "--deploy", "--fail-level", "WARNING", **PRODUCTION)
    assert answer.returncode == 0, answer.stderr
    assert "no issues (0 silenced)" in answer.stdout


def test_the_keys_are_made_once_and_only_their_owner_reads_them(tmp_path: Path) -> None:
    manage(tmp_path, "check")
    file = tmp_path / "secrets.json"
    first = json.loads(file.read_text())
    manage(tmp_path, "check")
    assert json.loads(file.read_text()) == first
    assert file.stat().st_mode & 0o777 == 0o600
    assert Fernet(first["field"])
    assert len(first["secret"]) >= 50


def test_damaged_keys_are_not_replaced(tmp_path: Path) -> None:
    tmp_path.joinpath("secrets.json").write_text("{}")
    answer = manage(tmp_path, "check")
    assert "secrets.json is damaged: restore it from a backup" in answer.stderr
    assert tmp_path.joinpath("secrets.json").read_text() == "{}"
