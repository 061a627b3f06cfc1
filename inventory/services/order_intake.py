"""Orders taken in one after the other: checked, promised from what those before left, and gathered to be written."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory.errors import BooksError
from inventory.models import Order
from inventory.order_errors import ReferenceInUseError, UnknownChannelError, UnknownSkuError
from inventory.rules.allocation import SHELF, LinePlan, first_quote, plan_line
from inventory.rules.order_draft import OrderDraft, check_kept_until, check_wanted_day
from inventory.rules.order_receipt import LinePromise, OrderReceipt, SupplyPromise
from inventory.services.allocations import LockedSupply
from inventory.services.keeping import check_free
from inventory.services.order_lines import calendar_for, check_on_sale
from inventory.services.order_rows import Arrival, Found, FoundOrder, NewOrders, SkuFacts


@dataclass(frozen=True)
class _Head:
    """An order that can be placed, before its lines are promised."""

    order_id: int
    arrival: Arrival
    due_day: date
    ship_day: date
    skus: Sequence[SkuFacts]


def short_skus(arrivals: Sequence[Arrival], found: Found) -> list[int]:
    """The SKUs of which the shelf has less free than the orders ask for."""
    wanted: Counter[int] = Counter()
    for arrival in arrivals:
        for code, spools in arrival.body.lines:
            if sku := found.skus.get(code):
                wanted[sku.sku_id] += spools
    return [sku_id for sku_id, spools in wanted.items() if found.supply.shelf[sku_id].free < spools]


class Intake:
    """What has come of the orders so far, in memory; `new` holds the rows to write."""

    def __init__(self, found: Found) -> None:
        self.new = NewOrders()
        self._found = found
        self._known = dict(found.orders)

    def outcome(self, arrival: Arrival) -> OrderReceipt | FoundOrder | BooksError:
        """Place an order, find it placed before, or refuse it; what is refused takes nothing."""
        body = arrival.body
        try:
            if body.channel_code not in self._found.channel_ids:
                raise UnknownChannelError(
                    "There is no channel {channel}.", channel=body.channel_code, pointer="/channel"
                )
            return self._repeated(body) or self._placed(self._head(arrival))
        except BooksError as error:
            return error

    def _repeated(self, body: OrderDraft) -> FoundOrder | None:
        known = self._known.get((body.channel_code, body.reference))
        if known is not None and known.body_digest != body.digest:
            raise ReferenceInUseError(
                "Channel {channel} has sent reference {reference} before, with another body.",
                channel=body.channel_code,
                reference=body.reference,
                pointer="/reference",
            )
        return known

    def _head(self, arrival: Arrival) -> _Head:
        body, at = arrival.body, arrival.clock.occurred_at
        if body.kept_until is not None:
            check_kept_until(body.kept_until, now=at)
        calendar = calendar_for(arrival.clock, wanted_day=body.wanted_day, version=self._found.plant_version)
        today = calendar.local_day(at)
        check_wanted_day(body.wanted_day, today=today)
        skus = [self._on_sale(code, index, day=today) for index, (code, _) in enumerate(body.lines)]
        if body.kept_until is not None:
            check_free(body.lines, [self._found.supply.shelf[sku.sku_id].free for sku in skus])
        return _Head(
            skus=skus,
            due_day=calendar.due_day(at, body.wanted_day),
            ship_day=calendar.ship_day_of(at),
            order_id=next(self._found.order_ids),
            arrival=arrival,
        )

    def _on_sale(self, code: str, index: int, *, day: date) -> SkuFacts:
        sku, pointer = self._found.skus.get(code), f"/lines/{index}/sku"
        if sku is None:
            raise UnknownSkuError("There is no SKU {code}.", code=code, pointer=pointer)
        check_on_sale(code, active_from=sku.active_from, active_to=sku.active_to, day=day, pointer=pointer)
        return sku

    def _placed(self, head: _Head) -> OrderReceipt:
        arrival, body = head.arrival, head.arrival.body
        self._known[body.channel_code, body.reference] = FoundOrder(head.order_id, body.digest)
        channel_id = self._found.channel_ids[body.channel_code]
        self.new.add_order(head.order_id, channel_id, arrival, due_day=head.due_day)
        lines = tuple(self._promised(head, index) for index in range(len(body.lines)))
        return OrderReceipt(
            order_id=head.order_id,
            channel=body.channel_code,
            reference=body.reference,
            kind=body.kind,
            state=Order.State.OPEN,
            received_at=arrival.clock.occurred_at,
            wanted_day=body.wanted_day,
            due_day=head.due_day,
            may_part_ship=body.may_part_ship,
            ship_to=body.ship_to,
            lines=lines,
        )

    def _promised(self, head: _Head, index: int) -> LinePromise:
        """Promise a line of what is free, and take it."""
        sku, clock, supply = head.skus[index], head.arrival.clock, self._found.supply
        code, quantity = head.arrival.body.lines[index]
        plan = plan_line(
            need_spools=quantity,
            not_before=head.due_day,
            sources=supply.sources(sku.sku_id, today=head.ship_day),
            held={},
        )
        line = LinePromise(
            line_no=index + 1,
            sku_id=sku.sku_id,
            sku_code=code,
            quantity=quantity,
            shipped=0,
            from_shelf=plan.takes.get(SHELF, 0),
            from_supply=_from_supply(plan, supply, due_day=head.due_day),
            promised_day=plan.promised_day,
            quoted_day=first_quote(plan.promised_day, is_stocked=sku.is_stocked),
            shipped_complete_day=None,
        )
        line_id = next(self._found.line_ids)
        self.new.add_line(head.order_id, line_id, line, clock=clock)
        for key, spools in plan.takes.items():
            supply.take(sku.sku_id, key, spools)
            self.new.add_allocation(line_id, sku.sku_id, key=key, spools=spools, clock=clock)
        return line


def _from_supply(plan: LinePlan, supply: LockedSupply, *, due_day: date) -> tuple[SupplyPromise, ...]:
    outputs = [(supply.outputs[key], spools) for key, spools in plan.takes.items() if key is not None]
    return tuple(SupplyPromise(output.run.code, spools, max(due_day, output.shelf_day)) for output, spools in outputs)
