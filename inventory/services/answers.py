"""Answers under an Idempotency-Key: the same request twice changes the books once and hears the same.

References
----------
The Idempotency-Key HTTP Header Field, draft-ietf-httpapi-idempotency-key-header (IETF).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.models import AbstractBaseUser
from django.db import connection

from inventory.errors import ConflictError, InvalidInputError
from inventory.models import StoredAnswer
from inventory.services.transactions import in_one_transaction

KEPT = timedelta(days=7)


class KeyInUseError(ConflictError):
    """The first request under the key is still running."""

    code = "idempotency_key_in_use"


class KeyReusedError(InvalidInputError):
    """The key came with another request before."""

    code = "idempotency_key_reused"


@dataclass(frozen=True)
class Answer:
    """What is said to the client: HTTP status and JSON text."""

    status: int
    body: str


@in_one_transaction
def answer_once(
    *, user: AbstractBaseUser, key: str, request_digest: str, now: datetime, produce: Callable[[], Answer]
) -> Answer:
    """Return the stored answer of a key, or produce it and store it with what it reports, in one transaction.

    A crash after the commit loses nothing: the repeat finds the answer. An error is not stored, for it changed
    nothing: the same key may be tried again once its cause is gone. PostgreSQL refuses a second request while the
    first runs; SQLite has one writer at a time, so the second waits and then hears the first one's answer.

    Raises
    ------
    KeyInUseError
        If the first request is still running.
    KeyReusedError
        If the key came with another address or body, less than `KEPT` ago.
    """
    _lock(user, key)
    stored = StoredAnswer.objects.filter(user_id=user.pk, key=key).first()
    if stored is not None and stored.created_at > now - KEPT:
        if stored.request_digest != request_digest:
            raise KeyReusedError(
                "Idempotency-Key {key!r} came with another request at {created_at}.",
                key=key,
                created_at=stored.created_at,
                pointer="Idempotency-Key",
            )
        return Answer(stored.status, stored.body)
    answer = produce()
    StoredAnswer.objects.update_or_create(
        user_id=user.pk,
        key=key,
        defaults={
            "request_digest": request_digest,
            "status": answer.status,
            "body": answer.body,
            "created_at": now,
        },
    )
    return answer


def forget_answers(*, now: datetime) -> int:
    """Delete the answers that are no longer kept, and return how many."""
    deleted, _ = StoredAnswer.objects.filter(created_at__lte=now - KEPT).delete()
    return deleted


def _lock(user: AbstractBaseUser, key: str) -> None:
    """Hold the key until the transaction ends, or refuse at once. On SQLite the transaction itself is the lock."""
    if connection.vendor != "postgresql":
        return
    digest = hashlib.sha256(f"{user.pk} {key}".encode()).digest()
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [int.from_bytes(digest[:8], "big", signed=True)])
        if not cursor.fetchone()[0]:
            raise KeyInUseError(
                "The first request under Idempotency-Key {key!r} is still running; ask again later.", key=key
            )
