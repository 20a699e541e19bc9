"""Print a new key for FIELD_KEY."""

from typing import Any

from cryptography.fernet import Fernet
from django.core.management.base import BaseCommand


class Command(BaseCommand):
    """`python3 manage.py newkey`."""

    help = "Print a new key for FIELD_KEY, which encrypts gate codes. Keep it: without it they are lost."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the key and nothing else."""
        self.stdout.write(Fernet.generate_key().decode())
