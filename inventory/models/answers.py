"""Answers kept for clients that did not get them."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class StoredAnswer(models.Model):
    """The answer to a POST under an Idempotency-Key, written in the transaction of what it reports."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=255)
    request_digest = models.CharField(max_length=64, help_text="SHA-256 of address and body, to tell a repeat")
    status = models.PositiveSmallIntegerField()
    body = models.TextField(help_text="JSON")
    created_at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "key"], name="storedanswer_one_per_user_and_key"),
        ]

    def __str__(self) -> str:
        return f"{self.user_id} {self.key}"
