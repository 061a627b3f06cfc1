"""Spools that are kept for a visitor: taken off what is free until an hour, and given back after it.

What is kept is an order of a kind of its own: it holds spools of the shelf as any order does, so no reader of free
stock has to know of it, but it is no demand, is not due and never ships. Nothing watches the clock. What is over goes
back when somebody next looks at the stock or needs its spools: before a stock page, the stock of the API, a make list,
and an order that the shelf would not cover.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from django.db.models import Q

from inventory.models import Order, OrderLineChange, Sku
from inventory.order_errors import ClosedOrderError, NotFreeError, OrderFieldError
from inventory.rules.clock import Clock
from inventory.selectors.kept import past_kept
from inventory.services.allocations import AllocationChanges, lock_supply
from inventory.services.amendments import cancel_order, take_back
from inventory.services.order_lines import close_order, lock_open_order
from inventory.services.transactions import in_one_transaction


class PastKeptError(Exception):
    """The shelf falls short of SKUs of which it holds spools that were kept until before now."""

    def __init__(self, sku_ids: Collection[int], *, clock: Clock) -> None:
        super().__init__(f"Kept until before {clock.occurred_at}: SKUs {', '.join(map(str, sku_ids))}.")
        self.sku_ids = sku_ids
        self.clock = clock


@in_one_transaction
def end_kept(*, order_id: int, clock: Clock) -> None:
    """Give back what is kept for a visitor before its hour.

    Raises
    ------
    UnknownOrderError, ClosedOrderError
        If there is none, or it has gone back or was taken already.
    OrderFieldError
        If the order is none that is kept.
    """
    lock_kept_order(order_id, clock=clock)
    cancel_order(order_id=order_id, by="customer", clock=clock)


def end_past_kept(*, clock: Clock, sku_ids: Collection[int] | None = None) -> int:
    """Give back what is over at the instant, of all SKUs or of some; say how much was. One query where nothing is.

    Each goes back in a transaction of its own, and serves the lines that wait for its spools.
    """
    past = past_kept(now=clock.occurred_at, sku_ids=sku_ids)
    for order_id in past:
        try:
            cancel_order(order_id=order_id, by="customer", clock=clock)
        except ClosedOrderError:
            # Somebody else gave it back, or took it as an order, since we looked.
            continue
    return len(past)


def lock_kept_order(order_id: int, *, clock: Clock) -> Order:
    """Lock what is kept for a visitor, who now orders. One query.

    Raises
    ------
    UnknownOrderError, ClosedOrderError
        If there is none, or it has gone back or was taken already.
    OrderFieldError
        If the order is none that is kept.
    """
    kept = lock_open_order(order_id, clock=clock, may_be_kept=True)
    if kept.kind != Order.Kind.KEPT:
        raise OrderFieldError(
            "Order {order} is none that is kept for a visitor.", order=kept.reference, pointer="/kept_order"
        )
    return kept


def check_free(lines: Sequence[tuple[str, int]], free_spools: Sequence[int]) -> None:
    """Refuse to keep what is not free on the shelf: a visitor takes it along, so nothing of a run helps.

    Raises
    ------
    NotFreeError
        With a pointer to the first line that is short.
    """
    for index, ((code, quantity), free) in enumerate(zip(lines, free_spools, strict=True)):
        if quantity > free:
            raise NotFreeError(
                "{free} of {code} are free, {quantity} were to be kept.",
                free=free,
                code=code,
                quantity=quantity,
                pointer=f"/lines/{index}/quantity",
            )


def give_back_to_its_order(order_id: int, *, codes: Collection[str], clock: Clock) -> list[int]:
    """Give back what is kept, for the order of these SKUs that its visitor places in the same transaction.

    Locks the kept order, then all SKUs of both orders, and returns them: what the visitor leaves serves who waits.

    Raises
    ------
    UnknownOrderError, ClosedOrderError, OrderFieldError
        As `lock_kept_order`.
    """
    kept = lock_kept_order(order_id, clock=clock)
    skus = Sku.objects.filter(Q(item__code__in=codes) | Q(order_lines__order=kept))
    sku_ids = list(skus.order_by("pk").values_list("pk", flat=True).distinct())
    changes = AllocationChanges(lock_supply(sku_ids=sku_ids, clock=clock), clock)
    take_back(kept, changes=changes, reason=OrderLineChange.Reason.CANCELLED_BY_CUSTOMER, clock=clock)
    changes.write()
    close_order(kept, state=Order.State.CANCELLED, clock=clock, cancelled_by="customer")
    return sku_ids
