"""Transactions that clash are run again, a bounded number of times, and nothing else is.

Codes: PostgreSQL documentation, Appendix A, class 40: 40001 serialization_failure, 40P01 deadlock_detected.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from threading import Barrier, BrokenBarrierError

import pytest
from django.db import OperationalError, transaction

from inventory.models import Item, ShelfStock
from inventory.services import transactions
from inventory.services.transactions import MOST_TRIES, ContentionError, in_one_transaction
from tests.inventory.at_once import at_once
from tests.inventory.builders import build_tiny_plant, local

pytestmark = pytest.mark.django_db(transaction=True)
DEADLOCK, SERIALIZATION, STATEMENT_TIMEOUT = "40P01", "40001", "57014"


class _ClashError(Exception):
    """What the database's driver raises."""

    def __init__(self, sqlstate: str) -> None:
        self.sqlstate = sqlstate


@pytest.fixture(autouse=True)
def short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transactions, "FIRST_WAIT_S", 0.0001)


def failing(times: int, sqlstate: str) -> tuple[Callable[[], str], list[int]]:
    """A service that writes, then clashes so many times before it succeeds, and the list of its tries."""
    tries: list[int] = []

    @in_one_transaction
    def service() -> str:
        tries.append(Item.objects.count())
        Item.objects.create(code=f"I{len(tries)}", name="x", kind="box", unit="piece")
        if len(tries) <= times:
            raise OperationalError("clash") from _ClashError(sqlstate)
        return "done"

    return service, tries


@pytest.mark.parametrize("sqlstate", [DEADLOCK, SERIALIZATION])
def test_service_that_clashed_is_run_again_from_the_beginning(sqlstate):
    service, tries = failing(MOST_TRIES - 1, sqlstate)
    assert service() == "done"
    # Each try found what was there before the first: nothing of a clash is left.
    assert tries == [0] * MOST_TRIES
    assert Item.objects.count() == 1


def test_service_that_goes_on_clashing_is_refused_and_leaves_nothing():
    service, tries = failing(99, DEADLOCK)
    with pytest.raises(ContentionError, match="nothing was changed"):
        service()
    assert (len(tries), Item.objects.count()) == (MOST_TRIES, 0)


def test_other_errors_of_the_database_are_not_tried_again():
    service, tries = failing(1, STATEMENT_TIMEOUT)
    with pytest.raises(OperationalError):
        service()
    assert len(tries) == 1


def test_inner_service_leaves_the_clash_to_the_outermost():
    service, tries = failing(1, DEADLOCK)
    with pytest.raises(OperationalError), transaction.atomic():
        service()
    assert len(tries) == 1


def test_two_services_that_lock_in_opposite_orders_both_succeed():
    # On PostgreSQL the server finds the deadlock and gives one of them up; SQLite lets one wait for the other.
    plant = build_tiny_plant()
    skus = (plant.black_1kg.pk, plant.black_250g.pk)
    ShelfStock.objects.bulk_create(ShelfStock(sku_id=pk, changed_at=local("2027-03-01 07:00")) for pk in skus)
    both_hold_one = Barrier(2)

    @in_one_transaction
    def lock(first: int, second: int) -> str:
        ShelfStock.objects.select_for_update().get(sku_id=first)
        with suppress(BrokenBarrierError):
            both_hold_one.wait(timeout=2)
        ShelfStock.objects.select_for_update().get(sku_id=second)
        return "both locked"

    assert at_once(lambda: lock(*skus), lambda: lock(*skus[::-1])) == ["both locked"] * 2
