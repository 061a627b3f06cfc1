"""Parcels that leave: what an order holds of the shelf goes to its customer, oldest lot first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.models import Allocation, Movement, Order, OrderLine, Place, Shipment, ShipmentLine
from inventory.order_errors import NotAllocatedError, NotOnShelfError, PartShipmentError, QuantityError
from inventory.rules.allocation import SHELF
from inventory.rules.clock import Clock
from inventory.rules.texts import joined, text
from inventory.services.allocations import AllocationChanges, OpenLine, lock_supply, with_live
from inventory.services.balances import lock_lots
from inventory.services.ledger import LineDraft, post_movement
from inventory.services.order_lines import calendar_for, close_order, is_complete, lock_open_order
from inventory.services.outbox import tell_order_shipped
from inventory.services.places import place
from inventory.services.transactions import in_one_transaction


@in_one_transaction
def ship_order(
    *,
    order_id: int,
    clock: Clock,
    lines: Mapping[int, int] | None = None,
    posted_by: AbstractBaseUser | None = None,
    document: str = "",
) -> Shipment:
    """Ship an order, whole or, where it may part-ship, in part.

    Only spools that the order holds of the shelf leave, lot by lot from the oldest; lots on hold stay. `lines` maps
    line numbers to spools; without it all that is allocated from the shelf leaves. An order of the plant's own use
    goes to that place of the books. The ship day is the local day on which the parcels left.

    Raises
    ------
    UnknownOrderError, ClosedOrderError
        If there is no such order, or it is shipped or cancelled.
    QuantityError
        If `lines` names a line that the order does not have, or no spools.
    NotAllocatedError
        If a line would ship more than it holds of the shelf, or nothing could ship at all.
    PartShipmentError
        If the order may not part-ship and something of it would stay behind.
    NotOnShelfError
        If its spools were not on the shelf in released lots when it is said to have left.
    """
    order = lock_open_order(order_id, clock=clock)
    supply = lock_supply(sku_ids=order.lines.values_list("sku_id", flat=True), clock=clock)
    standing = with_live(order.lines.select_related("sku__item").order_by("line_no"))
    by_no = {line.line.line_no: line for line in standing.values()}
    spools = _checked_spools(order, by_no, lines)
    changes = AllocationChanges(supply, clock)
    for number, shipped in spools.items():
        changes.hold(by_no[number], SHELF, by_no[number].held[SHELF] - shipped, end=Allocation.End.SHIPPED)
    # Before the movement: the shelf may never hold less than is allocated of it.
    changes.write()
    shipment = _write_shipment(order, by_no, spools, clock=clock, document=document)
    _move(order, shipment, clock=clock, posted_by=posted_by, document=document)
    _write_lines([by_no[number].line for number in spools], spools, shipment)
    if is_complete(line.line for line in by_no.values()):
        close_order(order, state=Order.State.SHIPPED, clock=clock)
    tell_order_shipped(shipment, clock=clock)
    return shipment


def _checked_spools(order: Order, by_no: Mapping[int, OpenLine], lines: Mapping[int, int] | None) -> dict[int, int]:
    """Spools to ship by line number."""
    on_shelf = {number: line.held.get(SHELF, 0) for number, line in by_no.items()}
    wanted = on_shelf if lines is None else lines
    for index, (number, spools) in enumerate(wanted.items()):
        if lines is not None:
            _check_line(number, spools, by_no, on_shelf, pointer=f"/lines/{index}")
    shipping = {number: spools for number, spools in wanted.items() if spools}
    if not shipping:
        raise NotAllocatedError(
            "Order {order} holds nothing of the shelf; nothing can ship.", order=order.reference, pointer="/order"
        )
    if not order.may_part_ship:
        _check_whole(order, by_no, shipping)
    return shipping


def _check_line(
    number: int, spools: int, by_no: Mapping[int, OpenLine], on_shelf: Mapping[int, int], *, pointer: str
) -> None:
    if number not in by_no:
        raise QuantityError("The order has no line {number}.", number=number, pointer=f"{pointer}/line_no")
    if not isinstance(spools, int) or isinstance(spools, bool) or spools < 1:
        raise QuantityError(
            "Line {number}: ship 1 or more whole spools, received {spools!r}.",
            number=number,
            spools=spools,
            pointer=f"{pointer}/quantity",
        )
    if spools > on_shelf[number]:
        raise NotAllocatedError(
            "Line {number} holds {on_shelf} spools of the shelf; {spools} cannot ship.",
            number=number,
            on_shelf=on_shelf[number],
            spools=spools,
            pointer=f"{pointer}/quantity",
        )


def _check_whole(order: Order, by_no: Mapping[int, OpenLine], shipping: Mapping[int, int]) -> None:
    left = {number: line.line.quantity - line.line.shipped - shipping.get(number, 0) for number, line in by_no.items()}
    if behind := {number: spools for number, spools in left.items() if spools}:
        what = joined(
            text("{spools} of line {number}", spools=spools, number=number) for number, spools in behind.items()
        )
        raise PartShipmentError(
            "Order {order} may not part-ship, and {what} would stay behind.",
            order=order.reference,
            what=what,
            pointer="/lines",
        )


def _write_shipment(
    order: Order, by_no: Mapping[int, OpenLine], spools: Mapping[int, int], *, clock: Clock, document: str
) -> Shipment:
    shipment = Shipment.objects.create(
        order=order,
        ship_day=calendar_for(clock, wanted_day=None).local_day(clock.occurred_at),
        shipped_at=clock.occurred_at,
        known_at=clock.known_at,
        document=document,
    )
    ShipmentLine.objects.bulk_create(
        ShipmentLine(shipment=shipment, order_line=by_no[number].line, quantity=quantity)
        for number, quantity in spools.items()
    )
    return shipment


def _move(
    order: Order, shipment: Shipment, *, clock: Clock, posted_by: AbstractBaseUser | None, document: str
) -> Movement:
    shelf = place(Place.Kind.SHELF)
    target = place(Place.Kind.OWN_USE if order.kind == Order.Kind.OWN_USE else Place.Kind.CUSTOMER)
    rows = list(shipment.lines.select_related("order_line__sku__item"))
    lots = lock_lots(item_ids=[row.order_line.sku_id for row in rows], places=[shelf], clock=clock)
    drafts: list[LineDraft] = []
    for row in rows:
        left = row.quantity
        for lot in lots.get(row.order_line.sku_id, []):
            taken = min(left, int(lot.quantity))
            if taken:
                drafts.append(LineDraft(row.order_line.sku_id, lot.lot_id, Decimal(taken), shelf, target, row))
                left -= taken
        if left:
            raise NotOnShelfError(
                "{left} of {sku} were not on the shelf in released lots at {occurred_at}.",
                left=left,
                sku=row.order_line.sku.item.code,
                occurred_at=clock.occurred_at,
            )
    return post_movement(
        kind=Movement.Kind.SHIPMENT,
        lines=drafts,
        clock=clock,
        posted_by=posted_by,
        document=document or f"order {order.reference}",
    )


def _write_lines(lines: Sequence[OrderLine], spools: Mapping[int, int], shipment: Shipment) -> None:
    for line in lines:
        line.shipped += spools[line.line_no]
        if line.shipped == line.quantity:
            line.shipped_complete_day = shipment.ship_day
    OrderLine.objects.bulk_update(lines, ["shipped", "shipped_complete_day"])
