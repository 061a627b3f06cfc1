"""A receiver of webhooks: how it is named, told and reached."""

from __future__ import annotations

import random
from ipaddress import ip_network
from unittest.mock import Mock

import pytest

from inventory.models import WebhookEndpoint
from inventory.rules.clock import Clock
from inventory.rules.webhooks import Event, encoded_secret
from inventory.services import webhook_transport
from inventory.services.holds import hold_lot
from inventory.services.webhook_delivery import Delivered, deliver_due
from inventory.services.webhook_endpoints import add_endpoint, live_secrets
from tests.inventory.books.receiver import Receiver
from tests.inventory.builders import TinyPlant, clock, local, put_on_shelf

LOCAL = [ip_network("127.0.0.0/8")]
ALL = [event.value for event in Event]
MONDAY, LATER = clock("2027-03-01 10:00"), clock("2027-03-01 11:00")
HOST = "hook.example.org"


def resolve(monkeypatch: pytest.MonkeyPatch, *addresses: str) -> Mock:
    """Stand in for the name service."""
    asked = Mock(return_value=list(addresses))
    monkeypatch.setattr(webhook_transport, "_addresses", asked)
    return asked


def listen(receiver: Receiver, **fields: object) -> WebhookEndpoint:
    body = {"name": "shop", "url": f"http://{HOST}:{receiver.port}/in", "events": ALL, "now": MONDAY.occurred_at}
    endpoint = add_endpoint(**{**body, **fields})
    receiver.secret = encoded_secret(live_secrets(endpoint, now=MONDAY.occurred_at)[0])
    return endpoint


def deliver(at: str = "2027-03-01 12:00") -> Delivered:
    return deliver_due(read_clock=lambda: local(at), draw=random.Random(1))


def hold(plant: TinyPlant, code: str = "S1", at: Clock = MONDAY) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code=code)
    hold_lot(lot_code=code, clock=at, reason="diameter")
