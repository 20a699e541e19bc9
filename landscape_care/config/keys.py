"""The two keys of an installation: one signs, one encrypts gate codes."""

import json
import os
import secrets
from pathlib import Path

from cryptography.fernet import Fernet
from django.core.exceptions import ImproperlyConfigured


def own_keys(file: Path) -> dict[str, str]:
    """Read the keys of this installation, making them on first use; only the owner can read the file."""
    if not file.exists():
        write_keys(file, {"secret": secrets.token_urlsafe(50), "field": Fernet.generate_key().decode()})
    try:
        keys = json.loads(file.read_text())
        return {"secret": str(keys["secret"]), "field": str(keys["field"])}
    except (ValueError, KeyError, TypeError) as broken:
        raise ImproperlyConfigured(f"{file} is damaged: restore it from a backup") from broken


def write_keys(file: Path, keys: dict[str, str]) -> None:
    """Write the keys in one step, and keep those of another process that was first."""
    draft = file.with_suffix(f".{os.getpid()}")
    draft.touch(mode=0o600)
    draft.write_text(json.dumps(keys))
    try:
        os.link(draft, file)
    except FileExistsError:
        pass
    finally:
        draft.unlink()


def field_key(value: str) -> str:
    """Return the key that encrypts gate codes, if it is one."""
    try:
        Fernet(value)
    except ValueError as wrong:
        raise ImproperlyConfigured(
            "FIELD_KEY is not 32 bytes in URL-safe base64; make one with: python3 manage.py newkey"
        ) from wrong
    return value
