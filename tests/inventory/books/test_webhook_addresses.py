"""Webhooks: which addresses may be called, and which certificate is believed."""

from __future__ import annotations

import socket
import ssl
from ipaddress import ip_network
from unittest.mock import Mock

import pytest
from pytest_django import Settings

from inventory.models import WebhookDelivery, WebhookEndpoint
from inventory.rules.webhooks import encoded_secret
from inventory.services import webhook_transport
from inventory.services.webhook_transport import Answer, post
from tests.inventory.books.receiver import PEM, Receiver, dripping, receiving
from tests.inventory.books.webhooks import HOST, LOCAL, deliver, hold, resolve
from tests.inventory.builders import TinyPlant

pytestmark = pytest.mark.django_db


def test_private_target_is_refused_unless_its_network_is_allowed(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver, settings: Settings
) -> None:
    settings.WEBHOOK_NETWORKS = []
    hold(plant)
    assert deliver().failed == 1
    assert receiver.hosts == []
    assert "127.0.0.1 is not public" in WebhookDelivery.objects.get().last_error


def test_host_with_one_private_address_among_public_ones_is_refused(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    resolve(monkeypatch, "93.184.215.14", "10.0.0.1")
    answer = post(f"https://{HOST}/", body="{}", headers={}, allowed=())
    assert answer == Answer(None, "Address 10.0.0.1 is not public; allow its network in the settings to send there.")


def test_public_target_over_http_is_refused(receiver: Receiver, monkeypatch: pytest.MonkeyPatch) -> None:
    resolve(monkeypatch, "93.184.215.14")
    answer = post(f"http://{HOST}/", body="{}", headers={}, allowed=())
    assert answer == Answer(None, "Address 93.184.215.14 is public; send there over https only.")


def test_address_that_was_checked_is_the_one_that_is_called(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A name that leads elsewhere the second time it is asked (DNS rebinding) is asked once.
    asked = resolve(monkeypatch, "127.0.0.1")
    connect = Mock(wraps=socket.create_connection)
    monkeypatch.setattr(webhook_transport.socket, "create_connection", connect)
    post(f"http://{HOST}:{receiver.port}/", body="{}", headers={}, allowed=LOCAL)
    assert connect.call_args_list[0].args[0] == ("127.0.0.1", receiver.port)
    assert receiver.hosts == [f"{HOST}:{receiver.port}"]
    assert asked.call_count == 1


def test_receiver_that_answers_a_byte_at_a_time_is_cut_off(receiver: Receiver, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(webhook_transport, "DEADLINE_S", 0.3)
    with dripping(every_s=0.01) as port:
        answer = post(f"http://{HOST}:{port}/", body="{}", headers={}, allowed=LOCAL)
    assert answer.status is None
    # Not the end of a line that grew too long, which it would come to in the end.
    assert "BadStatusLine" in answer.error


def test_name_is_asked_of_the_system(plant: TinyPlant) -> None:
    with receiving() as one:
        one.secret = encoded_secret(b"\x01" * 32)
        reached = post(f"http://localhost:{one.port}/", body="{}", headers={}, allowed=[*LOCAL, ip_network("::1/128")])
        barred = post(f"http://localhost:{one.port}/", body="{}", headers={}, allowed=())
    assert reached.status == 401
    assert "is not public" in barred.error


def test_name_that_leads_nowhere_is_a_failure(plant: TinyPlant) -> None:
    # RFC 6761: .invalid never resolves.
    assert "gaierror" in post("https://hook.invalid/", body="{}", headers={}, allowed=()).error


@pytest.mark.parametrize(("host", "reached"), [(HOST, True), ("other.example.org", False)])
def test_certificate_must_be_of_the_host_that_was_named(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch, host: str, *, reached: bool
) -> None:
    tls = ssl.create_default_context(cafile=str(PEM))
    with receiving(tls=True) as secure:
        secure.secret = encoded_secret(b"\x01" * 32)
        answer = post(f"https://{host}:{secure.port}/in", body="{}", headers={}, allowed=LOCAL, tls=tls)
    assert (answer.status == 401) is reached
    assert ("CERTIFICATE_VERIFY_FAILED" in answer.error) is not reached


def test_certificate_that_nobody_vouches_for_is_refused(receiver: Receiver) -> None:
    with receiving(tls=True) as secure:
        answer = post(f"https://{HOST}:{secure.port}/", body="{}", headers={}, allowed=LOCAL)
    assert "CERTIFICATE_VERIFY_FAILED" in answer.error
