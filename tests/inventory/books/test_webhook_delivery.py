"""Webhooks end to end: a real receiver that checks signatures, back-off, dead letters."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from functools import partial
from unittest.mock import Mock

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from inventory.models import WebhookDelivery, WebhookEndpoint, WebhookMessage
from inventory.rules.webhooks import encoded_secret
from inventory.services.webhook_delivery import LEASE, Delivered, deliver_due
from inventory.services.webhook_endpoints import live_secrets, send_again
from inventory.services.webhook_transport import Answer
from tests.inventory.at_once import at_once
from tests.inventory.books.receiver import Receiver
from tests.inventory.books.webhooks import HOST, MONDAY, deliver, hold, listen
from tests.inventory.builders import TinyPlant, local

pytestmark = pytest.mark.django_db


def test_delivered_message_is_not_sent_again(plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver) -> None:
    hold(plant)
    deliver()
    assert deliver("2027-03-03 12:00") == Delivered(delivered=0, failed=0, given_up=0)
    assert len(receiver.bodies) == 1


def test_receiver_that_fails_is_tried_again_after_the_wait_with_the_same_id(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    hold(plant)
    receiver.status = 500
    assert deliver() == Delivered(delivered=0, failed=1, given_up=0)
    delivery = WebhookDelivery.objects.get()
    assert (delivery.attempts, delivery.last_status, delivery.state) == (1, 500, "pending")
    assert timedelta(seconds=5) <= delivery.next_attempt_at - local("2027-03-01 12:00") <= timedelta(seconds=5.5)
    assert deliver("2027-03-01 12:00:04") == Delivered(delivered=0, failed=0, given_up=0)
    receiver.status = 200
    assert deliver("2027-03-01 12:00:06").delivered == 1
    assert len(receiver.ids) == 2
    assert len(set(receiver.ids)) == 1


@pytest.mark.parametrize("status", [301, 302, 307, 308])
def test_redirect_is_a_failure_and_is_not_followed(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver, status: int
) -> None:
    hold(plant)
    receiver.status, receiver.headers = status, {"location": f"http://{HOST}:{receiver.port}/other"}
    assert deliver().failed == 1
    assert len(receiver.hosts) == 1


def test_receiver_that_always_fails_is_given_up_after_ten_attempts(
    plant: TinyPlant, listening: WebhookEndpoint
) -> None:
    hold(plant)
    send, draw, now = Mock(return_value=Answer(status=503)), random.Random(1), local("2027-03-01 12:00")
    for _ in range(12):
        deliver_due(read_clock=partial(datetime.fromisoformat, now.isoformat()), draw=draw, send=send)
        now += timedelta(hours=27)
    delivery = WebhookDelivery.objects.get()
    assert (delivery.state, delivery.attempts, delivery.last_status, send.call_count) == ("dead", 10, 503, 10)


def test_receiver_that_is_gone_is_switched_off(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    hold(plant)
    receiver.status = 410
    assert deliver().given_up == 1
    listening.refresh_from_db()
    assert not listening.is_active


def test_deliveries_of_a_receiver_that_is_off_wait(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    hold(plant)
    WebhookEndpoint.objects.update(is_active=False)
    assert deliver() == Delivered(delivered=0, failed=0, given_up=0)
    WebhookEndpoint.objects.update(is_active=True)
    assert deliver().delivered == 1


def test_receiver_that_cannot_be_reached_is_a_failure_with_its_reason(plant: TinyPlant, receiver: Receiver) -> None:
    # Port 9 is the discard service: nobody listens there.
    listen(receiver, url=f"http://{HOST}:9/")
    hold(plant)
    assert deliver().failed == 1
    assert "Connection refused" in WebhookDelivery.objects.get().last_error


def test_process_that_dies_while_sending_leaves_the_message_to_be_sent_again(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    hold(plant)
    with pytest.raises(KeyboardInterrupt):
        deliver_due(
            read_clock=lambda: local("2027-03-01 12:00"),
            draw=random.Random(1),
            send=Mock(side_effect=KeyboardInterrupt),
        )
    assert deliver("2027-03-01 12:01").delivered == 0
    assert timedelta(minutes=2) == LEASE
    assert deliver("2027-03-01 12:02").delivered == 1


def test_receiver_that_fails_does_not_keep_the_others_waiting(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    for number in range(3):
        hold(plant, code=f"S{number}")
    listen(receiver, name="other", url=f"http://{HOST}:9/")
    hold(plant, code="S9")
    receiver.secret = encoded_secret(live_secrets(listening, now=MONDAY.occurred_at)[0])
    other = WebhookEndpoint.objects.get(name="other")
    # Three more wait for the receiver that nobody answers for; they come first.
    first = local("2027-03-01 09:00")
    WebhookDelivery.objects.bulk_create(
        WebhookDelivery(message=row, endpoint=other, next_attempt_at=first)
        for row in WebhookMessage.objects.order_by("pk")[:3]
    )
    assert deliver() == Delivered(delivered=4, failed=1, given_up=0)


def test_timestamp_is_of_the_attempt_and_not_of_the_round(plant: TinyPlant, listening: WebhookEndpoint) -> None:
    hold(plant)
    hold(plant, code="S2")
    instants = (local("2027-03-01 12:00") + timedelta(minutes=minutes) for minutes in range(9))
    send = Mock(return_value=Answer(status=200))
    deliver_due(read_clock=partial(next, instants), draw=random.Random(1), send=send)
    stamps = [int(call.kwargs["headers"]["webhook-timestamp"]) for call in send.call_args_list]
    # Read to claim and to send: minutes 1 and 3.
    assert stamps[1] - stamps[0] == 120


@pytest.mark.django_db(transaction=True)
def test_two_processes_at_once_send_each_message_once(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    for number in range(6):
        hold(plant, code=f"S{number}")
    answers = at_once(deliver, deliver)
    assert sum(answer.delivered for answer in answers) == 6
    assert (len(receiver.ids), len(set(receiver.ids))) == (6, 6)


def test_given_up_delivery_is_sent_again(plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver) -> None:
    hold(plant)
    receiver.status = 410
    deliver()
    WebhookEndpoint.objects.update(is_active=True)
    receiver.status = 204
    [number] = WebhookDelivery.objects.values_list("pk", flat=True)
    assert send_again(delivery_ids=[number], now=local("2027-03-01 12:00")) == 1
    assert deliver().delivered == 1
    assert send_again(delivery_ids=[number], now=local("2027-03-01 12:00")) == 0
    assert len(set(receiver.ids)) == 1


def test_admin_shows_given_up_deliveries_and_sends_them_again(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver, admin_client: Client
) -> None:
    hold(plant)
    receiver.status = 410
    deliver()
    url = reverse("admin:inventory_webhookdelivery_changelist")
    page = admin_client.get(url, {"state__exact": "dead"}).content.decode()
    assert "given up" in page
    chosen = WebhookDelivery.objects.get().pk
    sent = {"action": "send_given_up_again", "_selected_action": [chosen]}
    answer = admin_client.post(url, sent, follow=True).content.decode()
    assert "1 of the chosen were given up and are sent again." in answer
    assert WebhookDelivery.objects.get().state == "pending"


def test_watching_goes_on_until_it_is_interrupted(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    def post_one(_: float) -> None:
        if WebhookMessage.objects.exists():
            raise KeyboardInterrupt
        hold(plant)

    monkeypatch.setattr("inventory.management.commands.deliver_webhooks.sleep", post_one)
    with pytest.raises(KeyboardInterrupt):
        call_command("deliver_webhooks", "--watch")
    assert len(receiver.bodies) == 1
