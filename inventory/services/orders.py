"""Orders: placed and promised at once, amended, cancelled. Each service is one transaction; a refusal writes nothing.

Lock order: Order row, ShelfStock rows by SKU id, RunOutput rows by id (see `inventory.services.allocations`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from django.db import IntegrityError
from django.db.models import OuterRef, Subquery

from inventory.models import Channel, Order, OrderLine, OrderLineChange, Sku
from inventory.order_errors import ReferenceInUseError, UnknownChannelError
from inventory.rules.allocation import SHELF, SourceKey, plan_line
from inventory.rules.clock import Clock
from inventory.rules.order_draft import OrderDraft, check_kept_until, check_wanted_day
from inventory.rules.order_receipt import LinePromise, OrderReceipt, SupplyPromise
from inventory.selectors.capacity import with_capacity
from inventory.selectors.kept import past_kept
from inventory.selectors.orders import order_receipt
from inventory.services.allocations import (
    AllocationChanges,
    LockedSupply,
    OpenLine,
    lock_outputs,
    lock_shelf,
    lock_supply,
    set_promised_day,
)
from inventory.services.amendments import UNCHANGED, amend_order, cancel_order
from inventory.services.keeping import (
    PastKeptError,
    check_free,
    end_past_kept,
    give_back_to_its_order,
    lock_kept_order,
)
from inventory.services.order_lines import calendar_for, insert_lines, skus_on_sale
from inventory.services.promises import promise_waiting_lines
from inventory.services.transactions import in_one_transaction

__all__ = ["UNCHANGED", "OrderDraft", "amend_order", "cancel_order", "order_receipt", "place_order"]


def place_order(*, body: OrderDraft, clock: Clock, kept_order_id: int | None = None) -> OrderReceipt:
    """Take an order in and promise each line: from the shelf first, then from the runs by the day they reach it.

    An order of the kind kept takes spools of the shelf alone, all or none, until its end. With `kept_order_id` what is
    kept there for a visitor goes to this order, in the same transaction.

    A repeat of the same body under the same reference returns the order as it stands, with `replayed` set. About
    twelve queries, whatever the number of lines. Where something stays unpromised the planner is asked, after the
    rows are unlocked, which day capacity could give.

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
    try:
        receipt = _place(body, clock, kept_order_id)
    except PastKeptError as short:
        end_past_kept(clock=clock, sku_ids=short.sku_ids)
        receipt = _place(body, clock, kept_order_id)
    except IntegrityError as error:
        if not _names_reference(error):
            raise
        # Another connection placed the same reference between our look and our insert.
        receipt = _place(body, clock, kept_order_id)
    return with_capacity(receipt, as_of=clock.known_at)


def _names_reference(error: IntegrityError) -> bool:
    """Both databases name the rule: PostgreSQL by the constraint, SQLite by its columns."""
    text = str(error)
    return "order_reference_unique_per_channel" in text or "inventory_order.reference" in text


@in_one_transaction
def _place(body: OrderDraft, clock: Clock, kept_order_id: int | None) -> OrderReceipt:
    channel, existing = _channel(body)
    if existing is not None:
        return _repeat(existing, body)
    if body.kept_until is not None:
        check_kept_until(body.kept_until, now=clock.occurred_at)
    kept = None if kept_order_id is None else lock_kept_order(kept_order_id, clock=clock)
    calendar = calendar_for(clock, wanted_day=body.wanted_day)
    check_wanted_day(body.wanted_day, today=calendar.local_day(clock.occurred_at))
    skus = skus_on_sale([code for code, _ in body.lines], day=calendar.local_day(clock.occurred_at))
    due_day = calendar.due_day(clock.occurred_at, body.wanted_day)
    supply = _lock_what_is_needed(body.lines, skus, kept=kept, clock=clock)
    changes = AllocationChanges(supply, clock)
    if kept is not None:
        give_back_to_its_order(kept, changes=changes, clock=clock)
    if body.kept_until is not None:
        check_free(body.lines, skus, supply=supply)
    order = _new_order(body, channel, due_day=due_day, clock=clock)
    lines, takes = _planned_lines(order, body.lines, skus, supply=supply, today=calendar.ship_day_of(clock.occurred_at))
    order.save(force_insert=True)
    insert_lines(lines, clock=clock, reason=OrderLineChange.Reason.PLACED)
    for line, taken in zip(lines, takes, strict=True):
        changes.take(OpenLine(line=line), taken)
    changes.write()
    if kept is not None:
        promise_waiting_lines(sku_ids=sorted(supply.shelf), clock=clock)
    promises = [_promise_of(line, taken, supply) for line, taken in zip(lines, takes, strict=True)]
    return _receipt(order, channel, promises)


def _channel(body: OrderDraft) -> tuple[Channel, int | None]:
    """The channel, and its order of this reference if there is one. One query."""
    same = Order.objects.filter(channel=OuterRef("pk"), reference=body.reference).values("pk")
    channel = Channel.objects.filter(code=body.channel_code).annotate(order_id=Subquery(same)).first()
    if channel is None:
        raise UnknownChannelError(f"There is no channel {body.channel_code}.", pointer="/channel")
    return channel, channel.order_id


def _repeat(order_id: int, body: OrderDraft) -> OrderReceipt:
    digest = Order.objects.values_list("body_digest", flat=True).get(pk=order_id)
    if digest != body.digest:
        raise ReferenceInUseError(
            f"Channel {body.channel_code} has sent reference {body.reference} before, with another body.",
            pointer="/reference",
        )
    return replace(order_receipt(order_id), replayed=True)


def _lock_what_is_needed(
    lines: Sequence[tuple[str, int]], skus: Mapping[str, Sku], *, kept: Order | None, clock: Clock
) -> LockedSupply:
    """Lock the shelf rows, and run outputs only of the SKUs that the shelf cannot cover; of what was kept, both.

    Raises
    ------
    PastKeptError
        If the shelf falls short and holds spools that were kept for a visitor until before now.
    """
    if kept is not None:
        sku_ids = {sku.pk for sku in skus.values()} | set(kept.lines.values_list("sku_id", flat=True))
        return lock_supply(sku_ids=sku_ids, clock=clock)
    supply = lock_shelf(sku_ids=[sku.pk for sku in skus.values()], clock=clock)
    short = [skus[code].pk for code, quantity in lines if supply.shelf[skus[code].pk].free < quantity]
    if short:
        if past_kept(now=clock.occurred_at, sku_ids=short):
            raise PastKeptError(short)
        lock_outputs(supply, sku_ids=short)
    return supply


def _new_order(body: OrderDraft, channel: Channel, *, due_day: date, clock: Clock) -> Order:
    return Order(
        channel=channel,
        reference=body.reference,
        kind=body.kind,
        received_at=clock.occurred_at,
        known_at=clock.known_at,
        wanted_day=body.wanted_day,
        due_day=due_day,
        may_part_ship=body.may_part_ship,
        ship_to=body.ship_to,
        body_digest=body.digest,
        kept_until=body.kept_until,
    )


def _planned_lines(
    order: Order, wanted: Sequence[tuple[str, int]], skus: Mapping[str, Sku], *, supply: LockedSupply, today: date
) -> tuple[list[OrderLine], list[Mapping[SourceKey, int]]]:
    lines, takes = [], []
    for number, (code, quantity) in enumerate(wanted, start=1):
        sku = skus[code]
        plan = plan_line(
            need_spools=quantity, not_before=order.due_day, sources=supply.sources(sku.pk, today=today), held={}
        )
        line = OrderLine(order=order, line_no=number, sku=sku, quantity=quantity)
        set_promised_day(line, plan.promised_day)
        lines.append(line)
        takes.append(plan.takes)
    return lines, takes


def _promise_of(line: OrderLine, takes: Mapping[SourceKey, int], supply: LockedSupply) -> LinePromise:
    outputs = [(supply.outputs[key], spools) for key, spools in takes.items() if key is not None]
    return LinePromise(
        line_no=line.line_no,
        sku_id=line.sku_id,
        sku_code=line.sku.item.code,
        quantity=line.quantity,
        shipped=0,
        from_shelf=takes.get(SHELF, 0),
        from_supply=tuple(
            SupplyPromise(output.run.code, spools, max(line.order.due_day, output.shelf_day))
            for output, spools in outputs
        ),
        promised_day=line.promised_day,
        quoted_day=line.quoted_day,
        shipped_complete_day=None,
    )


def _receipt(order: Order, channel: Channel, lines: Sequence[LinePromise]) -> OrderReceipt:
    return OrderReceipt(
        order_id=order.pk,
        channel=channel.code,
        reference=order.reference,
        kind=order.kind,
        state=order.state,
        received_at=order.received_at,
        wanted_day=order.wanted_day,
        due_day=order.due_day,
        may_part_ship=order.may_part_ship,
        ship_to=order.ship_to,
        lines=tuple(lines),
    )
