"""Orders of a file enter the books: their outcome in bulk, and open lines promised as if they arrived one by one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from inventory.models import Order, OrderLine, OrderLineChange, Shipment, ShipmentLine
from inventory.plant_files.order_rows import LineRecord, OrderRecord
from inventory.plant_files.progress import Progress
from inventory.rules.allocation import plan_line
from inventory.rules.calendar import PlantCalendar
from inventory.rules.clock import Clock
from inventory.services.allocations import AllocationChanges, OpenLine, lock_supply, set_promised_day

ORDERS_AT_ONCE = 2_000
EARLIER = "shipped before the books opened"


@dataclass(frozen=True)
class OrdersWritten:
    """How many orders and lines entered the books."""

    orders: int
    lines: int
    open_lines: int
    lines_without_promise: int


def span_of(instants: Sequence[datetime], *, as_of: datetime) -> tuple[date, date]:
    """First and last day for which the calendar must answer: the oldest order to a year after `as_of`."""
    return min([as_of, *instants]).date() - timedelta(days=1), as_of.date() + timedelta(days=400)


def write_orders(
    orders: Sequence[OrderRecord], *, calendar: PlantCalendar, as_of: datetime, progress: Progress
) -> OrdersWritten:
    """Write orders in the order in which they arrived, then promise what is open. Run it in a transaction.

    What left before goes in with its outcome and no movements: it was never in this ledger. Open lines are promised
    as of `as_of` by the rule of a new order, first received first served.
    """
    waiting: list[OrderLine] = []
    lines = 0
    for start in range(0, len(orders), ORDERS_AT_ONCE):
        progress("orders", start, len(orders))
        batch = orders[start : start + ORDERS_AT_ONCE]
        written = list(_write_batch(batch, calendar=calendar, as_of=as_of))
        lines += len(written)
        waiting += [line for line, record in written if record.is_open]
    progress("orders", len(orders), len(orders))
    _promise(waiting, calendar=calendar, as_of=as_of)
    return OrdersWritten(
        orders=len(orders),
        lines=lines,
        open_lines=len(waiting),
        lines_without_promise=sum(line.promised_day is None for line in waiting),
    )


def _write_batch(
    batch: Sequence[OrderRecord], *, calendar: PlantCalendar, as_of: datetime
) -> Iterator[tuple[OrderLine, LineRecord]]:
    orders = Order.objects.bulk_create(_order(record, calendar=calendar, as_of=as_of) for record in batch)
    pairs = [(order, line) for order, record in zip(orders, batch, strict=True) for line in record.lines]
    lines = OrderLine.objects.bulk_create(_order_line(order, record) for order, record in pairs)
    written = list(zip(lines, (record for _, record in pairs), strict=True))
    OrderLineChange.objects.bulk_create(change for line, record in written for change in _changes(line, record))
    _write_earlier_shipments(written, as_of=as_of, calendar=calendar)
    return iter(written)


def _order(record: OrderRecord, *, calendar: PlantCalendar, as_of: datetime) -> Order:
    draft = record.draft
    closed_at = None if record.is_open else _closed_at(record, calendar=calendar, as_of=as_of)
    return Order(
        channel=record.channel,
        reference=draft.reference,
        kind=draft.kind,
        received_at=record.received_at,
        known_at=record.received_at,
        wanted_day=draft.wanted_day,
        due_day=record.due_day,
        may_part_ship=draft.may_part_ship,
        ship_to=draft.ship_to,
        body_digest=draft.digest,
        state=_state(record),
        is_history=not record.is_open,
        cancelled_by="" if record.is_open else next((line.cancelled_by for line in record.lines if line.cancelled), ""),
        closed_at=closed_at,
        closed_known_at=closed_at,
    )


def _state(record: OrderRecord) -> str:
    if record.is_open:
        return Order.State.OPEN
    return Order.State.SHIPPED if any(line.shipped for line in record.lines) else Order.State.CANCELLED


def _closed_at(record: OrderRecord, *, calendar: PlantCalendar, as_of: datetime) -> datetime:
    """The last thing that happened to the order: a pick-up or a cancellation, never after `as_of`."""
    instants = [record.received_at]
    for line in record.lines:
        if line.cancelled_at is not None:
            instants.append(line.cancelled_at)
        if line.shipped_day is not None:
            instants.append(left_at(line.shipped_day, calendar=calendar))
    return min(max(instants), as_of)


def left_at(day: date, *, calendar: PlantCalendar) -> datetime:
    """The pick-up of a ship day; the last minute of a day on which the calendar knows no pick-up."""
    return calendar.pick_up_at(day) if calendar.is_ship_day(day) else calendar.at(day, time(23, 59))


def _order_line(order: Order, record: LineRecord) -> OrderLine:
    return OrderLine(
        order=order,
        line_no=record.line_no,
        sku=record.sku,
        quantity=record.quantity - record.cancelled,
        shipped=record.shipped,
        quoted_day=record.quoted_day,
        shipped_complete_day=record.shipped_day,
    )


def _changes(line: OrderLine, record: LineRecord) -> Iterator[OrderLineChange]:
    received_at = line.order.received_at
    placed = OrderLineChange.Reason.PLACED
    yield OrderLineChange(
        order_line=line, delta=record.quantity, reason=placed, occurred_at=received_at, known_at=received_at
    )
    if record.cancelled and record.cancelled_at is not None:
        yield OrderLineChange(
            order_line=line,
            delta=-record.cancelled,
            reason=f"cancelled_by_{record.cancelled_by}",
            occurred_at=record.cancelled_at,
            known_at=record.cancelled_at,
        )


def _write_earlier_shipments(
    written: Sequence[tuple[OrderLine, LineRecord]], *, as_of: datetime, calendar: PlantCalendar
) -> None:
    """What left of orders that are still open: shipments without movements, so that the lines add up.

    History as a whole needs none. The day is the line's own where it is complete, else that of `as_of`.
    """
    by_parcel: dict[tuple[int, date], list[OrderLine]] = {}
    for line, record in written:
        if line.shipped and not line.order.is_history:
            day = record.shipped_day or calendar.local_day(as_of)
            by_parcel.setdefault((line.order_id, day), []).append(line)
    parcels = [
        Shipment(
            order_id=order_id,
            ship_day=day,
            shipped_at=min(left_at(day, calendar=calendar), as_of),
            known_at=min(left_at(day, calendar=calendar), as_of),
            document=EARLIER,
        )
        for order_id, day in by_parcel
    ]
    Shipment.objects.bulk_create(parcels)
    ShipmentLine.objects.bulk_create(
        ShipmentLine(shipment=parcel, order_line=line, quantity=line.shipped)
        for parcel, lines in zip(parcels, by_parcel.values(), strict=True)
        for line in lines
    )


def _promise(lines: Sequence[OrderLine], *, calendar: PlantCalendar, as_of: datetime) -> None:
    clock = Clock.at(as_of)
    supply = lock_supply(sku_ids={line.sku_id for line in lines}, clock=clock)
    changes = AllocationChanges(supply, clock)
    today = calendar.first_ship_day(as_of)
    for line in lines:
        plan = plan_line(
            need_spools=line.quantity - line.shipped,
            not_before=line.order.due_day,
            sources=supply.sources(line.sku_id, today=today),
            held={},
        )
        set_promised_day(line, plan.promised_day)
        changes.take(OpenLine(line=line), plan.takes)
    changes.write()
    OrderLine.objects.bulk_update(lines, ["promised_day", "quoted_day"], batch_size=500)
