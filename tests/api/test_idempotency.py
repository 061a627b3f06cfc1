"""A POST that is repeated under its Idempotency-Key changes the books once.

The rules: draft-ietf-httpapi-idempotency-key-header, 2.6 and 2.7: 409 while the first runs, 422 for another body.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Event
from unittest.mock import Mock

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.db import connection
from django.urls import get_resolver

from inventory.api.views import ApiView
from inventory.models import Movement, Order, StoredAnswer
from inventory.services.answers import KEPT, Answer, KeyInUseError, KeyReusedError, answer_once, forget_answers
from stockplan.access.tokens import create_token
from tests.constraints import copy_of, refused
from tests.inventory.at_once import at_once

RECEIPT = {"item": "RESIN-PLA", "quantity": 5, "lot": "R-1"}
NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
WORKERS = 6


def receive(client, key, status=201, **change):
    headers = {} if key is None else {"idempotency-key": key}
    answer = client.post("/api/v1/receipts/", RECEIPT | change, format="json", headers=headers)
    assert answer.status_code == status, answer.content
    return answer


def test_post_without_a_key_is_done_again(plant, live):
    receive(live, None)
    receive(live, None)
    assert Movement.objects.count() == 2


def test_post_with_the_same_key_is_done_once_and_answered_the_same(plant, live):
    first, again = receive(live, '"k-1"'), receive(live, '"k-1"')
    assert (again.content, again.status_code) == (first.content, first.status_code)
    assert Movement.objects.count() == 1


def test_key_is_the_same_with_and_without_quotation_marks(plant, live):
    receive(live, '"k-1"')
    receive(live, "k-1")
    assert Movement.objects.count() == 1


def test_members_in_another_order_are_the_same_body(plant, live):
    receive(live, "k-1")
    body = '{"lot": "R-1",\n "quantity": 5, "item": "RESIN-PLA"}'
    answer = live.post("/api/v1/receipts/", body, content_type="application/json", headers={"idempotency-key": "k-1"})
    assert (answer.status_code, Movement.objects.count()) == (201, 1)


@pytest.mark.django_db(transaction=True)
def test_answer_that_was_lost_after_the_commit_is_told_to_the_repeat(plant, live, monkeypatch):
    """The process dies when the books are written and the client has heard nothing."""
    with monkeypatch.context() as dying:
        dying.setattr("inventory.api.idempotency.Response", Mock(side_effect=SystemExit))
        with pytest.raises(SystemExit):
            receive(live, "k-1")
    assert Movement.objects.count() == 1
    assert receive(live, "k-1").json()["lot"] == "R-1"
    assert Movement.objects.count() == 1


def test_key_with_another_body_is_refused(plant, live):
    receive(live, "k-1")
    problem = receive(live, "k-1", 422, quantity=6).json()
    assert problem["code"] == "idempotency_key_reused"
    assert [error["header"] for error in problem["errors"]] == ["Idempotency-Key"]
    assert Movement.objects.count() == 1


def test_key_at_another_address_is_refused(plant, live):
    receive(live, "k-1")
    answer = live.post("/api/v1/counts/", RECEIPT, format="json", headers={"idempotency-key": "k-1"})
    assert answer.json()["code"] == "idempotency_key_reused"


def test_error_is_not_stored_and_the_key_may_be_tried_again(plant, live):
    receive(live, "k-1", 422, item="NO-SUCH")
    receive(live, "k-1")
    assert Movement.objects.count() == 1


def test_key_of_another_integration_is_another_key(plant, client_with):
    receive(client_with("floor"), "k-1")
    other = client_with("floor")
    other.credentials(
        HTTP_AUTHORIZATION=f"Bearer {create_token(name='b', scopes=['floor'], channel_code=None, days=1)}"
    )
    receive(other, "k-1", lot="R-2")
    assert Movement.objects.count() == 2


def test_order_under_a_key_is_answered_as_it_was_then(plant, live):
    body = {"channel": "WEB", "reference": "A-1", "lines": [{"sku": "PLA-BLACK-1000", "quantity": 3}]}
    first, again = (
        live.post("/api/v1/orders/", body, format="json", headers={"idempotency-key": "k-1"}) for _ in range(2)
    )
    # The natural key alone would answer 200 and `replayed`.
    assert (first.status_code, again.status_code, again.json()) == (201, 201, first.json())
    assert Order.objects.count() == 1


@pytest.mark.parametrize("key", ["", '"', '""', "a" * 256, "grün", 'a"b', "a b", "a\tb"])
def test_header_that_is_no_key_is_refused(plant, live, key):
    problem = receive(live, key, 400).json()
    assert problem["code"] == "idempotency_key_format"
    assert [error["header"] for error in problem["errors"]] == ["Idempotency-Key"]
    assert not Movement.objects.exists()


def test_every_post_of_the_api_takes_a_key():
    views = {
        pattern.callback.view_class
        for resolver in get_resolver().url_patterns
        for pattern in getattr(resolver, "url_patterns", [])
        if issubclass(getattr(pattern.callback, "view_class", object), ApiView)
    }
    posts = [view.post for view in views if hasattr(view, "post")]
    assert len(posts) > 20
    assert [post.__qualname__ for post in posts if not hasattr(post, "__wrapped__")] == []


@pytest.fixture
def user(transactional_db):
    return User.objects.create(username="integration.test")


def once(user, produce, *, key="k-1", digest="d", now=NOW):
    return answer_once(user=user, key=key, request_digest=digest, now=now, produce=produce)


def make_user():
    """Something that can be counted: one user for each time that it is done."""
    User.objects.create(username=f"made-{User.objects.count()}")
    return Answer(201, "{}")


def made():
    return User.objects.filter(username__startswith="made-").count()


def test_key_is_forgotten_after_its_time(user):
    once(user, make_user)
    once(user, make_user, now=NOW + KEPT - timedelta(seconds=1))
    assert made() == 1
    once(user, make_user, digest="other", now=NOW + KEPT)
    assert (made(), StoredAnswer.objects.get().created_at) == (2, NOW + KEPT)


def test_answers_are_deleted_after_their_time_only(user):
    once(user, make_user)
    assert forget_answers(now=NOW + KEPT - timedelta(seconds=1)) == 0
    assert forget_answers(now=NOW + KEPT) == 1


def test_command_says_how_many_answers_it_forgot(user, capsys):
    once(user, make_user, now=NOW - 52 * KEPT)
    call_command("forget_answers")
    assert capsys.readouterr().out == "1 stored answers were forgotten.\n"


def test_repeats_at_once_are_done_once(user):
    results = at_once(*[lambda: once(user, make_user)] * WORKERS)
    assert {type(result) for result in results} <= {Answer, KeyInUseError}
    assert Answer(201, "{}") in results
    assert made() == 1


def test_repeat_while_the_first_runs_is_refused_where_writers_run_side_by_side(user):
    repeat_has_answer = Event()
    with ThreadPoolExecutor(1) as pool:
        repeats = []

        def repeat():
            try:
                return once(user, make_user)
            except KeyInUseError as error:
                return error
            finally:
                repeat_has_answer.set()
                connection.close()

        def produce():
            repeats.append(pool.submit(repeat))
            # On SQLite the repeat cannot answer before this transaction ends: it waits for the one write lock.
            repeat_has_answer.wait(timeout=1)
            return make_user()

        assert once(user, produce) == Answer(201, "{}")
        expected = {"postgresql": KeyInUseError, "sqlite": Answer}[connection.vendor]
        assert type(repeats[0].result()) is expected
    assert made() == 1


def test_answer_and_effect_stand_or_fall_together(user):
    def fail_after_the_effect():
        make_user()
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        once(user, fail_after_the_effect)
    assert (User.objects.count(), StoredAnswer.objects.count()) == (1, 0)


@pytest.mark.clean_error_of("storedanswer_one_per_user_and_key")
def test_second_answer_of_a_key_is_refused_by_the_service(user):
    once(user, make_user)
    with pytest.raises(KeyReusedError):
        once(user, make_user, digest="other")


@pytest.mark.refused_by_database("storedanswer_one_per_user_and_key")
def test_second_answer_of_a_key_is_refused_by_the_database(user):
    once(user, make_user)
    with refused("storedanswer_one_per_user_and_key"):
        copy_of(StoredAnswer.objects.get())
