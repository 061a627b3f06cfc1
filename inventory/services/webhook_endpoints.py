"""Receivers of webhooks: added, given new secrets, asked again."""

from __future__ import annotations

import secrets
from collections.abc import Collection, Sequence
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils.crypto import salted_hmac

from inventory.errors import ConflictError, InvalidInputError, NotFoundError
from inventory.models import Channel, WebhookDelivery, WebhookEndpoint, WebhookSecret
from inventory.rules.webhooks import Event, encoded_secret, url_fault

OVERLAP = timedelta(hours=24)
MAX_NAME_LENGTH = 40


class EndpointExistsError(ConflictError):
    """A receiver of that name is there already."""

    code = "webhook_exists"


@transaction.atomic
def add_endpoint(
    *, name: str, url: str, events: Sequence[str], now: datetime, channel_code: str | None = None
) -> WebhookEndpoint:
    """Add a receiver with its first secret.

    Raises
    ------
    InvalidInputError
        If name, URL or events are wrong.
    NotFoundError
        If the channel does not exist.
    EndpointExistsError
        If the name is taken.
    """
    if not name.strip() or len(name) > MAX_NAME_LENGTH:
        raise InvalidInputError("A name has 1 to {most} characters.", most=MAX_NAME_LENGTH, pointer="/name")
    if fault := url_fault(url):
        raise InvalidInputError("{fault}", fault=fault, pointer="/url")
    known = [event.value for event in Event]
    if not events or not set(events) <= set(known):
        raise InvalidInputError("Name one or more of the events {known}.", known=", ".join(known), pointer="/events")
    channel = None if channel_code is None else Channel.objects.filter(code=channel_code).first()
    if channel_code is not None and channel is None:
        raise NotFoundError("Channel {channel!r} does not exist.", channel=channel_code, pointer="/channel")
    if WebhookEndpoint.objects.filter(name=name).exists():
        raise EndpointExistsError("A webhook named {name!r} is there already.", name=name, pointer="/name")
    endpoint = WebhookEndpoint.objects.create(
        name=name, url=url, events=sorted(set(events)), channel=channel, created_at=now
    )
    _add_secret(endpoint, now=now)
    return endpoint


@transaction.atomic
def rotate_secret(*, name: str, now: datetime) -> str:
    """Give a receiver a new secret and return it; the one before signs beside it for another day.

    Raises
    ------
    NotFoundError
        If there is no such receiver.
    """
    endpoint = WebhookEndpoint.objects.select_for_update().filter(name=name).first()
    if endpoint is None:
        raise NotFoundError("Webhook {name!r} does not exist.", name=name, pointer="/name")
    WebhookSecret.objects.filter(endpoint=endpoint, expires_at__isnull=True).update(expires_at=now + OVERLAP)
    return encoded_secret(secret_of(_add_secret(endpoint, now=now)))


@transaction.atomic
def send_again(*, delivery_ids: Collection[int], now: datetime) -> int:
    """Put deliveries that were given up into the queue again, with all their attempts. Returns how many."""
    dead = WebhookDelivery.objects.filter(pk__in=delivery_ids, state=WebhookDelivery.State.DEAD)
    return dead.update(state=WebhookDelivery.State.PENDING, attempts=0, next_attempt_at=now)


def live_secrets(endpoint: WebhookEndpoint, *, now: datetime) -> list[bytes]:
    """Return the secrets that sign for a receiver, the present one first. One query."""
    rows = endpoint.secrets.filter(Q(expires_at__isnull=True) | Q(expires_at__gt=now))
    return [secret_of(row) for row in rows.order_by("-created_at", "-pk")]


def secret_of(row: WebhookSecret) -> bytes:
    """Derive a secret of 32 bytes: who has the database without the key of the environment cannot sign."""
    digest: bytes = salted_hmac("stockplan.webhook", row.salt, secret=settings.WEBHOOK_KEY, algorithm="sha256").digest()
    return digest


def _add_secret(endpoint: WebhookEndpoint, *, now: datetime) -> WebhookSecret:
    return WebhookSecret.objects.create(endpoint=endpoint, salt=secrets.token_hex(32), created_at=now)
