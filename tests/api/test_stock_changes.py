"""Following the changes of stock by a cursor that misses none, whatever order transactions end in."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Event

import pytest
from django.db import connection, transaction
from django.utils import timezone

from inventory.models import ShelfStock
from inventory.rules.clock import Clock
from inventory.services.allocations import lock_supply
from inventory.services.counts import post_count
from tests.api.calls import get, put_on_shelf

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.alone]
BLACK, QUARTER, NATURAL = "PLA-BLACK-1000", "PLA-BLACK-250", "PETG-NAT-1000"


def changes(client, cursor=None, **query):
    """Codes of the SKUs that changed since, and the new cursor."""
    answer = get(client, "/stock/changes/", **query, **({} if cursor is None else {"cursor": cursor}))
    return [row["sku"] for row in answer["results"]], answer["cursor"]


def test_first_answer_tells_all_stock_and_the_next_only_what_changed(plant, replay):
    for sku in (BLACK, NATURAL):
        put_on_shelf(replay, sku, 5)
    first, cursor = changes(replay)
    assert first == [BLACK, NATURAL]
    assert changes(replay, cursor) == ([], cursor)
    put_on_shelf(replay, BLACK, 7, at="2027-03-01T08:00:00+01:00")
    assert changes(replay, cursor)[0] == [BLACK]


def test_sku_that_changed_often_is_told_once_as_it_stands(plant, replay):
    for spools in (5, 6, 7):
        put_on_shelf(replay, BLACK, spools)
    [row] = get(replay, "/stock/changes/")["results"]
    assert (row["sku"], row["on_shelf"]) == (BLACK, 7)


def test_changes_come_in_pages(plant, replay):
    for sku in (BLACK, NATURAL, QUARTER):
        put_on_shelf(replay, sku, 5)
    first = get(replay, "/stock/changes/", limit=2)
    rest = get(replay, "/stock/changes/", limit=2, cursor=first["cursor"])
    assert [row["sku"] for row in first["results"] + rest["results"]] == [BLACK, NATURAL, QUARTER]
    assert (first["has_more"], rest["has_more"]) == (True, False)


@pytest.mark.parametrize("cursor", ["x", "1", "-1-1", "1-1-1", "9" * 19 + "-1"])
def test_cursor_that_nobody_gave_is_refused(plant, replay, cursor):
    [error] = get(replay, "/stock/changes/", 400, cursor=cursor)["errors"]
    assert error["parameter"] == "cursor"


def test_change_that_began_early_and_ended_late_is_not_missed(plant, replay):
    """A reader comes by while one transaction is open and one that began later is over."""
    for sku in (BLACK, NATURAL):
        put_on_shelf(replay, sku, 5)
    _, cursor = changes(replay)
    has_written, may_end = Event(), Event()

    def change_slowly() -> None:
        with transaction.atomic():
            supply = lock_supply(sku_ids=[plant.black_1kg.pk], clock=Clock.at(timezone.now()))
            supply.shelf[plant.black_1kg.pk].save()
            has_written.set()
            may_end.wait(timeout=30)
        connection.close()

    def change_natural() -> None:
        clock = Clock.at(timezone.now())
        post_count(sku_code=NATURAL, place_kind="shelf", counted=Decimal(9), clock=clock, reason="counted")
        connection.close()

    with ThreadPoolExecutor(2) as pool:
        slow = pool.submit(change_slowly)
        assert has_written.wait(timeout=30)
        # On SQLite it waits for the one write lock; on PostgreSQL it is over before the slow one.
        quick = pool.submit(change_natural)
        seen, middle = changes(replay, cursor)
        may_end.set()
        slow.result()
        quick.result()
    later, _ = changes(replay, middle)
    assert sorted([*seen, *later]) == [NATURAL, BLACK]


def test_every_write_of_a_stock_row_gets_a_higher_number(plant):
    row = ShelfStock.objects.create(sku=plant.black_1kg, changed_at=timezone.now())
    numbers = [ShelfStock.objects.get().change_no]
    ShelfStock.objects.update(on_shelf=1)
    numbers.append(ShelfStock.objects.get().change_no)
    ShelfStock.objects.bulk_create(
        [row], update_conflicts=True, unique_fields=["sku"], update_fields=["allocated", "changed_at"]
    )
    numbers.append(ShelfStock.objects.get().change_no)
    assert numbers == sorted(set(numbers))
