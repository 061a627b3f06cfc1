"""Sending what the outbox holds: at least once, with waits between attempts, until it is delivered or given up."""

from __future__ import annotations

import random
from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction

from inventory.models import WebhookDelivery, WebhookEndpoint
from inventory.rules.webhooks import GONE, signature, wait_after
from inventory.services.webhook_endpoints import live_secrets
from inventory.services.webhook_transport import Answer, post

# Longer than an attempt can last: a delivery that is not noted by then died with its process and is sent again.
LEASE = timedelta(minutes=2)

Post = Callable[..., Answer]


@dataclass(frozen=True)
class Delivered:
    """What one round of sending did."""

    delivered: int
    failed: int
    given_up: int


def deliver_due(*, read_clock: Callable[[], datetime], draw: random.Random, send: Post = post) -> Delivered:
    """Send the deliveries that are due, oldest first, until none is left, and note what came of each.

    Each is claimed in a short transaction, sent outside of any, and noted in another. Two processes do not claim the
    same delivery; one that dies in between leaves it to be sent again, with the same webhook-id. A receiver that
    fails is passed over for the rest of the round: it must not keep the others waiting. The clock is read for each
    attempt, because receivers refuse a timestamp that is minutes old.
    """
    states: list[str] = []
    failing: set[int] = set()
    while (delivery := _claim(now=read_clock(), passing_over=failing)) is not None:
        states.append(_deliver(delivery, now=read_clock(), draw=draw, send=send))
        if states[-1] != WebhookDelivery.State.DELIVERED:
            failing.add(delivery.endpoint_id)
    return Delivered(
        delivered=states.count(WebhookDelivery.State.DELIVERED),
        failed=states.count(WebhookDelivery.State.PENDING),
        given_up=states.count(WebhookDelivery.State.DEAD),
    )


@transaction.atomic
def _claim(*, now: datetime, passing_over: Collection[int]) -> WebhookDelivery | None:
    """Take the next delivery that is due for as long as the lease."""
    due = WebhookDelivery.objects.filter(
        state=WebhookDelivery.State.PENDING, next_attempt_at__lte=now, endpoint__is_active=True
    ).exclude(endpoint__in=passing_over)
    rows = due.select_related("message", "endpoint").order_by("next_attempt_at", "pk")
    delivery = rows.select_for_update(of=("self",), skip_locked=True).first()
    if delivery is not None:
        delivery.next_attempt_at = now + LEASE
        delivery.save(update_fields=["next_attempt_at"])
    return delivery


def _deliver(delivery: WebhookDelivery, *, now: datetime, draw: random.Random, send: Post) -> str:
    message, endpoint = delivery.message, delivery.endpoint
    timestamp = int(now.timestamp())
    signatures = (
        signature(secret, message_id=message.code, timestamp=timestamp, body=message.body)
        for secret in live_secrets(endpoint, now=now)
    )
    headers = {
        "content-type": "application/json",
        "user-agent": "stockplan-webhooks",
        "webhook-id": message.code,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signatures),
    }
    answer = send(endpoint.url, body=message.body, headers=headers, allowed=settings.WEBHOOK_NETWORKS)
    return _note(delivery.pk, answer, now=now, spread=draw.random())


@transaction.atomic
def _note(delivery_id: int, answer: Answer, *, now: datetime, spread: float) -> str:
    delivery = WebhookDelivery.objects.select_for_update(of=("self",)).select_related("endpoint").get(pk=delivery_id)
    delivery.attempts += 1
    delivery.last_attempt_at, delivery.last_status, delivery.last_error = now, answer.status, answer.error
    wait = None if answer.status == GONE else wait_after(delivery.attempts, spread=spread)
    if answer.is_success:
        delivery.state, delivery.next_attempt_at = WebhookDelivery.State.DELIVERED, None
    elif wait is None:
        delivery.state, delivery.next_attempt_at = WebhookDelivery.State.DEAD, None
    else:
        delivery.next_attempt_at = now + wait
    delivery.save()
    if answer.status == GONE:
        # The receiver says that it is there no more (Standard Webhooks, "Delivery").
        WebhookEndpoint.objects.filter(pk=delivery.endpoint_id).update(is_active=False)
    return delivery.state
