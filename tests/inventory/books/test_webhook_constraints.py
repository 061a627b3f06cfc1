"""Each constraint of the webhooks twice: kept by the service, refused by the database past it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.errors import InvalidInputError
from inventory.models import WebhookDelivery, WebhookEndpoint, WebhookMessage, WebhookSecret
from inventory.services.scrap import scrap
from inventory.services.webhook_endpoints import rotate_secret
from tests.constraints import copy_of, refused
from tests.inventory.books.floor import KG
from tests.inventory.books.receiver import Receiver
from tests.inventory.books.webhooks import LATER, MONDAY, deliver, hold, listen
from tests.inventory.builders import TinyPlant

pytestmark = pytest.mark.django_db


@pytest.mark.clean_error_of("webhookendpoint_url_scheme")
def test_receiver_of_another_scheme_is_refused_by_the_service(plant: TinyPlant, receiver: Receiver) -> None:
    with pytest.raises(InvalidInputError, match="must begin with https"):
        listen(receiver, url="gopher://hook.example.org/")


@pytest.mark.refused_by_database("webhookendpoint_url_scheme")
def test_receiver_of_another_scheme_is_refused_by_the_database(listening: WebhookEndpoint) -> None:
    with refused("webhookendpoint_url_scheme"):
        WebhookEndpoint.objects.update(url="gopher://hook.example.org/")


@pytest.mark.clean_error_of("webhooksecret_one_present_per_endpoint")
@pytest.mark.clean_error_of("webhooksecret_expires_after_creation")
def test_rotation_leaves_one_present_secret(listening: WebhookEndpoint) -> None:
    rotate_secret(name="shop", now=LATER.occurred_at)
    present, before = WebhookSecret.objects.all()
    assert (present.expires_at, before.expires_at) == (None, LATER.occurred_at + timedelta(hours=24))


@pytest.mark.refused_by_database("webhooksecret_one_present_per_endpoint")
def test_second_present_secret_is_refused_by_the_database(listening: WebhookEndpoint) -> None:
    with refused("webhooksecret_one_present_per_endpoint"):
        copy_of(WebhookSecret.objects.get())


@pytest.mark.refused_by_database("webhooksecret_expires_after_creation")
def test_secret_that_expires_before_it_was_made_is_refused_by_the_database(listening: WebhookEndpoint) -> None:
    with refused("webhooksecret_expires_after_creation"):
        WebhookSecret.objects.update(expires_at=MONDAY.occurred_at)


@pytest.mark.clean_error_of("webhookdelivery_one_per_message_and_endpoint")
def test_message_has_one_delivery_to_a_receiver(plant: TinyPlant, listening: WebhookEndpoint) -> None:
    hold(plant)
    scrap(item_code=KG, quantity=1, place_kind="hold", clock=LATER, reason="torn")
    assert WebhookDelivery.objects.count() == WebhookMessage.objects.count() == 1


@pytest.mark.refused_by_database("webhookdelivery_one_per_message_and_endpoint")
def test_second_delivery_of_a_message_is_refused_by_the_database(plant: TinyPlant, listening: WebhookEndpoint) -> None:
    hold(plant)
    with refused("webhookdelivery_one_per_message_and_endpoint"):
        copy_of(WebhookDelivery.objects.get())


@pytest.mark.clean_error_of("webhookdelivery_pending_has_its_time")
def test_delivery_waits_with_a_time_and_ends_without(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    hold(plant)
    assert WebhookDelivery.objects.get().next_attempt_at == MONDAY.known_at
    deliver()
    assert WebhookDelivery.objects.get().next_attempt_at is None


@pytest.mark.refused_by_database("webhookdelivery_pending_has_its_time")
@pytest.mark.parametrize("fields", [{"next_attempt_at": None}, {"state": "dead"}, {"state": "delivered"}])
def test_delivery_without_the_time_of_its_state_is_refused_by_the_database(
    plant: TinyPlant, listening: WebhookEndpoint, fields: dict[str, object]
) -> None:
    hold(plant)
    with refused("webhookdelivery_pending_has_its_time"):
        WebhookDelivery.objects.update(**fields)
