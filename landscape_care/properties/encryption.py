"""A text column that is encrypted at rest with the installation's field key."""

from typing import Any

from cryptography.fernet import Fernet, InvalidToken
from django.conf import settings
from django.db import models


def _cipher() -> Fernet:
    return Fernet(settings.FIELD_KEY)


class EncryptedText(models.TextField):  # type: ignore[type-arg]
    """Text stored as a Fernet token; reads fail loudly when the key does not fit."""

    def get_prep_value(self, value: Any) -> Any:
        """Encrypt on the way in."""
        return _cipher().encrypt(value.encode()).decode() if value else ""

    def from_db_value(self, value: str | None, expression: Any, connection: Any) -> str:
        """Decrypt on the way out."""
        if not value:
            return ""
        try:
            return _cipher().decrypt(value.encode()).decode()
        except InvalidToken:
            raise ValueError(
                "An encrypted field cannot be read: FIELD_KEY is not the key it was written with."
            ) from None
