"""Drawing materials and parts from the store into the conversion, oldest lot first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from inventory.models import Item, Place
from inventory.rules.clock import Clock
from inventory.rules.fifo import take_fifo
from inventory.services.balances import lock_lots
from inventory.services.ledger import LineDraft, place
from inventory.services.unknown_lots import unknown_lots


@dataclass(frozen=True)
class Drawn:
    """Lines that draw everything needed, and by how much the books had too little of an item."""

    lines: tuple[LineDraft, ...]
    shortfalls: Mapping[Item, Decimal]


def draw_from_store(needs: Mapping[Item, Decimal], *, clock: Clock) -> Drawn:
    """Draw what was used. Ten queries at most, whatever the number of items.

    What was used was there, whatever the books say: where they hold too little, the rest comes from the count
    difference in the lot of unknown origin, for the next count to explain.
    """
    needed = {item: quantity for item, quantity in needs.items() if quantity > 0}
    if not needed:
        return Drawn(lines=(), shortfalls={})
    store, conversion = place(Place.Kind.RESIN_STORE), place(Place.Kind.CONVERSION)
    stock = lock_lots(item_ids=[item.pk for item in needed], places=[store], clock=clock)
    lines: list[LineDraft] = []
    shortfalls: dict[Item, Decimal] = {}
    for item, quantity in needed.items():
        take = take_fifo(stock.get(item.pk, []), quantity)
        lines += [LineDraft(item.pk, part.lot_id, part.quantity, store, conversion) for part in take.parts]
        if take.shortfall > 0:
            shortfalls[item] = take.shortfall
    return Drawn(lines=(*lines, *_unexplained(shortfalls, to=conversion, clock=clock)), shortfalls=shortfalls)


def _unexplained(shortfalls: Mapping[Item, Decimal], *, to: Place, clock: Clock) -> list[LineDraft]:
    if not shortfalls:
        return []
    difference = place(Place.Kind.COUNT_DIFFERENCE)
    lots = unknown_lots(shortfalls, clock=clock)
    return [LineDraft(item.pk, lots[item.pk].pk, missing, difference, to) for item, missing in shortfalls.items()]
