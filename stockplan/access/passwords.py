"""What a password may be, beyond what the framework checks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

if TYPE_CHECKING:
    from django.contrib.auth.models import User


class MaximumLengthValidator:
    """Refuses a password of so many letters that hashing it is work for the server (OWASP ASVS 4.0.3, 2.1.2)."""

    def __init__(self, max_length: int = 128) -> None:
        self.max_length = max_length

    def validate(self, password: str, user: User | None = None) -> None:  # noqa: ARG002 - the caller's signature
        """Raise ValidationError if it is too long."""
        if len(password) > self.max_length:
            raise ValidationError(self.get_help_text(), code="password_too_long")

    def get_help_text(self) -> str:
        """Say it beside the form."""
        return _("Your password must have at most %(most)d letters.") % {"most": self.max_length}
