"""Writes of the people room."""

from typing import Any

from landscape_care.people.models import AuditEntry, Role, User


def record(verb: str, subject: str, *, by: User | None = None, **detail: Any) -> AuditEntry:
    """Note in the audit log what somebody did; call it inside the transaction of the change."""
    return AuditEntry.objects.create(verb=verb, subject=subject[:120], by=by, detail=detail)


def add_user(username: str, password: str, *, role: Role, name: str = "", language: str = "en") -> User:
    """Make a person who can sign in with a password."""
    user = User.objects.create_user(username, password=password, role=role, language=language)
    if name:
        user.first_name = name
        user.save(update_fields=["first_name"])
    record("add user", username, role=str(role))
    return user


def choose_language(user: User, language: str) -> None:
    """Keep the language a person wants to read."""
    user.language = language
    user.save(update_fields=["language"])
