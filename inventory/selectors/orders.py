"""Orders as they stand, or as the books knew them at a past instant."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q, QuerySet, Sum

from inventory.models import (
    Allocation,
    Order,
    OrderLine,
    OrderLineChange,
    PromiseChange,
    RunOutput,
    ShipmentLine,
)
from inventory.order_errors import UnknownOrderError
from inventory.rules.order_receipt import LinePromise, OrderReceipt, SupplyPromise
from inventory.selectors.run_plans import output_plans


def order_receipt(order_id: int, *, as_of: datetime | None = None) -> OrderReceipt:
    """Return one order as it stands, or with `as_of` as it was known then. At most eight queries.

    Raises
    ------
    UnknownOrderError
        If there is no such order, or it was not known yet.
    """
    orders = _known(Order.objects.filter(pk=order_id), as_of=as_of)
    receipts = _receipts(orders, as_of=as_of)
    if not receipts:
        raise UnknownOrderError("There is no order {order}.", order=order_id, pointer="/order")
    return receipts[0]


def order_receipts(
    *,
    as_of: datetime | None = None,
    channel: str | None = None,
    reference: str | None = None,
    state: str | None = None,
    due_from: date | None = None,
    due_to: date | None = None,
    ids: Sequence[int] | None = None,
    after_id: int = 0,
    limit: int | None = None,
) -> list[OrderReceipt]:
    """Return orders by id, those after `after_id` first; the number of queries does not grow with them."""
    asked = {
        "id__in": ids,
        "channel__code": channel,
        "reference": reference,
        "due_day__gte": due_from,
        "due_day__lte": due_to,
    }
    found = Order.objects.filter(id__gt=after_id, **{key: value for key, value in asked.items() if value is not None})
    if state is not None:
        found = found.filter(_state_condition(state, as_of=as_of))
    return _receipts(_known(found.order_by("id"), as_of=as_of)[:limit], as_of=as_of)


@dataclass(frozen=True)
class MovedPromise:
    """A promise that moved, as sales tells the customer."""

    order_id: int
    channel: str
    reference: str
    line_no: int
    sku_code: str
    old_day: date | None
    new_day: date | None
    cause: str
    occurred_at: datetime
    known_at: datetime


def moved_promises(*, since: datetime, as_of: datetime | None = None) -> list[MovedPromise]:
    """Return the promises that moved at `since` or later, the latest first. One query."""
    rows = PromiseChange.objects.filter(known_at__gte=since)
    if as_of is not None:
        rows = rows.filter(known_at__lte=as_of)
    fields = (
        "order_line__order_id",
        "order_line__order__channel__code",
        "order_line__order__reference",
        "order_line__line_no",
        "order_line__sku__item__code",
        "old_day",
        "new_day",
        "cause",
        "occurred_at",
        "known_at",
    )
    return [MovedPromise(*row) for row in rows.order_by("-id").values_list(*fields)]


def _known(orders: QuerySet[Order], *, as_of: datetime | None) -> QuerySet[Order]:
    known = orders if as_of is None else orders.filter(known_at__lte=as_of)
    return known.select_related("channel")


def _state_condition(state: str, *, as_of: datetime | None) -> Q:
    if as_of is None:
        return Q(state=state)
    still_open = Q(closed_known_at__isnull=True) | Q(closed_known_at__gt=as_of)
    return still_open if state == Order.State.OPEN else Q(state=state) & ~still_open


def _state_of(order: Order, *, as_of: datetime | None) -> str:
    if as_of is not None and order.closed_known_at is not None and order.closed_known_at > as_of:
        return Order.State.OPEN
    return order.state


@dataclass(frozen=True)
class _Known:
    """What was known at an instant: of lines by id, and the shelf days of the run outputs that they hold."""

    quantity: Mapping[int, int]
    shipped: Mapping[int, int]
    promised: Mapping[int, date | None]
    completed: Mapping[int, date | None]
    shelf_day: Mapping[int, date]


def _receipts(orders: Iterable[Order], *, as_of: datetime | None) -> list[OrderReceipt]:
    found = list(orders)
    lines = list(
        OrderLine.objects.filter(order_id__in=[order.pk for order in found])
        .select_related("sku__item")
        .order_by("order_id", "line_no")
    )
    held = _live_allocations([line.pk for line in lines], as_of=as_of)
    outputs = {row.run_output_id: row.run_output for rows in held.values() for row in rows if row.run_output}
    known = _known_now(lines, outputs.values()) if as_of is None else _known_at(lines, outputs.values(), as_of=as_of)
    by_order: dict[int, list[OrderLine]] = defaultdict(list)
    for line in lines:
        if line.pk in known.quantity:
            by_order[line.order_id].append(line)
    return [_receipt(order, by_order[order.pk], known=known, held=held, as_of=as_of) for order in found]


def _receipt(
    order: Order,
    lines: Sequence[OrderLine],
    *,
    known: _Known,
    held: Mapping[int, Sequence[Allocation]],
    as_of: datetime | None,
) -> OrderReceipt:
    return OrderReceipt(
        order_id=order.pk,
        channel=order.channel.code,
        reference=order.reference,
        kind=order.kind,
        state=_state_of(order, as_of=as_of),
        received_at=order.received_at,
        wanted_day=order.wanted_day,
        due_day=order.due_day,
        may_part_ship=order.may_part_ship,
        ship_to=order.ship_to,
        lines=tuple(_line(order, line, known=known, live=held.get(line.pk, ())) for line in lines),
    )


def _line(order: Order, line: OrderLine, *, known: _Known, live: Sequence[Allocation]) -> LinePromise:
    supply = [
        SupplyPromise(
            run_code=row.run_output.run.code,
            quantity=row.quantity,
            ship_day=max(order.due_day, order.wanted_day or order.due_day, known.shelf_day[row.run_output.pk]),
        )
        for row in live
        if row.run_output is not None
    ]
    return LinePromise(
        line_no=line.line_no,
        sku_id=line.sku_id,
        sku_code=line.sku.item.code,
        quantity=known.quantity[line.pk],
        shipped=known.shipped.get(line.pk, 0),
        from_shelf=sum(row.quantity for row in live if row.run_output_id is None),
        from_supply=tuple(sorted(supply, key=lambda promise: (promise.ship_day, promise.run_code))),
        promised_day=known.promised.get(line.pk),
        quoted_day=line.quoted_day,
        shipped_complete_day=known.completed.get(line.pk),
    )


def _live_allocations(line_ids: Sequence[int], *, as_of: datetime | None) -> dict[int, list[Allocation]]:
    live = Q(end="")
    if as_of is not None:
        live = Q(created_known_at__lte=as_of) & (Q(end="") | Q(ended_known_at__gt=as_of))
    rows = Allocation.objects.filter(live, order_line_id__in=line_ids).select_related("run_output__run")
    held: dict[int, list[Allocation]] = defaultdict(list)
    for row in rows.order_by("id"):
        held[row.order_line_id].append(row)
    return held


def _known_now(lines: Sequence[OrderLine], outputs: Iterable[RunOutput]) -> _Known:
    return _Known(
        quantity={line.pk: line.quantity for line in lines},
        shipped={line.pk: line.shipped for line in lines},
        promised={line.pk: line.promised_day for line in lines},
        completed={line.pk: line.shipped_complete_day for line in lines},
        shelf_day={output.pk: output.shelf_day for output in outputs},
    )


def _known_at(lines: Sequence[OrderLine], outputs: Iterable[RunOutput], *, as_of: datetime) -> _Known:
    ids = [line.pk for line in lines]
    deltas = OrderLineChange.objects.filter(order_line_id__in=ids, known_at__lte=as_of)
    quantity = dict(deltas.order_by().values_list("order_line_id").annotate(Sum("delta")))
    shipments = ShipmentLine.objects.filter(order_line_id__in=ids, shipment__known_at__lte=as_of)
    shipped = dict(shipments.order_by().values_list("order_line_id").annotate(Sum("quantity")))
    completed = {
        line.pk: line.shipped_complete_day for line in lines if 0 < quantity.get(line.pk, 0) == shipped.get(line.pk, 0)
    }
    plans = output_plans(Q(run_output__in=outputs), as_of=as_of)
    return _Known(
        quantity=quantity,
        shipped=shipped,
        promised=_promised_at(lines, as_of=as_of),
        completed=completed,
        shelf_day={pk: plan.shelf_day for pk, plan in plans.items()},
    )


def _promised_at(lines: Sequence[OrderLine], *, as_of: datetime) -> dict[int, date | None]:
    """A change says what the day was before it: the first change after the instant tells the day of the instant."""
    promised = {line.pk: line.promised_day for line in lines}
    later = PromiseChange.objects.filter(order_line_id__in=list(promised), known_at__gt=as_of)
    for line_id, old_day in later.order_by("-id").values_list("order_line_id", "old_day"):
        promised[line_id] = old_day
    return promised
