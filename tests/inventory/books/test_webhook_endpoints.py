"""Webhooks: receivers that are added, and the secrets that they share."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from pytest_django import Settings

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import WebhookDelivery, WebhookEndpoint, WebhookSecret
from inventory.rules.webhooks import encoded_secret
from inventory.services.webhook_endpoints import EndpointExistsError, live_secrets, rotate_secret
from tests.inventory.books.receiver import Receiver
from tests.inventory.books.webhooks import HOST, MONDAY, deliver, hold, listen
from tests.inventory.builders import TinyPlant, local

pytestmark = pytest.mark.django_db


def test_rotated_secret_signs_beside_the_one_before_for_a_day(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    before = receiver.secret
    after = rotate_secret(name="shop", now=local("2027-03-01 11:00"))
    assert after != before
    hold(plant)
    deliver()
    assert (len(receiver.bodies), receiver.refused) == (1, 0)
    receiver.secret = after
    hold(plant, code="S2")
    deliver()
    assert (len(receiver.bodies), receiver.refused) == (2, 0)


def test_secret_before_does_not_sign_after_a_day(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    after = rotate_secret(name="shop", now=local("2027-02-28 12:00") - timedelta(seconds=1))
    hold(plant)
    assert deliver().failed == 1
    assert (receiver.bodies, receiver.refused) == ([], 1)
    assert [encoded_secret(row) for row in live_secrets(listening, now=local("2027-03-01 12:00"))] == [after]


def test_secret_is_not_in_the_database_and_needs_the_key_of_the_environment(
    listening: WebhookEndpoint, settings: Settings
) -> None:
    [secret] = live_secrets(listening, now=MONDAY.occurred_at)
    assert WebhookSecret.objects.get().salt != secret.hex()
    settings.WEBHOOK_KEY = "another"
    assert live_secrets(listening, now=MONDAY.occurred_at) != [secret]


def test_wrong_secret_is_refused_by_the_receiver(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    receiver.secret = encoded_secret(b"\x02" * 32)
    hold(plant)
    assert deliver().failed == 1
    assert (receiver.refused, WebhookDelivery.objects.get().last_status) == (1, 401)


@pytest.mark.parametrize(
    ("fields", "error", "message"),
    [
        ({"name": " "}, InvalidInputError, "1 to 40"),
        ({"name": "x" * 41}, InvalidInputError, "1 to 40"),
        ({"url": "https://user@hook.example.org/"}, InvalidInputError, "a user"),
        ({"events": []}, InvalidInputError, "one or more of the events order.shipped"),
        ({"events": ["order.lost"]}, InvalidInputError, "one or more of the events"),
        ({"channel_code": "MOON"}, NotFoundError, "Channel 'MOON'"),
        ({"name": "shop"}, EndpointExistsError, "'shop' is there already"),
    ],
)
def test_receiver_is_refused(
    listening: WebhookEndpoint, receiver: Receiver, fields: dict[str, object], error: type[Exception], message: str
) -> None:
    with pytest.raises(error, match=message):
        listen(receiver, **{"name": "other", **fields})
    assert WebhookEndpoint.objects.count() == 1


def test_secret_of_a_receiver_that_nobody_knows_is_not_rotated(plant: TinyPlant) -> None:
    with pytest.raises(NotFoundError, match="Webhook 'shop'"):
        rotate_secret(name="shop", now=MONDAY.occurred_at)


def test_commands_add_a_receiver_rotate_its_secret_and_deliver(
    plant: TinyPlant, receiver: Receiver, capsys: pytest.CaptureFixture[str]
) -> None:
    url = f"http://{HOST}:{receiver.port}/in"
    call_command("add_webhook", "shop", url, "--events", "lot.held", "--channel", "WEB")
    receiver.secret = capsys.readouterr().out.strip()
    assert receiver.secret == encoded_secret(live_secrets(WebhookEndpoint.objects.get(), now=MONDAY.occurred_at)[0])
    call_command("rotate_webhook_secret", "shop")
    assert capsys.readouterr().out.strip() != receiver.secret
    WebhookEndpoint.objects.update(channel=None)
    hold(plant)
    call_command("deliver_webhooks")
    assert capsys.readouterr().out == "1 delivered, 0 failed, 0 given up.\n"
    assert len(receiver.bodies) == 1


def test_commands_say_what_is_wrong(plant: TinyPlant) -> None:
    with pytest.raises(CommandError, match="must begin with https"):
        call_command("add_webhook", "shop", "ftp://hook.example.org/", "--events", "lot.held")
    with pytest.raises(CommandError, match="does not exist"):
        call_command("rotate_webhook_secret", "shop")
