"""Users with their roles, and the append-only log of who did what."""

from typing import ClassVar

from django.contrib.auth.models import AbstractUser
from django.db import models


class Role(models.TextChoices):
    """What a person does here; it decides which rows and pages they see."""

    OFFICE = "office", "Office"
    DISPATCHER = "dispatcher", "Dispatcher"
    CREW = "crew", "Crew"
    OWNER = "owner", "Owner"


class Language(models.TextChoices):
    """The languages of pages, rules and calendars."""

    ENGLISH = "en", "English"
    SPANISH = "es", "Español"


class User(AbstractUser):
    """A person who signs in."""

    role = models.CharField(max_length=12, choices=Role.choices, default=Role.CREW)
    language = models.CharField(max_length=2, choices=Language.choices, default=Language.ENGLISH)

    class Meta(AbstractUser.Meta):
        constraints: ClassVar = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="user_role_known")
        ]

    def in_office(self) -> bool:
        """Whether the person may see and change everything of the company."""
        return self.is_superuser or self.role in (Role.OFFICE, Role.DISPATCHER)


class AuditEntry(models.Model):
    """One thing somebody did, written in the same transaction as the change."""

    at = models.DateTimeField(auto_now_add=True, db_index=True)
    by = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    verb = models.CharField(max_length=40)
    subject = models.CharField(max_length=120)
    detail = models.JSONField(default=dict)

    class Meta:
        ordering: ClassVar = ["-id"]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.verb} {self.subject}"


class SavedList(models.Model):
    """A list of the office as one person narrowed it, kept under a name."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="saved_lists")
    name = models.CharField(max_length=60)
    listing = models.CharField(max_length=20, help_text="Which list")
    narrowed = models.CharField(max_length=400, blank=True, help_text="How, as the end of its address")

    class Meta:
        ordering: ClassVar = ["name", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["user", "name"], name="saved_list_name_unique_for_user")
        ]

    def __str__(self) -> str:
        return self.name
