"""Orders: placed and promised at once, amended, cancelled. Each service is one transaction; a refusal writes nothing.

Lock order: Order row, ShelfStock rows by SKU id, RunOutput rows by id (see `inventory.services.allocations`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from django.db import IntegrityError

from inventory.errors import BooksError
from inventory.models import Order
from inventory.rules.clock import Clock
from inventory.rules.order_draft import OrderDraft
from inventory.rules.order_receipt import OrderReceipt
from inventory.selectors.capacity import with_capacities
from inventory.selectors.kept import past_kept
from inventory.selectors.orders import order_receipt, order_receipts
from inventory.services.allocations import lock_outputs
from inventory.services.amendments import UNCHANGED, amend_order, cancel_order
from inventory.services.keeping import PastKeptError, end_past_kept, give_back_to_its_order
from inventory.services.order_intake import Intake, short_skus
from inventory.services.order_rows import Arrival, FoundOrder, lock_for
from inventory.services.promises import promise_waiting_lines
from inventory.services.transactions import MOST_TRIES, ContentionError, in_one_transaction

__all__ = [
    "UNCHANGED",
    "Arrival",
    "OrderDraft",
    "amend_order",
    "cancel_order",
    "order_receipt",
    "place_order",
    "place_orders",
]

Outcomes = list[OrderReceipt | BooksError]


def place_order(*, body: OrderDraft, clock: Clock, kept_order_id: int | None = None) -> OrderReceipt:
    """Take an order in and promise each line: from the shelf first, then from the runs by the day they reach it.

    An order of the kind kept takes spools of the shelf alone, all or none, until its end. With `kept_order_id` what is
    kept there for a visitor goes to this order, in the same transaction.

    A repeat of the same body under the same reference returns the order as it stands, with `replayed` set.

    Raises
    ------
    ReferenceInUseError
        If the channel sent this reference with another body.
    NotFreeError
        If something to be kept is not free on the shelf.
    ClosedOrderError
        If what was kept has gone back or was taken already.
    InvalidInputError
        For an unknown channel or SKU, an SKU that is not on sale, or a field outside its limits.
    """
    place = _place if kept_order_id is None else partial(_place_what_was_kept, kept_order_id=kept_order_id)
    (outcome,) = _answered([Arrival(body, clock)], place)
    if isinstance(outcome, BooksError):
        raise outcome
    return outcome


def place_orders(arrivals: Sequence[Arrival]) -> Outcomes:
    """Take orders in, one after the other, in one transaction; one that is refused does not stop the others.

    Two trips to the database beside BEGIN and COMMIT, whatever the number of orders and lines; two more queries where
    the shelf does not cover them. Where something stays unpromised the planner is asked, once an instant, which day
    capacity could give: after the rows are unlocked, unless the caller has begun a transaction.

    Raises
    ------
    ContentionError
        If other connections sent the same references again and again.
    """
    return _answered(arrivals, _place) if arrivals else []


def _answered(arrivals: Sequence[Arrival], place: Callable[[Sequence[Arrival]], Outcomes]) -> Outcomes:
    outcomes = _placed(arrivals, place)
    taken = [
        (outcome, arrival.clock.known_at)
        for arrival, outcome in zip(arrivals, outcomes, strict=True)
        if not isinstance(outcome, BooksError)
    ]
    receipts = iter(with_capacities(taken))
    return [outcome if isinstance(outcome, BooksError) else next(receipts) for outcome in outcomes]


def _placed(arrivals: Sequence[Arrival], place: Callable[[Sequence[Arrival]], Outcomes]) -> Outcomes:
    for _ in range(MOST_TRIES):
        try:
            return place(arrivals)
        except PastKeptError as short:
            end_past_kept(clock=short.clock, sku_ids=short.sku_ids)
        except IntegrityError as error:
            # Another connection placed one of the references between our look and our insert: look again.
            if not _names_reference(error):
                raise
    raise ContentionError(
        "Others placed the same order or kept the same spools {most} times in a row; nothing was changed. "
        "Send it again.",
        most=MOST_TRIES,
    )


def _names_reference(error: IntegrityError) -> bool:
    """Both databases name the rule: PostgreSQL by the constraint, SQLite by its columns."""
    text = str(error)
    return "order_reference_unique_per_channel" in text or "inventory_order.reference" in text


@in_one_transaction
def _place(arrivals: Sequence[Arrival], *, looks_for_past_kept: bool = True) -> Outcomes:
    found = lock_for(arrivals)
    if short := short_skus(arrivals, found):
        clock = max((arrival.clock for arrival in arrivals), key=lambda clock: clock.occurred_at)
        if looks_for_past_kept and past_kept(now=clock.occurred_at, sku_ids=short):
            raise PastKeptError(short, clock=clock)
        lock_outputs(found.supply, sku_ids=short)
    intake = Intake(found)
    outcomes = [intake.outcome(arrival) for arrival in arrivals]
    intake.new.write()
    return _with_repeats(outcomes)


@in_one_transaction
def _place_what_was_kept(arrivals: Sequence[Arrival], *, kept_order_id: int) -> Outcomes:
    """Give back what is kept for a visitor and place the visitor's order; a refusal leaves it kept."""
    (arrival,) = arrivals
    body, clock = arrival.body, arrival.clock
    if Order.objects.filter(channel__code=body.channel_code, reference=body.reference).exists():
        return _place(arrivals)
    sku_ids = give_back_to_its_order(kept_order_id, codes=[code for code, _ in body.lines], clock=clock)
    outcomes = _place(arrivals, looks_for_past_kept=False)
    if isinstance(outcomes[0], BooksError):
        raise outcomes[0]
    promise_waiting_lines(sku_ids=sku_ids, clock=clock)
    return outcomes


def _with_repeats(outcomes: Sequence[OrderReceipt | FoundOrder | BooksError]) -> Outcomes:
    """Read the orders that were there before as they stand."""
    ids = [outcome.order_id for outcome in outcomes if isinstance(outcome, FoundOrder)]
    known = {receipt.order_id: replace(receipt, replayed=True) for receipt in order_receipts(ids=ids)} if ids else {}
    return [known[outcome.order_id] if isinstance(outcome, FoundOrder) else outcome for outcome in outcomes]
