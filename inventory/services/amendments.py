"""Orders that change after they were placed. Their due day never moves: it was fixed at receipt."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date

from django.db.models import Q

from inventory.models import Allocation, Order, OrderLine, OrderLineChange, Sku
from inventory.order_errors import BelowShippedError, OrderChangedError, OrderFieldError
from inventory.rules.allocation import SourceKey
from inventory.rules.clock import Clock
from inventory.rules.order_draft import check_wanted_day, checked_lines
from inventory.rules.order_receipt import OrderReceipt
from inventory.selectors.capacity import with_capacity
from inventory.selectors.orders import order_receipt
from inventory.services.allocations import (
    AllocationChanges,
    LockedSupply,
    OpenLine,
    lock_supply,
    open_lines,
    with_live,
)
from inventory.services.order_lines import (
    calendar_for,
    close_order,
    insert_lines,
    is_complete,
    line_change,
    lock_open_order,
    skus_on_sale,
)
from inventory.services.promises import CAUSE_SUPPLY, plan_open_line, promise_held, replan_lines
from inventory.services.transactions import in_one_transaction

CAUSE_AMENDED = "the order was amended"
Reason = OrderLineChange.Reason


class Unchanged:
    """Marks an argument of `amend_order` that was not given: None is a wanted day withdrawn."""


UNCHANGED = Unchanged()


def amend_order(
    *,
    order_id: int,
    clock: Clock,
    lines: Sequence[tuple[str, int]] | None = None,
    wanted_day: date | Unchanged | None = UNCHANGED,
    versions: Collection[str] | None = None,
) -> OrderReceipt:
    """Change an open order: `lines` are all its lines as they are to stand; an SKU that is left out is dropped.

    The due day stays. What a line no longer needs goes back and serves the lines that wait for it; what it needs
    more is promised as for a new order. A line keeps its number. The queries do not grow with the lines. With
    `versions` (of `OrderReceipt`) the order is changed only if it is in one of these states.

    Raises
    ------
    UnknownOrderError, ClosedOrderError
        If there is no such order, or it is shipped or cancelled.
    OrderChangedError
        If it is in none of the states in `versions`.
    BelowShippedError
        If a line would stand below what has left the plant.
    InvalidInputError
        For an unknown SKU, one that is added while not on sale, or a quantity outside its limits.
    """
    wanted = None if lines is None else dict(checked_lines(lines))
    _amend(order_id, wanted, wanted_day, clock, versions)
    return with_capacity(order_receipt(order_id), as_of=clock.known_at)


@in_one_transaction
def _amend(
    order_id: int,
    wanted: Mapping[str, int] | None,
    wanted_day: date | Unchanged | None,
    clock: Clock,
    versions: Collection[str] | None,
) -> None:
    order = lock_open_order(order_id, clock=clock)
    if versions is not None and order_receipt(order_id).version not in versions:
        raise OrderChangedError("Order {order} has changed since it was read; read it again.", order=order.reference)
    today = _set_wanted_day(order, wanted_day, clock=clock)
    standing = list(order.lines.select_related("sku__item").order_by("line_no"))
    quantities = {line.sku.item.code: line.quantity for line in standing} if wanted is None else wanted
    skus = _checked_skus(standing, quantities, today=today)
    supply = lock_supply(sku_ids=[line.sku_id for line in standing] + [sku.pk for sku in skus.values()], clock=clock)
    # Read again under the lock: a pack or a count may have moved what the lines hold.
    current = {line.line.sku.item.code: line for line in _order_lines(order).values()}
    _check_shipped(current, quantities)
    added = _add_lines(order, current, quantities, skus, clock=clock)
    changes = AllocationChanges(supply, clock)
    freed = _change_quantities(current, quantities, supply=supply, changes=changes, clock=clock)
    _promise_amended(order, [*current.values(), *added], supply=supply, changes=changes, clock=clock)
    _serve_others(order, freed, supply=supply, changes=changes, clock=clock)
    changes.write()
    _close_if_complete(order, [line.line for line in (*current.values(), *added)], clock=clock)


def _set_wanted_day(order: Order, wanted_day: date | Unchanged | None, *, clock: Clock) -> date:
    """Store a new wanted day; return the local day of the amendment."""
    asked = order.wanted_day if isinstance(wanted_day, Unchanged) else wanted_day
    today = calendar_for(clock, wanted_day=asked).local_day(clock.occurred_at)
    if asked != order.wanted_day:
        check_wanted_day(asked, today=today)
        order.wanted_day = asked
        order.save(update_fields=["wanted_day"])
    return today


def _checked_skus(standing: Sequence[OrderLine], quantities: Mapping[str, int], *, today: date) -> dict[str, Sku]:
    """The SKUs of lines that are new or grow: only those must be on sale."""
    before = {line.sku.item.code: line.quantity for line in standing}
    positions = {code: index for index, code in enumerate(quantities)}
    growing = [code for code, quantity in quantities.items() if quantity > before.get(code, 0)]
    return skus_on_sale(growing, day=today, positions=positions) if growing else {}


def _order_lines(order: Order) -> dict[int, OpenLine]:
    lines = with_live(order.lines.select_related("sku__item").order_by("line_no"))
    for line in lines.values():
        line.line.order = order
    return lines


def _check_shipped(current: Mapping[str, OpenLine], quantities: Mapping[str, int]) -> None:
    positions = {code: index for index, code in enumerate(quantities)}
    for code, line in current.items():
        if quantities.get(code, 0) < line.line.shipped:
            pointer = f"/lines/{positions[code]}/quantity" if code in positions else "/lines"
            raise BelowShippedError(
                "{shipped} of {code} have shipped; the line cannot stand at {quantity}.",
                shipped=line.line.shipped,
                code=code,
                quantity=quantities.get(code, 0),
                pointer=pointer,
            )


def _add_lines(
    order: Order,
    current: Mapping[str, OpenLine],
    quantities: Mapping[str, int],
    skus: Mapping[str, Sku],
    *,
    clock: Clock,
) -> list[OpenLine]:
    last_no = max(line.line.line_no for line in current.values())
    codes = [code for code in quantities if code not in current]
    lines = [
        OrderLine(order=order, line_no=number, sku=skus[code], quantity=quantities[code])
        for number, code in enumerate(codes, start=last_no + 1)
    ]
    insert_lines(lines, clock=clock, reason=Reason.AMENDED)
    return [OpenLine(line=line) for line in lines]


def _change_quantities(
    current: Mapping[str, OpenLine],
    quantities: Mapping[str, int],
    *,
    supply: LockedSupply,
    changes: AllocationChanges,
    clock: Clock,
) -> set[int]:
    """Write the new quantities of standing lines and give back what they no longer need; return the SKUs set free."""
    deltas = {code: quantities.get(code, 0) - line.line.quantity for code, line in current.items()}
    changed = {code: delta for code, delta in deltas.items() if delta}
    for code, delta in changed.items():
        current[code].line.quantity += delta
    _write_deltas([(current[code].line, delta) for code, delta in changed.items()], reason=Reason.AMENDED, clock=clock)
    return {
        current[code].line.sku_id
        for code in changed
        if _give_back(current[code], max(-current[code].uncovered_spools, 0), supply=supply, changes=changes)
    }


def _write_deltas(deltas: Sequence[tuple[OrderLine, int]], *, reason: str, clock: Clock) -> None:
    if deltas:
        OrderLine.objects.bulk_update([line for line, _ in deltas], ["quantity"])
        OrderLineChange.objects.bulk_create(
            line_change(line, delta, clock=clock, reason=reason) for line, delta in deltas
        )


def _give_back(line: OpenLine, spools: int, *, supply: LockedSupply, changes: AllocationChanges) -> bool:
    """Give back spools, those that come last first and those of the shelf at the very end; say whether any went."""

    def arrival(key: SourceKey) -> tuple[date, int]:
        return (date.min, 0) if key is None else (supply.outputs[key].shelf_day, key)

    left = spools
    for key in sorted(line.live, key=arrival, reverse=True):
        back = min(left, line.held[key])
        changes.hold(line, key, line.held[key] - back, end=Allocation.End.RELEASED)
        left -= back
    return spools > 0


def _promise_amended(
    order: Order, lines: Sequence[OpenLine], *, supply: LockedSupply, changes: AllocationChanges, clock: Clock
) -> None:
    calendar = calendar_for(clock, wanted_day=order.wanted_day)
    today = calendar.ship_day_of(clock.occurred_at)
    for line in lines:
        if line.line.quantity > line.line.shipped:
            plan_open_line(supply, changes, line, today=today, calendar=calendar, cause=CAUSE_AMENDED)
            promise_held(supply, changes, line, today=today, calendar=calendar, cause=CAUSE_AMENDED)


def _serve_others(
    order: Order, sku_ids: set[int], *, supply: LockedSupply, changes: AllocationChanges, clock: Clock
) -> None:
    if sku_ids:
        waiting = open_lines(Q(sku_id__in=sku_ids) & ~Q(order=order))
        replan_lines(supply, changes, waiting, clock=clock, cause=CAUSE_SUPPLY)


def _close_if_complete(order: Order, lines: Sequence[OrderLine], *, clock: Clock) -> None:
    """An order that was reduced to what has shipped is shipped; its lines were complete when their last part left."""
    if not is_complete(lines):
        return
    for line in lines:
        if line.shipped and line.shipped_complete_day is None:
            last = line.shipment_lines.order_by("-shipment__ship_day").values_list("shipment__ship_day", flat=True)
            line.shipped_complete_day = last[0]
            line.save(update_fields=["shipped_complete_day"])
    close_order(order, state=Order.State.SHIPPED, clock=clock)


def cancel_order(*, order_id: int, by: str, clock: Clock) -> OrderReceipt:
    """Cancel what has not shipped yet, for the customer or for the shop, and serve the lines that wait for it.

    An order of which nothing has shipped is cancelled; one of which something has is closed as shipped.

    Raises
    ------
    UnknownOrderError, ClosedOrderError
        If there is no such order, or it is shipped or cancelled.
    """
    _cancel(order_id, by, clock)
    return order_receipt(order_id)


REASON_OF = {"customer": Reason.CANCELLED_BY_CUSTOMER, "shop": Reason.CANCELLED_BY_SHOP}


@in_one_transaction
def _cancel(order_id: int, by: str, clock: Clock) -> None:
    if by not in REASON_OF:
        raise OrderFieldError(
            "An order is cancelled by the customer or the shop, received {by!r}.", by=by, pointer="/by"
        )
    order = lock_open_order(order_id, clock=clock, may_be_kept=True)
    sku_ids = set(order.lines.values_list("sku_id", flat=True))
    supply = lock_supply(sku_ids=sku_ids, clock=clock)
    changes = AllocationChanges(supply, clock)
    lines = take_back(order, changes=changes, reason=REASON_OF[by], clock=clock)
    _serve_others(order, sku_ids, supply=supply, changes=changes, clock=clock)
    changes.write()
    has_shipped = any(line.shipped for line in lines)
    state = Order.State.SHIPPED if has_shipped else Order.State.CANCELLED
    close_order(order, state=state, clock=clock, cancelled_by=by)


def take_back(order: Order, *, changes: AllocationChanges, reason: str, clock: Clock) -> list[OrderLine]:
    """Give back all that a locked order holds, and let its lines stand at what has shipped of them; return these."""
    lines = list(_order_lines(order).values())
    for line in lines:
        for key in list(line.live):
            changes.hold(line, key, 0, end=Allocation.End.RELEASED)
    rows = [line.line for line in lines]
    deltas = [(row, row.shipped - row.quantity) for row in rows if row.shipped != row.quantity]
    for row, delta in deltas:
        row.quantity += delta
    _write_deltas(deltas, reason=reason, clock=clock)
    return rows
