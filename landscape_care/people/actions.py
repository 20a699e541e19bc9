"""Writes of the people room."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import PermissionDenied
from django.db import transaction

from landscape_care.people.models import AuditEntry, Role, SavedList, User

CHANGEABLE = ("first_name", "email", "role", "language")


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


@transaction.atomic
def change_user(user: User, values: Mapping[str, Any], *, by: User | None) -> User:
    """Change name, mail address, role or language of a person; nobody takes the office from themselves."""
    _allow_office(by)
    row = User.objects.select_for_update().get(pk=user.pk)
    changed = [name for name in CHANGEABLE if name in values and getattr(row, name) != values[name]]
    for name in changed:
        setattr(row, name, values[name])
    _refuse_locking_out(row, by)
    if changed:
        row.save(update_fields=changed)
        record("change user", row.username, by=by, fields=changed, role=row.role)
    return row


@transaction.atomic
def set_password(user: User, password: str, *, by: User | None) -> User:
    """Give a person a new password; whoever is signed in under the old one is signed out by it."""
    _allow_office(by)
    row = User.objects.select_for_update().get(pk=user.pk)
    _refuse_locking_out(row, by)
    validate_password(password, row)
    row.set_password(password)
    row.save(update_fields=["password"])
    record("set password", row.username, by=by)
    return row


@transaction.atomic
def close_account(user: User, *, by: User | None) -> User:
    """Let a person sign in no more; what they did stays under their name."""
    _allow_office(by)
    row = User.objects.select_for_update().get(pk=user.pk)
    row.is_active = False
    _refuse_locking_out(row, by)
    row.save(update_fields=["is_active"])
    record("close account", row.username, by=by)
    return row


@transaction.atomic
def open_account(user: User, *, by: User | None) -> User:
    """Let a person sign in again."""
    _allow_office(by)
    row = User.objects.select_for_update().get(pk=user.pk)
    row.is_active = True
    row.save(update_fields=["is_active"])
    record("open account", row.username, by=by)
    return row


def save_list(user: User, name: str, *, listing: str, narrowed: str) -> SavedList:
    """Keep a list under a name; a name somebody used before stands for the new one."""
    values = {"listing": listing, "narrowed": narrowed[:400]}
    row, _ = SavedList.objects.update_or_create(user=user, name=name.strip(), defaults=values)
    return row


def forget_list(row: SavedList) -> None:
    """Keep a list no longer."""
    row.delete()


def _allow_office(by: User | None) -> None:
    if by is not None and not by.in_office():
        raise PermissionDenied("Only the office looks after people.")


def _refuse_locking_out(row: User, by: User | None) -> None:
    """Nobody closes the door behind themselves, and only an administrator touches an administrator."""
    if by is None:
        return
    if row.is_superuser and not by.is_superuser:
        raise PermissionDenied("Only an administrator changes an administrator.")
    if row.pk == by.pk and not (row.is_active and row.in_office()):
        raise PermissionDenied("Somebody else has to do this to your own account.")
