"""The sheet that says how to sign in here: made on the first start, readable by its owner only."""

import secrets
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from landscape_care.people.actions import add_user
from landscape_care.people.models import Role, User

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is mistaken for another
HEADINGS = ("who", "address", "user", "password")


@dataclass(frozen=True)
class Entrance:
    """A way in: a page with user and password, or an address that is itself the secret."""

    who: str
    path: str
    user: str = ""
    password: str = ""

    def __post_init__(self) -> None:
        """Refuse what would not survive being written as one line."""
        if not self.path.startswith("/") or "\t" in self.who + self.path + self.user + self.password:
            raise ValueError(
                f"path {self.path!r} of {self.who!r}: give one that begins with / and has no tab"
            )


def sheet() -> Path:
    """Name the file."""
    folder: Path = settings.DATA_FOLDER
    return folder / "sign-in.txt"


def new_password() -> str:
    """Make a password for a thumb on a phone: four times four letters, about 79 bits."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(4))


def let_in(username: str, role: Role, *, name: str, path: str) -> tuple[User, Entrance]:
    """Make a user with a random password."""
    password = new_password()
    return add_user(username, password, role=role, name=name), Entrance(name, path, username, password)


def write_sheet(ways: Iterable[Entrance]) -> None:
    """Write the sheet, in place of an earlier one."""
    file = sheet()
    file.touch(mode=0o600)
    lines = [f"{way.who}\t{way.path}\t{way.user}\t{way.password}" for way in ways]
    file.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")


def entrances() -> list[Entrance]:
    """Read the sheet."""
    if not sheet().exists():
        return []
    return [Entrance(*line.split("\t")) for line in sheet().read_text(encoding="utf-8").splitlines()]


def where_to_look(site: str) -> Iterator[str]:
    """Lay the sheet out as a table with whole addresses."""
    rows = [HEADINGS, *((way.who, site + way.path, way.user, way.password) for way in entrances())]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEADINGS))]
    for row in rows:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
