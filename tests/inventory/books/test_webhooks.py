"""Webhooks end to end: outbox, a real receiver that checks signatures, back-off, dead letters, secrets, addresses."""

from __future__ import annotations

import random
import socket
import ssl
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from functools import partial
from ipaddress import ip_network
from unittest.mock import Mock

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import transaction
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import (
    Channel,
    WebhookDelivery,
    WebhookEndpoint,
    WebhookMessage,
    WebhookSecret,
)
from inventory.rules.clock import Clock
from inventory.rules.webhooks import Event, encoded_secret
from inventory.services import webhook_transport
from inventory.services.holds import hold_lot, release_lot
from inventory.services.runs import reschedule_run
from inventory.services.scrap import scrap_spools
from inventory.services.shipments import ship_order
from inventory.services.webhook_delivery import LEASE, Delivered, deliver_due
from inventory.services.webhook_endpoints import (
    EndpointExistsError,
    add_endpoint,
    live_secrets,
    rotate_secret,
    send_again,
)
from inventory.services.webhook_transport import Answer, post
from tests.constraints import copy_of, refused
from tests.inventory.at_once import at_once
from tests.inventory.books.floor import KG
from tests.inventory.books.receiver import PEM, Receiver, dripping, receiving
from tests.inventory.builders import TinyPlant, build_supply, clock, local, put_on_shelf

pytestmark = [pytest.mark.django_db, pytest.mark.database]
LOCAL = [ip_network("127.0.0.0/8")]
ALL = [event.value for event in Event]
MONDAY, LATER = clock("2027-03-01 10:00"), clock("2027-03-01 11:00")
HOST = "hook.example.org"


@pytest.fixture
def receiver(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> Iterator[Receiver]:
    """A receiver that answers 204; its host's name leads to this machine, whose network is allowed."""
    settings.WEBHOOK_NETWORKS = LOCAL
    resolve(monkeypatch, "127.0.0.1")
    with time_machine.travel(local("2027-03-01 12:00"), tick=False), receiving() as one:
        yield one


def resolve(monkeypatch: pytest.MonkeyPatch, *addresses: str) -> Mock:
    """Stand in for the name service."""
    asked = Mock(return_value=list(addresses))
    monkeypatch.setattr(webhook_transport, "_addresses", asked)
    return asked


@pytest.fixture
def listening(receiver: Receiver, plant: TinyPlant) -> WebhookEndpoint:
    """The receiver is told of everything."""
    return listen(receiver)


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


def test_held_and_released_lot_are_told(plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver) -> None:
    hold(plant)
    release_lot(lot_code="S1", clock=LATER, reason="remeasured")
    assert deliver() == Delivered(delivered=2, failed=0, given_up=0)
    assert [(said["type"], said["data"]) for said in receiver.bodies] == [
        ("lot.held", {"lot": "S1", "item": KG, "reason": "diameter"}),
        ("lot.released", {"lot": "S1", "item": KG, "reason": "remeasured"}),
    ]
    assert receiver.bodies[0]["timestamp"] == MONDAY.known_at.isoformat()


def test_shipped_order_is_told(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver, order: Callable[..., int]
) -> None:
    put_on_shelf(plant.black_1kg, 5)
    number = order("A", {plant.black_1kg: 3})
    shipment = ship_order(order_id=number, clock=LATER, document="WB 1")
    deliver()
    [said] = receiver.bodies
    assert said["type"] == "order.shipped"
    assert said["data"] == {
        "order": number,
        "channel": "WEB",
        "reference": "A",
        "shipment": shipment.pk,
        "ship_day": "2027-03-01",
        "document": "WB 1",
        "state": "shipped",
        "lines": [{"line_no": 1, "sku": KG, "quantity": 3}],
    }


def test_moved_promise_is_told_with_both_days(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver, order: Callable[..., int]
) -> None:
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=date(2027, 3, 3), code="R1")
    number = order("A", {plant.black_1kg: 3})
    start, end = local("2027-03-08 08:00"), local("2027-03-08 14:00")
    reschedule_run(run_code="R1", planned_start=start, planned_end=end, clock=LATER, reason="no crew")
    deliver()
    [said] = receiver.bodies
    data = said["data"]
    assert (said["type"], data["order"], data["reference"], data["sku"]) == ("order.promise_moved", number, "A", KG)
    # Wound on Monday, in the oven overnight, packed on Tuesday.
    assert (data["old_day"], data["new_day"], data["cause"]) == ("2027-03-03", "2027-03-09", "no crew")


def test_placed_order_tells_nobody(plant: TinyPlant, listening: WebhookEndpoint, order: Callable[..., int]) -> None:
    put_on_shelf(plant.black_1kg, 5)
    order("A", {plant.black_1kg: 3})
    assert WebhookMessage.objects.count() == 0


def test_fact_that_is_rolled_back_is_told_to_nobody(plant: TinyPlant, listening: WebhookEndpoint) -> None:
    with transaction.atomic():
        hold(plant)
        transaction.set_rollback(True)
    assert WebhookMessage.objects.count() == 0


def test_receiver_is_told_only_of_what_it_asked_for(plant: TinyPlant, receiver: Receiver) -> None:
    listen(receiver, events=["lot.released"])
    hold(plant)
    release_lot(lot_code="S1", clock=LATER, reason="remeasured")
    deliver()
    assert [said["type"] for said in receiver.bodies] == ["lot.released"]


def test_receiver_of_a_channel_hears_of_its_orders_and_of_no_lots(
    plant: TinyPlant, receiver: Receiver, order: Callable[..., int]
) -> None:
    Channel.objects.create(code="FAIR", name="fair")
    listen(receiver, channel_code="FAIR")
    put_on_shelf(plant.black_1kg, 5)
    ship_order(order_id=order("A", {plant.black_1kg: 3}), clock=LATER)
    hold(plant)
    assert WebhookMessage.objects.count() == 0
    listen(receiver, name="web", channel_code="WEB")
    put_on_shelf(plant.natural_1kg, 5)
    ship_order(order_id=order("B", {plant.natural_1kg: 3}), clock=LATER)
    assert [row.endpoint.name for row in WebhookDelivery.objects.all()] == ["web"]


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


def test_nobody_listening_costs_one_query(plant: TinyPlant, queries_of: Callable[..., int], receiver: Receiver) -> None:
    for code in ("S1", "S2", "S3"):
        put_on_shelf(plant.black_1kg, 5, lot_code=code)
    held = partial(hold_lot, clock=MONDAY, reason="diameter")
    queries_of(partial(held, lot_code="S1"))
    without = queries_of(partial(held, lot_code="S2"))
    listen(receiver)
    assert queries_of(partial(held, lot_code="S3")) == without + 2


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
    scrap_spools(sku_code=KG, quantity=1, place_kind="hold", clock=LATER, reason="torn")
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
