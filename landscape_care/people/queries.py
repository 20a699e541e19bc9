"""Reads of the people room."""

from django.contrib.auth.models import AnonymousUser
from django.db.models import QuerySet

from landscape_care.people.models import AuditEntry, SavedList, User

Person = User | AnonymousUser


def is_office(person: Person) -> bool:
    """Whether somebody signed in works in the office."""
    return isinstance(person, User) and person.is_active and person.in_office()


def visible_users(person: Person) -> QuerySet[User]:
    """The people somebody may see: the office sees all, everybody else only themselves."""
    if is_office(person):
        return User.objects.order_by("username")
    return User.objects.filter(username=person.get_username())


def visible_audit(person: Person) -> QuerySet[AuditEntry]:
    """The log of who did what, for the office."""
    entries = AuditEntry.objects.select_related("by")
    return entries if is_office(person) else entries.none()


def saved_lists(person: Person) -> QuerySet[SavedList]:
    """The lists that somebody kept; nobody sees those of others."""
    return SavedList.objects.filter(user__username=person.get_username()).select_related("user")
